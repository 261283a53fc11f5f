"""M/F and centre of rotation of several cases of prescribed forces, one row for each."""

from typing import TYPE_CHECKING

import numpy as np

from gomphosis.scenarios.kinematics import FAR, PLANES
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.panels import heading, named_rows
from gomphosis.viz.turned_teeth import TurnedTooth, no_centre, turned_teeth
from gomphosis.viz.wording import signed, weeks_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_ROWS = 40
ROW = 0.42  # inches
BEYOND_TOOTH = 8.0  # mm of scale above the edge and below the apex
STYLES = tuple(zip(PLANES, palette.SERIES[1:3], "os", strict=True))


def turning_by_case(result: RunResult) -> "Figure":
    """Draw M/F and where every tooth turned about, at the end of every case."""
    every = turned_teeth(result)
    shown = every[:MOST_ROWS]
    left = f" (first {len(shown)} of {len(every)})" if len(shown) < len(every) else ""
    week = weeks_text(result.scenario.duration)
    page = theme.page(
        result.scenario,
        heading=f"M/F and centre of rotation, case by case{left}",
        detail="Left: moment over force at the bracket, positive where it counters tipping; "
        "constant, as the forces are. Right: where on its long axis the tooth has turned about "
        f"from the start to week {week}; a translation has no centre within {FAR:g} mm. Circles: "
        "labiolingual plane; squares: mesiodistal. Median person.",
        width=12.0,
        body=max(3.6, ROW * len(shown) + 1.6),
    )
    labels = [row.label for row in shown]
    ratios, centres = named_rows(page, labels, right=0.5, top=-0.7)
    _draw_ratios(ratios, shown)
    _draw_centres(centres, shown)
    return page.figure


def _draw_ratios(axes: "Axes", shown: list[TurnedTooth]) -> None:
    ends = np.stack([row.history.moment_to_force[-1] for row in shown])
    known = ends[np.isfinite(ends)]
    low, high = min(0.0, *known, 0.0), max(1.0, *known, 0.0)
    axes.set_xlim(low - 0.1 * (high - low), high + 0.35 * (high - low))
    axes.axvline(0.0, color=palette.QUIET, linewidth=0.9)
    for k, values in enumerate(ends):
        texts = _draw_marks(axes, k, values)
        _write_row(axes, k, texts or ["no force of 0.02 N"], values)
    axes.set_xlabel("M/F, mm")


def _draw_centres(axes: "Axes", shown: list[TurnedTooth]) -> None:
    most = max(row.tooth.embedded for row in shown) + BEYOND_TOOTH
    least = -(max(row.tooth.edge_height for row in shown) + BEYOND_TOOTH)
    axes.set_xlim(least, most + 0.35 * (most - least))
    axes.axvline(0.0, color=palette.QUIET, linewidth=0.9)
    for k, row in enumerate(shown):
        marks = [-row.tooth.centre_of_resistance, row.tooth.embedded]
        axes.plot([0.0, marks[1]], [k, k], color=palette.ROOT, linewidth=9, solid_capstyle="butt")
        axes.plot(marks[:1], [k], marker="|", color=palette.INK, markersize=11)
        values = row.history.rotation_centre[-1]
        seen = np.where((values >= least) & (values <= most), values, np.nan)
        texts = _draw_marks(axes, k, seen)
        for plane, name in enumerate(PLANES):
            if np.isfinite(values[plane]) and not np.isfinite(seen[plane]):
                texts.append(f"{name} {signed(float(values[plane]), digits=0)}")
            elif not np.isfinite(values[plane]):
                why = no_centre(row.history, plane)
                texts += [f"{name} {why}"] if why and why != "does not move" else []
        _write_row(axes, k, texts or ["does not move"], np.array([*seen, row.tooth.embedded]))
    heading(axes, "", "bar: root from crest to apex; stroke: centre of resistance")
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("centre of rotation below the bone crest, mm")


def _draw_marks(axes: "Axes", row: int, values: np.ndarray) -> list[str]:
    """Draw the values of both planes that are known, and return them in words."""
    texts = []
    for value, (plane, colour, marker) in zip(values, STYLES, strict=True):
        if np.isfinite(value):
            style = {"marker": marker, "color": colour, "markersize": 6.5, "linestyle": "none"}
            axes.plot([float(value)], [row], label=f"_{plane}", zorder=3, **style)
            texts.append(f"{plane} {signed(float(value), digits=1)}")
    return texts


def _write_row(axes: "Axes", row: int, texts: list[str], values: np.ndarray) -> None:
    """Write what a row says to the right of its marks."""
    known = values[np.isfinite(values)]
    axes.annotate(
        ", ".join(texts),
        (float(max(0.0, *known, 0.0)), row),
        xytext=(8, 0),
        textcoords="offset points",
        size=theme.SMALL,
        va="center",
    )
