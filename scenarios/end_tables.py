"""Short tables of a run: what moved by the end and under which forces, and both as HTML."""

from html import escape

import numpy as np
import pandas as pd
from pandas.api.types import is_numeric_dtype

from gomphosis.fem.section import Array
from gomphosis.scenarios.caution import NOTICE, model_limits
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.movement_table import MISSING
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.summary import force_system

UNITS = {
    "mm": ("mm", 2),
    "mm2": ("mm²", 1),
    "mm3": ("mm³", 2),
    "deg": ("°", 1),
    "N": ("N", 2),
    "Nmm": ("N·mm", 1),
    "kPa": ("kPa", 1),
}
"""Sign and decimal places in HTML of the units that end a column's name."""
SIDES = {True: "text-align: left", False: "text-align: right"}
"""Where the cells of a column stand, by whether it holds texts; else notebooks put all right."""
LINE = 24
"""Letters of a text that is never broken, such as the name of a case with its force."""
CAPTION = 'style="caption-side: top; text-align: left; font-weight: bold; padding-top: 1em"'
CAUTION = f"<p><em>{escape(NOTICE)}</em></p>"


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
    teeth = ", ".join(str(tooth.number) for tooth in result.teeth)
    parts = [
        f"<p><strong>{escape(scenario.title)}</strong>{mark}<br>"
        f"Weeks 0 to {scenario.duration / 7:g}; teeth {teeth} (ISO 3950)</p>",
        table_html(movement_at_end(result), "What moved by the end, and how"),
        table_html(force_systems(result), "Force system on the bracket"),
        f"<details><summary>What this model leaves out</summary>{_limits(scenario)}</details>",
        CAUTION,
    ]
    return "<div>" + "\n".join(parts) + "</div>"


def cautions_html(scenario: Scenario) -> str:
    """Return what the model of a scenario leaves out, as a list, and the caution, as HTML."""
    return f"<div>{_limits(scenario)}\n{CAUTION}</div>"


def _limits(scenario: Scenario) -> str:
    items = "".join(f"<li>{escape(limit)}</li>" for limit in model_limits(scenario))
    return f"<ul>{items}</ul>"


def table_html(table: pd.DataFrame, caption: str) -> str:
    """Return a table as HTML, rounded for reading by the units in its names; texts are escaped.

    Numbers without a unit have four figures. A column ``case`` that holds one case only is left
    out.
    """
    single = "case" in table and len(set(table["case"])) == 1
    shown = table.drop(columns="case") if single else table
    columns = [_column(str(name), values) for name, values in shown.items()]
    rows = [*zip(*columns, strict=True)]
    lines = [
        '<table class="dataframe">',
        f"  <caption {CAPTION}>{escape(caption)}</caption>",
        f"  <thead><tr>{''.join(rows[0])}</tr></thead>",
        "  <tbody>",
        *(f"    <tr>{''.join(row)}</tr>" for row in rows[1:]),
        "  </tbody>",
        "</table>",
    ]
    return "\n".join(lines)


def _column(name: str, values: pd.Series) -> list[str]:
    """Return the cells of a column, its head first."""
    texts = not is_numeric_dtype(values)
    _, places = UNITS.get(name.rpartition("_")[2], ("", None))
    shown = [_shown(value, places) for value in values.tolist()]
    side = SIDES[texts]
    head = f'<th style="{side}">{escape(_heading(name))}</th>'
    return [head, *(f'<td style="{side}{_unbroken(text)}">{escape(text)}</td>' for text in shown)]


def _unbroken(text: str) -> str:
    return "; white-space: nowrap" if len(text) <= LINE else ""


def _heading(name: str) -> str:
    words, _, unit = name.rpartition("_")
    if not words or unit not in UNITS:
        return name
    # spaces let long names run over two lines; a unit stays with the last word
    return f"{words.replace('_', ' ')},\N{NO-BREAK SPACE}{UNITS[unit][0]}"


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


def _shown(value: object, places: int | None) -> str:
    if not isinstance(value, float):
        return MISSING if value is None else str(value)
    if np.isnan(value):
        return MISSING
    text = f"{value:.4g}" if places is None else f"{value:.{places}f}"
    # no minus before a number that prints as zero
    return text.lstrip("-") if float(text) == 0 else text.replace("-", "−")
