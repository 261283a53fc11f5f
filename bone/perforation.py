"""Is there still bone between the ligament and the outside? Read from the density map alone.

Soft tissue joined to the map's upper or side borders is outside. Where outside touches the tooth's
ligament below the bone crest, the plate is open: a dehiscence if it is open all the way from the
crest, a fenestration if bone remains coronal of it. A sheet thinner than half a cell counts as
open; the thickness beside it is measured finer, from the cells' shares.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.ndimage import label

from gomphosis.bone.density_map import CORTICAL_FROM, LEAST, DensityMap
from gomphosis.bone.outline import side_at
from gomphosis.fem.section import Array

Flags = npt.NDArray[np.bool_]
DEHISCENCE, FENESTRATION = "dehiscence", "fenestration"
BONE_FROM = 0.05  # density; below it what is laid down does not close a plate
SIDES = (1, -1)


@dataclass(frozen=True)
class Opening:
    """Locate a place where the ligament lies open to the outside.

    Parameters
    ----------
    kind
        ``"dehiscence"`` or ``"fenestration"``.
    side
        +1 on the side of +x (labial or mesial), -1 on that of -x.
    lowest, highest
        Range of heights in the frame of the jaw, mm.
    first_day, last_day
        When it was first and last seen, days; nan if not dated.
    """

    kind: str
    side: int
    lowest: float
    highest: float
    first_day: float = np.nan
    last_day: float = np.nan

    @property
    def height(self) -> float:
        """Extent along z, mm."""
        return self.highest - self.lowest

    def continues(self, other: "Opening") -> bool:
        """Say whether this is the same opening as another, seen at another time."""
        overlaps = self.lowest <= other.highest and other.lowest <= self.highest
        return (self.kind, self.side) == (other.kind, other.side) and overlaps


def openings(bones: DensityMap, *, crest: tuple[float, float] = (0.0, 0.0)) -> tuple[Opening, ...]:
    """Return every opening of the plates, from the crest down, +x side first.

    Parameters
    ----------
    crest
        Height of the bone crest on the +x and the -x side when it was whole, mm.
    """
    bare = _open_sides(bones)
    found = []
    for side, flags, level in zip(SIDES, bare, crest, strict=True):
        found += _runs(bones, flags, side, level)
    return tuple(found)


def dated(known: Sequence[Opening], seen: Sequence[Opening], *, day: float) -> tuple[Opening, ...]:
    """Return the known openings brought up to a day: extended by those seen, new ones added.

    An opening that widens keeps its first day; one that has closed keeps its last.
    """
    result = list(known)
    for opening in seen:
        match = next((k for k, old in enumerate(result) if opening.continues(old)), None)
        if match is None:
            result.append(replace(opening, first_day=day, last_day=day))
            continue
        old = result[match]
        result[match] = replace(
            old,
            lowest=min(old.lowest, opening.lowest),
            highest=max(old.highest, opening.highest),
            last_day=day,
        )
    return tuple(result)


@dataclass(frozen=True)
class PlateProfile:
    """Measure bone beside the root along rows across the long axis, one side of a map.

    Attributes
    ----------
    side
        +1 or -1.
    height
        Centres of the rows from apex to crest, mm.
    bone
        Bone of any density between ligament and outside, mm.
    plate
        The part of it that is cortical plate, mm; where it borders on trabecular bone, to half a
        cell.
    clearance
        From the root to the inner face of the cortical plate, mm; infinite where no plate is left.
    """

    side: int
    height: Array
    bone: Array
    plate: Array
    clearance: Array

    @property
    def thinnest(self) -> tuple[float, float]:
        """Least plate thickness and the height at which it is found, mm."""
        at = int(np.argmin(self.plate))
        return float(self.plate[at]), float(self.height[at])

    @property
    def nearest(self) -> tuple[float, float]:
        """Least clearance and the height at which it is found, mm."""
        at = int(np.argmin(self.clearance))
        return float(self.clearance[at]), float(self.height[at])


def plate_profile(bones: DensityMap, root: Array, *, side: int, crest: float = 0.0) -> PlateProfile:
    """Measure plate thickness and clearance along a root.

    Parameters
    ----------
    root
        Closed outline of the root at its present place, shape (2, n), mm.
    crest
        Height up to which to measure, mm.

    Raises
    ------
    ValueError
        If no row of the map lies between the root's apex and the crest.
    """
    z = bones.raster.centres(1)
    rows = np.flatnonzero((z > root[1].min()) & (z < min(crest, root[1].max())))
    if len(rows) == 0:
        raise ValueError(f"no row of the map lies along the root below {crest} mm")
    surface = side_at(root, z[rows], side)
    # rows from the long axis outwards
    order = slice(None, None, side)
    x = side * bones.raster.centres(0)[order]
    bone, dense, tooth = (
        values[order][:, rows]
        for values in (
            bones.bone * (bones.density >= BONE_FROM),
            bones.bone * ((bones.mature >= CORTICAL_FROM) & (bones.density >= BONE_FROM)),
            bones.covered,
        )
    )
    beyond = x[:, None] + 0.5 * bones.raster.spacing > side * surface
    free = beyond & ~_before_last(tooth >= 0.5)
    spacing = bones.raster.spacing
    face = _inner_face(dense * free, x, spacing)
    return PlateProfile(
        side,
        z[rows],
        bone=spacing * (bone * free).sum(axis=0),
        plate=spacing * (dense * free).sum(axis=0),
        clearance=face - side * surface,
    )


def _before_last(flags: Flags) -> Flags:
    """Mark the cells of each row before the last flagged one; its own bone lies outwards."""
    seen = np.flip(np.logical_or.accumulate(np.flip(flags, axis=0), axis=0), axis=0)
    return np.concatenate([seen[1:], np.zeros_like(seen[:1])])


def _inner_face(dense: Array, x: Array, spacing: float) -> Array:
    """Return the distance at which the plate begins in each row; infinite without one."""
    some = dense > LEAST
    first = np.argmax(some, axis=0)
    rows = np.arange(dense.shape[1])
    # the plate fills the outer part of the first cell it is in
    face = x[first] + spacing * (0.5 - dense[first, rows])
    return np.where(some.any(axis=0), face, np.inf)


def _open_sides(bones: DensityMap) -> tuple[Flags, Flags]:
    """Say for each row whether the outside touches the tooth on the +x and on the -x side."""
    tooth = bones.covered >= 0.5
    room = 1.0 - bones.covered
    solid = (bones.bone >= 0.5 * room) & (bones.density >= BONE_FROM) & ~tooth
    # cells joined by corners only keep the outside out: labelled through faces alone
    parts = np.zeros(tooth.shape, dtype=np.int32)
    label(~solid & ~tooth, output=parts)
    border = np.concatenate([parts[0], parts[-1], parts[:, -1]])
    outside = np.isin(parts, np.setdiff1d(border, [0]))
    plus, minus = np.zeros_like(tooth), np.zeros_like(tooth)
    plus[:-1] = tooth[:-1] & outside[1:]
    minus[1:] = tooth[1:] & outside[:-1]
    return np.asarray(plus.any(axis=0)), np.asarray(minus.any(axis=0))


def _runs(bones: DensityMap, bare: Flags, side: int, crest: float) -> list[Opening]:
    """Return the runs of open rows below the crest, uppermost first."""
    raster = bones.raster
    below = int(np.sum(raster.centres(1) < crest))
    edges = np.flatnonzero(np.diff(np.concatenate([[False], bare[:below], [False]])))
    found = []
    for low, high in reversed(edges.reshape(-1, 2).tolist()):
        kind = DEHISCENCE if high == below else FENESTRATION
        lowest, highest = (raster.origin[1] + raster.spacing * row for row in (low, high))
        found.append(Opening(kind, side, lowest, min(highest, crest)))
    return found
