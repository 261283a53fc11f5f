"""What keeps a wire from sliding along its slots, or a round one from rolling in them."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gomphosis.fem.rod import RodPlace
from gomphosis.fem.section import Array
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_holds import Holds
from gomphosis.scenarios.slotted_wire import ArchWire

NEARBY = 6.0  # mm; from a slot's centre, where a crimp beside it may be


@dataclass(frozen=True)
class Lie:
    """A wire where it lies in its slots."""

    place: RodPlace
    frames: SlotFrames

    def along(self, slot: int) -> Array:
        """Return the place of every node along a slot, mm; infinite far from it, shape (n,)."""
        away = self.place.nodes - self.frames.place[slot]
        along = away @ self.frames.triads[slot, :, 0]
        return np.where(np.linalg.norm(away, axis=1) < NEARBY, along, np.inf)

    def hold(self, slot: int, beside: float, side: int) -> Holds:
        """Return a hold along of the node nearest to a place along a slot, where the node is."""
        along = self.along(slot)
        node = int(np.argmin(np.abs(along - beside)))
        return _hold(node, slot, about=False, side=-float(side), at=float(along[node]))

    def spin(self, slot: int) -> Holds:
        """Return a hold about the rod of the node nearest to a slot's centre."""
        node = int(np.argmin(np.abs(self.along(slot))))
        cosine = self.frames.triads[slot, :, 1] @ self.place.triads[node][:, 2]
        return _hold(node, slot, about=True, side=0.0, at=float(cosine))


def _hold(node: int, slot: int, *, about: bool, side: float, at: float) -> Holds:
    parts = (node, slot, about, side, at)
    return Holds(*(np.array([part]) for part in parts))


def anchored(wire: ArchWire, lie: Lie) -> Holds:
    """Return what holds a wire without friction: the middle slot keeps it from sliding.

    No contact keeps a round wire from rolling: the middle slot does, and needs no moment to.
    """
    anchor = (len(wire.sizes) - 1) // 2
    along = lie.hold(anchor, 0.0, 0)
    return lie.spin(anchor) + along if wire.section.round else along


def in_use(wire: ArchWire, lie: Lie) -> Holds:
    """Return what holds a wire that has just been tied in: crimps, and an anchor if it needs one.

    Friction, or crimps that hold both ways, do without the anchor along the wire.
    """
    holds = Holds.none()
    for stop in wire.stops:
        # a crimp sits where the wire is, beside the slot
        holds = holds + lie.hold(
            stop.slot, 0.5 * stop.side * wire.sizes[stop.slot].width, stop.side
        )
    return holds + still_in_use(wire, lie)


def still_in_use(wire: ArchWire, lie: Lie) -> Holds:
    """Return what holds a wire besides its crimps."""
    both_ways = {stop.side for stop in wire.stops} == {1, -1}
    if wire.friction == 0.0 and not both_ways:
        return anchored(wire, lie)
    anchor = (len(wire.sizes) - 1) // 2
    return lie.spin(anchor) if wire.section.round else Holds.none()


def crimps(holds: Holds) -> Holds:
    """Return the crimps among holds."""
    return some(holds, holds.side != 0.0)


def some(holds: Holds, which: npt.NDArray[np.bool_]) -> Holds:
    """Return those holds for which a mask of shape (h,) is true."""
    return Holds(
        holds.node[which], holds.slot[which], holds.about[which], holds.side[which], holds.at[which]
    )
