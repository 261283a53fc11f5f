"""What a run returns: plain, frozen records of arrays."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from gomphosis.bone.loop import Track
from gomphosis.bone.rates import RateLaw
from gomphosis.fem.section import Array
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.bonding import at_slots, bonded
from gomphosis.scenarios.calibration import Calibration
from gomphosis.scenarios.elastics import ElasticLoads
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slice_result import SliceResult

MEDIAN = 0.5


@dataclass(frozen=True)
class CaseResult:
    """One set of loads, followed at three rates.

    Attributes
    ----------
    name
        ``wires`` for a scenario with wires, else the name of the force case.
    tracks
        Whole runs by quantile of the rate between persons: 0.1, 0.5, 0.9; same days in each.
    wires
        The wire of each period of the median run, empty for prescribed forces.
    elastics
        The elastics of each period of the median run.
    slices
        Teeth opened as a plane, at the median rate.
    """

    name: str
    tracks: Mapping[float, Track]
    wires: tuple[WireLoads, ...] = ()
    elastics: tuple[tuple[ElasticLoads, ...], ...] = ()
    slices: tuple[SliceResult, ...] = ()

    @property
    def median(self) -> Track:
        """The run at the median rate."""
        return self.tracks[MEDIAN]


@dataclass(frozen=True, repr=False)
class RunResult:
    """All that a run computed.

    A notebook shows it as a few tables with the cautions.

    Attributes
    ----------
    scenario
        Its input, in inside units.
    teeth
        Models in order along the arch, from the patient's right, with brackets as at the start.
    law
        The rate law used.
    calibration
        How the law was fitted, or None if the scenario gave its numbers.
    cases
        In the order of the scenario.
    wall_time
        Seconds spent computing.
    """

    scenario: Scenario
    teeth: tuple[ToothModel, ...]
    law: RateLaw
    calibration: Calibration | None
    cases: tuple[CaseResult, ...]
    wall_time: float = field(compare=False)

    def case(self, name: str) -> CaseResult:
        """Return a case by name.

        Raises
        ------
        KeyError
            If there is none of that name.
        """
        for case in self.cases:
            if case.name == name:
                return case
        raise KeyError(f"no case {name!r}; there are {[case.name for case in self.cases]}")

    @cached_property
    def bonded(self) -> tuple[tuple[ToothModel, ...], ...]:
        """Teeth with their brackets where they are bonded, in every period."""
        return tuple(zip(*(bonded(self.scenario, tooth) for tooth in self.teeth), strict=True))

    def teeth_at(self, case: CaseResult, record: int) -> tuple[ToothModel, ...]:
        """Return the teeth with their brackets as bonded at a record of a case's median run."""
        return self.bonded[int(case.median.period[record])]

    def at_slots(self, case: CaseResult) -> Array:
        """Return force systems about the slots at the records of a case's median run.

        Returns
        -------
        In the teeth's frames, N and N·mm, shape (T, teeth, 6).
        """
        return at_slots(self.scenario, self.teeth, case.median)

    def __repr__(self) -> str:
        teeth = [tooth.number for tooth in self.teeth]
        cases = [case.name for case in self.cases]
        return f"RunResult({self.scenario.title!r}, teeth={teeth}, cases={cases})"

    def _repr_html_(self) -> str:
        # tables are made of results
        from gomphosis.scenarios.end_tables import result_html

        # where sources are reached by links a type checker knows this class twice
        itself: Any = self
        return result_html(itself)


def rows_at(track: Track, days: Array) -> np.ndarray:
    """Return the index of the last record at or before each day, shape of days."""
    return np.searchsorted(track.days, np.asarray(days) + 1e-9, side="right") - 1


def weekly(track: Track) -> Array:
    """Return the days of whole weeks within a track, and its end."""
    end = float(track.days[-1])
    days = np.arange(0.0, end + 1e-9, 7.0)
    return days if abs(days[-1] - end) < 1e-9 else np.append(days, end)


__all__ = ["MEDIAN", "QUANTILES", "CaseResult", "RunResult", "rows_at", "weekly"]
