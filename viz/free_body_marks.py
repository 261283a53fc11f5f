"""Marks of a free-body diagram: the tooth, arrows, arcs, levers and the words beside them."""

import re
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.viz import palette, theme
from gomphosis.viz.film_views import Silhouette
from gomphosis.viz.free_body import FreeBody

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ARROW = 6.5  # mm, length of the largest force
SWEEP = 270.0  # deg, of the largest moment
MINOR = 0.005  # share of the largest below which nothing is drawn
HEAD = 0.35  # rad of an arc, at most, that its head covers
ASIDE = 13.0  # mm from the long axis to the edge of a diagram
ABOVE = 2.2  # mm beyond edge and apex
LINES = 43  # letters to a line of words below a diagram
HEADS = (6.0, 13.0)  # pt, smallest and largest head of an arrow
POINTS = 8.0  # pt of head to a mm of arrow
DASHED = (0, (3, 1.6))


@dataclass(frozen=True)
class Look:
    """How a force and its moment are drawn, and what they are called."""

    name: str
    colour: str
    line: Any = "-"


@dataclass(frozen=True)
class Part:
    """Where in the plane something is drawn, mm, with its label.

    `side` is where the middle of an arc lies: +1 above its centre, -1 below.
    """

    place: Array
    label: str
    side: float = 1.0


def draw_tooth(axes: "Axes", body: FreeBody) -> None:
    """Fill crown, root and bracket, and mark the centre of resistance."""
    shape = Silhouette(body.tooth, body.side, body.bracket_width)
    for outline, fill in ((shape.body, palette.TOOTH), (shape.root, palette.ROOT)):
        axes.fill(*body.flat(outline).T, facecolor=fill, edgecolor=palette.TOOTH_EDGE, zorder=1)
    axes.fill(
        *body.flat(shape.bracket).T, facecolor=palette.RULE, edgecolor=palette.METAL, zorder=2
    )
    axes.plot(*body.centre, "o", color=palette.INK, markersize=5, zorder=6, gid="centre")


def draw_force(axes: "Axes", part: Part, long: Array, look: Look, *, into: bool = False) -> None:
    """Draw a force of so many mm from a place, or up to it where it points into the tooth."""
    if np.linalg.norm(long) < MINOR * ARROW:
        return
    tail, head = (part.place - long, part.place) if into else (part.place, part.place + long)
    _arrow(axes, tail, head, look).set_gid(f"force {look.name}")
    along = long / np.linalg.norm(long) * (-1 if into else 1)
    end = tail if into else head
    _beside(axes, end, along, part.label, look.colour)


def draw_moment(axes: "Axes", part: Part, sweep: float, look: Look, radius: float) -> None:
    """Draw a moment as an arc that sweeps an angle, rad, counter-clockwise positive."""
    if abs(sweep) < MINOR * np.deg2rad(SWEEP):
        return
    angle = part.side * 0.5 * np.pi + np.linspace(-0.5 * sweep, 0.5 * sweep, 91)
    arc = part.place + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    axes.plot(
        *arc.T,
        color=look.colour,
        linewidth=2.0,
        linestyle=look.line,
        gid=f"moment {look.name}",
        zorder=5,
    )
    behind = max(0, 90 - round(90 * min(1.0, HEAD / abs(sweep))))
    _arrow(axes, arc[behind], arc[-1], Look(look.name, look.colour), shaft=False)
    top = np.array([0.0, part.side])
    _beside(axes, part.place + radius * top, top, part.label, look.colour)


def draw_lever(axes: "Axes", body: FreeBody) -> None:
    """Draw the line along which the force acts at the bracket, and its distance from the centre."""
    along = body.bracket.force / body.bracket.size
    foot = body.slot + along * float(along @ (body.centre - body.slot))
    line = foot + np.outer([-ASIDE, ASIDE], along)
    axes.plot(*line.T, color=palette.QUIET, linewidth=1.0, linestyle=(0, (1, 2)), zorder=3)
    axes.plot(*np.stack([body.centre, foot]).T, color=palette.QUIET, linewidth=1.2, zorder=4)
    text = f"d {body.lever:.2f} mm"
    toward = (foot - body.centre) / max(body.lever, 1e-9)
    if abs(toward[0]) > 0.5:
        _beside(axes, foot, toward, text, palette.QUIET)
    else:
        _beside(axes, 0.5 * (body.centre + foot), np.array([1.0, 0.0]), text, palette.QUIET)


def frame(axes: "Axes", body: FreeBody, *, named: bool) -> None:
    """Set the extent of a diagram and draw the crest; name crest, centre and apex at its left."""
    heights = np.array([body.flat(body.tooth.edge)[1], body.flat(body.tooth.apex)[1]])
    axes.set_xlim(-ASIDE, ASIDE)
    axes.set_ylim(heights.min() - ABOVE, heights.max() + ABOVE)
    axes.set_aspect("equal", anchor="S")
    axes.axhline(0.0, color=palette.METAL, linewidth=1.2, linestyle=(0, (6, 2, 1, 2)), zorder=0)
    axes.set_axis_off()
    if not named:
        return
    names = (("bone crest", 0.0), ("centre of\nresistance", body.centre[1]), ("apex", heights[1]))
    for name, height in names:
        axes.annotate(
            name,
            (-ASIDE, height),
            xytext=(-4, 0),
            textcoords="offset points",
            ha="right",
            va="center",
            size=theme.SMALL,
            color=palette.QUIET,
            annotation_clip=False,
        )


def write_below(axes: "Axes", sentences: list[str]) -> None:
    """Write sentences below a diagram."""
    # a number stays beside its unit
    kept = [re.sub(r"(\d) (?=N|mm)", "\\1\u00a0", sentence) for sentence in sentences]
    lines = [line for sentence in kept for line in textwrap.wrap(sentence, LINES)]
    axes.annotate(
        "\n".join(lines),
        (0.0, 0.0),
        xycoords="axes fraction",
        xytext=(0, -4),
        textcoords="offset points",
        va="top",
        size=theme.SMALL,
        linespacing=1.25,
        annotation_clip=False,
    )


def _beside(axes: "Axes", end: Array, along: Array, text: str, colour: str) -> None:
    """Write a label beyond the end of a line that runs along a direction."""
    level = abs(along[0]) > abs(along[1])
    axes.annotate(
        text,
        (float(end[0]), float(end[1])),
        xytext=(4 * np.sign(along[0]), 0) if level else (0, 4 * np.sign(along[1])),
        textcoords="offset points",
        ha=("left" if along[0] > 0 else "right") if level else "center",
        va="center" if level else ("bottom" if along[1] > 0 else "top"),
        size=theme.SMALL,
        color=colour,
        zorder=7,
        bbox={"facecolor": palette.PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
        annotation_clip=False,
    )


def _arrow(axes: "Axes", tail: Array, head: Array, look: Look, *, shaft: bool = True) -> Any:  # noqa: ANN401 - of matplotlib
    size = float(np.clip(POINTS * np.linalg.norm(head - tail), *HEADS)) if shaft else HEADS[1]
    return axes.annotate(
        "",
        (float(head[0]), float(head[1])),
        xytext=(float(tail[0]), float(tail[1])),
        arrowprops={
            "arrowstyle": "-|>",
            "color": look.colour,
            "linewidth": 2.2 if shaft else 0.0,
            "linestyle": look.line,
            "shrinkA": 0,
            "shrinkB": 0,
            "mutation_scale": size,
        },
        # in sight where it is hardly longer than the mark it starts from
        zorder=6.5,
    )
