"""Panels of the figure of the arch: axes in millimetres, teeth and loads in them, and the key."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import ToothHistory
from gomphosis.viz import palette, theme
from gomphosis.viz.arch_views import ABOVE, ArchView
from gomphosis.viz.film_layout import FRONT, SIDE
from gomphosis.viz.load_marks import RADIUS, Scale, draw_key, draw_load

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from gomphosis.viz.theme import Page

KEY = 0.5  # inches, the strip below all panels
MARGIN, BEYOND = 1.0, 1.6  # mm, round what is drawn, and from a tooth to its number
VIEWS = {
    FRONT: "from the front, arch unrolled",
    SIDE: "from the side, labial to the right",
    ABOVE: "from the biting side",
}
HIDDEN = {FRONT: "torque", SIDE: "tip"}
"""The moment that cannot be seen in a view, nor from the biting side."""
EXPLAINED = (
    "What the appliance exerts on the tooth at the centre of its slot, median person, in the plane "
    "of each view; from the front and from the biting side the patient's right is on the left. "
    "Arrows: force, length to scale. Arcs: moment about the slot, from the bar above it to the "
    "head, angle to scale. Parts below 2 % of the largest are not drawn. "
)

Box = tuple[Array, Array]


def box_of(views: Sequence[ArchView], loads: Sequence[tuple[ArchView, int, Array]]) -> Box:
    """Return the corners of what views of one kind reach with their marks, mm.

    Parameters
    ----------
    loads
        View, tooth and arrow in mm, shape (2,), of every force that is drawn.
    """
    reach = [corner for view in views for corner in view.extent()]
    slots = [view.slot(k) for view in views for k in view.teeth]
    heads = [view.slot(k) + arrow for view, k, arrow in loads]
    every = np.array([*reach, *heads, *(s + RADIUS for s in slots), *(s - RADIUS for s in slots)])
    room = np.array([MARGIN, MARGIN + BEYOND])
    return every.min(axis=0) - room, every.max(axis=0) + room


def axes_in(page: "Page", corner: tuple[float, float], box: Box, inches: float) -> "Axes":
    """Return bare axes in mm.

    Parameters
    ----------
    corner
        Lower left one on the page, inches.
    box
        Limits, mm.
    inches
        On the page to 1 mm.
    """
    width, height = page.figure.get_size_inches()
    low, high = box
    wide, tall = inches * (high - low)
    place = (corner[0] / width, corner[1] / height, wide / width, tall / height)
    axes = page.figure.add_axes(place)
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    axes.set_axis_off()
    return axes


def draw_view(axes: "Axes", view: ArchView, found: Sequence[ToothHistory], *, scale: Scale) -> None:
    """Draw teeth, wire and loads of a view."""
    for k in view.teeth:
        for points, fill in view.outlines(k):
            axes.fill(*points.T, facecolor=fill, edgecolor=palette.TOOTH_EDGE, linewidth=0.8)
    if len(view.wire):
        axes.plot(*view.wire.T, color=palette.INK, linewidth=1.5, label="_wire")
    for k in view.teeth:
        name = f"{view.kind} {found[k].number}"
        draw_load(axes, view.slot(k), view.load(k, found[k]), scale=scale, name=name)


def name_teeth(axes: "Axes", view: ArchView, found: Sequence[ToothHistory]) -> None:
    """Write the number of every tooth: beyond its apex, or from above on its inner side."""
    for k in view.teeth:
        slot, outlines = view.slot(k), view.outlines(k)
        if view.kind == ABOVE:
            inward = np.mean(outlines[0][0], axis=0) - slot
            place = slot + inward * (2.0 + BEYOND / np.linalg.norm(inward))
        else:
            root = outlines[1][0]
            apex = root[np.argmax(np.abs(root[:, 1] - slot[1]))]
            place = apex + np.array([0.0, BEYOND * np.sign(apex[1] - slot[1])])
        x, y = place.tolist()
        axes.text(x, y, str(found[k].number), size=theme.SMALL, ha="center", va="center")


def write(page: "Page", place: tuple[float, float], text: str, **style: object) -> None:
    """Write text whose upper left corner is at a place on the page, inches."""
    width, height = page.figure.get_size_inches()
    chosen = {"size": theme.SMALL, "va": "top", **style}
    page.figure.text(place[0] / width, place[1] / height, text, **chosen)


def draw_scale(page: "Page", scale: Scale, inches: float) -> None:
    """Draw the key in the strip below all panels."""
    width = float(page.figure.get_size_inches()[0]) - 2 * theme.MARGIN
    high = np.array([width, KEY]) / inches
    axes = axes_in(page, (theme.MARGIN, page.bottom + 0.04), (np.zeros(2), high), inches)
    draw_key(axes, scale, apart=2.3 / inches)


def arrows(views: Sequence[ArchView], found: Sequence[ToothHistory], scale: Scale) -> list:
    """Return view, tooth and arrow, mm, of every force."""
    return [(v, k, scale.arrow(v.load(k, found[k])[0])) for v in views for k in v.teeth]
