r"""Weeks of movement: loads, ligament and drift solved together at the end of every step.

Each step finds the poses q with :math:`q = g^+ + C\,W(q)` and
:math:`g^+ = g + \Delta t\,V(W(q))`: g the drift (place of the load-free tooth), C the support's
compliance, V the drift speed. Being implicit, a step does not limit itself by the stiffness of
the wire.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

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

    Raises
    ------
    NotConvergedError
        If a step fails even after halving it repeatedly.
    ValueError
        If the periods do not start at 0 in rising order before the end.
    """
    _check_periods(periods, days)
    body = _Body(teeth, rate_factor)
    rows: list[tuple[float, int, Array, Array, Array, Array]] = []
    drift = pose = np.zeros((len(teeth), 6))
    still = Standstill.start(teeth)
    ends = [period.start for period in periods[1:]] + [days]
    for index, (period, end) in enumerate(zip(periods, ends, strict=True)):
        period.loads.at_day(period.start)
        period.loads.engage(pose)
        pose = body.equilibrium(period.loads, drift, pose)
        wrench = period.loads.evaluate(pose).wrenches
        period.loads.commit(pose)
        still = still.after(wrench, 0.0)
        rows.append((period.start, index, drift, pose, wrench, still.area()))
        for day, length in _steps(period.start, end, step):
            moving = still.moving(length)
            drift, pose, wrench = body.advance(period.loads, drift, pose, Step(day, length, moving))
            still = still.after(wrench, length)
            rows.append((day, index, drift, pose, wrench, still.area()))
            if progress is not None:
                progress(day)
    times, numbers, *fields = zip(*rows, strict=True)
    return Track(np.array(times), np.array(numbers), *(np.array(field) for field in fields))


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


def _steps(start: float, end: float, step: float) -> list[tuple[float, float]]:
    count = max(1, int(np.ceil((end - start) / step - 1e-9)))
    length = (end - start) / count
    return [(start + (k + 1) * length, length) for k in range(count)]


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
