"""Figure: the force system on each bracket over the weeks, in N (and gf) and N·mm."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.panels import (
    Gaps,
    across,
    grid,
    heading,
    mark_visits,
    name_heights,
    named_rows,
    week_axis,
    wire_key,
)
from gomphosis.viz.wording import (
    DAYS_A_WEEK,
    direction_text,
    force_text,
    gram_force,
    sense_text,
    side_words,
    signed,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MINOR = 0.01  # share of the largest value in the figure below which a part is not drawn
MOST_ROWS = 40
LEAST_FORCE, LEAST_MOMENT = 0.01, 0.1  # N, N·mm, least reach of a scale
MOMENTS = ("tip moment", "torque moment", "rotation moment")
MOMENT_SENSE = "+ tips the crown mesially, torques it outward, turns it mesiolingually"


@dataclass(frozen=True)
class _Loaded:
    """One tooth of one case with its load."""

    label: str
    tooth: ToothModel
    history: ToothHistory


def force_figure(result: RunResult) -> "Figure":
    """Draw force and moment at the bracket: over the weeks, or all cases side by side.

    Several cases are prescribed, constant forces, which are drawn as bars.
    """
    with theme.styled():
        if len(result.cases) > 1:
            return _compared(result)
        return _by_tooth(result)


def bracket_systems(result: RunResult, case: CaseResult) -> Array:
    """Return force systems at the brackets of the median run in trade words.

    Returns
    -------
    N and N·mm, shape (T, teeth, 6).
    """
    return np.stack([history.at_bracket for history in histories(result, case)], axis=1)


def _by_tooth(result: RunResult) -> "Figure":
    case = result.cases[0]
    systems = bracket_systems(result, case)
    weeks = case.median.days / DAYS_A_WEEK
    count = len(result.teeth)
    columns, blocks = across(count, most=4)
    page = theme.page(
        result.scenario,
        heading="Force system on each bracket over the weeks",
        detail=_explained(result),
        width=max(7.0, 1.15 + 3.4 * columns),
        body=5.6 * blocks,
    )
    panels = grid(page, 2 * blocks, columns, Gaps(left=1.25))
    for k in range(blocks * columns):
        block, column = divmod(k, columns)
        force, moment = panels[2 * block][column], panels[2 * block + 1][column]
        if k >= count:
            force.remove()
            moment.remove()
            continue
        _set_limits(force, moment, systems)
        _draw_forces(force, weeks, systems[:, k, :3], result.teeth[k])
        _draw_moments(moment, weeks, systems[:, k, 3:])
        _gram_ticks(force)
        for axes, name in ((force, "force, N (gf)"), (moment, "moment, N·mm")):
            mark_visits(axes, result.scenario, label="top" if axes is force else "")
            week_axis(axes, result.scenario.duration)
            name_heights(axes, name, first=column == 0)
    return page.figure


def _explained(result: RunResult) -> str:
    key = wire_key(result.scenario)
    text = "What the appliance exerts on the tooth at the centre of its slot, median person. "
    text += f"Moments: {MOMENT_SENSE}. "
    return text + (f"{key[:1].upper()}{key[1:]}" if key else "Forces are prescribed and constant.")


def _set_limits(force: "Axes", moment: "Axes", systems: Array) -> None:
    largest = max(LEAST_FORCE, float(np.linalg.norm(systems[..., :3], axis=-1).max()))
    low = min(0.0, float(systems[..., :3].min()))
    force.set_ylim(low - 0.1 * largest, 1.1 * largest)
    low, high = min(0.0, float(systems[..., 3:].min())), max(0.0, float(systems[..., 3:].max()))
    margin = max(LEAST_MOMENT, 0.1 * (high - low))
    moment.set_ylim(low - margin, high + margin)


def _draw_forces(axes: "Axes", weeks: Array, parts: Array, tooth: ToothModel) -> None:
    total = np.linalg.norm(parts, axis=1)
    axes.axhline(0.0, color=palette.QUIET, linewidth=0.9)
    axes.plot(weeks, total, color=palette.INK, linewidth=2.4)
    ends = [(float(total[-1]), f"total {total[-1]:.2f}", palette.INK)]
    outer, inner = side_words(tooth.anatomy)
    senses = (("extrusive", "intrusive"), (outer, inner), ("mesial", "distal"))
    for part, words in enumerate(senses):
        values, colour = parts[:, part], palette.SERIES[part + 1]
        if np.abs(values).max() < MINOR * axes.get_ylim()[1]:
            continue
        axes.plot(weeks, values, color=colour, linestyle=palette.DASHES[part + 1])
        ends.append((float(values[-1]), sense_text(values, words), colour))
    theme.label_ends(axes, ends, at=float(weeks[-1]))
    heading(axes, f"tooth {tooth.number}", f"at first {force_text(float(total[0]))}")


def _draw_moments(axes: "Axes", weeks: Array, parts: Array) -> None:
    axes.axhline(0.0, color=palette.QUIET, linewidth=0.9)
    ends = []
    for part, name in enumerate(MOMENTS):
        values, colour = parts[:, part], palette.SERIES[part + 3]
        if np.abs(values).max() < MINOR * np.abs(axes.get_ylim()).max():
            continue
        axes.plot(weeks, values, color=colour, linestyle=palette.DASHES[part])
        ends.append((float(values[-1]), f"{name.split()[0]} {signed(float(values[-1]))}", colour))
    theme.label_ends(axes, ends, at=float(weeks[-1]))


def _gram_ticks(axes: "Axes") -> None:
    """Write gf beside every N of the vertical axis."""

    def both(newton: float, _: object) -> str:
        return f"{newton:.3g} ({gram_force(newton):.0f})".replace("-", "−")

    axes.yaxis.set_major_formatter(both)


def _compared(result: RunResult) -> "Figure":
    loaded = _loaded(result)
    shown = loaded[:MOST_ROWS]
    left = f" (first {len(shown)} of {len(loaded)})" if len(shown) < len(loaded) else ""
    page = theme.page(
        result.scenario,
        heading=f"Force system on the bracket, case by case{left}",
        detail="What the appliance exerts on the tooth at the centre of its slot: prescribed, and "
        f"constant over the weeks. Moments: {MOMENT_SENSE}.",
        width=12.0,
        body=max(3.6, 0.34 * len(shown) + 1.5),
    )
    forces, moments = named_rows(page, [row.label for row in shown], right=0.4)
    _draw_force_bars(forces, shown)
    _draw_moment_marks(moments, shown)
    return page.figure


def _loaded(result: RunResult) -> list[_Loaded]:
    """Return the teeth on which a case acts; a case without any load keeps its first tooth."""
    rows = []
    for case in result.cases:
        found = histories(result, case)
        acting = [k for k, history in enumerate(found) if np.any(history.at_bracket[0])]
        for k in acting or [0]:
            number = result.teeth[k].number
            name = case.name if len(result.teeth) == 1 else f"tooth {number}, {case.name}"
            rows.append(_Loaded(theme.printable(name), result.teeth[k], found[k]))
    return rows


def _draw_force_bars(axes: "Axes", rows: list[_Loaded]) -> None:
    sizes = [float(np.linalg.norm(row.history.at_bracket[0, :3])) for row in rows]
    axes.barh(range(len(rows)), sizes, height=0.5, color=palette.SERIES[1])
    axes.set_xlim(0.0, 1.75 * max(LEAST_FORCE, *sizes))
    for k, (row, size) in enumerate(zip(rows, sizes, strict=True)):
        words = direction_text(row.history.at_bracket[0, :3], row.tooth.anatomy)
        axes.annotate(
            f"{force_text(size)} {words}",
            (size, k),
            xytext=(5, 0),
            textcoords="offset points",
            size=theme.SMALL,
            va="center",
        )
    axes.set_xlabel("force, N")
    grams = axes.secondary_xaxis(1.0, functions=(_to_grams, _from_grams))
    grams.spines["top"].set_visible(True)
    grams.set_xlabel("force, gf")


def _to_grams(newton: npt.ArrayLike) -> Array:
    return np.asarray(newton, dtype=float) * gram_force(1.0)


def _from_grams(grams: npt.ArrayLike) -> Array:
    return np.asarray(grams, dtype=float) / gram_force(1.0)


def _draw_moment_marks(axes: "Axes", rows: list[_Loaded]) -> None:
    moments = np.stack([row.history.at_bracket[0, 3:] for row in rows])
    reach = max(LEAST_MOMENT, float(np.abs(moments).max()))
    axes.set_xlim(-1.4 * reach if moments.min() < -MINOR * reach else -0.1 * reach, 1.55 * reach)
    axes.axvline(0.0, color=palette.QUIET, linewidth=0.9)
    for k, values in enumerate(moments):
        if not np.any(np.abs(values) > MINOR * reach):
            axes.annotate(
                "none",
                (0.0, k),
                xytext=(5, 0),
                textcoords="offset points",
                size=theme.SMALL,
                va="center",
            )
    for part, (name, marker) in enumerate(zip(MOMENTS, "os^", strict=True)):
        colour = palette.SERIES[part + 3]
        for k in np.flatnonzero(np.abs(moments[:, part]) > MINOR * reach):
            value = float(moments[k, part])
            axes.plot([0.0, value], [k, k], color=colour, linewidth=1.4)
            axes.plot([value], [k], marker=marker, color=colour, markersize=6.5)
            side = 1 if value > 0 else -1
            axes.annotate(
                f"{name.split()[0]} {signed(value, digits=1)}",
                (value, k),
                xytext=(7 * side, 0),
                textcoords="offset points",
                size=theme.SMALL,
                color=colour,
                va="center",
                ha="left" if side > 0 else "right",
            )
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("moment, N·mm")
