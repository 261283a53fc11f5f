"""Figure: how the force on each bracket fades from one change to the next."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gomphosis.scenarios.force_fading import HALF, Fading, fadings
from gomphosis.scenarios.key_times import LEAST_FORCE
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.decay_constant import constant_forces
from gomphosis.viz.decay_elastics import draw_elastics
from gomphosis.viz.panels import (
    Gaps,
    across,
    grid,
    heading,
    mark_visits,
    name_heights,
    week_axis,
    wire_key,
)
from gomphosis.viz.wording import DAYS_A_WEEK, force_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from gomphosis.viz.theme import Page

MOST_ACROSS = 4
FLOOR = 0.01  # N, lower end of the scale of forces
MOST_SHARE = 150.0  # %, the most of the scale of shares
FORTNIGHT = 14.0  # days, from which times are said in weeks
NO_VALUE = "—"
TALL = 2.7  # inches, of a row of panels


def decay_figure(result: RunResult) -> "Figure":
    """Draw total forces in N and as shares of those at the last change, and elastics' pulls."""
    with theme.styled():
        if not result.scenario.wires:
            return constant_forces(result)
        return _fading(result)


def _fading(result: RunResult) -> "Figure":
    every = fadings(result, result.cases[0])
    columns, blocks = across(len(every), most=MOST_ACROSS)
    pulled = bool(result.scenario.elastic)
    page = theme.page(
        result.scenario,
        heading="How the force on each bracket fades",
        detail=_explained(result),
        width=max(8.0, 0.9 + (3.2 if pulled else 2.9) * columns),
        body=TALL * (2 * blocks + pulled),
    )
    gaps = Gaps(left=0.95, right=0.95, across=1.35 if pulled else 1.0)
    panels = grid(page, 2 * blocks + pulled, columns, gaps)
    largest = max((100 * f.share.max() for tooth in every for f in tooth if f.strong), default=0.0)
    most = min(MOST_SHARE, max(110.0, 1.05 * float(largest)))
    top = 2.0 * max(2 * FLOOR, *(float(f.force.max()) for tooth in every for f in tooth))
    for k in range(blocks * columns):
        block, column = divmod(k, columns)
        force, share = panels[2 * block][column], panels[2 * block + 1][column]
        if k >= len(every):
            force.remove()
            share.remove()
            continue
        _draw_force(force, every[k], top=top)
        _draw_share(share, every[k], most=most)
        for axes, name in ((force, "total force, N"), (share, "% of that at the change")):
            mark_visits(axes, result.scenario)
            week_axis(axes, result.scenario.duration)
            name_heights(axes, name, first=column == 0)
    if pulled:
        _draw_pulls(page, panels[-1], result)
    return page.figure


def _explained(result: RunResult) -> str:
    text = (
        "Top: size of the force on the bracket, on a scale of ratios: a straight line is a fixed "
        "loss each week. Below: the same as a share of that at the last change of wire, visit or "
        f"change of elastics; not drawn after a change at which it was below {LEAST_FORCE:g} N. "
        "Dots: half of it is left; the time since the change stands beside them and over panels, "
        f"one for every change, {NO_VALUE} where half is not reached. Median person."
    )
    key = wire_key(result.scenario)
    return f"{text} {key[:1].upper()}{key[1:]}."


def _draw_force(axes: "Axes", tooth: Sequence[Fading], *, top: float) -> None:
    axes.set_yscale("log")
    axes.set_ylim(FLOOR, top)
    ticks = [v for v in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20) if v <= top]
    axes.set_yticks(ticks, [f"{tick:g}" for tick in ticks])
    axes.set_yticks([], minor=True)
    for fading in tooth:
        weeks = fading.days / DAYS_A_WEEK
        axes.plot(weeks, fading.force, color=palette.INK, linewidth=2.2, label="_force")
    last = tooth[-1]
    text = f"{last.force[-1]:.2f} N" if last.force[-1] >= FLOOR else f"< {FLOOR:g} N"
    level = max(float(last.force[-1]), FLOOR)
    axes.annotate(
        text,
        (last.days[-1] / DAYS_A_WEEK, level),
        xytext=(4, 0),
        textcoords="offset points",
        size=theme.SMALL,
        va="center",
        annotation_clip=False,
    )
    heading(axes, f"tooth {last.number}", f"at first {force_text(float(tooth[0].force[0]))}")


def _draw_share(axes: "Axes", tooth: Sequence[Fading], *, most: float) -> None:
    axes.set_ylim(0.0, most)
    axes.set_yticks(range(0, int(most) + 1, 25))
    axes.axhline(100 * HALF, color=palette.QUIET, linewidth=0.9, linestyle=(0, (1, 2)))
    colour = palette.SERIES[1]
    ends = []
    for fading in tooth:
        weeks, percent = fading.days / DAYS_A_WEEK, 100 * fading.share
        axes.plot(weeks, percent, color=colour, label="_share")
        if fading is tooth[-1] and fading.strong:
            ends.append((min(float(percent[-1]), most), f"{percent[-1]:.0f} %", colour))
        _mark_half(axes, fading)
    theme.label_ends(axes, ends, at=float(tooth[-1].days[-1]) / DAYS_A_WEEK)
    heading(axes, "", _half_words(tooth))


def _mark_half(axes: "Axes", fading: Fading) -> None:
    if fading.half_after is None:
        return
    week = (fading.days[0] + fading.half_after) / DAYS_A_WEEK
    axes.plot([week], [100 * HALF], marker="o", color=palette.INK, markersize=5, label="_half")
    axes.annotate(
        _time(fading.half_after),
        (week, 100 * HALF),
        xytext=(5, 5),
        textcoords="offset points",
        size=theme.SMALL,
    )


def _time(days: float) -> str:
    return f"{days:.1f} days" if days < FORTNIGHT else f"{days / DAYS_A_WEEK:.1f} weeks"


def _half_words(tooth: Sequence[Fading]) -> str:
    halves = [NO_VALUE if f.half_after is None else _time(f.half_after) for f in tooth]
    beyond = max((100 * float(f.share.max()) for f in tooth if f.strong), default=0.0)
    text = f"half after {', '.join(halves)}"
    return text if beyond <= MOST_SHARE else f"{text}; up to {beyond:.0f} %"


def _draw_pulls(page: "Page", row: list["Axes"], result: RunResult) -> None:
    """Draw pulls of elastics in the first panels of a row, and drop the others."""
    used = draw_elastics(row, result)
    for axes in row[used:]:
        axes.remove()
