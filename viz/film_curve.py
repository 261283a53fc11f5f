"""A curve beside the pictures of a film, with a mark that runs along it."""

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.viz import palette
from gomphosis.viz.film_canvas import Canvas, write
from gomphosis.viz.film_layout import Box
from gomphosis.viz.wording import DAYS_A_WEEK

if TYPE_CHECKING:
    from PIL.Image import Image

LEFT, TOP, BELOW, RIGHT = 40, 24, 22, 6  # px, around the field of the curve
DOT = 5.0  # px
LONG, BREAK = 8.0, 5.0  # px, of a dashed line
STEPS = np.array([1, 2, 5, 10])


def round_top(largest: float) -> float:
    """Return the least of 1, 2, 5 times a power of ten that is not below a positive number."""
    power = 10.0 ** np.floor(np.log10(largest))
    return float(power * STEPS[np.searchsorted(STEPS, largest / power - 1e-9)])


@dataclass(frozen=True)
class Curve:
    """One quantity over the weeks.

    Parameters
    ----------
    days, values
        Shape (n,), days rising, values not negative.
    top
        At the upper end of the scale, in the unit of the values: the same in every frame.
    title
        What it is, with its unit.
    colour
        Of the line.
    width, height
        Of the panel, px.
    end
        Day at the right end of the panel, where it is not the last one.
    dashed
        Whether the line is dashed and its mark hollow.
    """

    days: Array
    values: Array
    top: float
    title: str
    colour: str
    width: int
    height: int
    end: float | None = None
    dashed: bool = False

    @property
    def _span(self) -> float:
        return max(float(self.days[-1]) if self.end is None else self.end, 1e-9)

    @cached_property
    def _field(self) -> Box:
        return Box(LEFT, TOP, self.width - LEFT - RIGHT, self.height - TOP - BELOW)

    def pixels(self, days: Array, values: Array) -> Array:
        """Return places in the panel, px, shape (n, 2)."""
        field = self._field
        across = field.left + field.width * np.asarray(days) / self._span
        down = field.top + field.height * (1 - np.clip(np.asarray(values) / self.top, 0.0, 1.0))
        return np.stack([across, down], axis=-1)

    @cached_property
    def background(self) -> "Image":
        """The panel without its line."""
        from PIL import Image, ImageDraw

        picture = Image.new("RGB", (self.width, self.height), palette.PAPER)
        draw = ImageDraw.Draw(picture)
        field = self._field
        write(draw, (0, 0), self.title, colour=self.colour)
        for value in (0.0, 0.5 * self.top, self.top):
            level = float(self.pixels(np.zeros(1), np.array([value]))[0, 1])
            draw.line((field.left, level, field.left + field.width, level), fill=palette.RULE)
            write(draw, (LEFT - 5, level), f"{value:g}", anchor="rm", colour=palette.QUIET)
        weeks = self._span / DAYS_A_WEEK
        bottom = field.top + field.height + 4
        write(draw, (field.left, bottom), "week 0", colour=palette.QUIET)
        place = (field.left + field.width, bottom)
        write(draw, place, f"{weeks:.3g}", anchor="ra", colour=palette.QUIET)
        return picture

    @cached_property
    def _line(self) -> Array:
        return self.pixels(self.days, self.values)

    def picture(self, day: float) -> "Image":
        """Return the panel at a day: the past drawn strongly, the rest faintly."""
        canvas = Canvas(self.background)
        self.draw(canvas, day)
        return canvas.finished()

    def draw(self, canvas: Canvas, day: float) -> None:
        """Draw the line and its mark at a day; after its end the mark stays there."""
        past = self.days <= day + 1e-9
        self._stroke(canvas, self._line, palette.GHOST, 1.4)
        if past.sum() > 1:
            self._stroke(canvas, self._line[past], self.colour, 3.0)
        angle = np.linspace(0.0, 2 * np.pi, 25)[:-1]
        ring = self.mark(day) + DOT * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        if self.dashed:
            canvas.polygon(ring, fill=palette.PAPER, edge=self.colour, width=2.0)
        else:
            canvas.polygon(ring, fill=self.colour, edge=palette.PAPER)

    def mark(self, day: float) -> Array:
        """Return where the mark stands at a day, px, shape (2,)."""
        day = min(day, float(self.days[-1]))
        now = float(np.interp(day, self.days, self.values))
        return self.pixels(np.array([day]), np.array([now]))[0]

    def _stroke(self, canvas: Canvas, line: Array, colour: str, width: float) -> None:
        if not self.dashed:
            canvas.line(line, colour=colour, width=width)
            return
        step = np.linalg.norm(np.diff(line, axis=0), axis=1)
        arc = np.concatenate([[0.0], np.cumsum(step)])
        for begin in np.arange(0.0, arc[-1], LONG + BREAK):
            at = np.linspace(begin, min(begin + LONG, arc[-1]), 5)
            piece = np.stack([np.interp(at, arc, part) for part in line.T], axis=1)
            canvas.line(piece, colour=colour, width=width)
