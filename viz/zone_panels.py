"""Unrolled socket walls that a result shows: week by week, or case by case."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult, RunResult, rows_at
from gomphosis.viz import theme
from gomphosis.viz.panels import across
from gomphosis.viz.wall_map import WallMap
from gomphosis.viz.wording import DAYS_A_WEEK, signed, weeks_text

WEEKS = (0, 1, 3, 6, 12)
COLUMNS = 5


@dataclass(frozen=True)
class ZonePanel:
    """One unrolled wall.

    Attributes
    ----------
    label, detail
        Its heading.
    wall
        Its layout.
    normal, pressure
        kPa, crest first, shape (nodes, sectors + 1).
    """

    label: str
    detail: str
    wall: WallMap
    normal: Array
    pressure: Array


def zone_panels(result: RunResult) -> tuple[list[ZonePanel], int]:
    """Return the walls to show, and how many stand in a row.

    Wires show one row of chosen weeks for each tooth; prescribed forces are constant, so
    their cases show every loaded tooth at the start.
    """
    if not result.scenario.wires:
        panels = _case_panels(result)
        return panels, across(len(panels), most=COLUMNS)[0]
    weeks = shown_weeks(result.scenario.duration)
    return _week_panels(result, weeks), len(weeks)


def shown_weeks(days: float) -> list[float]:
    """Return the weeks to show within a duration: a fixed choice, and the end."""
    weeks = days / DAYS_A_WEEK
    chosen = [float(w) for w in WEEKS if w < weeks - 1e-9]
    return [*chosen[: COLUMNS - 1], weeks]


def _week_panels(result: RunResult, weeks: Sequence[float]) -> list[ZonePanel]:
    track = result.cases[0].median
    records = rows_at(track, np.array(weeks) * DAYS_A_WEEK)
    panels = []
    for index, tooth in enumerate(result.teeth):
        wall = WallMap(tooth)
        for week, record in zip(weeks, records, strict=True):
            wrench = track.wrench[record, index]
            label = f"tooth {tooth.number}, week {weeks_text(week * DAYS_A_WEEK)}"
            panels.append(_panel(label, wall, wrench))
    return panels


def _case_panels(result: RunResult) -> list[ZonePanel]:
    panels = []
    for case in result.cases:
        loads = case.median.wrench[0]
        # a case without any load keeps its first tooth
        for k in [k for k, load in enumerate(loads) if np.any(load)] or [0]:
            tooth = result.teeth[k]
            panels.append(_panel(_case_label(result, case, tooth), WallMap(tooth), loads[k]))
    return panels


def _case_label(result: RunResult, case: CaseResult, tooth: ToothModel) -> str:
    if len(result.cases) == 1:
        return f"tooth {tooth.number}"
    return theme.printable(case.name if len(result.teeth) == 1 else f"{tooth.number}, {case.name}")


def _panel(label: str, wall: WallMap, wrench: Array) -> ZonePanel:
    normal = wall.normal_kpa(wrench)
    low, high = (signed(float(value), digits=1) for value in (normal.min(), normal.max()))
    detail = f"{low} to {high} kPa"
    return ZonePanel(label, detail, wall, normal, wall.pressure_kpa(wrench))
