"""What keeps a rod from sliding along its slots, or a round one from spinning: holds of nodes.

A hold along keeps a node at a place along a slot, from both sides or, as a stop, from one. A hold
about keeps a node's third axis normal to the slot's second: it has no moment where nothing else
turns the rod about itself.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from gomphosis.fem.rod import RodPlace
from gomphosis.fem.rod_element import cross, skew
from gomphosis.fem.section import Array, Index
from gomphosis.fem.slot_edges import ALONG, SlotFrames

NODE = 6
SECOND, THIRD = 1, 2  # axes of slots and nodes


@dataclass(frozen=True)
class Holds:
    """Holds of h nodes by slots.

    Parameters
    ----------
    node, slot
        Indices, shape (h,).
    about
        True for a hold about the rod, False for one along it, shape (h,).
    side
        0 if held both ways; +1 if the node is kept from going further along the slot, -1 from
        going back, shape (h,).
    at
        Place of the node along the slot, mm, or cosine between the axes, shape (h,).
    """

    node: Index
    slot: Index
    about: npt.NDArray[np.bool_]
    side: Array
    at: Array

    @classmethod
    def none(cls) -> "Holds":
        """Return no holds."""
        empty = np.zeros(0, dtype=np.int64)
        return cls(empty, empty, np.zeros(0, dtype=bool), np.zeros(0), np.zeros(0))

    def __add__(self, other: "Holds") -> "Holds":
        """Return both together."""
        return Holds(
            np.concatenate([self.node, other.node]),
            np.concatenate([self.slot, other.slot]),
            np.concatenate([self.about, other.about]),
            np.concatenate([self.side, other.side]),
            np.concatenate([self.at, other.at]),
        )

    def seen(self, place: RodPlace, frames: SlotFrames) -> "Held":
        """Return the holds at a trial place."""
        sign = np.where(self.side == 0.0, -1.0, -self.side)
        triads = frames.triads[self.slot]
        lever = place.nodes[self.node] - frames.place[self.slot]
        axis = place.triads[self.node][:, :, THIRD]
        along, second = triads[:, :, ALONG], triads[:, :, SECOND]
        about = self.about[:, None]
        where = np.sum(np.where(about, second * axis, along * lever), axis=1)
        pull = np.empty((len(self.node), NODE))
        pull[:, :3] = np.where(about, 0.0, along)
        pull[:, 3:] = np.where(about, cross(axis, second), 0.0)
        return Held(self, sign * (where - self.at), sign[:, None] * pull, sign, lever, axis, second)


@dataclass(frozen=True)
class Held:
    """Holds at a trial.

    Attributes
    ----------
    holds
        What they are.
    gap
        What is left, mm or a cosine, shape (h,); 0 where a hold acts.
    pull
        Load on the node per unit of the hold's force, and derivative of the gap by the node's
        motion, shape (h, 6).
    sign
        Of the gap, against the way along the slot, shape (h,).
    lever
        From the slot's origin to the node, mm, shape (h, 3).
    axis, second
        Third axis of the node and second of the slot, shape (h, 3).
    """

    holds: Holds
    gap: Array
    pull: Array
    sign: Array
    lever: Array
    axis: Array
    second: Array

    @cached_property
    def pull_by_node(self) -> Array:
        """Derivative of the pull by the node's motion, shape (h, 6, 6)."""
        result = np.zeros((len(self.gap), NODE, NODE))
        turned = self.sign[:, None, None] * skew(self.second) @ skew(self.axis)
        result[:, 3:, 3:] = np.where(self.holds.about[:, None, None], turned, 0.0)
        return result

    @cached_property
    def rigid(self) -> Array:
        """Motion of the node with the slot as one body, shape (h, 6, 6)."""
        result = np.broadcast_to(np.eye(NODE), (len(self.gap), NODE, NODE)).copy()
        result[:, :3, 3:] = -skew(self.lever)
        return result

    @cached_property
    def pull_by_slot(self) -> Array:
        """Derivative of the pull by displacement and spin of the slot, shape (h, 6, 6)."""
        result = -self.pull_by_node @ self.rigid
        result[:, :3, 3:] -= skew(self.pull[:, :3])
        result[:, 3:, 3:] -= skew(self.pull[:, 3:])
        return result

    @cached_property
    def gap_by_slot(self) -> Array:
        """Derivative of the gap by displacement and spin of the slot, shape (h, 6)."""
        return -(self.pull[:, None] @ self.rigid)[:, 0]

    @cached_property
    def on_slot(self) -> Array:
        """Load on the slot per unit of the hold's force, shape (h, 6)."""
        # the reaction, about the slot's origin: what works on a motion of both works on none
        return self.gap_by_slot

    @cached_property
    def on_slot_by_node(self) -> Array:
        """Derivative of `on_slot` by the node's motion, shape (h, 6, 6)."""
        result = -np.swapaxes(self.rigid, 1, 2) @ self.pull_by_node
        result[:, 3:, :3] += skew(self.pull[:, :3])
        return result

    @cached_property
    def on_slot_by_slot(self) -> Array:
        """Derivative of `on_slot` by displacement and spin of the slot, shape (h, 6, 6)."""
        result = -np.swapaxes(self.rigid, 1, 2) @ self.pull_by_slot
        result[:, 3:, :3] -= skew(self.pull[:, :3])
        return result
