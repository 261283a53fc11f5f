"""A run between two steps: what it has recorded, and what it needs to go on as if never stopped."""

from dataclasses import dataclass
from typing import NamedTuple, Protocol, runtime_checkable

from gomphosis.bone.joint_loads import members, parts
from gomphosis.bone.loads import Loads
from gomphosis.bone.states import State, joined, parted
from gomphosis.fem.section import Array


class Row(NamedTuple):
    """Record of one step; n teeth, six-vectors about the crest in the tooth frame.

    Attributes
    ----------
    day
        At the end of the step.
    period
        Index of the acting period.
    drift, pose
        Places of the load-free and of the loaded teeth, mm and rad from the start, shape (n, 6).
    wrench
        Force systems of the appliance on the teeth, N and N·mm, shape (n, 6).
    stopped
        Wall that stands still for overload, mm^2, shape (n,).
    left
        What loads leave for later: the line of a wire to be shown, and the state of those that
        ended as a period began. Empty unless the run is kept.
    """

    day: float
    period: int
    drift: Array
    pose: Array
    wrench: Array
    stopped: Array
    left: State


@dataclass(frozen=True)
class Reached:
    """What a complete step left.

    Attributes
    ----------
    row
        Record of the step.
    clocks
        Days since each sample of each wall stopped, shape (samples,) per tooth.
    loads
        State of the loads of the acting period.
    """

    row: Row
    clocks: tuple[Array, ...]
    loads: State

    @property
    def first(self) -> "Checkpoint":
        """To go on from, where nothing came before."""
        return Checkpoint((self.row,), self.clocks, self.loads)


@dataclass(frozen=True)
class Checkpoint:
    """All that a run needs to go on after a complete step.

    Attributes
    ----------
    rows
        Records of the start of every period and of every step so far.
    clocks, loads
        As the last of them left them: see `Reached`.
    """

    rows: tuple[Row, ...]
    clocks: tuple[Array, ...]
    loads: State

    def __post_init__(self) -> None:
        if not self.rows:
            raise ValueError("a checkpoint needs at least one row")


@runtime_checkable
class Recorded(Protocol):
    """Loads that leave something of every commit to be shown later."""

    def record(self) -> State:
        """Return what the last commit left."""
        ...

    def recall(self, poses: Array, record: State) -> None:
        """Take back what a commit at poses, shape (n, 6), left."""
        ...


def left_behind(loads: Loads, before: Loads | None) -> State:
    """Return what loads leave for later after a commit.

    Parameters
    ----------
    loads
        That act.
    before
        Those of the last period, where a new one begins.
    """
    records = [load.record() for load in _recorded(loads)]
    states = [load.state() for load in _ended(loads, before)]
    return joined([joined(records), joined(states)])


def bring_back(row: Row, loads: Loads, before: Loads | None) -> None:
    """Give loads, made anew, what `left_behind` returned.

    Raises
    ------
    StateError
        If other loads left it.
    """
    records, states = parted(row.left, 2)
    recorded, ended = _recorded(loads), _ended(loads, before)
    for load, part in zip(recorded, parted(records, len(recorded)), strict=True):
        load.recall(row.pose, part)
    for load, part in zip(ended, parted(states, len(ended)), strict=True):
        load.restore(part)


def _recorded(loads: Loads) -> list[Recorded]:
    return [load for load in parts(loads) if isinstance(load, Recorded)]


def _ended(loads: Loads, before: Loads | None) -> list[Loads]:
    if before is None:
        return []
    acting = {id(load) for load in members(loads)}
    return [load for load in members(before) if id(load) not in acting]
