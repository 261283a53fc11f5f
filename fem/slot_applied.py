"""Forces between a rod's elements and slots: on the nodes, on the slots, and derivatives."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.rod import RodPlace
from gomphosis.fem.rod_element import FREEDOMS, cross, skew
from gomphosis.fem.section import Array, Index

BODY = 6  # freedoms of a rigid body


@dataclass(frozen=True)
class Applied:
    """Forces of slots on elements, b of them; each hangs on how the element lies in its slot.

    Attributes
    ----------
    slot, element
        Indices, shape (b,).
    lever
        From the slots' origins to the elements' nodes, mm, shape (b, 2, 3).
    force
        On the elements' nodes, N and N·mm, shape (b, 12).
    slope
        Returns the derivative of the force by the nodes, shape (b, 12, 12); a trial that is given
        up needs none.
    """

    slot: Index
    element: Index
    lever: Array
    force: Array
    slope: Callable[[], Array]

    @cached_property
    def by_nodes(self) -> Array:
        """Derivative of the force by the nodes, shape (b, 12, 12)."""
        return self.slope()

    def added(self, load: Array) -> None:
        """Add the forces to loads on the rod's nodes, shape (n, 6)."""
        np.add.at(load, self.element, self.force[:, :6])
        np.add.at(load, self.element + 1, self.force[:, 6:])

    @cached_property
    def rigid(self) -> Array:
        """Motion of the nodes with the slot as one body, shape (b, 12, 6)."""
        result = np.zeros((len(self.slot), FREEDOMS, BODY))
        for end in range(2):
            move, turn = slice(6 * end, 6 * end + 3), slice(6 * end + 3, 6 * end + 6)
            result[:, move, :3] = result[:, turn, 3:] = np.eye(3)
            result[:, move, 3:] = -skew(self.lever[:, end])
        return result

    def against(self, load: Array) -> Array:
        """Return the work of loads on the nodes (b, 12) on the rigid motions, shape (b, 6)."""
        return (load[:, None] @ self.rigid)[:, 0]

    @cached_property
    def by_slot(self) -> Array:
        """Derivative of the force by displacement and spin of the slot, shape (b, 12, 6)."""
        result = -self.by_nodes @ self.rigid
        # what the slot carries along turns with it
        result[:, :, 3:] -= skew(self.force.reshape(-1, 4, 3)).reshape(-1, FREEDOMS, 3)
        return result

    def on_slots(self, total: Array) -> None:
        """Add forces and moments on every slot about its origin to totals, shape (k, 6)."""
        ends = self.force.reshape(-1, 2, 2, 3)
        pair = np.empty((len(ends), BODY))
        pair[:, :3] = -ends[:, :, 0].sum(axis=1)
        pair[:, 3:] = -(ends[:, :, 1] + cross(self.lever, ends[:, :, 0])).sum(axis=1)
        np.add.at(total, self.slot, pair)

    @cached_property
    def load_by_nodes(self) -> Array:
        """Derivative of each load on its slot by the nodes, shape (b, 6, 12)."""
        result = -np.swapaxes(self.rigid, 1, 2) @ self.by_nodes
        for end in range(2):
            move = slice(6 * end, 6 * end + 3)
            result[:, 3:, move] += skew(self.force[:, move])
        return result

    @cached_property
    def load_by_slot(self) -> Array:
        """Derivative of each load on its slot by the slot's motion, shape (b, 6, 6)."""
        result = -np.swapaxes(self.rigid, 1, 2) @ self.by_slot
        result[:, 3:, :3] -= skew(self.force[:, :3] + self.force[:, 6:9])
        return result


def levers(place: RodPlace, element: Index, origins: Array) -> Array:
    """Return the way from slots' origins (b, 3) to the nodes of elements, mm, shape (b, 2, 3)."""
    nodes = np.empty((len(origins), 2, 3))
    nodes[:, 0], nodes[:, 1] = place.nodes[element], place.nodes[element + 1]
    return nodes - origins[:, None]
