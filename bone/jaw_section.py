"""A slice of the jaw around one tooth: plates and trabecular bone, made into a density map."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.bone.coverage import Raster, overlay
from gomphosis.bone.density_map import LEAST, ROUND_OFF, DensityMap
from gomphosis.bone.outline import checked_outline, side_at
from gomphosis.bone.root import RootProfile, ThicknessProfile, offset_surface
from gomphosis.fem.section import Array

BLUNT = 0.85  # fraction of depth from which the socket rounds off


@dataclass(frozen=True)
class PlateThickness:
    """Give the thickness of bone between socket wall and outer surface, across the long axis.

    Parameters
    ----------
    crest, middle, apex
        At the bone crest, half-way to the apex of the socket, and at its apex, mm; straight in
        between, so that the outer surface follows the socket. Beside the last 15 % of the depth
        the thickness counts from the socket's width above them, and below the apex the surface
        goes straight down.
    """

    crest: float
    middle: float
    apex: float

    def __post_init__(self) -> None:
        if not all(0 <= value < np.inf for value in (self.crest, self.middle, self.apex)):
            raise ValueError(
                "plate thickness must be >= 0 mm; got crest "
                f"{self.crest}, middle {self.middle}, apex {self.apex}"
            )

    def at(self, depth: Array) -> Array:
        """Return the thickness in mm at a fraction of depth (0 crest, 1 apex)."""
        return np.interp(depth, [0.0, 0.5, 1.0], [self.crest, self.middle, self.apex])


@dataclass(frozen=True)
class JawSection:
    """Say what bone surrounds a socket in a slice.

    Parameters
    ----------
    plus, minus
        Thickness on the side of +x (labial or mesial) and of -x (lingual or distal).
    cortex
        Thickness of the dense outer layer, mm; thinner bone is dense throughout.
    trabecular
        Density of the bone within, 0 to 1 of full cortical.
    crest_plus, crest_minus
        Height of the bone crest on either side, mm.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    plus: PlateThickness
    minus: PlateThickness
    cortex: float
    trabecular: float
    crest_plus: float = 0.0
    crest_minus: float = 0.0

    def __post_init__(self) -> None:
        if not (0 <= self.cortex < np.inf and 0 < self.trabecular <= 1):
            raise ValueError(
                "jaw section needs cortex >= 0 mm and trabecular density in (0, 1]; got "
                f"{self.cortex}, {self.trabecular}"
            )

    def outer_surface(self, socket: Array, z: Array, side: int) -> Array:
        """Return x in mm of the outer surface at heights z, on side +1 or -1 of a socket."""
        crest, plate = (self.crest_plus, self.plus) if side > 0 else (self.crest_minus, self.minus)
        apex = float(socket[1].min())
        depth = (crest - z) / (crest - apex)
        # beside a blunt apex the jaw does not step in with the socket
        beside = np.maximum(z, crest - BLUNT * (crest - apex))
        return side_at(socket, beside, side) + side * plate.at(depth)

    def inner_surface(self, socket: Array, z: Array, side: int) -> Array:
        """Return x in mm of the dense layer's inner face at heights z along a socket.

        Where bone is thinner than the dense layer the face is the socket wall.
        """
        wall = side_at(socket, z, side)
        thickness = side * (self.outer_surface(socket, z, side) - wall)
        return wall + side * np.maximum(thickness - self.cortex, 0.0)


def jaw_map(raster: Raster, tooth: Array, section: JawSection) -> DensityMap:
    """Return the density map of a section around a tooth.

    Parameters
    ----------
    tooth
        Closed outline of tooth and ligament, shape (2, n), mm; it must reach above both crests.

    Raises
    ------
    ValueError
        If an outline is not valid, or the crest does not lie along the socket.
    """
    outline = checked_outline(tooth, "tooth")
    apex, top = float(outline[1].min()), float(outline[1].max())
    for crest in (section.crest_plus, section.crest_minus):
        if not apex < crest <= top:
            raise ValueError(f"bone crest at {crest} mm is not between {apex} and {top} mm")
    floor = min(raster.origin[1], apex) - raster.spacing
    bands = [_Band.of(section, outline, side, raster.spacing, floor) for side in (1, -1)]
    # the step from one crest to the other lies under the tooth
    levels = np.array([section.crest_minus, section.crest_plus])
    middle = 0.5 * (side_at(outline, levels, 1) + side_at(outline, levels, -1)).mean()
    step = np.stack([np.full(2, middle), levels])
    bone = np.concatenate([bands[0].outer, bands[1].outer[:, ::-1], step], axis=1)
    plates = [np.concatenate([band.outer, band.inner[:, ::-1]], axis=1) for band in bands]
    return _filled_map(raster, outline, bone, plates, section.trabecular)


def outlined_map(
    raster: Raster, tooth: Array, *, bone: Array, plates: Sequence[Array], trabecular: float
) -> DensityMap:
    """Return the density map within closed outlines, each of shape (2, n), mm.

    Parameters
    ----------
    tooth
        Of tooth and ligament.
    bone
        The jaw's outer surface; nothing outside is bone.
    plates
        Of each cortical plate; the rest of the bone is trabecular.

    Raises
    ------
    ValueError
        If an outline is open, crosses itself (the place is named), plates overlap, or the
        trabecular density is not in (0, 1].
    """
    if not 0 < trabecular <= 1:
        raise ValueError(f"trabecular density must lie in (0, 1], got {trabecular}")
    shapes = [checked_outline(plate, f"plate {k + 1}") for k, plate in enumerate(plates)]
    tooth, bone = checked_outline(tooth, "tooth"), checked_outline(bone, "bone")
    return _filled_map(raster, tooth, bone, shapes, trabecular)


def tooth_outline(
    root: RootProfile, thickness: ThicknessProfile, *, above: float, count: int = 80
) -> Array:
    """Return the closed outline of root and ligament, shape (2, n), mm, counter-clockwise.

    Parameters
    ----------
    above
        How far the outline goes straight up over the crest, mm.
    count
        Corners on either side.
    """
    # cosine spacing resolves the rounded apex
    s = 1 - np.cos(np.linspace(0, np.pi / 2, count))
    wall = offset_surface(root, thickness, s, fraction=1.0)
    right = np.concatenate([wall, [[wall[0, -1]], [above]]], axis=1)
    left = right[:, :0:-1] * np.array([[-1.0], [1.0]])
    return np.concatenate([right, left], axis=1)


@dataclass(frozen=True)
class _Band:
    """Outer and inner border of one plate, each from the crest down, shape (2, n)."""

    outer: Array
    inner: Array

    @classmethod
    def of(
        cls, section: JawSection, tooth: Array, side: int, spacing: float, floor: float
    ) -> "_Band":
        crest = section.crest_plus if side > 0 else section.crest_minus
        apex = float(tooth[1].min())
        count = int(np.ceil((crest - apex) / spacing)) + 1
        z = np.linspace(crest, apex, count)
        outer = section.outer_surface(tooth, z, side)
        inner = section.inner_surface(tooth, z, side)
        # below the apex both borders go straight down
        ends = [np.append(x, x[-1]) for x in (outer, inner)]
        return cls(*(np.stack([x, np.append(z, floor)]) for x in ends))


def _filled_map(
    raster: Raster, tooth: Array, bone: Array, plates: Sequence[Array], trabecular: float
) -> DensityMap:
    shares = overlay(raster, bone, tooth)
    envelope = shares.first_only + shares.both
    dense, dense_free = np.zeros(raster.shape), np.zeros(raster.shape)
    for plate in plates:
        part = overlay(raster, plate, tooth)
        dense += part.first_only + part.both
        dense_free += part.first_only
    worst = float((dense - envelope).max())
    if worst > ROUND_OFF:
        i, k = np.unravel_index(np.argmax(dense - envelope), raster.shape)
        place = (raster.centres(0)[i], raster.centres(1)[k])
        raise ValueError(
            f"plates overlap or leave the bone near x {place[0]:.2f}, z {place[1]:.2f} mm"
        )
    free = shares.first_only
    mineral = np.minimum(dense_free + trabecular * np.maximum(free - dense_free, 0.0), free)
    # bone that stands is mature; under the tooth, what the plates' outlines would have there
    share = np.where(free > LEAST, dense_free / np.maximum(free, LEAST), 0.0)
    share = np.where(free > LEAST, share, dense / np.maximum(envelope, LEAST))
    mature = trabecular + (1 - trabecular) * np.clip(share, 0.0, 1.0)
    return DensityMap(
        raster,
        bone=free,
        mineral=mineral,
        covered=shares.both + shares.second_only,
        envelope=envelope,
        mature=np.where(envelope > LEAST, mature, 0.0),
    )
