r"""Weeks of movement: loads, ligament and drift solved together at the end of every step.

Each step finds the poses q with :math:`q = g^+ + C\,W(q)` and
:math:`g^+ = g + \Delta t\,V(W(q))`: g the drift (place of the load-free tooth), C the support's
compliance, V the drift speed. Being implicit, a step does not limit itself by the stiffness of
the wire.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from gomphosis.bone.checkpoint import (
    Checkpoint,
    Reached,
    Row,
    bring_back,
    left_behind,
)
from gomphosis.bone.loads import Loads
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.standstill import Standstill
from gomphosis.bone.yielding import Yielding, rest
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array

HALVINGS = 6


@dataclass(frozen=True)
class Period:
    """Loads that act from a day on."""

    start: float
    loads: Loads


@dataclass(frozen=True)
class Track:
    """Record of one run; T times, n teeth, six-vectors about the crest in the tooth frame.

    A day on which the loads change appears twice, before and after the change.

    Attributes
    ----------
    days
        Shape (T,).
    period
        Index of the acting period, shape (T,).
    drift
        Place of the load-free tooth, mm and rad from the start, shape (T, n, 6).
    pose
        Place of the loaded tooth, same shape.
    wrench
        Force system of the appliance on the tooth, N and N·mm, same shape.
    stopped
        Wall that stands still for overload, mm^2, shape (T, n); None if not recorded.
    """

    days: Array
    period: Array
    drift: Array
    pose: Array
    wrench: Array
    stopped: Array | None = None


def simulate(
    teeth: Sequence[Remodelling],
    periods: Sequence[Period],
    *,
    days: float,
    step: float,
    rate_factor: float = 1.0,
    progress: Callable[[float], None] | None = None,
    keep: Callable[[Reached], None] | None = None,
    resume: Checkpoint | None = None,
) -> Track:
    """Follow teeth for a number of days.

    Parameters
    ----------
    teeth
        Support, wall and rate law of each tooth.
    periods
        Loads and the days from which they act; the first starts at 0.
    days, step
        Length of the run and longest time step, day.
    rate_factor
        Multiplies every wall speed (differences between persons).
    progress
        Called with the day reached after every step.
    keep
        Called with what the start of every period and every step left.
    resume
        Go on from there with loads made anew, as if the run had never stopped: to the last bit.

    Raises
    ------
    NotConvergedError
        If a step fails even after halving it repeatedly.
    ValueError
        If the periods do not start at 0 in rising order before the end, or the checkpoint is of
        another run.
    """
    _check_periods(periods, days)
    body = _Body(teeth, rate_factor)
    plan = _plan(periods, days, step)
    if resume is None:
        row, still = _started(teeth, periods[0].loads)
        rows = [row]
        if keep is not None:
            keep(Reached(row, still.clocks, periods[0].loads.state()))
    else:
        rows, still = list(resume.rows), _resumed(resume, teeth, periods, plan)
    drift, pose = rows[-1].drift, rows[-1].pose
    for moment in plan[len(rows) :]:
        loads = periods[moment.period].loads
        if moment.length == 0.0:
            pose, wrench = body.begin(loads, moment.day, drift, pose)
        else:
            due = Step(moment.day, moment.length, still.moving(moment.length))
            drift, pose, wrench = body.advance(loads, drift, pose, due)
        still = still.after(wrench, moment.length)
        left = {} if keep is None else left_behind(loads, _before(moment, periods))
        rows.append(Row(moment.day, moment.period, drift, pose, wrench, still.area(), left))
        if keep is not None:
            keep(Reached(rows[-1], still.clocks, loads.state()))
        if progress is not None and moment.length > 0.0:
            progress(moment.day)
    times, numbers, *fields, _ = zip(*rows, strict=True)
    return Track(np.array(times), np.array(numbers), *(np.array(field) for field in fields))


def begun(teeth: Sequence[Remodelling], loads: Loads) -> Reached:
    """Put the first loads on teeth at their start, and return what that leaves.

    It is the same whatever the rates, so runs that differ in nothing else may go on from there.
    """
    row, still = _started(teeth, loads)
    return Reached(row, still.clocks, loads.state())


def _started(teeth: Sequence[Remodelling], loads: Loads) -> tuple[Row, Standstill]:
    start = np.zeros((len(teeth), 6))
    pose, wrench = _Body(teeth, 1.0).begin(loads, 0.0, start, start)
    still = Standstill.start(teeth).after(wrench, 0.0)
    return Row(0.0, 0, start, pose, wrench, still.area(), left_behind(loads, None)), still


def settle(teeth: Sequence[Remodelling], loads: Loads, *, day: float = 0.0) -> tuple[Array, Array]:
    """Return poses and wrenches, each (n, 6), of teeth that give elastically but do not drift."""
    start = np.zeros((len(teeth), 6))
    loads.at_day(day)
    loads.engage(start)
    pose = _Body(teeth, 1.0).equilibrium(loads, start, start)
    return pose, loads.evaluate(pose).wrenches


def _check_periods(periods: Sequence[Period], days: float) -> None:
    starts = [period.start for period in periods]
    if not starts or starts[0] != 0 or np.any(np.diff(starts) <= 0) or starts[-1] >= days:
        raise ValueError(f"periods must start at day 0, rise, and end before {days}; got {starts}")


@dataclass(frozen=True)
class _Moment:
    """Start of a period, of length 0, or end of a step; all in days."""

    period: int
    day: float
    length: float


def _plan(periods: Sequence[Period], days: float, step: float) -> list[_Moment]:
    ends = [*(period.start for period in periods), days]
    plan = []
    for index, (start, end) in enumerate(pairwise(ends)):
        count = max(1, int(np.ceil((end - start) / step - 1e-9)))
        length = (end - start) / count
        plan.append(_Moment(index, start, 0.0))
        plan += [_Moment(index, start + (k + 1) * length, length) for k in range(count)]
    return plan


def _before(moment: _Moment, periods: Sequence[Period]) -> Loads | None:
    """Return the loads of the last period where a new one begins."""
    begins = moment.length == 0.0 and moment.period > 0
    return periods[moment.period - 1].loads if begins else None


def _resumed(
    resume: Checkpoint,
    teeth: Sequence[Remodelling],
    periods: Sequence[Period],
    plan: Sequence[_Moment],
) -> Standstill:
    """Restore the loads and return the clocks of a checkpoint."""
    rows, shape = resume.rows, (len(teeth), 6)
    planned = [(moment.period, moment.day) for moment in plan[: len(rows)]]
    sizes = [clock.shape for clock in Standstill.start(teeth).clocks]
    if [(row.period, row.day) for row in rows] != planned:
        raise ValueError("the checkpoint is of a run with other steps or periods")
    if rows[-1].pose.shape != shape or [clock.shape for clock in resume.clocks] != sizes:
        raise ValueError("the checkpoint is of a run with other teeth")
    for row, moment in zip(rows, plan, strict=False):
        bring_back(row, periods[moment.period].loads, _before(moment, periods))
    periods[rows[-1].period].loads.restore(resume.loads)
    return Standstill(tuple(teeth), resume.clocks)


@dataclass(frozen=True)
class Step:
    """A step: its last day, its length in days, and the share of it that each wall moves."""

    day: float
    length: float
    moving: Sequence[Array | None]


@dataclass(frozen=True)
class _Body:
    teeth: Sequence[Remodelling]
    rate_factor: float

    def equilibrium(self, loads: Loads, drift: Array, guess: Array) -> Array:
        """Return the loaded poses of teeth whose drift is given."""
        return rest(loads, Yielding(self.teeth, drift), guess)

    def begin(self, loads: Loads, day: float, drift: Array, pose: Array) -> tuple[Array, Array]:
        """Put loads on and return poses and wrenches of the teeth, which give elastically."""
        loads.at_day(day)
        loads.engage(pose)
        pose = self.equilibrium(loads, drift, pose)
        wrench = loads.evaluate(pose).wrenches
        loads.commit(pose)
        return pose, wrench

    def advance(
        self, loads: Loads, drift: Array, pose: Array, step: Step, *, depth: int = 0
    ) -> tuple[Array, Array, Array]:
        """Take one implicit step, in halves if it must."""
        loads.at_day(step.day)
        yielding = Yielding(self.teeth, drift, step.length, self.rate_factor, step.moving)
        try:
            new = rest(loads, yielding, pose)
        except NotConvergedError:
            loads.rollback()
            if depth == HALVINGS:
                raise
            half = 0.5 * step.length
            for day in (step.day - half, step.day):
                part = Step(day, half, step.moving)
                drift, pose, wrench = self.advance(loads, drift, pose, part, depth=depth + 1)
            return drift, pose, wrench
        wrenches = loads.evaluate(new).wrenches
        loads.commit(new)
        return yielding.drifted(new, wrenches), new, wrenches
