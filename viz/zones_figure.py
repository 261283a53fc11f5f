"""Figure: compression and tension on the unrolled socket walls, week by week or case by case."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.bone.library import Cited, lookup
from gomphosis.fem.section import Array
from gomphosis.scenarios.result import RunResult, rows_at
from gomphosis.viz import palette, theme
from gomphosis.viz.panels import Gaps, across, grid, heading
from gomphosis.viz.theme import Page
from gomphosis.viz.wall_map import KILO, WallMap
from gomphosis.viz.wording import DAYS_A_WEEK

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WEEKS = (0, 1, 3, 6, 12)
COLUMNS = 5
MOST_PANELS = 40
KEY = 0.95  # inches below the panels for the key


@dataclass(frozen=True)
class ZonePanel:
    """One unrolled wall.

    Attributes
    ----------
    label, detail
        Its heading.
    wall
        Its layout.
    normal, pressure
        kPa, crest first, shape (nodes, sectors + 1).
    """

    label: str
    detail: str
    wall: WallMap
    normal: Array
    pressure: Array


def zone_panels(result: RunResult) -> tuple[list[ZonePanel], int]:
    """Return the walls to show, and how many stand in a row.

    A single case shows one row of chosen weeks for each tooth; several cases, whose forces are
    constant, show every loaded tooth at the start.
    """
    if len(result.cases) > 1:
        panels = _case_panels(result)
        return panels, across(len(panels), most=COLUMNS)[0]
    weeks = shown_weeks(result.scenario.duration)
    return _week_panels(result, weeks), len(weeks)


def shown_weeks(days: float) -> list[float]:
    """Return the weeks to show within a duration: a fixed choice, and the end."""
    weeks = days / DAYS_A_WEEK
    chosen = [float(w) for w in WEEKS if w < weeks - 1e-9]
    return [*chosen[: COLUMNS - 1], weeks]


def _week_panels(result: RunResult, weeks: Sequence[float]) -> list[ZonePanel]:
    track = result.cases[0].median
    records = rows_at(track, np.array(weeks) * DAYS_A_WEEK)
    panels = []
    for index, tooth in enumerate(result.teeth):
        wall = WallMap(tooth)
        for week, record in zip(weeks, records, strict=True):
            wrench = track.wrench[record, index]
            label = f"tooth {tooth.number}, week {week:.3g}"
            panels.append(_panel(label, wall, wrench))
    return panels


def _case_panels(result: RunResult) -> list[ZonePanel]:
    panels = []
    for case in result.cases:
        for index, tooth in enumerate(result.teeth):
            wrench = case.median.wrench[0, index]
            if np.any(wrench):
                name = case.name if len(result.teeth) == 1 else f"{case.name}, {tooth.number}"
                panels.append(_panel(theme.printable(name), WallMap(tooth), wrench))
    return panels


def _panel(label: str, wall: WallMap, wrench: Array) -> ZonePanel:
    normal = wall.normal_kpa(wrench)
    detail = f"{pressing(float(normal.min()))} to {pressing(float(normal.max()))} kPa"
    return ZonePanel(label, detail, wall, normal, wall.pressure_kpa(wrench))


def pressing(value: float) -> str:
    """Return a signed traction with a true minus."""
    text = f"{value:+.1f}"
    return "0.0" if float(text) == 0 else text.replace("-", "−")


def zones_figure(result: RunResult) -> "Figure":
    """Draw the normal traction on the unrolled socket walls, with the zones it makes.

    The scale of colours is that of the largest traction in the figure and grows with its square
    root, so that small tractions show.
    """
    with theme.styled():
        return _draw(result)


def _draw(result: RunResult) -> "Figure":
    found, columns = zone_panels(result)
    shown = found[: max(columns, MOST_PANELS // columns * columns)]
    left = f" (first {len(shown)} of {len(found)})" if len(shown) < len(found) else ""
    rows = -(-len(shown) // columns) or 1
    page = theme.page(
        result.scenario,
        heading=f"Zones on the unrolled socket wall{left}",
        detail=_explained(result),
        width=max(7.4, 0.95 + 2.3 * columns),
        body=KEY + 2.55 * rows,
    )
    body = Page(page.figure, page.top, page.bottom + KEY)
    axes_rows = grid(body, rows, columns, Gaps(left=0.75, right=0.3, across=0.28, below=0.5))
    largest = max((float(np.abs(p.normal).max()) for p in shown), default=0.0) or 1.0
    flat = [axes for row in axes_rows for axes in row]
    neutral = KILO * result.scenario.neutral_below
    line = lookup("pressure_line.capillary")
    for k, (axes, panel) in enumerate(zip(flat, shown, strict=False)):
        _draw_wall(axes, panel, largest=largest, neutral=neutral)
        _draw_line(axes, panel, line.number)
        _name_axes(axes, panel, first=k % columns == 0)
    for axes in flat[len(shown) :]:
        axes.remove()
    _draw_key(page, largest=largest, line=line, neutral=neutral)
    return page.figure


def _explained(result: RunResult) -> str:
    text = "Normal traction of the ligament on the wall: + tension, − compression. Seen from the "
    text += "front of the patient and rolled out: crest on top, apex below, the outer side in the "
    text += "middle. "
    if len(result.cases) > 1 or not result.scenario.wires:
        return text + "Forces are constant, and so are these zones. Median person, at the start."
    return text + "Median person."


def _draw_wall(axes: "Axes", panel: ZonePanel, *, largest: float, neutral: float) -> None:
    across_deg, depth = panel.wall.across, panel.wall.depth
    axes.pcolormesh(
        across_deg,
        depth,
        palette.signed_root(panel.normal / largest),
        cmap=palette.traction_colours(),
        vmin=-1.0,
        vmax=1.0,
        shading="gouraud",
    )
    # the pattern and the boundary say what the colour says
    for low, high, hatch in ((-np.inf, -neutral, "////"), (neutral, np.inf, "..")):
        _hatch(axes, panel, (low, high), hatch)
    for level in {-neutral, neutral}:
        if panel.normal.min() < level < panel.normal.max():
            axes.contour(
                across_deg,
                depth,
                panel.normal,
                levels=[level],
                colors=[palette.INK],
                linewidths=1.0,
                linestyles="solid",
            )
    axes.set_xlim(-180.0, 180.0)
    axes.set_ylim(float(depth.max()), 0.0)


def _hatch(axes: "Axes", panel: ZonePanel, limits: tuple[float, float], hatch: str) -> None:
    low, high = limits
    if panel.normal.max() <= low or panel.normal.min() >= high:
        return
    reach = 2.0 * float(np.abs(panel.normal).max()) + 1.0
    levels = np.clip(limits, -reach, reach)
    axes.contourf(
        panel.wall.across,
        panel.wall.depth,
        panel.normal,
        levels=levels,
        colors="none",
        hatches=[hatch],
    )


def _draw_line(axes: "Axes", panel: ZonePanel, limit: float) -> None:
    """Draw where the pressure, not the traction, passes the published line."""
    if panel.pressure.min() < limit < panel.pressure.max():
        axes.contour(
            panel.wall.across,
            panel.wall.depth,
            panel.pressure,
            levels=[limit],
            colors=[palette.PAPER],
            linewidths=4.0,
        )
        axes.contour(
            panel.wall.across,
            panel.wall.depth,
            panel.pressure,
            levels=[limit],
            colors=[palette.INK],
            linewidths=2.2,
            linestyles="dashed",
        )


def _name_axes(axes: "Axes", panel: ZonePanel, *, first: bool) -> None:
    heading(axes, textwrap.shorten(panel.label, 21, placeholder="…"), panel.detail)
    inner, left, outer, right, _ = panel.wall.words
    # two lines of words: neighbours would run into each other on one
    axes.set_xticks(
        [-180, -90, 0, 90, 180], [f"\n{inner}", left, f"\n{outer}", right, f"\n{inner}"]
    )
    for label, side in zip(
        axes.get_xticklabels(), ("left", *3 * ("center",), "right"), strict=True
    ):
        label.set_horizontalalignment(side)
    axes.tick_params(axis="x", pad=2)
    if first:
        axes.set_ylabel("depth from crest, mm")
    else:
        axes.tick_params(labelleft=False)


def _draw_key(page: Page, *, largest: float, line: Cited, neutral: float) -> None:
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import FuncNorm

    width, height = page.figure.get_size_inches()
    base = page.bottom
    bar = page.figure.add_axes((0.75 / width, (base + 0.42) / height, 2.6 / width, 0.17 / height))
    norm = FuncNorm((palette.signed_root, palette.signed_square), vmin=-largest, vmax=largest)
    colours = page.figure.colorbar(
        ScalarMappable(norm, palette.traction_colours()), cax=bar, orientation="horizontal"
    )
    ticks = [-largest, -largest / 4, 0.0, largest / 4, largest]
    colours.set_ticks(ticks, labels=[pressing(tick) for tick in ticks])
    colours.set_label("normal traction, kPa", size=theme.SMALL, labelpad=1)
    room = int((width - 5.9) * theme.LETTERS)
    note = textwrap.wrap(
        f"Heavy dashed line: pressure of {line.number:g} {line.unit} inside it or more. That is "
        "the hydrostatic pressure in the ligament, another quantity than the traction in colour; "
        f"drawn as a reference, not a threshold of this model. Status: {line.status}.",
        room,
    )
    _draw_samples(page, (3.75, base + 0.75), neutral)
    page.figure.text(
        5.7 / width,
        (base + 0.82) / height,
        "\n".join(note),
        size=theme.SMALL,
        va="top",
        linespacing=1.2,
    )


def _draw_samples(page: Page, place: tuple[float, float], neutral: float) -> None:
    from matplotlib.patches import Rectangle

    width, height = page.figure.get_size_inches()
    samples = (
        ("compression", palette.COMPRESSION, "////"),
        (f"neutral, below {neutral:.2g} kPa", palette.NEUTRAL, ""),
        ("tension", palette.TENSION, ".."),
    )
    for row, (name, colour, hatch) in enumerate(samples):
        left, bottom = place[0] / width, (place[1] - 0.12 - 0.22 * row) / height
        page.figure.add_artist(
            Rectangle(
                (left, bottom),
                0.3 / width,
                0.15 / height,
                facecolor=f"{colour}66",
                edgecolor=palette.INK,
                hatch=hatch,
                linewidth=0.7,
                transform=page.figure.transFigure,
            )
        )
        page.figure.text(left + 0.38 / width, bottom, name, size=theme.SMALL, va="bottom")
