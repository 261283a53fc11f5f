"""What is left of balance and touch of a rod in slots at a trial: zero in equilibrium."""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Self

import numpy as np

from gomphosis.fem.complementarity import fischer
from gomphosis.fem.rod import RodResponse, RodState
from gomphosis.fem.rod_equilibrium import ARM, PER_GAP, WEIGHT
from gomphosis.fem.section import Array
from gomphosis.fem.slot_contact import Contact
from gomphosis.fem.slot_edges import ALONG, SlotFrames
from gomphosis.fem.slot_holds import NODE, Held
from gomphosis.fem.slot_state import SlottedRod, SlottedState, Unknowns, turned
from gomphosis.fem.slot_touches import SHARP, Corner

PER_PUSH = 0.05  # mm/N; what a push counts for beside a gap


class Starts(NamedTuple):
    """First unknown after the nodes, the near pushes, the shares, the holds; and number of all."""

    push: int
    share: int
    hold: int
    turn: int
    size: int


class Condition(NamedTuple):
    """What is left of "apart or pushing", mm, and its derivatives by gap and force, each (m,)."""

    left: Array
    by_gap: Array
    by_force: Array


@dataclass(frozen=True)
class Balance:
    """Balance of forces and conditions of touch at a trial.

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
    ) -> Self:
        """Return the system at unknowns, on a step from a state."""
        gone = turned(frames, unknowns.turn) if np.any(unknowns.turn) else frames
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

    @cached_property
    def starts(self) -> Starts:
        """Where the kinds of unknowns start."""
        nodes = NODE * len(self.unknowns.place.nodes)
        pairs = nodes + len(self.contact.near)
        rubs = pairs + 2 * len(self.contact.rubs)
        holds = rubs + len(self.holds.gap)
        return Starts(nodes, pairs, rubs, holds, holds + len(self.frames.place))

    @cached_property
    def out(self) -> Array:
        """Force on every node that is not balanced, N and N·mm, shape (n, 6)."""
        out = self.response.force - self.contact.load
        np.subtract.at(out, self.what.holds.node, self.unknowns.held[:, None] * self.holds.pull)
        return out

    @cached_property
    def touch(self) -> Condition:
        """Condition of the near pairs."""
        gap = self.contact.gap[self.contact.near]
        value, by_gap, by_push = fischer(gap, PER_PUSH * self.contact.push, self.corner.rounding)
        return Condition(value, by_gap, PER_PUSH * by_push)

    @cached_property
    def stop(self) -> Condition:
        """Condition of the holds; one that acts both ways leaves its gap only."""
        gap, force = self.holds.gap, PER_PUSH * self.unknowns.held
        both = self.what.holds.side == 0.0
        value, by_gap, by_force = fischer(gap, force, self.corner.rounding)
        return Condition(
            np.where(both, gap, value),
            np.where(both, 1.0, by_gap),
            np.where(both, 0.0, PER_PUSH * by_force),
        )

    @cached_property
    def on_slots(self) -> Array:
        """Load on every slot about its origin, N and N·mm, shape (k, 6)."""
        load = self.contact.on_slots(len(self.frames.place))
        np.add.at(load, self.what.holds.slot, self.unknowns.held[:, None] * self.holds.on_slot)
        return load

    @property
    def direction(self) -> Array:
        """Of every slot along the rod, shape (k, 3)."""
        return self.frames.triads[:, :, ALONG]

    @cached_property
    def give(self) -> Array:
        """Turn of every slot that its moment does not explain, rad, shape (k,)."""
        if not self.what.gives:
            return self.unknowns.turn
        moment = np.sum(self.direction * self.on_slots[:, 3:], axis=1)
        return self.unknowns.turn - self.what.compliance * moment

    @cached_property
    def left(self) -> Array:
        """All that is left, in the order of the unknowns, shape (size,)."""
        return np.concatenate([self.out.ravel(), *self._ways, self.give])

    @property
    def _ways(self) -> tuple[Array, Array, Array]:
        return self.touch.left, self.contact.rubbed.left, self.stop.left

    @cached_property
    def size(self) -> float:
        """One number for all that is left, N."""
        parts = [(WEIGHT * self.out).ravel(), *(PER_GAP * way for way in self._ways)]
        parts.append(PER_GAP * ARM * self.give)
        return float(np.linalg.norm(np.concatenate(parts)))

    @property
    def worst(self) -> tuple[float, float]:
        """Largest force out of balance, N, and largest gap left, mm."""
        gaps = np.concatenate([*self._ways, ARM * self.give, [self.contact.astray]])
        return float(np.abs(WEIGHT * self.out).max()), float(np.abs(gaps).max())

    def kept(self) -> SlottedState:
        """Return the state if the step ends here."""
        rod = RodState(self.unknowns.place, self.response.history)
        return SlottedState(rod, self.contact.touches, self.unknowns.held, self.unknowns.turn)
