"""Pulls of elastics over the weeks, in N and as shares of those as put on."""

from typing import TYPE_CHECKING

import numpy as np

from gomphosis.scenarios.elastic_report import ElasticHistory, elastic_histories
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.panels import heading, mark_visits, week_axis
from gomphosis.viz.wording import DAYS_A_WEEK

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_LINKS = 6


def draw_elastics(row: list["Axes"], result: RunResult) -> int:
    """Draw the pull of every elastic's links and, where there is room, what is left of it.

    Returns
    -------
    Number of panels used: 1 or 2.
    """
    found = elastic_histories(result, result.cases[0])
    used = row[:2]
    _draw_pull(used[0], found)
    if len(used) > 1:
        _draw_left(used[1], found)
    for axes in used:
        mark_visits(axes, result.scenario)
        week_axis(axes, result.scenario.duration)
    return len(used)


def _links(found: tuple[ElasticHistory, ...]) -> list[tuple[ElasticHistory, int]]:
    return [(history, link) for history in found for link in range(history.tension.shape[1])]


def _draw_pull(axes: "Axes", found: tuple[ElasticHistory, ...]) -> None:
    links = _links(found)
    shown = links[:MOST_LINKS]
    axes.set_ylim(0.0, 1.1 * max(float(h.tension.max()) for h in found))
    ends: list[tuple[float, str, str]] = []
    for k, (history, link) in enumerate(shown):
        colour = palette.SERIES[k % len(palette.SERIES)]
        pull = history.tension[:, link]
        axes.plot(history.days / DAYS_A_WEEK, pull, color=colour, linestyle=palette.DASHES[k])
        text = f"{history.table.links[link]} {pull[-1]:.2f}"
        ends.append((float(pull[-1]), text, colour))
    last = max(float(history.days[-1]) for history, _ in shown)
    theme.label_ends(axes, ends, at=last / DAYS_A_WEEK)
    axes.set_ylabel("pull of a link, N")
    left = f", first {len(shown)} of {len(links)} links" if len(shown) < len(links) else ""
    heading(axes, "elastics", f"pull on each of two teeth{left}")


def _draw_left(axes: "Axes", found: tuple[ElasticHistory, ...]) -> None:
    """Draw the pull as a share of that as put on, beside what age alone would leave."""
    axes.set_ylim(0.0, 110.0)
    ends: list[tuple[float, str, str]] = []
    for k, (history, link) in enumerate(_links(found)[:MOST_LINKS]):
        colour = palette.SERIES[k % len(palette.SERIES)]
        weeks = history.days / DAYS_A_WEEK
        pull = history.tension[:, link]
        share = 100 * pull / pull[0] if pull[0] > 0 else np.full(len(pull), np.nan)
        axes.plot(weeks, share, color=colour, linestyle=palette.DASHES[k])
        axes.plot(weeks, 100 * history.left, color=palette.QUIET, linewidth=1.0)
        if np.isfinite(share[-1]):
            ends.append(
                (float(share[-1]), f"{history.table.links[link]} {share[-1]:.0f} %", colour)
            )
    last = max(float(history.days[-1]) for history in found)
    theme.label_ends(axes, ends, at=last / DAYS_A_WEEK)
    heading(axes, "", "% of that as put on; thin: by age alone")
