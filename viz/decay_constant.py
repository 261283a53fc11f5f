"""The figure of fading forces for prescribed ones, which do not fade."""

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.panels import Gaps, grid, heading, name_heights, week_axis
from gomphosis.viz.wording import DAYS_A_WEEK, force_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_LINES = 12
LEAST = 0.01  # N, least reach of the scale
NAMED = 38  # letters
SAME = 6  # digits after the point, N, to which forces are the same


def constant_forces(result: RunResult) -> "Figure":
    """Draw the prescribed forces over the weeks, one line for each size."""
    found = _by_size(result)
    body = max(3.2, 0.26 * min(len(found), MOST_LINES) + 1.2)
    page = theme.page(
        result.scenario,
        heading="Prescribed forces do not fade",
        detail="The scenario prescribes the force on each bracket and holds it constant: no wire "
        "or spring stands behind it that would slacken as the tooth moves. One line for each size "
        "of force.",
        width=8.5,
        body=body,
    )
    axes = grid(page, 1, 1, Gaps(left=0.85, right=4.1))[0][0]
    shown = found[:MOST_LINES]
    axes.set_ylim(0.0, 1.12 * max(LEAST, *(float(force.max()) for _, force, _ in shown)))
    ends = []
    for k, (weeks, force, names) in enumerate(shown):
        colour = palette.SERIES[k % len(palette.SERIES)]
        axes.plot(weeks, force, color=colour, linestyle=palette.DASHES[k % len(palette.DASHES)])
        ends.append((float(force[-1]), f"{force_text(float(force[-1]))}: {_listed(names)}", colour))
    theme.label_ends(axes, ends, at=float(shown[0][0][-1]), gap=0.19 / (body - 1.07))
    left = f", first {len(shown)} of {len(found)} sizes" if len(shown) < len(found) else ""
    heading(axes, "total force", f"constant{left}")
    name_heights(axes, "total force, N", first=True)
    week_axis(axes, result.scenario.duration)
    return page.figure


def _by_size(result: RunResult) -> list[tuple[Array, Array, list[str]]]:
    """Return weeks, force and names of what it acts on, for every size of force."""
    found: dict[float, tuple[Array, Array, list[str]]] = {}
    for case in result.cases:
        for history in histories(result, case):
            force = np.linalg.norm(history.at_bracket[:, :3], axis=1)
            name = f"tooth {history.number}"
            if len(result.cases) > 1:
                name = case.name if len(result.teeth) == 1 else f"{name}, {case.name}"
            weeks = history.days / DAYS_A_WEEK
            entry = found.setdefault(round(float(force[0]), SAME), (weeks, force, []))
            entry[2].append(theme.printable(name))
    return [found[size] for size in sorted(found)]


def _listed(names: list[str]) -> str:
    text = "; ".join(names)
    if len(text) <= NAMED:
        return text
    first = textwrap.shorten(names[0], NAMED - 12, placeholder="…")
    return f"{first} and {len(names) - 1} more" if len(names) > 1 else first
