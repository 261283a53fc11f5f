"""Panels of a figure: their grid, week axis, headings and visits."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.stages import stages
from gomphosis.viz import palette, theme
from gomphosis.viz.theme import Page
from gomphosis.viz.wording import DAYS_A_WEEK, visits

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def across(count: int, *, most: int) -> tuple[int, int]:
    """Return columns and rows for a number of panels."""
    rows = -(-count // most)
    return -(-count // rows), rows


@dataclass(frozen=True)
class Gaps:
    """Inches beside, between and around the panels of a page."""

    left: float = 0.85
    right: float = 1.2
    across: float = 1.2
    above: float = 0.52
    below: float = 0.55


def grid(page: Page, rows: int, columns: int, gaps: Gaps) -> list[list["Axes"]]:
    """Return axes in rows and columns in the body of a page.

    Every panel keeps room above itself for its heading and below for its ticks.
    """
    width, height = page.figure.get_size_inches()
    wide = (width - gaps.left - gaps.right - (columns - 1) * gaps.across) / columns
    tall = (page.top - page.bottom) / rows
    panels = []
    for i in range(rows):
        bottom = page.top - (i + 1) * tall + gaps.below
        size = (wide / width, (tall - gaps.above - gaps.below) / height)
        places = [gaps.left + k * (wide + gaps.across) for k in range(columns)]
        panels.append([page.figure.add_axes((x / width, bottom / height, *size)) for x in places])
    return panels


def heading(axes: "Axes", text: str, detail: str = "") -> None:
    """Write a bold heading over a panel, with a plain detail after it."""
    axes.set_title(text, loc="left", weight="bold", size=theme.HEADING, pad=18 if detail else 6)
    if detail:
        axes.annotate(
            detail,
            (0.0, 1.0),
            xycoords="axes fraction",
            xytext=(0, 4),
            textcoords="offset points",
            size=theme.SMALL,
            color=palette.QUIET,
        )


def name_heights(axes: "Axes", text: str, *, first: bool) -> None:
    """Name the vertical axis of a row's first panel; the others share its scale."""
    if first:
        axes.set_ylabel(text)
    else:
        axes.tick_params(labelleft=False)


def named_rows(
    page: Page, labels: Sequence[str], *, right: float, top: float = -0.5
) -> tuple["Axes", "Axes"]:
    """Return two panels side by side with one row for each label, named at the left.

    Parameters
    ----------
    right
        Inches beside the second panel.
    top
        Upper end of the rows' scale, on which the first row is at 0.
    """
    first, second = grid(page, 1, 2, Gaps(left=1.9, right=right, across=0.5, above=0.65))[0]
    names = [row_name(label) for label in labels]
    for axes in (first, second):
        axes.set_ylim(len(names) - 0.5, top)
        axes.set_yticks(range(len(names)), names if axes is first else [""] * len(names))
        axes.tick_params(axis="y", length=0)
        axes.grid(axis="x")
        axes.set_axisbelow(True)
    return first, second


def row_name(text: str) -> str:
    """Return a name in at most two lines, to stand beside a row."""
    return "\n".join(textwrap.wrap(text, 24, max_lines=2, placeholder="…"))


def week_axis(axes: "Axes", days: float) -> None:
    """Set the horizontal axis to weeks, with whole-week ticks."""
    weeks = days / DAYS_A_WEEK
    step = next(s for s in (1, 2, 3, 4, 6, 13, 26, 52) if weeks / s <= 7 or s == 52)
    axes.set_xlim(0.0, weeks)
    axes.set_xticks([k * step for k in range(int(weeks / step + 1e-9) + 1)])
    axes.grid(axis="y")
    axes.set_axisbelow(True)
    axes.set_xlabel("time, weeks")


def mark_visits(axes: "Axes", scenario: Scenario, *, label: str = "") -> None:
    """Draw a line at every change of wire, and a dotted one at other visits and changes.

    `wire_key` says what the numbers and the dots mean.

    Parameters
    ----------
    label
        ``top`` or ``bottom`` for a number at that end of the line, empty for none.
    """
    at = 1.0 if label == "top" else 0.0
    for index, (day, _) in enumerate(visits(scenario)[1:], start=2):
        axes.axvline(day / DAYS_A_WEEK, color=palette.METAL, linewidth=1.1, linestyle=(0, (2, 2)))
        if label:
            axes.annotate(
                f"wire {index}",
                (day / DAYS_A_WEEK, at),
                xycoords=("data", "axes fraction"),
                xytext=(-3, 2 - 4 * at),
                textcoords="offset points",
                rotation=90,
                size=theme.SMALL,
                color=palette.METAL,
                va=label,
                ha="right",
            )

    for day in between_visits(scenario):
        axes.axvline(day / DAYS_A_WEEK, color=palette.METAL, linewidth=1.1, linestyle=(0, (1, 3)))


def between_visits(scenario: Scenario) -> list[float]:
    """Return the days of visits and changes of elastics on which no wire is tied in."""
    tied = [day for day, _ in visits(scenario)]
    return [stage.start for stage in stages(scenario) if stage.start not in tied]


def wire_key(scenario: Scenario) -> str:
    """Return the wires by number with the week each is tied in; empty for prescribed forces."""
    wires = [
        f"wire {index} (week {day / DAYS_A_WEEK:.3g}): {text}"
        for index, (day, text) in enumerate(visits(scenario), start=1)
    ]
    what = ["elastics change"] if scenario.elastic else []
    what += ["visit without a new wire"] if scenario.visit else []
    dots = [f"dotted upright: {' or '.join(what)}"] if between_visits(scenario) else []
    return " · ".join([*wires, *dots])
