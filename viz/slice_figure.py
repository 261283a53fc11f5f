"""Figure: bone around a tooth, resorbed and laid down, in a plane, week by week."""

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.bone.slice_run import Frame
from gomphosis.fem.section import Array
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.panels import Gaps, grid, heading
from gomphosis.viz.slice_key import KEY, draw_key
from gomphosis.viz.slice_view import SIDES, SliceView, bone_colours, slice_views
from gomphosis.viz.theme import Page
from gomphosis.viz.wall_map import LEAST_TRACTION
from gomphosis.viz.wording import DAYS_A_WEEK, weeks_text
from gomphosis.viz.zone_panels import shown_weeks

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_ROWS = 12
COLUMN, BETWEEN = 3.1, 0.25  # inches
MOST_TALL = 5.0  # inches, height of a panel
ABOVE = 0.5  # inches over a panel
LEAST_WIDE = 8.4  # inches
NOTE_LETTERS = 42  # small letters in a line below a panel
SCALE = 2.0  # mm, length of the scale bar
CLEAR = 2.5  # mm of crown shown above the crest's highest place


def slice_figure(result: RunResult) -> "Figure":
    """Draw the bone of every slice in chosen weeks, with what was resorbed and laid down.

    Raises
    ------
    ValueError
        If the run has no slice with a state to show.
    """
    views = slice_views(result)
    if not views:
        raise ValueError("a figure of slices needs a run with a slice that did not stop at once")
    with theme.styled():
        return _draw(result, views)


def largest_traction(views: Sequence[SliceView]) -> float:
    """Return the largest normal traction in any frame, kPa: the ends of the colour scale."""
    peaks = [np.abs(v.ribbon(f)[1]).max() for v in views for f in v.opened.track.frames]
    return max(LEAST_TRACTION, float(max(peaks)))


def panel_days(view: SliceView) -> list[float]:
    """Return the days that a row shows; a slice that stopped ends with its last."""
    end = view.opened.track.frames[-1].day
    return [week * DAYS_A_WEEK for week in shown_weeks(end)]


def _draw(result: RunResult, views: Sequence[SliceView]) -> "Figure":
    shown = views[:MOST_ROWS]
    left = f" (first {len(shown)} of {len(views)})" if len(shown) < len(views) else ""
    days = [panel_days(view) for view in shown]
    columns = max(map(len, days))
    note = 0.25 + theme.LINE * _most_lines(shown, days)
    wide = max(LEAST_WIDE, 0.6 + COLUMN * columns)
    page = theme.page(
        result.scenario,
        heading=f"Bone in the plane of the tooth{left}",
        detail="Median person. The tooth is drawn where it stands without its load; arrow: force "
        "in the plane. Ribbon inside the socket wall: normal traction of the ligament.",
        width=wide,
        body=KEY + (ABOVE + _height(shown) + note) * len(shown),
    )
    right = max(0.3, wide - 0.3 - COLUMN * columns)
    gaps = Gaps(left=0.3, right=right, across=BETWEEN, above=ABOVE, below=note)
    rows = grid(Page(page.figure, page.top, page.bottom + KEY), len(shown), columns, gaps)
    largest = largest_traction(shown)
    for view, row, when in zip(shown, rows, days, strict=True):
        for axes, day in zip(row, when, strict=False):
            _draw_panel(axes, view, view.frame_index(day), largest)
        for axes in row[len(when) :]:
            axes.remove()
        _draw_scale(row[0], view)
    draw_key(Page(page.figure, page.bottom + KEY, page.bottom), result.scenario, largest)
    return page.figure


def _draw_panel(axes: "Axes", view: SliceView, index: int, largest: float) -> None:
    frame = view.opened.track.frames[index]
    _draw_bone(axes, view, frame)
    _draw_tooth(axes, view, frame)
    _draw_change(axes, view, index)
    _draw_ribbon(axes, view, frame, largest)
    _draw_openings(axes, view, frame)
    _draw_force(axes, view, frame)
    (left, low), (right, high) = _shown(view)
    axes.set_xlim(left, right)
    axes.set_ylim(*sorted((view.up * low, view.up * high)))
    axes.set_aspect("equal", anchor="N")
    axes.axis("off")
    axes.set_xticks([])
    axes.set_yticks([])
    heading(axes, textwrap.shorten(view.label, 22, placeholder="…"), " ")
    place = {"xycoords": "axes fraction", "textcoords": "offset points", "size": theme.SMALL}
    for name, across, align in zip(view.sides, (1.0, 0.0), ("right", "left"), strict=True):
        axes.annotate(name, (across, 1.0), xytext=(0, 4), ha=align, **place)
    week = f"week {weeks_text(frame.day)}"
    axes.annotate(week, (0.5, 1.0), xytext=(0, 4), ha="center", weight="bold", **place)
    note = "\n".join(_note(view, frame))
    axes.annotate(note, (0.0, 0.0), xytext=(0, -4), va="top", linespacing=1.25, **place)


def _shown(view: SliceView) -> tuple[Array, Array]:
    """Return the window without most of the crown."""
    low, high = view.window
    return low, np.array([high[0], min(high[1], view.tooth.slot[2] + CLEAR)])


def _height(views: Sequence[SliceView]) -> float:
    """Return the height of the panels that fills their width, inches."""
    sizes = [high - low for low, high in map(_shown, views)]
    return min(MOST_TALL, (COLUMN - BETWEEN) * max(float(size[1] / size[0]) for size in sizes))


def _most_lines(views: Sequence[SliceView], days: Sequence[Sequence[float]]) -> int:
    """Return the lines of the longest note."""
    return max(
        len(_note(view, view.opened.frame_at(day)))
        for view, when in zip(views, days, strict=True)
        for day in when
    )


def _note(view: SliceView, frame: Frame) -> list[str]:
    front, back = view.plate(frame)
    books = frame.books
    texts = [
        f"least plate, mm: {view.sides[0]} {front:.2f}, {view.sides[1]} {back:.2f}",
        f"resorbed {books.resorbed:.2f}, laid down {books.deposited:.2f} mm²",
        *view.opening_texts(frame),
    ]
    return [line for text in texts for line in textwrap.wrap(text, NOTE_LETTERS)]


def _draw_bone(axes: "Axes", view: SliceView, frame: Frame) -> None:
    raster = frame.bones.raster
    left, low = raster.origin
    right, high = (o + raster.spacing * n for o, n in zip(raster.origin, raster.shape, strict=True))
    axes.imshow(
        bone_colours(frame.bones).transpose(1, 0, 2).round().astype(np.uint8),
        origin="lower",
        extent=(left, right, view.up * low, view.up * high),
        interpolation="nearest",
        zorder=1,
    )
    _contour(axes, view, frame.bones.envelope, look=(palette.QUIET, 0.8, 1.5))


def _contour(
    axes: "Axes", view: SliceView, share: Array, *, look: tuple[str, float, float]
) -> None:
    """Draw where a share of the cells is a half; look is colour, width and order."""
    colour, width, order = look
    if share.max() > 0.5:
        raster = view.opened.track.frames[0].bones.raster
        axes.contour(
            raster.centres(0),
            view.up * raster.centres(1),
            share.T,
            levels=[0.5],
            colors=[colour],
            linewidths=width,
            zorder=order,
        )


def _draw_tooth(axes: "Axes", view: SliceView, frame: Frame) -> None:
    for (x, z), colour in view.parts(frame):
        axes.fill(x, view.up * z, facecolor=colour, edgecolor=palette.TOOTH_EDGE, lw=0.7, zorder=2)


def _draw_change(axes: "Axes", view: SliceView, index: int) -> None:
    """Tint, hatch and outline what was resorbed and laid down."""
    raster = view.opened.track.frames[0].bones.raster
    change = view.changes[index]
    for share, colour, hatch in (
        (change.resorbed, palette.COMPRESSION, "////"),
        (change.laid_down, palette.TENSION, "...."),
    ):
        if share.max() <= 0.5:
            continue
        axes.contourf(
            raster.centres(0),
            view.up * raster.centres(1),
            share.T,
            levels=[0.5, 2.0],
            colors=[f"{colour}4d"],
            hatches=[hatch],
            zorder=3,
        )
        _contour(axes, view, share, look=(colour, 1.2, 4.0))


def _draw_ribbon(axes: "Axes", view: SliceView, frame: Frame, largest: float) -> None:
    from matplotlib.collections import LineCollection

    (x, z), traction = view.ribbon(frame)
    points = np.stack([x, view.up * z], axis=1)
    pieces = np.stack([points[:-1], points[1:]], axis=1)
    axes.plot(*points.T, color=palette.METAL, lw=5.0, solid_capstyle="butt", zorder=5)
    mean = 0.5 * (traction[1:] + traction[:-1])
    ribbon = LineCollection(
        list(pieces), cmap=palette.traction_colours(), linewidths=3.6, zorder=6, capstyle="butt"
    )
    ribbon.set_array(palette.signed_root(mean / largest))
    ribbon.set_clim(-1.0, 1.0)
    axes.add_collection(ribbon)
    strokes = view.strokes(frame) * np.array([1, view.up])
    axes.add_collection(LineCollection(list(strokes), colors=palette.INK, lw=1.0, zorder=7))
    dots = view.dots(frame)
    axes.plot(dots[0], view.up * dots[1], ".", color=palette.INK, ms=3.6, zorder=7)


def _draw_openings(axes: "Axes", view: SliceView, frame: Frame) -> None:
    for side in SIDES:
        found = view.open_now(frame, side)
        lines = [view.opening_line(frame, opening) for opening in found]
        for x, z in lines:
            axes.plot(x, view.up * z, color=palette.INK, lw=2.4, zorder=8)
        if lines:
            # openings may be close: one word for all
            x, z = lines[int(np.argmax([opening.height for opening in found]))]
            axes.annotate(
                "open",
                (float(x[len(x) // 2]), float(view.up * z[len(z) // 2])),
                xytext=(5 * side, 0),
                textcoords="offset points",
                ha="left" if side > 0 else "right",
                va="center",
                size=theme.SMALL,
                weight="bold",
                zorder=9,
            )


def _draw_force(axes: "Axes", view: SliceView, frame: Frame) -> None:
    at, force = view.force(frame)
    step = view.arrow(force)
    if step is None:
        return
    tip, tail = ((x, view.up * z) for x, z in (at + step, at))
    style = {"arrowstyle": "-|>", "color": palette.SERIES[5], "lw": 2.2, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", tip, tail, arrowprops=style, zorder=9, annotation_clip=False)


def _draw_scale(axes: "Axes", view: SliceView) -> None:
    (left, _), (_, high) = _shown(view)
    # beside the crown, where no bone is
    z = view.up * high + (0.5 if view.up < 0 else -1.8)
    axes.plot([left + 0.4, left + 0.4 + SCALE], [z, z], color=palette.INK, lw=2.5, zorder=9)
    axes.annotate(
        f"{SCALE:g} mm",
        (left + 0.4, z),
        xytext=(0, 4),
        textcoords="offset points",
        size=theme.SMALL,
        zorder=9,
    )
