"""Short tables of a run: what moved by the end and under which forces, and both as HTML."""

from functools import partial
from html import escape
from typing import Any

import numpy as np
import pandas as pd

from gomphosis.fem.section import Array
from gomphosis.scenarios.caution import NOTICE, model_limits
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.movement_table import MISSING
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.summary import force_system

UNITS = {"mm": ("mm", 2), "N": ("N", 2), "Nmm": ("N·mm", 1), "kPa": ("kPa", 1)}
"""Sign and decimal places in HTML of the units that end a column's name."""
CAPTION = 'style="caption-side: top; text-align: left; font-weight: bold; padding-top: 1em"'


def movement_at_end(result: RunResult) -> pd.DataFrame:
    """Return what moved and how, one row per case and tooth; units stand in the column names.

    The columns ``_p10``, ``_p50`` and ``_p90`` are the band between persons; the rest is that of
    the median rate. ``attrs["notice"]`` holds the cautions.
    """
    rows: list[dict[str, object]] = []
    for case in result.cases:
        runs = [histories(result, case, quantile=quantile) for quantile in QUANTILES]
        rows += [_movement_row(case, rates) for rates in zip(*runs, strict=True)]
    return _noticed(rows)


def force_systems(result: RunResult) -> pd.DataFrame:
    """Return the force system on each bracket at start and end, one row per case, tooth and time.

    Forces and moments are those of the appliance on the tooth, about the slot's centre, at the
    median rate; what is the same at both has one row. ``attrs["notice"]`` holds the cautions.
    """
    rows = [
        {"case": case.name, "tooth": history.number, "at": when, **force_system(system)}
        for case in result.cases
        for history in histories(result, case)
        for when, system in _times(history.at_bracket)
    ]
    return _noticed(rows)


def result_html(result: RunResult) -> str:
    """Return a run as a piece of HTML: title, tables, what the model leaves out, cautions."""
    scenario = result.scenario
    mark = " <strong>[INVENTED DATA]</strong>" if scenario.invented else ""
    limits = "".join(f"<li>{escape(limit)}</li>" for limit in model_limits(scenario))
    teeth = ", ".join(str(tooth.number) for tooth in result.teeth)
    parts = [
        f"<p><strong>{escape(scenario.title)}</strong>{mark}<br>"
        f"Weeks 0 to {scenario.duration / 7:g}; teeth {teeth} (ISO 3950)</p>",
        table_html(movement_at_end(result), "What moved by the end, and how"),
        table_html(force_systems(result), "Force system on the bracket"),
        f"<details><summary>What this model leaves out</summary><ul>{limits}</ul></details>",
        f"<p><em>{escape(NOTICE)}</em></p>",
    ]
    return "<div>" + "\n".join(parts) + "</div>"


def table_html(table: pd.DataFrame, caption: str) -> str:
    """Return a table as HTML, rounded for reading by the units in its names; texts are escaped.

    A column ``case`` that holds one case only is left out.
    """
    single = "case" in table and len(set(table["case"])) == 1
    shown = table.drop(columns="case") if single else table
    names = {name: _heading(name) for name in shown.columns}
    formatters: dict[str | int, Any] = {
        names[name]: partial(_number, places=UNITS[unit][1])
        for name in shown.columns
        if (unit := name.rpartition("_")[2]) in UNITS
    }
    body = shown.rename(columns=names).to_html(
        index=False, formatters=formatters, border=0, na_rep=MISSING
    )
    head, newline, rest = body.partition("\n")
    return f"{head}{newline}  <caption {CAPTION}>{escape(caption)}</caption>\n{rest}"


def _heading(name: str) -> str:
    words, _, unit = name.rpartition("_")
    # spaces let long names run over two lines
    return f"{words.replace('_', ' ')}, {UNITS[unit][0]}" if unit in UNITS else name


def _movement_row(case: CaseResult, rates: tuple[ToothHistory, ...]) -> dict[str, object]:
    slow, median, fast = rates
    plane = median.plane[-1]
    crowns = {
        f"crown_moved_{name}_mm": float(np.linalg.norm(history.crown[-1]))
        for name, history in (("p10", slow), ("p50", median), ("p90", fast))
    }
    return {
        "case": case.name,
        "tooth": median.number,
        "movement": median.movement[-1] + ("" if plane == "none" else f" ({plane} plane)"),
        **crowns,
        "apex_moved_mm": float(np.linalg.norm(median.apex[-1])),
        "peak_pressure_kPa": 1e3 * float(median.peak_pressure.max()),
    }


def _times(system: Array) -> list[tuple[str, Array]]:
    if np.array_equal(system[0], system[-1]):
        return [("throughout", system[0])]
    return [("start", system[0]), ("end", system[-1])]


def _noticed(rows: list[dict[str, object]]) -> pd.DataFrame:
    table = pd.DataFrame(rows)
    table.attrs["notice"] = NOTICE
    return table


def _number(value: float, *, places: int) -> str:
    text = f"{value:.{places}f}"
    # no minus before a number that prints as zero
    return text.lstrip("-") if float(text) == 0 else text.replace("-", "−")
