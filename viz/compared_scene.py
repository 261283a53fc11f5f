"""Teeth, sockets, wire and forces of one of two runs, as its record holds them."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.bone.wall import NEUTRAL, TENSION
from gomphosis.fem.section import Array
from gomphosis.viz import palette
from gomphosis.viz.compared_runs import ComparedRun
from gomphosis.viz.film_canvas import Canvas
from gomphosis.viz.film_layout import Box
from gomphosis.viz.film_scene import LEAST_ARROW, WALL
from gomphosis.viz.film_wall import traction_pixels

FRONT, ABOVE = "front", "above"
VIEWS = (FRONT, ABOVE)
ARROW = 7.0  # mm, length of the largest force
APART = 8.0  # px, between marks along a wall
STROKE, DOT = 6.0, 1.7  # px, marks outside a wall


@dataclass(frozen=True)
class Scales:
    """What both runs share.

    Attributes
    ----------
    pixels
        To a mm.
    force
        N of the longest arrow.
    traction
        kPa at the ends of the colour scale.
    arrow
        mm, length of the longest arrow.
    """

    pixels: float
    force: float
    traction: float
    arrow: float = ARROW

    @property
    def least_force(self) -> float:
        """N below which no arrow is drawn."""
        return LEAST_ARROW * self.force

    @property
    def pixels_per_newton(self) -> float:
        """Length of the arrow of 1 N."""
        return self.arrow * self.pixels / self.force


@dataclass(frozen=True)
class Parts:
    """Everything of a run that is drawn in one view, mm on the screen, first axis the days.

    Attributes
    ----------
    outlines
        Of every tooth: the parts by name, shape (days, points, 2) each.
    start
        Of every tooth, shape (points, 2).
    wire
        Shape (days, points, 2), or None.
    tails, forces
        Of the arrow of every tooth: shape (days, 2) each, mm and N.
    """

    outlines: tuple[dict[str, Array], ...]
    start: tuple[Array, ...]
    wire: Array | None
    tails: tuple[Array, ...]
    forces: tuple[Array, ...]

    def reach(self, longest: float) -> tuple[Array, Array]:
        """Return the lowest and highest places of any day, mm, arrows of a force included."""
        places = [o.reshape(-1, 2) for tooth in self.outlines for o in tooth.values()]
        places += list(self.start)
        for tail, force in zip(self.tails, self.forces, strict=True):
            places.append(tail + ARROW / longest * force)
        if self.wire is not None:
            places.append(self.wire.reshape(-1, 2))
        every = np.concatenate(places)
        return every.min(axis=0), every.max(axis=0)


def parts_of(run: ComparedRun, view: str) -> Parts:
    """Return what a view, ``front`` or ``above``, shows of a run."""
    teeth = range(len(run.numbers))
    names = ("body", "root", "bracket") if view == FRONT else ("above",)
    arrows = [run.drawing(k, f"force_{view}") for k in teeth]
    unit = run.head["scales"]["force_N"]
    starts = [run.drawing(k, "start" if view == FRONT else "above_start") for k in teeth]
    return Parts(
        outlines=tuple({name: run.drawing(k, name) for name in names} for k in teeth),
        start=tuple(start if start.ndim == 2 else start[0] for start in starts),
        wire=run.wire(view),
        tails=tuple(arrow[:, 0] for arrow in arrows),
        forces=tuple(unit * arrow[:, 1] for arrow in arrows),
    )


@dataclass(frozen=True)
class ComparedScene:
    """Draw one run in one view.

    Parameters
    ----------
    run
        Whose teeth.
    view
        ``front`` or ``above``.
    box
        Where on the canvas.
    scales
        Shared by both runs.
    """

    run: ComparedRun
    view: str
    box: Box
    scales: Scales

    @cached_property
    def parts(self) -> Parts:
        """What is drawn, mm."""
        return parts_of(self.run, self.view)

    @cached_property
    def _origin(self) -> Array:
        low, high = self.parts.reach(self.scales.force)
        centre = np.array(
            [self.box.left + 0.5 * self.box.width, self.box.top + 0.5 * self.box.height]
        )
        # whole pixels: equal runs then look equal in both halves
        return np.floor(centre) - 0.5 * (low + high) * self.scales.pixels

    def place(self, points: Array) -> Array:
        """Return places on the canvas, px, of places on the screen, mm."""
        return self._origin + self.scales.pixels * points

    @cached_property
    def extents(self) -> list[tuple[Array, Array]]:
        """Lowest and highest place of every crown and root on any day, px."""
        found = []
        for outlines, start in zip(self.parts.outlines, self.parts.start, strict=True):
            every = np.concatenate([*(o.reshape(-1, 2) for o in outlines.values()), start])
            placed = self.place(every)
            found.append((placed.min(axis=0), placed.max(axis=0)))
        return found

    def arrow(self, k: int, row: int) -> tuple[Array, Array]:
        """Return tail and head of the arrow of the k-th tooth in a record, px."""
        tail = self.place(self.parts.tails[k][row])
        return tail, tail + self.scales.pixels_per_newton * self.parts.forces[k][row]

    def draw(self, canvas: Canvas, row: int) -> None:
        """Draw a record of the run."""
        teeth = range(len(self.run.numbers))
        if self.view == FRONT:
            for k in teeth:
                self._draw_socket(canvas, k, row)
        for k in teeth:
            self._draw_tooth(canvas, k, row)
        if self.parts.wire is not None:
            canvas.line(self.place(self.parts.wire[row]), colour=palette.INK, width=2.6)
        for k in teeth:
            tail, head = self.arrow(k, row)
            least = self.scales.least_force * self.scales.pixels_per_newton
            if np.linalg.norm(head - tail) >= least:
                canvas.arrow(tail, head, colour=palette.SERIES[5])

    def _draw_tooth(self, canvas: Canvas, k: int, row: int) -> None:
        outline = {name: self.place(o[row]) for name, o in self.parts.outlines[k].items()}
        start = self.place(self.parts.start[k])
        edge = palette.TOOTH_EDGE
        if self.view == FRONT:
            canvas.polygon(outline["body"], fill=palette.TOOTH, edge=edge)
            canvas.polygon(outline["root"], fill=palette.ROOT, edge=edge)
            canvas.dashes(start, colour=palette.QUIET, width=1.4)
            canvas.polygon(outline["bracket"], fill=palette.RULE, edge=palette.METAL)
        else:
            canvas.polygon(outline["above"], fill=palette.TOOTH, edge=edge)
            canvas.dashes(start, colour=palette.QUIET, width=1.4)

    @cached_property
    def _walls(self) -> list[tuple[Array, Array, Array]]:
        teeth, drawing = range(len(self.run.numbers)), self.run.drawing
        return [(drawing(k, "wall"), drawing(k, "normal"), drawing(k, "zone")) for k in teeth]

    def _draw_socket(self, canvas: Canvas, k: int, row: int) -> None:
        wall, normal, zone = (part[row] for part in self._walls[k])
        lines = self.place(wall)
        for side, line in enumerate(lines):
            share = normal[side] / self.scales.traction
            colours = traction_pixels(0.5 * (share[1:] + share[:-1]))
            canvas.line(line, colour=palette.METAL, width=WALL + 2.0)
            canvas.coloured(line, colours, width=WALL)
            outward = line - lines[1 - side]
            self._draw_marks(canvas, line, outward, zone[side])

    @staticmethod
    def _draw_marks(canvas: Canvas, line: Array, outward: Array, zone: Array) -> None:
        """Draw strokes outside compressed wall and dots outside stretched wall."""
        arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
        long = np.linalg.norm(outward, axis=1)
        for at in np.arange(0.5 * APART, arc[-1], APART):
            k = int(np.abs(arc - at).argmin())
            if zone[k] == NEUTRAL or long[k] < 1.0:
                continue
            out = outward[k] / long[k]
            begin = np.array([np.interp(at, arc, part) for part in line.T]) + (WALL - 1.0) * out
            if zone[k] == TENSION:
                angle = np.linspace(0.0, 2 * np.pi, 9)[:-1]
                ring = DOT * np.stack([np.cos(angle), np.sin(angle)], axis=1)
                canvas.polygon(begin + 3.5 * out + ring, fill=palette.INK, edge=palette.INK)
            else:
                stroke = np.stack([begin, begin + STROKE * out])
                canvas.line(stroke, colour=palette.INK, width=1.5)
