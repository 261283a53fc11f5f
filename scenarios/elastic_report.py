"""Pull of every elastic over the weeks: its table, and what summary and preview say of it."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from gomphosis.fem.section import Array
from gomphosis.scenarios.elastic_tables import Elastic
from gomphosis.scenarios.elastics import ElasticLoads
from gomphosis.scenarios.result import CaseResult, RunResult


@dataclass(frozen=True)
class ElasticHistory:
    """One elastic at the R records of the median run at which it acts, m links.

    Attributes
    ----------
    number
        Of its table in the scenario, from 1.
    table
        What the scenario says of it.
    days
        Shape (R,); a day on which anything changes appears before and after the change.
    tension
        N, shape (R, m).
    length
        From attachment to attachment, mm, shape (R, m).
    extension
        Of that beyond the length at which it was put on, mm, shape (R, m).
    left
        Share of the force that is left at a constant stretch, shape (R,).
    """

    number: int
    table: Elastic
    days: Array
    tension: Array
    length: Array
    extension: Array
    left: Array


def elastic_histories(result: RunResult, case: CaseResult) -> tuple[ElasticHistory, ...]:
    """Return every elastic of a case at the median rate, in the order of the scenario."""
    track = case.median
    rows: dict[int, list[tuple[Any, ...]]] = {}
    for day, period, poses in zip(track.days, track.period, track.pose, strict=True):
        for loads in case.elastics[int(period)] if case.elastics else ():
            rows.setdefault(loads.number, []).append(_row(loads, poses, float(day)))
    return tuple(
        ElasticHistory(number, result.scenario.elastic[number - 1], *_columns(rows[number]))
        for number in sorted(rows)
    )


def _row(loads: ElasticLoads, poses: Array, day: float) -> tuple[Any, ...]:
    lengths, extensions = loads.lengths(poses), loads.extensions(poses)
    return day, loads.tensions(poses, day), lengths, extensions, loads.law.left(day)


def _columns(rows: list[tuple[Any, ...]]) -> list[Array]:
    return [np.array(column) for column in zip(*rows, strict=True)]


def elastic_table(result: RunResult) -> pd.DataFrame:
    """Return one row per elastic, link and record while it acts; units stand in the names."""
    frames = [
        pd.DataFrame(
            {
                "case": case.name,
                "elastic": history.number,
                "kind": history.table.kind,
                "between": between,
                "day": history.days,
                "week": history.days / 7,
                "force_N": history.tension[:, link],
                "length_mm": history.length[:, link],
                "longer_than_put_on_mm": history.extension[:, link],
                "share_left": history.left,
            }
        )
        for case in result.cases
        for history in elastic_histories(result, case)
        for link, between in enumerate(history.table.links)
    ]
    return pd.concat(frames, ignore_index=True)


def elastic_documents(result: RunResult, case: CaseResult) -> list[dict[str, Any]]:
    """Return what a summary says of every elastic of a case."""
    return [
        _named(history.number, history.table)
        | {
            "from_week": float(history.days[0]) / 7,
            "to_week": float(history.days[-1]) / 7,
            "ended_by": _ended_by(history),
            "links": [
                {
                    "between": between,
                    "force_start_N": float(history.tension[0, link]),
                    "force_end_N": float(history.tension[-1, link]),
                }
                for link, between in enumerate(history.table.links)
            ],
        }
        for history in elastic_histories(result, case)
    ]


def acting_documents(
    acting: tuple[ElasticLoads, ...], tables: tuple[Elastic, ...], day: float
) -> list[dict[str, Any]]:
    """Return what a preview says of elastics that act on unmoved teeth on a day."""
    found = []
    for loads in acting:
        table = tables[loads.number - 1]
        rest = np.zeros((loads.count, 6))
        links = [
            {"between": between, "force_N": float(force)}
            for between, force in zip(table.links, loads.tensions(rest, day), strict=True)
        ]
        found.append(_named(loads.number, table) | {"links": links})
    return found


def _named(number: int, table: Elastic) -> dict[str, Any]:
    return {"elastic": number, "kind": table.kind, "teeth": list(table.teeth)}


def _ended_by(history: ElasticHistory) -> str:
    """Return what ended its pull within the run."""
    table, last = history.table, float(history.days[-1])
    if table.off > last + 1e-9:
        return "end of the run"
    return "lost" if table.lost == table.off else "taken off"
