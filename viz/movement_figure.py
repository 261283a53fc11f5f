"""Figure: how far each crown moves over the weeks, with the band between persons."""

import re
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.panels import (
    Gaps,
    across,
    grid,
    heading,
    mark_visits,
    name_heights,
    row_name,
    week_axis,
    wire_key,
)
from gomphosis.viz.wording import DAYS_A_WEEK, sense_text, side_words, weeks_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_LINES = 12  # curves that can still be told apart by their labels
MOST_ROWS = 40
LEAST = 0.05  # mm, least reach of a scale
MOST_WITH_PARTS = 4  # teeth with a second panel each


@dataclass(frozen=True)
class Movement:
    """Crown movement of one tooth in one case at the three rates.

    Attributes
    ----------
    label
        Tooth, or case and tooth.
    weeks
        Shape (T,).
    distance
        Of the incisal edge or cusp from its unloaded start, mm, shape (3, T): the 10th, 50th and
        90th percentile of the rate between persons.
    history
        At the median rate.
    """

    label: str
    weeks: Array
    distance: Array
    history: ToothHistory


def movements(result: RunResult, case: CaseResult) -> list[Movement]:
    """Return the crown movement of every tooth of a case."""
    rates = [histories(result, case, quantile=quantile) for quantile in QUANTILES]
    several = len(result.cases) > 1
    found = []
    for index, tooth in enumerate(result.teeth):
        name = f"tooth {tooth.number}"
        if several:
            name = case.name if len(result.teeth) == 1 else f"{name}, {case.name}"
        distance = [np.linalg.norm(rate[index].crown, axis=1) for rate in rates]
        middle = rates[QUANTILES.index(0.5)][index]
        found.append(
            Movement(theme.printable(name), middle.days / DAYS_A_WEEK, np.stack(distance), middle)
        )
    return found


def movement_figure(result: RunResult) -> "Figure":
    """Draw the movement of the crowns: one panel per tooth, or all cases side by side."""
    with theme.styled():
        if len(result.cases) > 1:
            return _compared(result)
        return _by_tooth(result)


def _by_tooth(result: RunResult) -> "Figure":
    found = movements(result, result.cases[0])
    with_parts = len(found) <= MOST_WITH_PARTS
    columns, rows = across(len(found), most=MOST_WITH_PARTS)
    page = theme.page(
        result.scenario,
        heading="Crown movement over the weeks",
        detail=_explained(result, with_parts),
        width=max(7.0, 0.85 + 3.4 * columns),
        body=2.95 * (2 if with_parts else rows),
    )
    panels = grid(page, 2 if with_parts else rows, columns, Gaps())
    flat = panels[0] if with_parts else [axes for row in panels for axes in row]
    top = 1.1 * max(LEAST, *(float(m.distance.max()) for m in found))
    for k, (axes, movement) in enumerate(zip(flat, found, strict=False)):
        axes.set_ylim(0.0, top)
        _draw_band(axes, movement)
        heading(axes, movement.label, movement_words(movement.history))
        free = "top" if movement.distance.max() < 0.6 * top else "bottom"
        mark_visits(axes, result.scenario, label=free)
        week_axis(axes, result.scenario.duration)
        name_heights(axes, "moved, mm", first=k % columns == 0)
    for axes in flat[len(found) :]:
        axes.remove()
    if with_parts:
        _draw_parts(panels[1], result, found)
    return page.figure


def movement_words(history: ToothHistory) -> str:
    """Return the type of the whole movement; its limits were measured on incisors."""
    kind = history.movement[-1]
    return kind if history.number % 10 <= 2 or kind == "none" else f"{kind} (extrapolated)"


def _explained(result: RunResult, with_parts: bool) -> str:
    text = (
        "Top: distance of" if with_parts else "Distance of"
    ) + " the incisal edge or cusp from its unloaded start. Thick: the median person; dashed: "
    text += (
        "the whole run at the 90th percentile of the rate between persons; dotted: at the 10th. "
    )
    text += "Under the tooth number: type of the whole movement."
    if with_parts:
        text += " Bottom: the parts of the median."
    key = wire_key(result.scenario)
    return f"{text} {key[:1].upper()}{key[1:]}" if key else text


def _draw_band(axes: "Axes", movement: Movement) -> None:
    slow, middle, fast = movement.distance
    # the curves may cross: a fast tooth reaches its peak first and comes back first
    lowest, highest = movement.distance.min(axis=0), movement.distance.max(axis=0)
    axes.fill_between(movement.weeks, lowest, highest, color=palette.BAND, linewidth=0)
    thin = {"color": palette.QUIET, "linewidth": 1.2}
    axes.plot(movement.weeks, slow, linestyle=(0, (1.2, 1.2)), **thin)
    axes.plot(movement.weeks, fast, linestyle=(0, (4.5, 1.8)), **thin)
    axes.plot(movement.weeks, middle, color=palette.INK, linewidth=2.2)
    names = {"10th": slow[-1], "median": middle[-1], "90th": fast[-1]}
    ends = [(float(value), f"{name} {value:.2f}", palette.INK) for name, value in names.items()]
    if len({f"{value:.2f}" for value in names.values()}) == 1:
        ends = [(float(middle[-1]), f"all {middle[-1]:.2f}", palette.INK)]
    theme.label_ends(axes, ends, at=float(movement.weeks[-1]))


def _draw_parts(panels: list["Axes"], result: RunResult, found: list[Movement]) -> None:
    crowns = [m.history.crown for m in found]
    low, high = min(float(c.min()) for c in crowns), max(float(c.max()) for c in crowns)
    margin = max(LEAST, 0.12 * (high - low))
    for k, (axes, movement, tooth) in enumerate(zip(panels, found, result.teeth, strict=True)):
        axes.set_ylim(low - margin, high + margin)
        axes.axhline(0.0, color=palette.QUIET, linewidth=0.9)
        outer, inner = side_words(tooth.anatomy)
        senses = (("extrusion", "intrusion"), (outer, inner), ("mesial", "distal"))
        ends = []
        for part, words in enumerate(senses):
            values, colour = movement.history.crown[:, part], palette.SERIES[part + 1]
            axes.plot(movement.weeks, values, color=colour, linestyle=palette.DASHES[part])
            ends.append((float(values[-1]), sense_text(values, words), colour))
        theme.label_ends(axes, ends, at=float(movement.weeks[-1]))
        heading(axes, "", f"+ extrusion, {outer}, mesial; − opposite")
        mark_visits(axes, result.scenario)
        week_axis(axes, result.scenario.duration)
        name_heights(axes, "parts, mm", first=k == 0)


def _compared(result: RunResult) -> "Figure":
    found = [m for case in result.cases for m in movements(result, case)]
    shown = found[:MOST_ROWS]
    left = f" (first {len(shown)} of {len(found)})" if len(shown) < len(found) else ""
    body = max(3.6, 0.34 * len(shown) + 1.1)
    page = theme.page(
        result.scenario,
        heading=f"Crown movement, case by case{left}",
        detail="Distance of the incisal edge or cusp from its unloaded start. Bars: whole runs at "
        "the 10th and the 90th percentile of the rate between persons.",
        width=12.0,
        body=body,
    )
    curves, bars = grid(page, 1, 2, Gaps(left=0.75, right=0.3, across=3.3))[0]
    colours, dashes = case_styles([m.label for m in shown])
    curves.set_ylim(0.0, 1.08 * max(LEAST, *(float(m.distance[1].max()) for m in shown)))
    ends = []
    for movement, colour, dash in zip(shown, colours, dashes, strict=True):
        curves.plot(movement.weeks, movement.distance[1], color=colour, linestyle=dash)
        name = textwrap.shorten(movement.label, 22, placeholder="…")
        ends.append((float(movement.distance[1][-1]), name, colour))
    if len(shown) <= MOST_LINES:
        theme.label_ends(curves, ends, at=float(shown[0].weeks[-1]), gap=0.19 / (body - 1.1))
    heading(curves, "over the weeks", "median person")
    name_heights(curves, "moved, mm", first=True)
    week_axis(curves, result.scenario.duration)
    _draw_ends(bars, shown, colours)
    heading(bars, f"at week {weeks_text(result.scenario.duration)}", "median (10th to 90th)")
    return page.figure


def _draw_ends(axes: "Axes", shown: list[Movement], colours: list[str]) -> None:
    axes.set_xlim(0.0, 1.55 * max(LEAST, *(float(m.distance[:, -1].max()) for m in shown)))
    axes.set_ylim(len(shown) - 0.5, -0.5)
    axes.grid(axis="x")
    axes.set_axisbelow(True)
    for row, (movement, colour) in enumerate(zip(shown, colours, strict=True)):
        slow, middle, fast = movement.distance[:, -1]
        axes.plot([slow, fast], [row, row], color=palette.BAND, linewidth=7, solid_capstyle="butt")
        axes.plot([middle], [row], marker="D", color=colour, markersize=6.5)
        axes.annotate(
            f"{middle:.2f}  ({slow:.2f} to {fast:.2f})",
            (max(slow, middle, fast), row),
            xytext=(6, 0),
            textcoords="offset points",
            size=theme.SMALL,
            va="center",
        )
    names = [row_name(m.label) for m in shown]
    axes.set_yticks(range(len(shown)), names)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel("moved, mm")


def case_styles(labels: list[str]) -> tuple[list[str], list[tuple[int, tuple[float, ...]]]]:
    """Return a colour and a dash for each label; labels that differ in numbers only share a hue."""
    families = list(dict.fromkeys(_family(label) for label in labels))
    colours, dashes = [], []
    for index, label in enumerate(labels):
        family = families.index(_family(label))
        members = [k for k, other in enumerate(labels) if _family(other) == _family(label)]
        hue = palette.SERIES[1 + family % (len(palette.SERIES) - 1)]
        colours.append(palette.shades(hue, len(members))[members.index(index)])
        dashes.append(palette.DASHES[family % len(palette.DASHES)])
    return colours, dashes


def _family(label: str) -> str:
    return re.sub(r"[\d.,]+", "#", label)
