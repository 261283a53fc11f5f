"""Forces as arrows and moments as arcs, both to scale, and the key that says the scale."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.viz import palette, theme
from gomphosis.viz.film_curve import round_top
from gomphosis.viz.wording import force_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FORCE, MOMENT = palette.SERIES[5], palette.SERIES[2]
LEAST_FORCE, LEAST_MOMENT = 0.01, 0.1  # N, N·mm, least reach of a scale
LONGEST = 6.5  # mm, the longest arrow
RADIUS = 3.1  # mm, of arcs
LEAST_SHARE = 0.02  # of the largest, below which nothing is drawn
QUARTER = 0.5 * np.pi
FULLEST = 3.6  # quarter turns, the most that an arc sweeps
HALO = 1.1  # pt of paper round marks, so that they stand out from teeth


@dataclass(frozen=True)
class Scale:
    """Turn newtons into millimetres on the picture, and newton millimetres into angles.

    Parameters
    ----------
    largest_force, largest_moment
        In any view of the figure, N and N·mm.
    """

    largest_force: float
    largest_moment: float

    @classmethod
    def of(cls, loads: Iterable[tuple[Array, float]]) -> "Scale":
        """Return the scale on which all loads can be drawn."""
        every = list(loads)
        return cls(
            max(LEAST_FORCE, *(float(np.linalg.norm(force)) for force, _ in every)),
            max(LEAST_MOMENT, *(abs(moment) for _, moment in every)),
        )

    @property
    def force_step(self) -> float:
        """Length of the key's arrow, N."""
        return round_top(self.largest_force / 2.5)

    @property
    def moment_step(self) -> float:
        """Moment of a quarter turn, N·mm."""
        return round_top(self.largest_moment / FULLEST)

    def arrow(self, force: Array) -> Array:
        """Return the arrow of a force, mm, shape (2,)."""
        return LONGEST / self.largest_force * force

    def sweep(self, moment: float) -> float:
        """Return the angle of an arc, rad, anticlockwise positive."""
        return QUARTER * moment / self.moment_step


def draw_load(
    axes: "Axes", slot: Array, load: tuple[Array, float], *, scale: Scale, name: str = ""
) -> None:
    """Draw the force and the moment on a bracket, both at its slot.

    Parameters
    ----------
    slot
        Place in data units, which are mm, shape (2,).
    load
        Force in the plane, N, shape (2,), and moment, anticlockwise, N·mm.
    name
        Whose load, as labels of the artists that no legend shows.
    """
    force, moment = load
    if abs(moment) >= LEAST_SHARE * scale.largest_moment:
        _draw_arc(axes, slot, scale.sweep(moment), f"_moment {name}")
    if np.linalg.norm(force) >= LEAST_SHARE * scale.largest_force:
        _draw_arrow(axes, slot, slot + scale.arrow(force), f"_force {name}")


def draw_key(axes: "Axes", scale: Scale, *, apart: float) -> None:
    """Draw an arrow and an arc of known size, with their numbers, in axes in mm.

    Parameters
    ----------
    apart
        Room for the arrow's number, mm.
    """
    middle = float(np.mean(axes.get_ylim()))
    begin = np.array([0.5, middle])
    end = begin + scale.arrow(np.array([scale.force_step, 0.0]))
    _draw_arrow(axes, begin, end, "_force key")
    text = {"size": theme.SMALL, "va": "center", "textcoords": "offset points"}
    axes.annotate(f"force {force_text(scale.force_step)}", tuple(end), xytext=(6, 0), **text)
    centre = np.array([end[0] + apart + RADIUS, middle - 0.5 * RADIUS])
    _draw_arc(axes, centre, QUARTER, "_moment key")
    words = f"a quarter turn: moment {scale.moment_step:g} N·mm in the plane of the view"
    axes.annotate(words, (centre[0], middle), xytext=(8, 0), **text)


def _halo(width: float) -> list:
    from matplotlib.patheffects import Normal, Stroke

    return [Stroke(linewidth=width + 2 * HALO, foreground=palette.PAPER), Normal()]


def _draw_arrow(axes: "Axes", tail: Array, head: Array, label: str) -> None:
    ends = np.asarray(axes.transData.transform(np.stack([tail, head])))
    length = float(np.linalg.norm(ends[1] - ends[0])) * 72.0 / theme.DPI
    arrow = axes.annotate(
        "",
        xy=tuple(head),
        xytext=tuple(tail),
        annotation_clip=False,
        arrowprops={
            "arrowstyle": "-|>",
            "color": FORCE,
            "linewidth": 2.4,
            "shrinkA": 0,
            "shrinkB": 0,
            # a short arrow has a small head
            "mutation_scale": min(11.0, 2.0 + length),
            "path_effects": _halo(2.4),
        },
    )
    arrow.set_label(label)


def _draw_arc(axes: "Axes", centre: Array, sweep: float, label: str) -> None:
    """Draw an arc that begins above its centre, with a bar, and ends with a head."""
    angle = QUARTER + np.linspace(0.0, sweep, max(3, round(abs(sweep) / 0.05)))
    path = centre + RADIUS * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    style = {"color": MOMENT, "linewidth": 1.7, "path_effects": _halo(1.7), "clip_on": False}
    axes.plot(*path.T, label=label, solid_capstyle="butt", zorder=3, **style)
    bar = centre + np.array([[0.0, RADIUS - 0.7], [0.0, RADIUS + 0.7]])
    axes.plot(*bar.T, label="_begin", zorder=3, **style)
    along = np.sign(sweep) * np.array([-np.sin(angle[-1]), np.cos(angle[-1])])
    outward = np.array([np.cos(angle[-1]), np.sin(angle[-1])])
    size = min(1.3, 0.6 * abs(sweep) * RADIUS)
    corners = [path[-1], path[-1] - size * along + 0.45 * size * outward]
    corners.append(path[-1] - size * along - 0.45 * size * outward)
    axes.fill(*np.array(corners).T, color=MOMENT, zorder=3.1, clip_on=False, linewidth=0)
