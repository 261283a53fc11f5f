"""Picture of a slice at one day as pixels: bone, tooth, what changed, ribbon, openings, force."""

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gomphosis.fem.section import Array
from gomphosis.viz import palette
from gomphosis.viz.film_canvas import SMALL, Canvas, font, write
from gomphosis.viz.film_wall import traction_pixels
from gomphosis.viz.slice_state import SliceShown, SliceState
from gomphosis.viz.slice_view import SIDES

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

TINT = 0.38  # of the colour that marks what changed
RIBBON, OPEN, SHAFT, HEAD = 6.0, 4.0, 3.0, 9.0  # px
SCALE = 2.0  # mm, length of the scale bar


@dataclass(frozen=True)
class SliceScene:
    """Draw one slice into a box.

    Parameters
    ----------
    view
        What is shown, of a finished run or of its record.
    width, height
        Of the box, px.
    largest
        Traction at the ends of the colour scale, kPa.
    fit
        Px to a mm; where none is given, as many as fit.
    """

    view: SliceShown
    width: int
    height: int
    largest: float
    fit: float | None = None

    @cached_property
    def scale(self) -> float:
        """Px to a mm."""
        if self.fit is not None:
            return self.fit
        low, high = self.view.window
        return float(np.min(np.array([self.width, self.height]) / (high - low)))

    @property
    def _middle(self) -> Array:
        low, high = self.view.window
        return 0.5 * (low + high)

    def pixels(self, points: Array) -> Array:
        """Return places in px from the box's top left corner of points (x, z) in mm, (n, 2)."""
        x, z = points - self._middle[:, None]
        return np.stack(
            [
                0.5 * self.width + self.scale * x,
                0.5 * self.height - self.scale * self.view.up * z,
            ],
            axis=1,
        )

    def picture(self, state: SliceState) -> "Image":
        """Return the picture of a state."""
        from PIL import Image, ImageDraw

        canvas = Canvas(Image.fromarray(self._bone(state)))
        self._draw_tooth(canvas, state)
        changed = np.asarray(canvas.finished()).copy()
        self._mark_changes(changed, state)
        canvas = Canvas(Image.fromarray(changed))
        self._draw_ribbon(canvas, state)
        self._draw_openings(canvas, state)
        self._draw_force(canvas, state)
        picture = canvas.finished()
        draw = ImageDraw.Draw(picture)
        self._name_openings(draw, state)
        for name, side in zip(self.view.sides, SIDES, strict=True):
            place = (self.width - 8, 6) if side > 0 else (8, 6)
            anchor = "ra" if side > 0 else "la"
            # bone may lie behind the word
            left, top, right, base = draw.textbbox(place, name, font(SMALL, bold=True), anchor)
            draw.rectangle((left - 4, top - 3, right + 4, base + 3), fill=palette.SOFT_TISSUE)
            write(draw, place, name, anchor=anchor, bold=True)
        base = self.height - 12
        draw.line((10, base, 10 + SCALE * self.scale, base), fill=palette.INK, width=4)
        write(draw, (10, base - 6), f"{SCALE:g} mm", anchor="ls")
        return picture

    @cached_property
    def _sample(self) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], Array, Array]:
        """Row and column of cells around every pixel, and how far it is beyond them."""
        raster = self.view.raster
        x = self._middle[0] + (np.arange(self.width) + 0.5 - 0.5 * self.width) / self.scale
        down = (np.arange(self.height) + 0.5 - 0.5 * self.height) / self.scale
        z = self._middle[1] - self.view.up * down
        places = [
            (axis - o) / raster.spacing - 0.5 for axis, o in zip((x, z), raster.origin, strict=True)
        ]
        low = [
            np.clip(np.floor(p), 0, n - 2).astype(np.intp)
            for p, n in zip(places, raster.shape, strict=True)
        ]
        share = [np.clip(p - k, 0.0, 1.0) for p, k in zip(places, low, strict=True)]
        return low[0], low[1], share[0], share[1]

    def sampled(self, cells: Array) -> Array:
        """Return cell values between the cells' centres at every pixel, shape (height, width)."""
        column, row, fx, fz = self._sample
        across = (1 - fx)[:, None] * cells[column] + fx[:, None] * cells[column + 1]
        return ((1 - fz) * across[:, row] + fz * across[:, row + 1]).T

    def _bone(self, state: SliceState) -> npt.NDArray[np.uint8]:
        column, row, fx, fz = self._sample
        nearest = np.ix_(row + (fz >= 0.5), column + (fx >= 0.5))
        return state.colours.transpose(1, 0, 2).round().astype(np.uint8)[nearest]

    def _draw_tooth(self, canvas: Canvas, state: SliceState) -> None:
        for outline, colour in state.parts:
            canvas.polygon(self.pixels(outline), fill=colour, edge=palette.TOOTH_EDGE)
        canvas.dashes(self.pixels(self.view.start), colour=palette.INK)

    def _mark_changes(self, pixels: npt.NDArray[np.uint8], state: SliceState) -> None:
        """Tint, mark and outline what was resorbed (strokes) and laid down (dots)."""
        strokes, dots = self._patterns
        for share, colour, pattern in (
            (state.resorbed, palette.COMPRESSION, strokes),
            (state.laid_down, palette.TENSION, dots),
        ):
            inside = self.sampled(share) >= 0.5
            tint = np.array(palette.rgb(colour))
            pixels[inside] = ((1 - TINT) * pixels[inside] + TINT * tint).round()
            # the outline lies within, so that nothing looks larger than it is
            around = np.pad(inside, 1)
            core = around[2:, 1:-1] & around[:-2, 1:-1] & around[1:-1, 2:] & around[1:-1, :-2]
            pixels[inside & (pattern | ~core)] = tint

    @cached_property
    def _patterns(self) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
        y, x = np.mgrid[: self.height, : self.width]
        row = y // 5
        return (x + y) % 7 < 1, ((x + 3 * (row % 2)) % 6 < 2) & (y % 5 < 2)

    def _draw_ribbon(self, canvas: Canvas, state: SliceState) -> None:
        places = self.pixels(state.ribbon)
        mean = 0.5 * (state.traction[1:] + state.traction[:-1])
        canvas.line(places, colour=palette.METAL, width=RIBBON + 2.0)
        canvas.coloured(places, traction_pixels(mean / self.largest), width=RIBBON)
        for stroke in state.strokes:
            canvas.line(self.pixels(stroke.T), colour=palette.INK, width=1.6)
        for dot in self.pixels(state.dots):
            canvas.polygon(dot + 1.8 * _DIAMOND, fill=palette.INK, edge=palette.INK)

    def _draw_openings(self, canvas: Canvas, state: SliceState) -> None:
        for _, line in state.openings:
            canvas.line(self.pixels(line), colour=palette.INK, width=OPEN)

    def _name_openings(self, draw: "ImageDraw", state: SliceState) -> None:
        """Write one word beside the largest opening of each side."""
        for side in SIDES:
            found = [line for at, line in state.openings if at == side]
            if found:
                longest = max(found, key=lambda line: float(np.ptp(line[1])))
                x, y = self.pixels(longest).mean(axis=0)
                anchor = "lm" if side > 0 else "rm"
                write(draw, (x + 8 * side, y), "open", bold=True, anchor=anchor)

    def _draw_force(self, canvas: Canvas, state: SliceState) -> None:
        if state.arrow is None:
            return
        ends = np.stack([state.slot, state.slot + state.arrow], axis=1)
        tail, tip = self.pixels(ends)
        along = (tip - tail) / np.linalg.norm(tip - tail)
        aside = np.array([-along[1], along[0]])
        size = min(HEAD, 0.6 * float(np.linalg.norm(tip - tail)))
        foot = tip - size * along
        barbs = np.stack([tip, foot + 0.5 * size * aside, foot - 0.5 * size * aside])
        colour = palette.SERIES[5]
        canvas.line(np.stack([tail, tip - 0.8 * size * along]), colour=colour, width=SHAFT)
        canvas.polygon(barbs, fill=colour, edge=colour)


_DIAMOND = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
