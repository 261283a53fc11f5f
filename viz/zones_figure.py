"""Figure: compression and tension on the unrolled socket walls, week by week or case by case."""

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.bone.library import Cited, lookup
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.panels import Gaps, grid, heading
from gomphosis.viz.theme import Page
from gomphosis.viz.wall_map import KILO, LEAST_TRACTION
from gomphosis.viz.wording import signed
from gomphosis.viz.zone_panels import ZonePanel, zone_panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PANELS = 80
KEY = 0.85  # inches below the panels for the key


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
    rows = -(-len(shown) // columns)
    wide = max(7.4, 0.95 + 2.3 * columns)
    line = lookup("pressure_line.capillary")
    note = textwrap.wrap(_line_text(line), int((wide - 2 * theme.MARGIN) * theme.LETTERS))
    page = theme.page(
        result.scenario,
        heading=f"Zones on the unrolled socket wall{left}",
        detail=_explained(result),
        width=wide,
        body=KEY + theme.LINE * len(note) + 2.55 * rows,
    )
    key = page.bottom + theme.LINE * len(note)
    # few panels keep the width of many
    gaps = Gaps(left=0.75, right=max(0.3, wide - 0.75 - 2.4 * columns), across=0.28, below=0.5)
    body = Page(page.figure, page.top, key + KEY)
    axes_rows = grid(body, rows, columns, gaps)
    largest = max(LEAST_TRACTION, *(float(np.abs(p.normal).max()) for p in shown))
    flat = [axes for row in axes_rows for axes in row]
    neutral = KILO * result.scenario.neutral_below
    for k, (axes, panel) in enumerate(zip(flat, shown, strict=False)):
        _draw_wall(axes, panel, largest=largest, neutral=neutral)
        _draw_line(axes, panel, line.number)
        _name_axes(axes, panel, first=k % columns == 0)
    for axes in flat[len(shown) :]:
        axes.remove()
    _draw_key(Page(page.figure, key + KEY, key), largest=largest, neutral=neutral)
    _write_note(page, key, note)
    return page.figure


def _explained(result: RunResult) -> str:
    text = "Normal traction of the ligament on the wall: + tension, − compression. Seen from the "
    text += "front of the patient and rolled out: crest on top, apex below, the outer side in the "
    text += "middle. "
    if not result.scenario.wires:
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
        # smooth shading has no counterpart in an SVG: thousands of triangles would stand for it
        rasterized=True,
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
    labels = axes.get_xticklabels()
    labels[0].set_horizontalalignment("left")
    labels[-1].set_horizontalalignment("right")
    axes.tick_params(axis="x", pad=2)
    if first:
        axes.set_ylabel("depth from crest, mm")
    else:
        axes.tick_params(labelleft=False)


def _line_text(line: Cited) -> str:
    return (
        f"Heavy dashed line: pressure of {line.number:g} {line.unit} inside it or more. That is "
        "the hydrostatic pressure in the ligament, another quantity than the traction in colour; "
        f"drawn as a reference, not a threshold of this model. Status of the value: {line.status}."
    )


def _write_note(page: Page, top: float, note: Sequence[str]) -> None:
    width, height = page.figure.get_size_inches()
    page.figure.text(
        theme.MARGIN / width,
        top / height,
        "\n".join(note),
        size=theme.SMALL,
        va="top",
        linespacing=1.25,
    )


def _draw_key(page: Page, *, largest: float, neutral: float) -> None:
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import FuncNorm

    width, height = page.figure.get_size_inches()
    base = page.bottom
    bar = page.figure.add_axes((0.75 / width, (base + 0.5) / height, 2.6 / width, 0.17 / height))
    norm = FuncNorm((palette.signed_root, palette.signed_square), vmin=-largest, vmax=largest)
    colours = page.figure.colorbar(
        ScalarMappable(norm, palette.traction_colours()), cax=bar, orientation="horizontal"
    )
    ticks = [-largest, -largest / 4, 0.0, largest / 4, largest]
    colours.set_ticks(ticks, labels=[signed(tick, digits=1) for tick in ticks])
    colours.set_label("normal traction, kPa", size=theme.SMALL, labelpad=1)
    _draw_samples(page, (3.75, base + 0.75), neutral)


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
