"""Derivatives of a rod in slots as sparse matrices: by its unknowns and by the slots' motions.

The motion of a slot enters in two ways: as given from outside, and as its turn about its own
direction where it gives way, which is an unknown. Both are put together from the same blocks.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.sparse import csc_array

from gomphosis.fem.rod_element import FREEDOMS, cross
from gomphosis.fem.section import Array, Index
from gomphosis.fem.slot_applied import BODY
from gomphosis.fem.slot_balance import Balance
from gomphosis.fem.slot_holds import NODE
from gomphosis.fem.triplets import Triplets

LOOSE, LOOSER = 1e-7, 1e-1  # N/mm and N·mm/rad, and the latter per unit of what is left: on the
# way only, keeps what nothing touches where it is
Block = tuple[Index, Index, Array]


@dataclass(frozen=True)
class Derivatives:
    """Of what is left of a balance and of the loads on its slots.

    Parameters
    ----------
    balance
        The system at a trial.
    """

    balance: Balance

    def by_unknowns(self) -> csc_array:
        """Return the derivative of what is left by the unknowns, (size, size)."""
        starts = self.balance.starts
        result = Triplets(starts.size, starts.size)
        self._add_rod(result)
        self._add_pairs(result)
        self._add_rubs(result)
        self._add_holds(result)
        turn = np.arange(starts.turn, starts.size)
        result.add_each(turn, turn, np.ones(len(turn)))
        if self.balance.what.gives:
            for rows, slot, values in self._by_slot():
                by_turn = values @ self._about[slot, :, None]
                result.add(rows, starts.turn + slot[:, None], by_turn)
            for slot, columns, values in self._loads():
                rows = starts.turn + slot[:, None]
                result.add(rows, columns, self._yield[slot, None] @ values)
        return result.matrix

    def by_motion(self) -> csc_array:
        """Return the derivative of what is left by all slots' motions, (size, 6 k)."""
        balance, starts = self.balance, self.balance.starts
        slots = np.arange(len(balance.frames.place))
        result = Triplets(starts.size, BODY * len(slots))
        for rows, slot, values in self._by_slot():
            result.add(rows, _six(slot), values)
        if balance.what.gives:
            for slot, values in self._own():
                rows = starts.turn + slot[:, None]
                result.add(rows, _six(slot), self._yield[slot, None] @ values)
            # the slot's direction turns as well
            swing = np.zeros((len(slots), 1, BODY))
            swing[:, 0, 3:] = cross(balance.direction, balance.on_slots[:, 3:])
            swing *= -balance.what.compliance[:, None, None]
            result.add(starts.turn + slots[:, None], _six(slots), swing)
        return result.matrix

    def loads_by_unknowns(self) -> csc_array:
        """Return the derivative of the slots' loads by the unknowns, (6 k, size)."""
        result = Triplets(BODY * len(self.balance.frames.place), self.balance.starts.size)
        for slot, columns, values in self._loads():
            result.add(_six(slot), columns, values)
        return result.matrix

    def loads_by_motion(self) -> csc_array:
        """Return the derivative of the slots' loads by all slots' motions, (6 k, 6 k)."""
        size = BODY * len(self.balance.frames.place)
        result = Triplets(size, size)
        for slot, values in self._own():
            result.add(_six(slot), _six(slot), values)
        return result.matrix

    # -- indices ------------------------------------------------------------------------------

    @cached_property
    def _pair_nodes(self) -> Index:
        return _six(self.balance.contact.along.element, FREEDOMS)

    @cached_property
    def _rub_nodes(self) -> tuple[Index, Index]:
        """Freedoms of the nodes of pairs that rub, along and aside, each (f, 12)."""
        contact = self.balance.contact
        return self._pair_nodes[contact.rubs], _six(contact.aside.element, FREEDOMS)

    @cached_property
    def _pushes(self) -> Index:
        return np.arange(self.balance.starts.push, self.balance.starts.share)[:, None]

    @cached_property
    def _shares(self) -> tuple[Index, Index]:
        """Shares of friction along and aside, each (f, 1)."""
        both = np.arange(self.balance.starts.share, self.balance.starts.hold)
        along, aside = both.reshape(2, -1, 1)
        return along, aside

    @cached_property
    def _forces(self) -> Index:
        return np.arange(self.balance.starts.hold, self.balance.starts.turn)[:, None]

    @cached_property
    def _about(self) -> Array:
        """Motion of each slot per its turn, shape (k, 6)."""
        direction = self.balance.direction
        return np.concatenate([np.zeros_like(direction), direction], axis=1)

    @cached_property
    def _yield(self) -> Array:
        """Change of what is left of each slot's turn per its load, shape (k, 6)."""
        return -self.balance.what.compliance[:, None] * self._about

    # -- parts --------------------------------------------------------------------------------

    def _add_rod(self, result: Triplets) -> None:
        chain, contact = self.balance.response.stiffness, self.balance.contact
        loose = LOOSE + LOOSER * min(1.0, self.balance.size)
        blocks = [chain.diagonal + loose * np.eye(NODE), chain.upper, chain.lower]
        values = np.concatenate([block.reshape(-1) for block in blocks])
        result.add_each(*_chain_places(len(chain.diagonal)), values)
        for applied in (contact.along, contact.aside):
            if len(applied.element):
                element, by_nodes = _summed(applied.element, applied.by_nodes)
                nodes = _six(element, FREEDOMS)
                result.add(nodes, nodes, -by_nodes)

    def _add_pairs(self, result: Triplets) -> None:
        contact, touch = self.balance.contact, self.balance.touch
        nodes, own = self._pair_nodes, self._pushes
        result.add(nodes, own, -contact.along_by_push[:, :, None])
        aside = self._rub_nodes[1]
        result.add(aside, own[contact.rubs], -contact.aside_by_push[:, :, None])
        result.add(own, nodes, (-touch.by_gap[:, None] * contact.view.across)[:, None])
        result.add_each(own[:, 0], own[:, 0], touch.by_force)
        first, second, compliance = contact.law.partners
        if len(first):
            number = np.full(len(contact.gap), -1)
            number[contact.near] = np.arange(len(contact.near))
            both = (number[first] >= 0) & (number[second] >= 0)
            i, j = number[first[both]], number[second[both]]
            values = touch.by_gap[i] * compliance[both]
            result.add_each(own[i, 0], own[j, 0], values)

    def _add_rubs(self, result: Triplets) -> None:
        contact = self.balance.contact
        for nodes, own, by_share, way, left in zip(
            self._rub_nodes,
            self._shares,
            contact.by_share,
            contact.way_by_nodes,
            contact.rubbed.halves,
            strict=True,
        ):
            result.add(nodes, own, -by_share[:, :, None])
            result.add(own, nodes, (left.by_slide[:, None] * way)[:, None])
            result.add_each(own[:, 0], own[:, 0], left.by_share)

    def _add_holds(self, result: Triplets) -> None:
        balance, held, stop = self.balance, self.balance.holds, self.balance.stop
        node, own = _six(balance.what.holds.node), self._forces
        turned = balance.unknowns.held[:, None, None] * held.pull_by_node
        result.add(node, node, -turned)
        result.add(node, own, -held.pull[:, :, None])
        result.add(own, node, (stop.by_gap[:, None] * held.pull)[:, None])
        result.add_each(own[:, 0], own[:, 0], stop.by_force)

    def _by_slot(self) -> Iterator[Block]:
        """Yield rows, slot (b,) and derivative of what is left there by its motion, (b, i, 6)."""
        balance, contact, held = self.balance, self.balance.contact, self.balance.holds
        slot, rubs = contact.slot, contact.rubs
        yield self._pair_nodes, slot, -contact.along.by_slot
        yield self._rub_nodes[1], slot[rubs], -contact.aside.by_slot
        yield self._pushes, slot, (balance.touch.by_gap[:, None] * contact.gap_by_slot)[:, None]
        for own, way, left in zip(
            self._shares, contact.way_by_slot, contact.rubbed.halves, strict=True
        ):
            yield own, slot[rubs], (left.by_slide[:, None] * way)[:, None]
        holds, force = balance.what.holds, balance.unknowns.held[:, None, None]
        yield _six(holds.node), holds.slot, -force * held.pull_by_slot
        yield self._forces, holds.slot, (balance.stop.by_gap[:, None] * held.gap_by_slot)[:, None]

    def _loads(self) -> Iterator[Block]:
        """Yield slot (b,), unknowns and derivative of its load by them, (b, 6, j)."""
        balance, contact, held = self.balance, self.balance.contact, self.balance.holds
        slot = contact.slot
        along, aside, rubs = contact.along, contact.aside, contact.rubs
        yield slot, self._pair_nodes, along.load_by_nodes
        yield slot, self._pushes, -along.against(contact.along_by_push)[:, :, None]
        yield slot[rubs], self._rub_nodes[1], aside.load_by_nodes
        pushes = self._pushes[rubs]
        yield slot[rubs], pushes, -aside.against(contact.aside_by_push)[:, :, None]
        own = -np.einsum("pf,pfs->ps", contact.by_share[0], along.rigid[rubs])
        yield slot[rubs], self._shares[0], own[:, :, None]
        yield slot[rubs], self._shares[1], -aside.against(contact.by_share[1])[:, :, None]
        holds, force = balance.what.holds, balance.unknowns.held[:, None, None]
        yield holds.slot, _six(holds.node), force * held.on_slot_by_node
        yield holds.slot, self._forces, held.on_slot[:, :, None]
        if balance.what.gives:
            for slot, values in self._own():
                turn = balance.starts.turn + slot[:, None]
                yield slot, turn, values @ self._about[slot, :, None]

    def _own(self) -> Iterator[tuple[Index, Array]]:
        """Yield slot (b,) and derivative of its load by its own motion, (b, 6, 6)."""
        balance = self.balance
        for applied in (balance.contact.along, balance.contact.aside):
            yield applied.slot, applied.load_by_slot
        held = balance.unknowns.held[:, None, None]
        yield balance.what.holds.slot, held * balance.holds.on_slot_by_slot


def _six(index: Index, count: int = NODE) -> Index:
    """Return the freedoms of nodes or slots, or of nodes and the next ones, shape (b, count)."""
    return NODE * index[:, None] + np.arange(count)


def _summed(element: Index, values: Array) -> tuple[Index, Array]:
    """Return each element once, and the sum of its values."""
    order = np.argsort(element, kind="stable")
    found, first = np.unique(element[order], return_index=True)
    return found, np.add.reduceat(values[order], first, axis=0)


@lru_cache(maxsize=16)
def _chain_places(count: int) -> tuple[Index, Index]:
    """Return rows and columns of a chain's blocks: diagonal, to the next node, and back."""
    node = _six(np.arange(count))
    here, there = node[:-1], node[1:]
    pairs = ((node, node), (here, there), (there, here))
    rows = [np.repeat(i, NODE) for i, _ in pairs]
    columns = [np.repeat(j[:, None], NODE, axis=1).reshape(-1) for _, j in pairs]
    return np.concatenate(rows), np.concatenate(columns)
