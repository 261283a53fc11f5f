"""Days of a run that a reader looks for: wires, visits, elastics, plates, teeth in line."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slice_model import SIDE_NAMES
from gomphosis.scenarios.slice_result import SliceResult, lasting
from gomphosis.scenarios.stages import Stage, stages

IN_LINE = 0.2  # mm, engineering choice: half of what a light round wire leaves two slots apart
FADED = 0.1  # of the largest force at the last change, engineering choice
LEAST_FORCE = 0.02  # N; below it there was no force to fade
SOURCE = "engineering choice"

WIRE, VISIT, ELASTICS = "wire", "visit", "elastics"
PLATE_OPENS, ALIGNED, FORCE_FADED = "plate_opens", "aligned", "force_faded"


@dataclass(frozen=True)
class KeyTime:
    """One such day.

    Attributes
    ----------
    day
        Since the start.
    kind
        ``wire``, ``visit``, ``elastics``, ``plate_opens``, ``aligned`` or ``force_faded``.
    case
        Name of the case; empty for what is planned, which is the same in all.
    wire
        Index of the wire that is tied in, or None.
    words
        What is done at a visit.
    rebonded
        Numbers of the teeth whose brackets are bonded anew at it.
    put_on, taken_off, lost
        Indices of the scenario's elastics that begin to act, are taken off, or break or come off.
    tooth, side
        Whose plate opens, at the median rate: number, and word of direction.
    threshold
        What "aligned" (mm) and "faded" (share of the largest force at the last change)
        mean; `SOURCE` says whence.
    """

    day: float
    kind: str
    case: str = ""
    wire: int | None = None
    words: tuple[str, ...] = ()
    rebonded: tuple[int, ...] = ()
    put_on: tuple[int, ...] = ()
    taken_off: tuple[int, ...] = ()
    lost: tuple[int, ...] = ()
    tooth: int | None = None
    side: str = ""
    threshold: float | None = None


def key_times(result: RunResult) -> tuple[KeyTime, ...]:
    """Return the key times of a run at the median rate, by day."""
    found = list(_planned(result))
    for case in result.cases:
        found += _opened(case)
        if case.wires:
            found += _reached(result, case)
    return tuple(sorted(found, key=lambda time: time.day))


def _planned(result: RunResult) -> Iterator[KeyTime]:
    scenario = result.scenario
    last, acting = -1, frozenset[int]()
    for stage in stages(scenario):
        visited = [v for v in scenario.visit if v.at == stage.start]
        if stage.wire != last:
            yield KeyTime(stage.start, WIRE, wire=stage.wire)
        elif visited:
            yield KeyTime(
                stage.start,
                VISIT,
                words=tuple(word for visit in visited for word in visit.words),
                rebonded=tuple(bond.tooth for visit in visited for bond in visit.rebond),
            )
        if acting != set(stage.elastics):
            yield _elastics_change(scenario, acting, stage)
        last, acting = stage.wire, frozenset(stage.elastics)


def _elastics_change(scenario: Scenario, before: frozenset[int], stage: Stage) -> KeyTime:
    gone = sorted(before - set(stage.elastics))
    broken = tuple(k for k in gone if scenario.elastic[k].off == scenario.elastic[k].lost)
    return KeyTime(
        stage.start,
        ELASTICS,
        put_on=tuple(k for k in stage.elastics if k not in before),
        taken_off=tuple(k for k in gone if k not in broken),
        lost=broken,
    )


def _opened(case: CaseResult) -> Iterator[KeyTime]:
    for opened in case.slices:
        for side, day in first_openings(opened).items():
            yield KeyTime(day, PLATE_OPENS, case.name, tooth=opened.model.number, side=side)


def first_openings(opened: SliceResult) -> dict[str, float]:
    """Return the first day on which the plate of each side lay open; sides that never did lack."""
    names: dict[int, str] = dict(zip((1, -1), SIDE_NAMES[opened.model.plane], strict=True))
    first: dict[str, float] = {}
    for opening in lasting(opened.track.openings):
        name = names[opening.side]
        first[name] = min(opening.first_day, first.get(name, np.inf))
    return first


def _reached(result: RunResult, case: CaseResult) -> Iterator[KeyTime]:
    found = histories(result, case)
    days = case.median.days
    if len(found) > 1:
        day = first_for_good(days, out_of_line(found) <= IN_LINE)
        if day is not None and day > 0:
            yield KeyTime(day, ALIGNED, case.name, threshold=IN_LINE)
    forces = [np.linalg.norm(history.at_bracket[:, :3], axis=1) for history in found]
    for day in faded(days, case.median.period, np.max(forces, axis=0)):
        yield KeyTime(day, FORCE_FADED, case.name, threshold=FADED)


def faded(days: Array, period: Array, largest: Array) -> list[float]:
    """Return when the forces of each stage have faded, for stages in which they do.

    Parameters
    ----------
    days, period, largest
        Day of every record, the stage it belongs to, and the largest force on any bracket, N,
        shape (T,) each.

    Returns
    -------
    For each such stage the first day from which the largest force stays at or below `FADED` of
    that at its start, up to its end; not for one in which that day is the next change.
    """
    found = []
    for stage in np.unique(period):
        here = period == stage
        force = largest[here]
        day = first_for_good(days[here], force <= FADED * force[0])
        late = day == days[here][-1] and stage != period[-1]
        if force[0] >= LEAST_FORCE and day is not None and not late:
            found.append(day)
    return found


def out_of_line(found: Sequence[ToothHistory]) -> Array:
    """Return the largest step between neighbouring slots, vertical or labial, mm, shape (T,)."""
    places = np.stack([history.position[:, :2] for history in found])
    return np.abs(np.diff(places, axis=0)).max(axis=(0, 2))


def first_for_good(days: Array, holds: np.ndarray) -> float | None:
    """Return the first day from which something holds up to the end, or None."""
    if not holds[-1]:
        return None
    broken = np.flatnonzero(~holds)
    return float(days[broken[-1] + 1 if len(broken) else 0])
