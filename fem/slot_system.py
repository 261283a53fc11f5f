"""Balance and touch of a rod in slots as one system of equations, and its derivative."""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import SuperLU, splu
from scipy.spatial.transform import Rotation

from gomphosis.fem.complementarity import fischer
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import Rod, RodPlace, RodResponse, RodState
from gomphosis.fem.rod_equilibrium import ARM, PER_GAP, WEIGHT
from gomphosis.fem.section import Array, Index
from gomphosis.fem.slot_contact import SHARP, SLOT, Contact, Corner, EdgeContact, Touches
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_holds import NODE, Held, Holds

PER_PUSH = 0.05  # mm/N; what a push counts for beside a gap
LOOSE, LOOSER = 1e-7, 1e-2  # N/mm and N·mm/rad, and the latter per unit of what is left: on the
# way only, keeps what nothing touches where it is


@dataclass(frozen=True)
class SlottedRod:
    """A rod and what can touch or hold it.

    Parameters
    ----------
    rod
        Itself.
    contact
        Edges of k slots.
    holds
        Of its nodes by slots.
    compliance
        Turn of each slot about its own direction per moment, rad/(N·mm), shape (k,).
    """

    rod: Rod
    contact: EdgeContact
    holds: Holds
    compliance: Array


@dataclass(frozen=True)
class SlottedState:
    """A rod in slots at the end of a step.

    Attributes
    ----------
    rod
        Place and history.
    touches
        Of edges and curves.
    held
        Forces of the holds, N or N·mm, shape (h,).
    turn
        How far each slot has given way about its own direction, rad, shape (k,).
    """

    rod: RodState
    touches: Touches
    held: Array
    turn: Array


class Starts(NamedTuple):
    """First unknown after the nodes, the near pushes, the shares, the holds; and number of all."""

    push: int
    share: int
    hold: int
    turn: int
    size: int


@dataclass(frozen=True)
class Unknowns:
    """What Newton's iteration moves: place, pushes and shares (m,), holds (h,), turns (k,)."""

    place: RodPlace
    push: Array
    share: Array
    held: Array
    turn: Array


class Change(NamedTuple):
    """Of the unknowns: motion of the nodes, shape (n, 6), and of the rest."""

    motion: Array
    push: Array
    share: Array
    held: Array
    turn: Array


def moved(now: Unknowns, change: Change, part: float) -> Unknowns:
    """Return the unknowns after a part of a change."""
    return Unknowns(
        now.place.moved(part * change.motion),
        now.push + part * change.push,
        now.share + part * change.share,
        now.held + part * change.held,
        now.turn + part * change.turn,
    )


@dataclass(frozen=True)
class Trial:
    """The system at a trial.

    Attributes
    ----------
    what, frames, corner
        Rod, slots before they give way, and how sharp contact sets in.
    unknowns
        Where the system is looked at.
    response, contact, holds
        Of the rod, the edges and the holds there.
    """

    what: SlottedRod
    frames: SlotFrames
    corner: Corner
    unknowns: Unknowns
    response: RodResponse
    contact: Contact
    holds: Held

    @classmethod
    def at(
        cls,
        what: SlottedRod,
        frames: SlotFrames,
        unknowns: Unknowns,
        *,
        before: SlottedState,
        corner: Corner = SHARP,
    ) -> "Trial":
        """Return the system at unknowns, on a step from a state."""
        gone = turned(frames, unknowns.turn)
        place = unknowns.place
        response = what.rod.respond(place, before.rod.history)
        contact = what.contact.at(
            what.rod,
            place,
            gone,
            push=unknowns.push,
            share=unknowns.share,
            before=before.touches,
            corner=corner,
        )
        holds = what.holds.seen(place, gone)
        return cls(what, frames, corner, unknowns, response, contact, holds)

    # -- what is left -------------------------------------------------------------------------

    @cached_property
    def out(self) -> Array:
        """Force on every node that is not balanced, N and N·mm, shape (n, 6)."""
        out = self.response.force - self.contact.load
        np.subtract.at(out, self.what.holds.node, self.unknowns.held[:, None] * self.holds.pull)
        return out

    @cached_property
    def _touch(self) -> tuple[Array, Array, Array]:
        near = self.contact.near
        push = PER_PUSH * self.unknowns.push[near]
        return fischer(self.contact.gap[near], push, self.corner.rounding)

    @cached_property
    def _stop(self) -> tuple[Array, Array, Array]:
        gap, force = self.holds.gap, PER_PUSH * self.unknowns.held
        both = self.what.holds.side == 0.0
        value, by_gap, by_force = fischer(gap, force, self.corner.rounding)
        return (
            np.where(both, gap, value),
            np.where(both, 1.0, by_gap),
            np.where(both, 0.0, by_force),
        )

    @cached_property
    def on_slots(self) -> Array:
        """Load on every slot about its origin, N and N·mm, shape (k, 6)."""
        load = self.contact.on_slots(len(self.frames.place))
        np.add.at(load, self.what.holds.slot, self.unknowns.held[:, None] * self.holds.on_slot)
        return load

    @property
    def _direction(self) -> Array:
        return self.frames.triads[:, :, 0]

    @cached_property
    def give(self) -> Array:
        """Turn of every slot that its moment does not explain, rad, shape (k,)."""
        moment = np.einsum("ki,ki->k", self._direction, self.on_slots[:, 3:])
        return self.unknowns.turn - self.what.compliance * moment

    @cached_property
    def size(self) -> float:
        """One number for all that is left."""
        parts = [
            (WEIGHT * self.out).ravel(),
            PER_GAP * self._touch[0],
            PER_GAP * self._stop[0],
            PER_GAP * self.contact.rubbed.left,
            PER_GAP * ARM * self.give,
        ]
        return float(np.sqrt(sum(np.sum(part**2) for part in parts)))

    @property
    def worst(self) -> tuple[float, float]:
        """Largest force out of balance, N, and largest gap left, mm."""
        parts = [self._touch[0], self._stop[0], self.contact.rubbed.left, ARM * self.give]
        apart = max(float(np.abs(part).max(initial=0.0)) for part in parts)
        return float(np.abs(WEIGHT * self.out).max()), apart

    def kept(self) -> SlottedState:
        """Return the state if the step ends here."""
        rod = RodState(self.unknowns.place, self.response.history)
        return SlottedState(rod, self.contact.touches, self.unknowns.held, self.unknowns.turn)

    # -- derivative ---------------------------------------------------------------------------

    @cached_property
    def _starts(self) -> Starts:
        contact = self.contact
        nodes = NODE * len(self.unknowns.place.nodes)
        pairs = nodes + len(contact.near)
        rubs = pairs + len(contact.rubs)
        holds = rubs + len(self.holds.gap)
        return Starts(nodes, pairs, rubs, holds, holds + len(self.frames.place))

    @cached_property
    def _factor(self) -> SuperLU:
        return self._factored(self._blocks())

    def _factored(self, blocks: list[tuple[Array, Array, Array]]) -> SuperLU:
        size = self._starts.size
        rows, columns, values = (np.concatenate(part) for part in zip(*blocks, strict=True))
        matrix = csc_matrix((values, (rows, columns)), shape=(size, size))
        try:
            return splu(matrix)
        except RuntimeError as error:
            raise NotConvergedError([self.size], 0.0) from error

    def _blocks(self) -> list[tuple[Array, Array, Array]]:
        """Return rows, columns and values of the derivative, block by block."""
        return [
            *self._node_blocks(),
            *self._pair_blocks(),
            *self._rub_blocks(),
            *self._hold_blocks(),
            *self._turns(),
        ]

    def _node_blocks(self) -> list[tuple[Array, Array, Array]]:
        chain, contact = self.response.stiffness, self.contact
        many = np.arange(NODE * len(chain.diagonal)).reshape(-1, NODE)
        pair = self._pair_nodes
        node = self.what.holds.node
        loose = LOOSE + LOOSER * min(1.0, self.size)
        turned = self.unknowns.held[:, None, None] * self.holds.pull_by_node
        return [
            _block(many, many, chain.diagonal),
            _block(many[:-1], many[1:], chain.upper),
            _block(many[1:], many[:-1], chain.lower),
            _block(many, many, np.broadcast_to(loose * np.eye(NODE), chain.diagonal.shape)),
            _block(pair, pair, -contact.by_nodes),
            _block(many[node], many[node], -turned),
        ]

    @property
    def _pair_nodes(self) -> Index:
        return NODE * self.contact.element[:, None] + np.arange(2 * NODE)

    @property
    def _about(self) -> Array:
        """Motion of each slot per its turn, shape (k, 6)."""
        return np.concatenate([np.zeros_like(self._direction), self._direction], axis=1)

    def _pair_blocks(self) -> list[tuple[Array, Array, Array]]:
        contact, law = self.contact, self.what.contact
        starts = self._starts
        _, by_gap, by_push = self._touch
        near = contact.near
        own = starts.push + np.arange(len(near))[:, None]
        turn = starts.turn + contact.slot[:, None]
        about = self._about[contact.slot]
        shared = by_gap[:, None] * law.shared[np.ix_(near, near)]
        shared[np.arange(len(near)), np.arange(len(near))] += PER_PUSH * by_push
        i, j = np.nonzero(shared)
        return [
            _block(self._pair_nodes, own, -contact.by_push[:, :, None]),
            _block(self._pair_nodes, turn, -contact.by_slot @ about[:, :, None]),
            _block(own, self._pair_nodes, -by_gap[:, None, None] * contact.view.across[:, None]),
            (starts.push + i, starts.push + j, shared[i, j]),
            _block(
                own,
                turn,
                (by_gap * np.einsum("ps,ps->p", contact.gap_by_slot, about))[:, None, None],
            ),
        ]

    def _rub_blocks(self) -> list[tuple[Array, Array, Array]]:
        contact, rubbed, starts = self.contact, self.contact.rubbed, self._starts
        rubs = contact.rubs
        own = starts.share + np.arange(len(rubs))[:, None]
        turn = starts.turn + contact.slot[rubs, None]
        nodes = self._pair_nodes[rubs]
        by_turn = np.einsum("ps,ps->p", contact.slide_by_slot, self._about[contact.slot[rubs]])
        slide = contact.view.slide[rubs]
        return [
            _block(nodes, own, -contact.by_share[:, :, None]),
            _block(own, nodes, rubbed.by_slide[:, None, None] * slide[:, None]),
            _block(own, own, rubbed.by_share[:, None, None]),
            _block(own, turn, (rubbed.by_slide * by_turn)[:, None, None]),
        ]

    def _hold_blocks(self) -> list[tuple[Array, Array, Array]]:
        held, holds = self.holds, self.what.holds
        starts = self._starts
        _, by_gap, by_force = self._stop
        node = NODE * holds.node[:, None] + np.arange(NODE)
        own = starts.hold + np.arange(len(holds.node))[:, None]
        turn = starts.turn + holds.slot[:, None]
        about = self._about[holds.slot]
        force = self.unknowns.held[:, None, None]
        return [
            _block(node, own, -held.pull[:, :, None]),
            _block(node, turn, -force * (held.pull_by_slot @ about[:, :, None])),
            _block(own, node, by_gap[:, None, None] * held.pull[:, None]),
            _block(own, own, PER_PUSH * by_force[:, None, None]),
            _block(
                own,
                turn,
                (by_gap * np.einsum("hs,hs->h", held.gap_by_slot, about))[:, None, None],
            ),
        ]

    def _turns(self) -> list[tuple[Array, Array, Array]]:
        first = self._starts.turn
        turn = np.arange(first, self._starts.size)[:, None]
        one = np.ones(len(turn))
        blocks = [_block(turn, turn, one[:, None, None])]
        if not np.any(self.what.compliance):
            return blocks
        about = self._about
        for slot, rows, columns, values in self._load_blocks():
            # moment of this block's load about the slot's direction, times the compliance
            row = -self.what.compliance[slot, None] * about[slot]
            blocks.append(_block(first + slot[:, None], columns, row[:, None, :] @ values))
            del rows
        return blocks

    def _load_blocks(self) -> list[tuple[Index, Index, Index, Array]]:
        """Return slot, its rows, columns of unknowns and derivative of the slots' loads."""
        contact, held, holds = self.contact, self.holds, self.what.holds
        starts = self._starts
        six = np.arange(SLOT)
        found = []

        def add(slot: Index, columns: Index, values: Array) -> None:
            found.append((slot, SLOT * slot[:, None] + six, columns, values))

        slot = contact.slot
        about = self._about[slot]
        add(slot, self._pair_nodes, contact.pair_by_nodes)
        add(slot, starts.push + np.arange(len(slot))[:, None], contact.pair_by_push[:, :, None])
        add(slot, starts.turn + slot[:, None], contact.pair_by_slot @ about[:, :, None])
        drags = starts.share + np.arange(len(contact.rubs))[:, None]
        add(slot[contact.rubs], drags, contact.pair_by_share[:, :, None])
        force = self.unknowns.held[:, None, None]
        slot, about = holds.slot, self._about[holds.slot]
        node = NODE * holds.node[:, None] + np.arange(NODE)
        add(slot, node, force * held.on_slot_by_node)
        add(slot, starts.hold + np.arange(len(slot))[:, None], held.on_slot[:, :, None])
        add(slot, starts.turn + slot[:, None], force * (held.on_slot_by_slot @ about[:, :, None]))
        return found

    def step(self) -> "Change":
        """Return Newton's change of the unknowns."""
        starts, contact, now = self._starts, self.contact, self.unknowns
        left = [self.out.ravel(), self._touch[0], contact.rubbed.left, self._stop[0], self.give]
        change = self._factor.solve(-np.concatenate(left))
        # a pair that is not near has no force
        push, share = -now.push, -now.share
        push[contact.near] = change[starts.push : starts.share]
        share[contact.near[contact.rubs]] = change[starts.share : starts.hold]
        return Change(
            change[: starts.push].reshape(-1, NODE),
            push,
            share,
            change[starts.hold : starts.turn],
            change[starts.turn :],
        )

    def by_slots(self) -> Array:
        """Return the derivative of the slots' loads by all slots' motions, shape (k, 6, k, 6)."""
        count = len(self.frames.place)
        change = self._factor.solve(-self._by_motion())
        slope = np.zeros((count, SLOT, count, SLOT))
        for slot, _, columns, values in self._load_blocks():
            part = values @ change[columns]
            np.add.at(slope, slot, part.reshape(len(slot), SLOT, count, SLOT))
        contact, held = self.contact, self.holds
        np.add.at(slope, (contact.slot, slice(None), contact.slot), contact.pair_by_slot)
        own = self.unknowns.held[:, None, None] * held.on_slot_by_slot
        holds = self.what.holds.slot
        np.add.at(slope, (holds, slice(None), holds), own)
        return slope

    def _by_motion(self) -> Array:
        """Return the derivative of what is left by all slots' motions, shape (size, 6 k)."""
        contact, held, holds = self.contact, self.holds, self.what.holds
        starts = self._starts
        count = len(self.frames.place)
        left = np.zeros((starts.size, SLOT * count))
        six = np.arange(SLOT)

        def add(rows: Index, slot: Index, values: Array) -> None:
            np.add.at(left, (rows[:, :, None], (SLOT * slot[:, None] + six)[:, None]), values)

        by_gap = self._touch[1]
        add(self._pair_nodes, contact.slot, -contact.by_slot)
        rows = starts.push + np.arange(len(contact.near))[:, None]
        add(rows, contact.slot, (by_gap[:, None] * contact.gap_by_slot)[:, None])
        rows = starts.share + np.arange(len(contact.rubs))[:, None]
        by_slot = contact.rubbed.by_slide[:, None] * contact.slide_by_slot
        add(rows, contact.slot[contact.rubs], by_slot[:, None])
        node = NODE * holds.node[:, None] + np.arange(NODE)
        add(node, holds.slot, -self.unknowns.held[:, None, None] * held.pull_by_slot)
        rows = starts.hold + np.arange(len(holds.node))[:, None]
        add(rows, holds.slot, (self._stop[1][:, None] * held.gap_by_slot)[:, None])
        if np.any(self.what.compliance):
            self._add_give(add, starts.turn)
        return left

    def _add_give(self, add, turns: int) -> None:  # noqa: ANN001 - local
        contact, held, holds = self.contact, self.holds, self.what.holds
        row = -self.what.compliance[:, None] * self._about
        rows = turns + contact.slot[:, None]
        add(rows, contact.slot, row[contact.slot][:, None] @ contact.pair_by_slot)
        own = self.unknowns.held[:, None, None] * held.on_slot_by_slot
        add(turns + holds.slot[:, None], holds.slot, row[holds.slot][:, None] @ own)
        # the slot's direction turns as well
        every = np.arange(len(self.frames.place))
        swing = np.zeros((len(every), 1, SLOT))
        cross = np.cross(self._direction, self.on_slots[:, 3:])
        swing[:, 0, 3:] = -self.what.compliance[:, None] * cross
        add(turns + every[:, None], every, swing)


def turned(frames: SlotFrames, angle: Array) -> SlotFrames:
    """Return slots turned about their own direction by angles (k,), rad."""
    about = angle[:, None] * frames.triads[:, :, 0]
    return SlotFrames(frames.place, Rotation.from_rotvec(about).as_matrix() @ frames.triads)


def _block(rows: Array, columns: Array, values: Array) -> tuple[Array, Array, Array]:
    """Return triplets of blocks: rows (b, i), columns (b, j), values (b, i, j)."""
    i, j = np.broadcast_arrays(rows[:, :, None], columns[:, None, :])
    return i.ravel(), j.ravel(), np.ascontiguousarray(np.broadcast_to(values, i.shape)).ravel()
