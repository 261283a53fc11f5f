"""Panels of the arch film drawn flat: the same shapes, places and arrows as outlines.

For machines on which nothing can be rendered in three dimensions.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.surfaces import Placement
from gomphosis.viz import palette
from gomphosis.viz.above import around
from gomphosis.viz.film_canvas import Canvas
from gomphosis.viz.film_layout import Box
from gomphosis.viz.scene_bodies import (
    HEAD,
    HEAD_RADIUS,
    SHAFT,
    Bodies,
    State,
    ToothSolids,
    arrow_rows,
    curl_path,
)
from gomphosis.viz.scene_panels import Panel, Stand

if TYPE_CHECKING:
    from PIL.Image import Image

COIL = 2.2  # px
UPRIGHT = 0.5  # share of a part's height that the screen shows, above which rings are edges


@dataclass(frozen=True)
class SceneFlat:
    """Draw the panels of a film.

    Parameters
    ----------
    stand
        Panels and what is in them.
    area
        Part of the frame that is drawn; it holds every panel.
    """

    stand: Stand
    area: Box

    def picture(self, record: int) -> "Image":
        """Return the area at a record."""
        from PIL import Image, ImageDraw

        picture = Image.new("RGB", (self.area.width, self.area.height), palette.PAPER)
        draw = ImageDraw.Draw(picture)
        for panel in self.stand.panels:
            left, top = panel.box.left - self.area.left, panel.box.top - self.area.top
            edges = (left, top, left + panel.box.width - 1, top + panel.box.height - 1)
            draw.rectangle(edges, fill=palette.SHADE)
        canvas = Canvas(picture)
        for panel in self.stand.panels:
            self._draw(canvas, panel, self.stand.states[panel.case][record], record)
        return canvas.finished()

    def close(self) -> None:
        """Do nothing: no window was opened."""

    def arrow(self, panel: Panel, state: State, k: int) -> Array:
        """Return tail and tip of a tooth's force in the frame, px, shape (2, 2)."""
        rows = arrow_rows(state.slots[k], state.forces[k])
        return panel.pixels(rows[[0, -1]].mean(axis=1), self.stand.scale)

    def _pixels(self, panel: Panel, points: Array) -> Array:
        corner = np.array([self.area.left, self.area.top])
        return panel.pixels(points, self.stand.scale) - corner

    def _draw(self, canvas: Canvas, panel: Panel, state: State, record: int) -> None:
        bodies = self.stand.bodies[panel.case]
        for k in panel.teeth:
            self._draw_start(canvas, panel, bodies.solids[k], state.starts[k])
        # the farthest tooth first
        for k in sorted(panel.teeth, key=lambda k: float(state.slots[k] @ panel.sight.toward)):
            self._draw_tooth(canvas, panel, bodies.solids[k], state, k)
        if len(state.wire):
            self._draw_wire(canvas, panel, bodies, state, record)
        for line in state.coils:
            if np.any(line[-1] - line[0]):
                coil = self._pixels(panel, line)
                canvas.line(coil, colour=palette.SERIES[4], width=COIL)
        for k in panel.teeth:
            self._draw_turn(canvas, panel, state, k)
            self._draw_force(canvas, panel, state, k)

    def _outline(self, panel: Panel, rows: Array, placed: Placement) -> Array:
        """Return the outline of rings of points, px, shape (n, 2)."""
        flat = self._pixels(panel, placed.points(rows))
        axis = placed.turn[:, 2]
        if np.hypot(axis @ panel.sight.right, axis @ panel.sight.up) < UPRIGHT:
            return around(flat.reshape(-1, 2))[0]
        line = flat[-1].mean(axis=0) - flat[0].mean(axis=0)
        sideways = flat @ np.array([-line[1], line[0]])
        ring = np.arange(len(rows))
        left, right = flat[ring, sideways.argmin(axis=1)], flat[ring, sideways.argmax(axis=1)]
        return np.concatenate([left, right[::-1]])

    def _draw_start(
        self, canvas: Canvas, panel: Panel, solids: ToothSolids, placed: Placement
    ) -> None:
        for rows in (solids.root_rows, solids.crown_rows):
            outline = self._outline(panel, rows, placed)
            canvas.polygon(outline, fill=palette.RULE, edge=palette.RULE)

    def _draw_tooth(
        self, canvas: Canvas, panel: Panel, solids: ToothSolids, state: State, k: int
    ) -> None:
        placed = state.teeth[k]
        outer = placed.turn[:, 0] @ panel.sight.toward > UPRIGHT
        if not outer:
            # what lies inside the crown is hidden by it
            self._draw_bracket(canvas, panel, state, k)
        for rows, colour in (
            (solids.root_rows, palette.ROOT),
            (solids.crown_rows, palette.TOOTH),
        ):
            outline = self._outline(panel, rows, placed)
            canvas.polygon(outline, fill=colour, edge=palette.TOOTH_EDGE)
        if outer:
            self._draw_bracket(canvas, panel, state, k)

    def _draw_bracket(self, canvas: Canvas, panel: Panel, state: State, k: int) -> None:
        for corners in state.brackets[k].points.reshape(-1, 8, 3):
            box = around(self._pixels(panel, state.teeth[k].points(corners)))[0]
            canvas.polygon(box, fill=palette.GHOST, edge=palette.METAL)

    def _draw_wire(
        self, canvas: Canvas, panel: Panel, bodies: Bodies, state: State, record: int
    ) -> None:
        width = 2 * bodies.wire_radius(record) * self.stand.scale
        canvas.line(self._pixels(panel, state.wire), colour=palette.METAL, width=max(2.0, width))

    def _draw_force(self, canvas: Canvas, panel: Panel, state: State, k: int) -> None:
        corner = np.array([self.area.left, self.area.top])
        self._draw_arrow(canvas, self.arrow(panel, state, k) - corner, palette.SERIES[5])

    def _draw_turn(self, canvas: Canvas, panel: Panel, state: State, k: int) -> None:
        if np.linalg.norm(state.turns[k]) < 1e-9:
            return
        path = self._pixels(panel, curl_path(state.slots[k], state.turns[k])[0])
        self._draw_arrow(canvas, path, palette.SERIES[3])

    def _draw_arrow(self, canvas: Canvas, path: Array, colour: str) -> None:
        """Draw a line that ends in a head whose tip is the end of the path, px."""
        scale = self.stand.scale
        long = float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
        if long < 1.0:
            return
        size = min(HEAD * scale, 0.5 * long)
        last = path[-1] - path[0] if len(path) == 2 else path[-1] - path[-3]
        along = last / max(float(np.linalg.norm(last)), 1e-9)
        across = HEAD_RADIUS / HEAD * size * np.array([-along[1], along[0]])
        neck = path[-1] - size * along
        shaft = np.stack([path[0], neck]) if len(path) == 2 else path[:-2]
        canvas.line(shaft, colour=colour, width=max(1.0, 2 * SHAFT / HEAD * size))
        head = np.stack([path[-1], neck + across, neck - across])
        canvas.polygon(head, fill=colour, edge=colour)
