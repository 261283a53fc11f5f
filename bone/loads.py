"""What the time loop asks of anything that loads teeth, and two simple answers."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from gomphosis.bone.states import State, check_names
from gomphosis.fem.section import Array


@dataclass(frozen=True)
class LoadResponse:
    """Force systems on n teeth and their derivative by the poses.

    Attributes
    ----------
    wrenches
        About each crest point, tooth frame, N and N·mm, shape (n, 6).
    derivative
        By the poses (mm, rad), shape (6 n, 6 n).
    """

    wrenches: Array
    derivative: Array


class Loads(Protocol):
    """Load teeth according to their poses and the day.

    History lives between commit and rollback.
    """

    def at_day(self, day: float) -> None:
        """Take the trials from here on to be at this day."""
        ...

    def engage(self, poses: Array) -> None:
        """Be put on teeth that stand at these poses, without history."""
        ...

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return the trial response to poses, shape (n, 6): mm and rad from the start."""
        ...

    def commit(self, poses: Array) -> None:
        """Accept a step that ended at these poses."""
        ...

    def rollback(self) -> None:
        """Forget the trials since the last commit."""
        ...

    def state(self) -> State:
        """Return what the last commit left, for the same loads made anew to go on from."""
        ...

    def restore(self, state: State) -> None:
        """Go on from a state.

        Raises
        ------
        StateError
            If it is the state of other loads.
        """
        ...


@dataclass(frozen=True)
class ConstantLoads:
    """Load n teeth with wrenches, shape (n, 6), that do not depend on the poses."""

    wrenches: Array

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return the same force systems for any poses."""
        return LoadResponse(self.wrenches, np.zeros((poses.size, poses.size)))

    def at_day(self, day: float) -> None:
        """Stay the same: the day does not matter."""

    def engage(self, poses: Array) -> None:
        """Start with nothing: there is no history."""

    def commit(self, poses: Array) -> None:
        """Keep nothing: there is no history."""

    def rollback(self) -> None:
        """Forget nothing: there is no history."""

    def state(self) -> State:
        """Return nothing: there is no history."""
        return {}

    def restore(self, state: State) -> None:
        """Take nothing: there is no history."""
        check_names(state, ())


@dataclass(frozen=True)
class SpringLoads:
    """Load n teeth in proportion to their poses: W = W_0 - A q.

    Attributes
    ----------
    start
        W_0, shape (n, 6).
    stiffness
        A, shape (6 n, 6 n).
    """

    start: Array
    stiffness: Array

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return the force systems at poses of shape (n, 6)."""
        wrenches = self.start - (self.stiffness @ poses.ravel()).reshape(poses.shape)
        return LoadResponse(wrenches, -self.stiffness)

    def at_day(self, day: float) -> None:
        """Stay the same: the day does not matter."""

    def engage(self, poses: Array) -> None:
        """Start with nothing: there is no history."""

    def commit(self, poses: Array) -> None:
        """Keep nothing: there is no history."""

    def rollback(self) -> None:
        """Forget nothing: there is no history."""

    def state(self) -> State:
        """Return nothing: there is no history."""
        return {}

    def restore(self, state: State) -> None:
        """Take nothing: there is no history."""
        check_names(state, ())
