"""Structured body-fitted mesh of a slice through one tooth.

x labial (or mesial), z from apex to crown, origin on the long axis at the bone crest. Regions
crown, root, ligament, bone, soft tissue. The root is a block of columns around the long axis
with a band along its surface, so no element has a corner of 180 degrees and none collapses.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gomphosis.bone.root import ThicknessProfile
from gomphosis.bone.slice_counts import SliceCounts
from gomphosis.bone.slice_crown import CrownOutline, Plane
from gomphosis.bone.slice_layers import SliceLayers, slice_layers
from gomphosis.bone.slice_root import RootOutline, arc_lengths
from gomphosis.fem.plane_blocks import Block, JoinedBlocks, join, ruled_grid, with_middles
from gomphosis.fem.plane_mesh import PlaneMesh
from gomphosis.fem.section import Array, Index

CROWN, ROOT, LIGAMENT, BONE, SOFT = "crown", "root", "ligament", "bone", "soft tissue"
GROWTH = 1.5  # of the bone's layers away from the wall


@dataclass(frozen=True)
class SliceDesign:
    """Say what a slice is made of.

    Parameters
    ----------
    root
        Surface of the embedded root.
    thickness
        Of the ligament; depth is measured from the middle of the crest to the apex.
    crown
        Outline above the crest; as wide as the root at the crest.
    plane
        Which plane; see `gomphosis.bone.slice_crown.SIDES` for the names of its sides.
    bone_width
        Distance in mm from the socket wall to where the bone is held.
    soft_height
        Height in mm of the soft tissue beside the crown, 0 for none.

    Raises
    ------
    ValueError
        If a width is not positive, the soft tissue reaches the edge, or crown and root do not
        meet.
    """

    root: RootOutline
    thickness: ThicknessProfile
    crown: CrownOutline
    plane: Plane = "labiolingual"
    bone_width: float = 6.0
    soft_height: float = 1.5

    def __post_init__(self) -> None:
        if not self.bone_width > 0.0:
            raise ValueError(f"bone width must be > 0 mm, got {self.bone_width}")
        if not 0.0 <= self.soft_height < self.crown.edge:
            raise ValueError(
                f"soft tissue height must be from 0 mm to below the edge at {self.crown.edge:.4g} "
                f"mm, got {self.soft_height}"
            )
        left, right = self.root.points[:, 0], self.root.points[:, -1]
        if not np.allclose(left, -right, rtol=0.0, atol=1e-9 * self.root.depth):
            raise ValueError(
                "the middle of the crest must be the origin; the root's ends are at "
                f"x = {left[0]:.4g}, z = {left[1]:.4g} and x = {right[0]:.4g}, "
                f"z = {right[1]:.4g} mm"
            )
        if abs(right[0] - self.crown.half_widths[0]) > 1e-9 * right[0]:
            raise ValueError(
                f"crown is {self.crown.half_widths[0]:.6g} mm wide at the crest, root "
                f"{right[0]:.6g} mm"
            )


def slice_mesh(design: SliceDesign, counts: SliceCounts | None = None) -> PlaneMesh:
    """Mesh a slice.

    Lines, each from the left (-x) to the right or from the tooth outwards or downwards: "root
    surface" and "wall" from the left crest round the apex to the right crest; "outer" likewise,
    where the bone is held; "crest left" and "crest right" from the root across ligament and bone;
    "axis" from the crest to the apex; "crown surface" from the left crest over the edge to the
    right crest; "bracket" upwards along its base: on the labial surface, or in the mesiodistal
    plane, which the base faces, on the long axis.

    Raises
    ------
    ValueError
        If the design folds an element; the message names it and its place in mm.
    """
    size = counts or SliceCounts()
    layers = slice_layers(
        design.root, design.thickness, fractions=_fractions(size), bone_width=design.bone_width
    )
    core, band = _root_grids(design.root, layers.surface, size)
    foot = np.concatenate(
        [band[:, 0, ::-1], core[:, 0, 1:-1], band[:, -1]],
        axis=1,
    )
    levels, soft_rows = _levels(design, size)
    crown = _crown_grid(design.crown, foot, levels)
    blocks = [Block(CROWN, crown), Block(ROOT, core), Block(ROOT, band)]
    blocks += [Block(LIGAMENT, _spokes(layers.surface, layers.wall, size.ligament))]
    blocks += [Block(BONE, _bone(layers, size.bone))]
    if soft_rows:
        blocks += _soft_blocks(crown[:, : 2 * soft_rows + 1], blocks[3].grid, blocks[4].grid)
    joined = join(blocks)
    lines = _lines(joined, design, levels)
    mesh = PlaneMesh(joined.nodes, joined.elements, joined.regions, lines)
    _check_corners(mesh)
    return mesh


def _check_corners(mesh: PlaneMesh) -> None:
    worst = int(np.argmin(mesh.scaled_jacobians))
    if mesh.scaled_jacobians[worst] <= 0.0:
        x, z = mesh.centres[:, worst]
        raise ValueError(
            f"element {worst} at x = {x:.4g}, z = {z:.4g} mm has a corner of 180 degrees or more; "
            "take fewer columns (base) or more elements along the root"
        )


def _fractions(size: SliceCounts) -> Array:
    """Grade from -1 at the left crest over 0 at the apex to 1 at the right crest."""
    u = np.linspace(0.0, 1.0, size.along + 1)
    blend = 1.0 - 1.0 / size.grading
    half = (1.0 - blend) * u + blend * 0.5 * (1.0 - np.cos(np.pi * u))
    return np.concatenate([-half[::-1], half[1:]])


def _spokes(first: Array, second: Array, count: int) -> Array:
    return ruled_grid(first, second, fractions=np.linspace(0.0, 1.0, count + 1))


def _bone(layers: SliceLayers, count: int) -> Array:
    depth = np.concatenate([[0.0], np.cumsum(GROWTH ** np.arange(count))])
    return ruled_grid(layers.wall, layers.outer, fractions=depth / depth[-1])


def _root_grids(root: RootOutline, surface: Array, size: SliceCounts) -> tuple[Array, Array]:
    """Return the block of columns around the axis and the band between it and the surface."""
    side = size.along - size.base // 2
    corner = surface[:, ::2]
    left, right = corner[:, : side + 1], corner[:, : -side - 2 : -1]
    floor = _floor(left[:, -1], right[:, -1], depth=root.depth)
    left, right = _core_side(root, left, floor), _core_side(root, right, floor)
    axis = np.stack([np.zeros(side + 1), 0.5 * (left[1] + right[1])])
    share = np.linspace(0.0, 1.0, size.base // 2 + 1)
    columns = np.concatenate(
        [
            left[:, :, None] * (1 - share) + axis[:, :, None] * share,
            (axis[:, :, None] * (1 - share) + right[:, :, None] * share)[:, :, 1:],
        ],
        axis=2,
    )
    core = with_middles(np.swapaxes(with_middles(columns), 1, 2))
    core = np.swapaxes(core, 1, 2)
    inner = np.concatenate([core[:, :, 0], core[:, -1, 1:-1], core[:, ::-1, -1]], axis=1)
    return core, _spokes(inner, surface, size.band)


def _floor(left: Array, right: Array, *, depth: float) -> float:
    """Return the height at which the columns end, mm: as far above the apex as the root is wide."""
    heights = [place[1] + 0.8 * abs(place[0]) for place in (left, right)]
    return min(0.5 * sum(heights), -0.3 * depth)


def _core_side(root: RootOutline, surface: Array, floor: float) -> Array:
    """Return the side of the columns beside corner nodes of the surface, crest to floor."""
    sign = np.sign(surface[0, 0])
    top = 0.5 * surface[1, 0]
    arc = arc_lengths(surface)
    # height alone would put the nodes of a flat apex on one another
    fall = 0.7 * (surface[1, 0] - surface[1]) / np.ptp(surface[1]) + 0.3 * arc / arc[-1]
    z = top + (floor - top) * fall
    half = sign * root.half_widths(z)[int(sign > 0)]
    end = min(half[-1], 1.6 * abs(surface[0, -1]))
    return np.stack([sign * 0.5 * half * (1 + (end / half[-1] - 1) * fall), z])


def _levels(design: SliceDesign, size: SliceCounts) -> tuple[Array, int]:
    """Return corner rows of the crown, 0 crest to 1 edge, and the rows beside soft tissue.

    Rows end at the soft tissue's top, at the slot and at both ends of the bracket's base.
    """
    crown, right = design.crown, design.root.points[:, -1]
    rise = crown.edge - right[1] if design.plane == "labiolingual" else crown.edge
    start = crown.edge - rise
    low, high = ((z - start) / rise for z in crown.bracket)
    soft = design.soft_height / crown.edge
    marks = np.unique([0.0, soft, low, 0.5 * (low + high), high, 1.0])
    if np.diff(marks).min() < 1e-9:
        marks = np.delete(marks, np.flatnonzero(np.diff(marks) < 1e-9))
    rows = np.maximum(1, np.round(size.crown * np.diff(marks)).astype(int))
    parts = [
        np.linspace(a, b, n, endpoint=False)
        for a, b, n in zip(marks[:-1], marks[1:], rows, strict=True)
    ]
    levels = np.append(np.concatenate(parts), 1.0)
    return levels, int(np.argmin(np.abs(levels - soft)))


def _crown_grid(crown: CrownOutline, foot: Array, levels: Array) -> Array:
    """Return rows from the crest (the given foot) to the flat edge, shape (2, rows, columns)."""
    share = with_middles(levels)
    x = foot[0] * (crown.half_width(share) / crown.half_widths[0])[:, None]
    z = foot[1] + share[:, None] * (crown.edge - foot[1])
    return np.stack([x, z])


def _soft_blocks(crown: Array, ligament: Array, bone: Array) -> list[Block]:
    """Return blocks beside the crown on top of the ligament's and the bone's upper faces."""
    blocks = []
    for column, end in ((0, 0), (-1, -1)):
        side = crown[:, :, column]
        rise = side - side[:, :1]
        inner = side[:, :, None]
        over = ligament[:, end][:, None, 1:] + rise[:, :, None]
        beyond = bone[:, end][:, None, :] + rise[:, :, None]
        blocks += [Block(SOFT, np.concatenate([inner, over], axis=2)), Block(SOFT, beyond)]
    return blocks


def _lines(joined: JoinedBlocks, design: SliceDesign, levels: Array) -> Mapping[str, Index]:
    crown, core, band, ligament, bone = joined.grids[:5]
    middle, apex = core.shape[1] // 2, band.shape[0] // 2
    return {
        "root surface": ligament[:, 0],
        "wall": ligament[:, -1],
        "outer": bone[:, -1],
        "crest left": np.append(ligament[0], bone[0, 1:]),
        "crest right": np.append(ligament[-1], bone[-1, 1:]),
        "axis": np.append(core[:, middle], band[apex, 1:]),
        "crown surface": np.concatenate([crown[:, 0], crown[-1, 1:-1], crown[::-1, -1]]),
        "bracket": _bracket(crown, design, levels),
    }


def _bracket(crown: Index, design: SliceDesign, levels: Array) -> Index:
    labial = design.plane == "labiolingual"
    foot = design.root.points[1, -1] if labial else 0.0
    height = foot + levels * (design.crown.edge - foot)
    low, high = (int(np.argmin(np.abs(height - end))) for end in design.crown.bracket)
    column = crown.shape[1] - 1 if labial else crown.shape[1] // 2
    return crown[2 * low : 2 * high + 1, column]
