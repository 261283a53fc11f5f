"""Edges of slots that a wire of some cross-section can touch."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.fem.slot_contact import EdgeContact
from gomphosis.fem.slot_edges import Edges
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.wire import WireSection

OCCLUSAL, LABIAL = 1, 2  # axes of a slot across the wire
NOWHERE = 1e3  # mm; place of a lid that is not there
ENDS = (-1.0, 1.0)
WALLS = {"occlusal": (OCCLUSAL, 1.0), "gingival": (OCCLUSAL, -1.0)} | {
    "lid": (LABIAL, 1.0),
    "floor": (LABIAL, -1.0),
}


@dataclass(frozen=True)
class SlotSize:
    """Sizes of a slot.

    Parameters
    ----------
    height, depth, width
        Across the wire occlusogingivally and labiolingually, and along it, mm.
    give
        Turn of bracket and bond about the wire per torque, rad/(N·mm).

    Raises
    ------
    ValueError
        If a size is not above 0 or the give is below 0.
    """

    height: float
    depth: float
    width: float
    give: float = 0.0

    def __post_init__(self) -> None:
        sizes = (self.height, self.depth, self.width)
        if not (all(size > 0 for size in sizes) and self.give >= 0):
            raise ValueError(
                f"a slot needs sizes > 0 mm and a give >= 0, got {self.height} x {self.depth} x "
                f"{self.width} mm and {self.give}"
            )


class Pair(NamedTuple):
    """One edge of one slot against one curve of the wire."""

    slot: int
    end: float
    wall: str
    offset: tuple[float, float]


def pairs(section: WireSection, slots: int) -> list[Pair]:
    """Return all edges that the curves of a wire can touch: its centre line or rounded edges."""
    curves = _curves(section)
    return [
        Pair(slot, end, wall, offset)
        for slot in range(slots)
        for end in ENDS
        for wall in WALLS
        for offset in curves
    ]


def _curves(section: WireSection) -> list[tuple[float, float]]:
    if section.round:
        return [(0.0, 0.0)]
    flat = 0.5 * section.height - section.rounding
    wide = 0.5 * section.width - section.rounding
    return [(up * flat, out * wide) for up in ENDS for out in ENDS]


def edge_contact(
    section: WireSection,
    sizes: Sequence[SlotSize],
    ties: Sequence[Ligation],
    *,
    friction: float,
    ages: Array,
) -> EdgeContact:
    """Return the contact of a wire with the edges of its slots.

    Parameters
    ----------
    sizes, ties
        Of every slot.
    friction
        Coulomb's coefficient.
    ages
        Of the ties, day, shape (n,).
    """
    found = pairs(section, len(sizes))
    radius = 0.5 * section.height if section.round else section.rounding
    axes, sides = zip(*(WALLS[pair.wall] for pair in found), strict=True)
    edges = Edges(
        slot=np.array([pair.slot for pair in found]),
        along=np.array([0.5 * pair.end * sizes[pair.slot].width for pair in found]),
        axis=np.array(axes),
        side=np.array(sides),
        height=wall_heights(section, sizes, ties, ages=ages),
        radius=np.full(len(found), radius),
    )
    # the two ends of a tie give way each by itself, the curves of a wire at one end together
    groups = [
        2 * pair.slot + (pair.end > 0)
        if pair.wall == "lid" and ties[pair.slot].seating is not None
        else -1
        for pair in found
    ]
    give = np.repeat([2.0 / tie.stiffness for tie in ties], 2)
    return EdgeContact(
        edges,
        np.array([pair.offset for pair in found]),
        np.full(len(found), friction),
        np.array(groups),
        give,
    )


def wall_heights(
    section: WireSection, sizes: Sequence[SlotSize], ties: Sequence[Ligation], *, ages: Array
) -> Array:
    """Return the place of every pair's wall on its axis, mm, ties being some days old."""
    half = 0.5 * section.width

    def place(pair: Pair) -> float:
        size, tie = sizes[pair.slot], ties[pair.slot]
        if pair.wall in ("occlusal", "gingival"):
            return WALLS[pair.wall][1] * 0.5 * size.height
        if pair.wall == "floor":
            return -half
        age = float(ages[pair.slot])
        if age >= tie.lost:
            return NOWHERE
        if tie.seating is None:
            return size.depth - half
        # a tie would press a seated wire further in by this
        return half - tie.force(age) / tie.stiffness

    return np.array([place(pair) for pair in pairs(section, len(sizes))])
