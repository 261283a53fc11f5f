"""Newton's step of a rod in slots, and how the loads on the slots follow their motions."""

from dataclasses import dataclass
from functools import cached_property

from scipy.sparse.linalg import SuperLU, splu

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array
from gomphosis.fem.slot_applied import BODY
from gomphosis.fem.slot_balance import Balance
from gomphosis.fem.slot_holds import NODE
from gomphosis.fem.slot_matrix import Derivatives
from gomphosis.fem.slot_state import Change, SlottedRod, SlottedState, Unknowns

__all__ = ["SlottedRod", "SlottedState", "Trial", "Unknowns"]


@dataclass(frozen=True)
class Trial(Balance):
    """A rod in slots at a trial, with the way on from there."""

    @cached_property
    def derivatives(self) -> Derivatives:
        """Derivatives there."""
        return Derivatives(self)

    @cached_property
    def _factor(self) -> SuperLU:
        try:
            return splu(self.derivatives.by_unknowns())
        except RuntimeError as error:
            raise NotConvergedError([self.size], 0.0) from error

    def step(self) -> Change:
        """Return Newton's change of the unknowns.

        Raises
        ------
        NotConvergedError
            If the system is singular.
        """
        return self.change(self._factor.solve(-self.left))

    def change(self, change: Array) -> Change:
        """Return a change of the unknowns, in their order, part by part."""
        starts, contact, now = self.starts, self.contact, self.unknowns
        # a pair that is not near has no force
        push, share = -now.push, -now.share
        push[contact.near] = change[starts.push : starts.share]
        both = change[starts.share : starts.hold].reshape(2, -1)
        share[:, contact.near[contact.rubs]] = both
        return Change(
            change[: starts.push].reshape(-1, NODE),
            push,
            share,
            change[starts.hold : starts.turn],
            change[starts.turn : starts.size],
        )

    def by_slots(self) -> Array:
        """Return the derivative of the slots' loads by all slots' motions, shape (k, 6, k, 6).

        Loads are about the slots' origins; motions are displacement and spin in space. History
        and friction count as in the step that led here.

        Raises
        ------
        NotConvergedError
            If the system is singular.
        """
        derivatives = self.derivatives
        follow = self._factor.solve(-derivatives.by_motion().toarray())
        slope = derivatives.loads_by_motion() + derivatives.loads_by_unknowns() @ follow
        slots = len(self.frames.place)
        return slope.reshape(slots, BODY, slots, BODY)
