"""Loads that act together, and loads that go on from one period into the next."""

from collections.abc import Iterator, Sequence

from gomphosis.bone.loads import LoadResponse, Loads
from gomphosis.bone.states import State, joined, parted
from gomphosis.fem.section import Array


class Together:
    """Load the same teeth by several loads at once: force systems and derivatives add.

    Parameters
    ----------
    loads
        One or more, all of the same teeth in the same order.

    Raises
    ------
    ValueError
        If there are none.
    """

    def __init__(self, loads: Sequence[Loads]) -> None:
        if not loads:
            raise ValueError("loads that act together need at least one")
        self.loads = tuple(loads)

    def at_day(self, day: float) -> None:
        """Tell all of them the day."""
        for load in self.loads:
            load.at_day(day)

    def engage(self, poses: Array) -> None:
        """Put all of them on teeth that stand at these poses."""
        for load in self.loads:
            load.engage(poses)

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return the sums of force systems and derivatives at poses, shape (n, 6)."""
        found = [load.evaluate(poses) for load in self.loads]
        wrenches, derivative = found[0].wrenches, found[0].derivative
        for response in found[1:]:
            wrenches = wrenches + response.wrenches
            derivative = derivative + response.derivative
        return LoadResponse(wrenches, derivative)

    def commit(self, poses: Array) -> None:
        """Let all of them accept a step that ended at these poses."""
        for load in self.loads:
            load.commit(poses)

    def rollback(self) -> None:
        """Let all of them forget the trials since the last commit."""
        for load in self.loads:
            load.rollback()

    def state(self) -> State:
        """Return the states of all of them."""
        return joined([load.state() for load in self.loads])

    def restore(self, state: State) -> None:
        """Let all of them go on from a state."""
        for load, part in zip(self.loads, parted(state, len(self.loads)), strict=True):
            load.restore(part)


class Continued:
    """Let a load go on where a new period begins, with its history.

    Only the first engagement reaches the load; the same object stands in all periods through
    which the load acts.

    Parameters
    ----------
    loads
        The load.
    """

    def __init__(self, loads: Loads) -> None:
        self.loads = loads
        self._in_place = False

    def at_day(self, day: float) -> None:
        """Tell the load the day."""
        self.loads.at_day(day)

    def engage(self, poses: Array) -> None:
        """Put the load on, unless it is already in place."""
        if not self._in_place:
            self.loads.engage(poses)
            self._in_place = True

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return what the load answers to poses, shape (n, 6)."""
        return self.loads.evaluate(poses)

    def commit(self, poses: Array) -> None:
        """Let the load accept a step that ended at these poses."""
        self.loads.commit(poses)

    def rollback(self) -> None:
        """Let the load forget the trials since the last commit."""
        self.loads.rollback()

    def state(self) -> State:
        """Return the state of the load."""
        return self.loads.state()

    def restore(self, state: State) -> None:
        """Let the load go on from a state: it is in place."""
        self.loads.restore(state)
        self._in_place = True


def parts(loads: Loads) -> Iterator[Loads]:
    """Yield every load that acts, each by itself."""
    if isinstance(loads, Together):
        for load in loads.loads:
            yield from parts(load)
    elif isinstance(loads, Continued):
        yield from parts(loads.loads)
    else:
        yield loads


def members(loads: Loads) -> Iterator[Loads]:
    """Yield every load that acts, those that go on from period to period as such."""
    if isinstance(loads, Together):
        for load in loads.loads:
            yield from members(load)
    else:
        yield loads
