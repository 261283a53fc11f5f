"""Main numbers of two runs beside each other, as plain data and as rows of tables."""

from typing import Any

import numpy as np

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.key_times import ALIGNED, FORCE_FADED
from gomphosis.viz.compared_figure import FORCE, PRESSURE, median_of
from gomphosis.viz.compared_runs import ComparedRun, Pair
from gomphosis.viz.console import DASH, number
from gomphosis.viz.wording import DAYS_A_WEEK, weeks_text

BAND = ("p10", "p50", "p90")
RUN_COLUMNS = ("", "A", "B")
TOOTH_COLUMNS = ("tooth", "", "A", "B", "B − A")


def compared_document(pair: Pair) -> dict[str, Any]:
    """Return the comparison as plain data; None stands for what a run does not have."""
    numbers = pair.common or tuple(n for run in pair.runs for n in run.numbers)
    return {
        "notice": NOTICE,
        "runs": {run.letter: _run(run) for run in pair.runs},
        "common_weeks": pair.common_end / DAYS_A_WEEK,
        "common_teeth": list(pair.common),
        "teeth": {
            str(n): {
                run.letter: _tooth(run, n, pair.common_end) if n in run.numbers else None
                for run in pair.runs
            }
            for n in numbers
        },
        "different_inputs": list(pair.different_inputs),
    }


def _run(run: ComparedRun) -> dict[str, Any]:
    force = [float(run.series(n, FORCE.field)[0]) for n in run.numbers]
    return {
        "title": run.head["summary"]["scenario"]["title"],
        "invented": run.invented,
        "case": run.case["name"],
        "weeks": run.end / DAYS_A_WEEK,
        "teeth": list(run.numbers),
        "wires": list(run.head["wires"]),
        "largest_force_start_N": max(force),
        "largest_force_start_tooth": run.numbers[int(np.argmax(force))],
        "in_line_week": run.week_of(ALIGNED),
        "force_faded_week": run.week_of(FORCE_FADED),
        "out_of_line": run.case.get("out_of_line"),
    }


def _tooth(run: ComparedRun, tooth: int, common_end: float) -> dict[str, Any]:
    facts, row = run.facts(tooth), run.row(common_end)
    band = run.series(tooth, "crown_band_mm")
    force = median_of(run, tooth, FORCE)
    return {
        "crown_moved_mm": facts["crown_movement_band_mm"],
        "crown_moved_at_common_week_mm": dict(zip(BAND, band[row].round(3).tolist(), strict=True)),
        "movement_type": facts["movement_type"],
        "force_start_N": float(force[0]),
        "force_end_N": float(force[-1]),
        "peak_pressure_kPa": facts["peak_pressure_kPa"],
        "peak_pressure_start_kPa": float(median_of(run, tooth, PRESSURE)[0]),
    }


def run_rows(document: dict[str, Any]) -> list[list[str]]:
    """Return the rows of the table of both runs."""
    a, b = document["runs"]["A"], document["runs"]["B"]
    return [
        ["title", a["title"], b["title"]],
        ["loads or case", a["case"], b["case"]],
        ["weeks", f"{a['weeks']:.3g}", f"{b['weeks']:.3g}"],
        ["teeth", *(" ".join(map(str, run["teeth"])) for run in (a, b))],
        ["wires", *(", ".join(run["wires"]) or DASH for run in (a, b))],
        ["largest force at start", _largest(a), _largest(b)],
        ["neighbouring slots in line", _in_line(a), _in_line(b)],
        [
            "forces first faded to a tenth",
            *(_week(run["force_faded_week"]) for run in (a, b)),
        ],
    ]


def _largest(run: dict[str, Any]) -> str:
    force, tooth = run["largest_force_start_N"], run["largest_force_start_tooth"]
    return f"{number(force)} N on tooth {tooth}"


def _week(week: float | None) -> str:
    return DASH if week is None else f"week {week:.1f}"


def _in_line(run: dict[str, Any]) -> str:
    line = run["out_of_line"]
    if line is None:
        return DASH
    reached = run["in_line_week"]
    when = f"not by week {run['weeks']:.3g}" if reached is None else _week(reached)
    return f"{when} ({number(line['start_mm'])} to {number(line['end_mm'])} mm out of line)"


def tooth_rows(document: dict[str, Any]) -> list[list[str]]:
    """Return the rows of the table of the teeth."""
    weeks = [document["runs"][letter]["weeks"] for letter in ("A", "B")]
    rows = []
    for tooth, of_run in document["teeth"].items():
        found = [_cells(of_run[letter]) for letter in ("A", "B")]
        names = next(cells for cells in found if cells)
        first = tooth
        for name in names:
            if name == COMMON and weeks[0] == weeks[1]:
                continue
            text = name.format(weeks_text(document["common_weeks"] * DAYS_A_WEEK))
            (a, x), (b, y) = (cells.get(name, (DASH, None)) for cells in found)
            apart = weeks[0] != weeks[1] and name in AT_END  # ends of other weeks are not compared
            gap = DASH if x is None or y is None or apart else _difference(y - x, a)
            rows.append([first, text, a, b, gap])
            first = ""
    return rows


COMMON = "crown moved by week {}, mm (10th to 90th percentile)"
AT_END = ("crown moved at the end, mm (10th to 90th percentile)", "force at end, N")


def _cells(facts: dict[str, Any] | None) -> dict[str, tuple[str, float | None]]:
    """Return what is printed of a tooth, and the number that differences are taken of."""
    if facts is None:
        return {}
    return {
        AT_END[0]: _band(facts["crown_moved_mm"]),
        COMMON: _band(facts["crown_moved_at_common_week_mm"]),
        "type of movement": (facts["movement_type"], None),
        "force at start, N": _value(facts["force_start_N"], 2),
        AT_END[1]: _value(facts["force_end_N"], 2),
        "peak pressure at start, kPa": _value(facts["peak_pressure_start_kPa"], 1),
        "largest peak pressure, kPa": _value(facts["peak_pressure_kPa"], 1),
    }


def _band(band: dict[str, float]) -> tuple[str, float]:
    slow, middle, fast = (band[name] for name in BAND)
    return f"{number(middle)} ({number(slow)} to {number(fast)})", middle


def _value(value: float, digits: int) -> tuple[str, float]:
    return number(value, digits), value


def _difference(value: float, like: str) -> str:
    digits = len(like.split()[0].partition(".")[2])
    text = number(value, digits)
    return text if text.startswith("−") or float(text) == 0 else f"+{text}"
