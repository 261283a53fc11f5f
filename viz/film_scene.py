"""Teeth, sockets, wire and forces of one view of the film."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.stages import stages
from gomphosis.scenarios.surfaces import Placement
from gomphosis.viz import palette
from gomphosis.viz.elastic_coils import Coils, coil
from gomphosis.viz.film_canvas import Canvas
from gomphosis.viz.film_layout import FRONT, SIDE, Layout, View
from gomphosis.viz.film_views import Silhouette, Stage, unrolled_wire, wire_cut
from gomphosis.viz.film_wall import traction_pixels
from gomphosis.viz.wall_map import KILO

EDGE = 14.0  # px between the teeth and the frame of a view
ARROW = 4.8  # mm, length of the largest force
LEAST_ARROW = 0.05  # share of the largest force below which none is drawn
LEAST_FORCE = 0.01  # N, least reach of an arrow
WALL = 4.5  # px

Kind = tuple[str, tuple[int, ...]]


def _kind(view: View) -> Kind:
    """Return what views of the same extent share: side and teeth."""
    return view.side, view.teeth


@dataclass(frozen=True)
class Scene:
    """Draw views of a result.

    Parameters
    ----------
    result, layout
        What to draw, and where.
    largest_traction
        At the ends of the colour scale, kPa.
    """

    result: RunResult
    layout: Layout
    largest_traction: float

    @cached_property
    def _stages(self) -> dict[str, Stage]:
        return {side: Stage(side, self.layout.factor) for side in (FRONT, SIDE)}

    @cached_property
    def _silhouettes(self) -> dict[str, tuple[Silhouette, ...]]:
        width = self.result.scenario.slot.width
        return {
            side: tuple(Silhouette(tooth, side, width) for tooth in self.result.teeth)
            for side in (FRONT, SIDE)
        }

    @cached_property
    def _loads(self) -> tuple[Array, ...]:
        """Force systems about the slots of every case, shape (T, teeth, 6) each."""
        return tuple(self.result.at_slots(case) for case in self.result.cases)

    @cached_property
    def _largest_force(self) -> float:
        forces = [case.median.wrench[..., :3] for case in self.result.cases]
        return max(LEAST_FORCE, *(float(np.linalg.norm(f, axis=-1).max()) for f in forces))

    @cached_property
    def _reach(self) -> dict[Kind, tuple[Array, Array]]:
        """Lowest and highest screen mm that any record reaches, by the kind of view."""
        found: dict[Kind, tuple[Array, Array]] = {}
        for view in self.layout.views:
            places = [found[_kind(view)]] if _kind(view) in found else []
            poses = self.result.cases[view.case].median.pose
            outlines = np.concatenate(
                [
                    self._flat(
                        view,
                        k,
                        self._stages[view.side].place(self.result.teeth[k], pose),
                        self._silhouettes[view.side][k].body,
                    )
                    for k in view.teeth
                    for pose in (np.zeros(6), *poses[:: max(1, len(poses) // 8), k], poses[-1, k])
                ]
            )
            places.append((outlines.min(axis=0), outlines.max(axis=0)))
            found[_kind(view)] = (
                np.min([low for low, _ in places], axis=0),
                np.max([high for _, high in places], axis=0),
            )
        return found

    @cached_property
    def _scale(self) -> float:
        """Px to a mm, the same in every view."""
        scales = []
        for view in self.layout.views:
            low, high = self._reach[_kind(view)]
            room = np.array([view.box.width, view.box.height]) - 2 * EDGE
            scales.append(float(np.min(room / (high - low))))
        return min(scales)

    def _flat(self, view: View, k: int, placed: Placement, local: Array) -> Array:
        return self._stages[view.side].flat(self.result.teeth[k], placed.points(local))

    def _pixels(self, view: View, flat: Array) -> Array:
        low, high = self._reach[_kind(view)]
        centre = (
            view.box.left + 0.5 * view.box.width,
            view.box.top + 0.5 * view.box.height,
        )
        return (flat - 0.5 * (low + high)) * self._scale + centre

    def outline(self, view: View, k: int, pose: Array) -> Array:
        """Return a tooth's outline in a view, px, shape (n, 2)."""
        placed = self._stages[view.side].place(self.result.teeth[k], pose)
        return self._pixels(view, self._flat(view, k, placed, self._silhouettes[view.side][k].body))

    def draw(self, canvas: Canvas, view: View, record: int) -> None:
        """Draw one view at a record of the median run."""
        track = self.result.cases[view.case].median
        for k in view.teeth:
            self._draw_socket(canvas, view, k, track.drift[record, k], track.wrench[record, k])
        for k in view.teeth:
            self._draw_tooth(canvas, view, k, record)
        self._draw_wire(canvas, view, record)
        self._draw_coils(canvas, view, record)
        for k in view.teeth:
            self._draw_force(canvas, view, k, record)

    def _draw_wire(self, canvas: Canvas, view: View, record: int) -> None:
        """Draw the wire: along the arch from the front, cut through from the side."""
        case, stage = self.result.cases[view.case], self._stages[view.side]
        teeth = self.result.teeth_at(case, record)
        wire = unrolled_wire(teeth, case, record)
        if not len(wire):
            return
        if view.side == FRONT:
            line = self._pixels(view, stage.flat(teeth[0], wire))
            canvas.line(line, colour=palette.INK, width=2.6)
            return
        period = int(case.median.period[record])
        scenario = self.result.scenario
        section = scenario.wires[stages(scenario)[period].wire].section
        for k in view.teeth:
            cut = wire_cut(section, teeth[k], wire)
            outline = self._pixels(view, stage.flat(teeth[k], cut))
            canvas.polygon(outline, fill=palette.INK, edge=palette.INK)

    @cached_property
    def _coils(self) -> Coils:
        return Coils(self.result)

    def _draw_coils(self, canvas: Canvas, view: View, record: int) -> None:
        """Draw elastics in place; from the side they would hide behind the teeth."""
        if view.side != FRONT or not self._coils.links:
            return
        track, stage, teeth = (
            self.result.cases[view.case].median,
            self._stages[FRONT],
            self.result.teeth,
        )
        period = int(track.period[record])
        hooks = [
            stage.place(tooth, track.pose[record, k]).points(hook)
            for k, (tooth, hook) in enumerate(zip(teeth, self._coils.hooks(period), strict=True))
        ]
        acting = self._coils.acting(period)
        for (_, a, b), on in zip(self._coils.links, acting, strict=True):
            if on:
                line = self._pixels(view, stage.flat(teeth[a], coil(hooks[a], hooks[b])))
                canvas.line(line, colour=palette.SERIES[4], width=2.2)

    def _draw_socket(self, canvas: Canvas, view: View, k: int, drift: Array, wrench: Array) -> None:
        tooth, shape = self.result.teeth[k], self._silhouettes[view.side][k]
        placed = self._stages[view.side].place(tooth, drift)
        normal = KILO * tooth.wall.stress(wrench).normal / self.largest_traction
        for wall, sector in zip(shape.walls, shape.wall_sectors, strict=True):
            line = self._pixels(view, self._stages[view.side].flat(tooth, placed.points(wall)))
            column = normal[:, sector]
            colours = traction_pixels(0.5 * (column[1:] + column[:-1]))
            canvas.line(line, colour=palette.METAL, width=WALL + 2.0)
            canvas.coloured(line, colours, width=WALL)

    def _bonded(self, view: View, k: int, record: int) -> ToothModel:
        """Return a tooth with its bracket where it is bonded at a record."""
        return self.result.teeth_at(self.result.cases[view.case], record)[k]

    def bracket(self, view: View, k: int, record: int) -> Array:
        """Return the outline of a tooth's bracket in a view, px, shape (4, 2)."""
        pose = self.result.cases[view.case].median.pose[record, k]
        placed = self._stages[view.side].place(self.result.teeth[k], pose)
        width = self.result.scenario.slot.width
        shape = Silhouette(self._bonded(view, k, record), view.side, width)
        return self._pixels(view, self._flat(view, k, placed, shape.bracket))

    def _draw_tooth(self, canvas: Canvas, view: View, k: int, record: int) -> None:
        pose = self.result.cases[view.case].median.pose[record, k]
        tooth, shape = self.result.teeth[k], self._silhouettes[view.side][k]
        start = self._stages[view.side].place(tooth, np.zeros(6))
        placed = self._stages[view.side].place(tooth, pose)

        def outline(local: Array, at: Placement = placed) -> Array:
            return self._pixels(view, self._flat(view, k, at, local))

        canvas.polygon(outline(shape.body), fill=palette.TOOTH, edge=palette.TOOTH_EDGE)
        canvas.polygon(outline(shape.root), fill=palette.ROOT, edge=palette.TOOTH_EDGE)
        canvas.dashes(outline(shape.body, start), colour=palette.QUIET, width=1.4)
        canvas.polygon(self.bracket(view, k, record), fill=palette.RULE, edge=palette.METAL)

    def _draw_force(self, canvas: Canvas, view: View, k: int, record: int) -> None:
        """Draw the force at the slot, its length in proportion to its size on the screen."""
        pose = self.result.cases[view.case].median.pose[record, k]
        tooth = self.result.teeth[k]
        placed = self._stages[view.side].place(tooth, pose)
        force = self._loads[view.case][record, k, :3] / self._largest_force
        slot = placed.points(self._bonded(view, k, record).slot)
        tip = slot + ARROW * placed.vectors(force)
        ends = self._stages[view.side].flat(tooth, np.stack([slot, tip]))
        reach = float(np.linalg.norm(ends[1] - ends[0])) / ARROW
        if reach < LEAST_ARROW:
            return
        tail, head = self._pixels(view, ends)
        canvas.arrow(tail, head, colour=palette.SERIES[5])
