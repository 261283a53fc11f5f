"""Newton's step of a rod in slots, and how the loads on the slots follow their motions."""

from dataclasses import dataclass
from functools import cached_property

from scipy.sparse.linalg import SuperLU, splu

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array
from gomphosis.fem.slot_balance import Balance
from gomphosis.fem.slot_holds import NODE
from gomphosis.fem.slot_matrix import Derivatives
from gomphosis.fem.slot_state import Change, SlottedRod, SlottedState, Unknowns
from gomphosis.fem.slot_view import BODY

__all__ = ["SlottedRod", "SlottedState", "Trial", "Unknowns"]


@dataclass(frozen=True)
class Trial(Balance):
    """A rod in slots at a trial, with the way on from there."""

    @cached_property
    def _derivatives(self) -> Derivatives:
        return Derivatives(self)

    @cached_property
    def _factor(self) -> SuperLU:
        try:
            return splu(self._derivatives.by_unknowns())
        except RuntimeError as error:
            raise NotConvergedError([self.size], 0.0) from error

    def step(self) -> Change:
        """Return Newton's change of the unknowns.

        Raises
        ------
        NotConvergedError
            If the system is singular.
        """
        starts, contact, now = self.starts, self.contact, self.unknowns
        change = self._factor.solve(-self.left)
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
        """Return the derivative of the slots' loads by all slots' motions, shape (k, 6, k, 6).

        Loads are about the slots' origins; motions are displacement and spin in space. History
        and friction count as in the step that led here.

        Raises
        ------
        NotConvergedError
            If the system is singular.
        """
        derivatives = self._derivatives
        follow = self._factor.solve(-derivatives.by_motion().toarray())
        slope = derivatives.loads_by_motion() + derivatives.loads_by_unknowns() @ follow
        slots = len(self.frames.place)
        return slope.reshape(slots, BODY, slots, BODY)
