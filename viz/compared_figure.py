"""Figure: movement, force and pressure of two runs, tooth by tooth, one over the other."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.section import Array
from gomphosis.viz import palette, theme
from gomphosis.viz.compared_runs import ComparedRun, Pair
from gomphosis.viz.panels import Gaps, grid, heading, name_heights, week_axis
from gomphosis.viz.wording import DAYS_A_WEEK

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = {"A": palette.SERIES[1], "B": palette.SERIES[2]}
DASH = {"A": palette.DASHES[0], "B": palette.DASHES[1]}
ROW, COLUMN = 2.0, 3.25  # inches
OVER, UNDER = 0.3, 0.15  # inches, for headings of the columns and the name of the week axis
BAND = 0.17  # opacity


@dataclass(frozen=True)
class Quantity:
    """One row of panels.

    Attributes
    ----------
    name
        Of the row, with its unit.
    field
        Of the record.
    least
        Least reach of the scale.
    digits
        After the point, at the ends of curves.
    """

    name: str
    field: str
    least: float
    digits: int


MOVED = Quantity("crown moved, mm", "crown_band_mm", 0.05, 2)
FORCE = Quantity("total force, N", "force_N", 0.02, 2)
PRESSURE = Quantity("peak pressure, kPa", "peak_pressure_kPa", 0.5, 1)
ROWS = (MOVED, FORCE, PRESSURE)


def median_of(run: ComparedRun, number: int, quantity: Quantity) -> Array:
    """Return a quantity of a tooth for the median person, shape of the run's days."""
    values = run.series(number, quantity.field)
    return values[:, 1] if values.ndim > 1 else values


def compared_figure(pair: Pair) -> "Figure":
    """Draw two runs over each other: one column per tooth, a row per quantity."""
    with theme.styled():
        columns = len(pair.shown)
        page = theme.titled_page(
            pair.headings,
            pair.mark,
            heading="Two runs compared",
            detail=_explained(pair),
            width=max(7.4, 0.95 + COLUMN * columns),
            body=OVER + ROW * len(ROWS) + UNDER,
        )
        body = theme.Page(page.figure, page.top - OVER, page.bottom + UNDER)
        gaps = Gaps(right=1.0, across=1.0, above=0.12, below=0.4)
        panels = grid(body, len(ROWS), columns, gaps)
        for row, (quantity, axes_row) in enumerate(zip(ROWS, panels, strict=True)):
            top = _top(pair, quantity)
            for k, (axes, number) in enumerate(zip(axes_row, pair.shown, strict=True)):
                axes.set_ylim(0.0, top)
                _draw(axes, pair, number, quantity)
                week_axis(axes, pair.end)
                name_heights(axes, quantity.name, first=k == 0)
                if row == 0:
                    heading(axes, f"tooth {number}")
                if row < len(ROWS) - 1:
                    axes.set_xlabel("")
        return page.figure


def _explained(pair: Pair) -> str:
    line = lookup("pressure_line.capillary")
    parts = [
        "A solid, B dashed: the median person. Bands: whole runs at the 10th and the 90th "
        "percentile of the rate between persons.",
        "Moved: incisal edge or cusp from its unloaded start.",
        pair.note,
        f"Dotted level: {line.number:g} {line.unit}, the published capillary line: a reference, "
        f"not a threshold of this model ({line.status}).",
    ]
    wires = [
        f"{run.letter}: {', '.join(texts)}."
        for run in pair.runs
        if (texts := [_tied(run, key) for key in run.wire_keys])
    ]
    return " ".join(part for part in (*parts, *wires) if part)


def _tied(run: ComparedRun, key: dict) -> str:
    week = key["day"] / DAYS_A_WEEK
    return f"wire {key['wire'] + 1} (week {week:.3g}) {run.head['wires'][key['wire']]}"


def _having(pair: Pair, number: int) -> list[ComparedRun]:
    return [run for run in pair.runs if number in run.numbers]


def _top(pair: Pair, quantity: Quantity) -> float:
    largest = [
        float(np.nanmax(run.series(number, quantity.field)))
        for number in pair.shown
        for run in _having(pair, number)
    ]
    return 1.1 * max(quantity.least, *largest)


def _draw(axes: "Axes", pair: Pair, number: int, quantity: Quantity) -> None:
    from matplotlib.patheffects import withStroke

    ends: dict[float, list[tuple[float, str, str]]] = {}
    for run in _having(pair, number):
        weeks, colour = run.days / DAYS_A_WEEK, COLOURS[run.letter]
        if quantity is MOVED:
            band = run.series(number, quantity.field)
            axes.fill_between(
                weeks, band.min(axis=1), band.max(axis=1), color=colour, alpha=BAND, linewidth=0
            )
        values = median_of(run, number, quantity)
        axes.plot(
            weeks, values, color=colour, linestyle=DASH[run.letter], gid=f"{run.letter} {number}"
        )
        text = f"{run.letter} {values[-1]:.{quantity.digits}f}"
        ends.setdefault(float(weeks[-1]), []).append((float(values[-1]), text, colour))
    for week, labels in ends.items():
        theme.label_ends(axes, labels, at=week, gap=0.11)
        for text in axes.texts[-len(labels) :]:
            # a curve of the longer run may pass behind
            text.set_path_effects([withStroke(linewidth=2.5, foreground=palette.PAPER)])
    if quantity is FORCE:
        _mark_wires(axes, _having(pair, number))
    if quantity is PRESSURE:
        line = float(pair.first.head["pressure_line_kPa"])
        if line < axes.get_ylim()[1]:
            axes.axhline(line, color=palette.QUIET, linewidth=1.1, linestyle=(0, (1, 2)), zorder=0)


def _mark_wires(axes: "Axes", runs: Sequence[ComparedRun]) -> None:
    """Draw a line where a wire is changed, and write which."""
    changes: dict[tuple[float, int], list[str]] = {}
    for run in runs:
        for key in run.wire_keys:
            if key["day"] > 0:
                changes.setdefault((key["day"], key["wire"] + 1), []).append(run.letter)
    for (day, wire), letters in changes.items():
        week = day / DAYS_A_WEEK
        axes.axvline(week, color=palette.METAL, linewidth=1.1, linestyle=(0, (2, 2)), zorder=0)
        axes.annotate(
            f"{', '.join(letters)}: wire {wire}",
            (week, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(-3, -2),
            textcoords="offset points",
            rotation=90,
            size=theme.SMALL,
            color=palette.METAL,
            va="top",
            ha="right",
        )
