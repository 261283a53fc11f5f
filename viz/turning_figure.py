"""Figure: M/F at the bracket and centre of rotation of every tooth over the weeks."""

from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.kinematics import FAR, PLANES
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.panels import (
    Gaps,
    across,
    grid,
    mark_visits,
    name_heights,
    row_name,
    week_axis,
    wire_key,
)
from gomphosis.viz.turned_teeth import TurnedTooth, beyond_words, no_centre, turned_teeth
from gomphosis.viz.turning_cases import turning_by_case
from gomphosis.viz.wording import DAYS_A_WEEK, signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_ACROSS = 4
RATIOS = (-15.0, 25.0)  # mm, the most of the scale of M/F
BEYOND_TOOTH = 8.0  # mm of scale above the edge and below the apex
GAPS = Gaps(left=0.95, right=1.45, across=1.55, above=0.62)
TALL = 2.8  # inches, of a row of panels
NOTE = 12  # pt, from note to note
LEAST_RATIO = 1.0  # mm, least margin of the scale of M/F
STYLES = tuple(zip(PLANES, palette.SERIES[1:3], palette.DASHES[:2], strict=True))


def turning_figure(result: RunResult) -> "Figure":
    """Draw M/F above and centre of rotation below, one column for each loaded tooth."""
    with theme.styled():
        return turning_by_case(result) if len(result.cases) > 1 else _by_tooth(result)


def _by_tooth(result: RunResult) -> "Figure":
    shown = turned_teeth(result)
    columns, blocks = across(len(shown), most=MOST_ACROSS)
    page = theme.page(
        result.scenario,
        heading="M/F and centre of rotation over the weeks",
        detail=_explained(result),
        width=max(8.0, 0.9 + 3.5 * columns),
        body=2 * blocks * TALL,
    )
    panels = grid(page, 2 * blocks, columns, GAPS)
    for k in range(blocks * columns):
        block, column = divmod(k, columns)
        ratio, centre = panels[2 * block][column], panels[2 * block + 1][column]
        if k >= len(shown):
            ratio.remove()
            centre.remove()
            continue
        _draw_ratio(ratio, shown[k])
        _draw_centre(centre, shown[k])
        for axes, name in ((ratio, "M/F, mm"), (centre, "below the bone crest, mm")):
            mark_visits(axes, result.scenario)
            week_axis(axes, result.scenario.duration)
            if column == 0:
                name_heights(axes, name, first=True)
    return page.figure


def _explained(result: RunResult) -> str:
    text = (
        "Top: moment over force at the bracket, positive where it counters tipping; blank where "
        "the force in the plane is below 0.02 N. Below: where on its long axis the tooth has "
        "turned about since the start, blank where it has not moved; a translation has no centre "
        f"within {FAR:g} mm. Solid: labiolingual plane; dashed: mesiodistal. Scales end where "
        "values say nothing more; what lies beyond is told over the panel. Median person."
    )
    key = wire_key(result.scenario)
    return f"{text} {key[:1].upper()}{key[1:]}." if key else text


def _draw_ratio(axes: "Axes", turned: TurnedTooth) -> None:
    values = turned.history.moment_to_force
    low, high = _limits(values)
    axes.set_ylim(low, high)
    axes.axhline(0.0, color=palette.QUIET, linewidth=0.9)
    ends = _draw_planes(axes, turned.history.days / DAYS_A_WEEK, values)
    theme.label_ends(axes, ends, at=float(turned.history.days[-1]) / DAYS_A_WEEK)
    notes = [
        f"{plane}: {beyond}"
        for plane, column in zip(PLANES, values.T, strict=True)
        if (beyond := beyond_words(column, (low, high)))
    ]
    if not np.isfinite(values).any():
        notes = ["no force of 0.02 N in either plane"]
    _head(axes, turned.label, notes)


def _draw_centre(axes: "Axes", turned: TurnedTooth) -> None:
    tooth, values = turned.tooth, turned.history.rotation_centre
    marks = {"crest": 0.0, "resistance": -tooth.centre_of_resistance, "apex": tooth.embedded}
    high, low = -(tooth.edge_height + BEYOND_TOOTH), tooth.embedded + BEYOND_TOOTH
    axes.set_ylim(low, high)
    for depth in marks.values():
        axes.axhline(depth, color=palette.QUIET, linewidth=0.9, linestyle=(0, (1, 2)))
    ends = [(depth, f"{name} {depth:.1f}", palette.QUIET) for name, depth in marks.items()]
    ends += _draw_planes(axes, turned.history.days / DAYS_A_WEEK, values)
    theme.label_ends(axes, ends, at=float(turned.history.days[-1]) / DAYS_A_WEEK, gap=0.1)
    notes = []
    for k, plane in enumerate(PLANES):
        parts = [beyond_words(values[:, k], (high, low)), no_centre(turned.history, k)]
        if any(parts):
            notes.append(f"{plane}: {', '.join(part for part in parts if part)}")
    _head(axes, "", notes)


def _head(axes: "Axes", text: str, notes: list[str]) -> None:
    """Write a heading with notes below it, one line each."""
    pad = 6 + NOTE * len(notes)
    axes.set_title(row_name(text), loc="left", weight="bold", size=theme.HEADING, pad=pad)
    for k, note in enumerate(reversed(notes)):
        axes.annotate(
            note,
            (0.0, 1.0),
            xycoords="axes fraction",
            xytext=(0, 4 + NOTE * k),
            textcoords="offset points",
            size=theme.SMALL,
            color=palette.QUIET,
        )


def _draw_planes(axes: "Axes", weeks: Array, values: Array) -> list[tuple[float, str, str]]:
    """Draw both planes, shape (T, 2), and return the labels of their ends in view."""
    limits = (min(axes.get_ylim()), max(axes.get_ylim()))
    ends = []
    for column, (plane, colour, dash) in zip(values.T, STYLES, strict=True):
        line = unbroken(weeks, column, limits)
        axes.plot(*line, color=colour, linestyle=dash, label=f"_{plane}")
        # a value between two gaps has no line
        dots = np.where(_alone(line[1]), line[1], np.nan)
        axes.plot(line[0], dots, color=colour, marker="o", markersize=3.5, label="_alone")
        last = float(column[-1])
        if limits[0] <= last <= limits[1]:
            ends.append((last, f"{plane} {signed(last, digits=1)}", colour))
    return ends


def _alone(values: Array) -> np.ndarray:
    known = np.concatenate([[False], np.isfinite(values), [False]])
    return known[1:-1] & ~known[:-2] & ~known[2:]


def unbroken(weeks: Array, values: Array, limits: tuple[float, float]) -> tuple[Array, Array]:
    """Return a curve with a gap where it goes from beyond one limit to beyond the other.

    Both a centre of rotation and M/F go through infinity there, not through the values between.
    """
    side = (values > limits[1]).astype(int) - (values < limits[0])
    through = np.flatnonzero(side[1:] * side[:-1] < 0) + 1
    return np.insert(weeks, through, np.nan), np.insert(values, through, np.nan)


def _limits(values: Array) -> tuple[float, float]:
    """Return limits of M/F, mm, that hold zero and the values, but no wild ones."""
    kept = np.clip(values[np.isfinite(values)], *RATIOS)
    low, high = min(0.0, *kept, 0.0), max(0.0, *kept, 0.0)
    margin = max(LEAST_RATIO, 0.1 * (high - low))
    return low - margin, high + margin
