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
    """

    days: Array
    values: Array
    top: float
    title: str
    colour: str
    width: int
    height: int

    @cached_property
    def _field(self) -> Box:
        return Box(LEFT, TOP, self.width - LEFT - RIGHT, self.height - TOP - BELOW)

    def pixels(self, days: Array, values: Array) -> Array:
        """Return places in the panel, px, shape (n, 2)."""
        field, end = self._field, max(float(self.days[-1]), 1e-9)
        across = field.left + field.width * np.asarray(days) / end
        down = field.top + field.height * (1 - np.clip(np.asarray(values) / self.top, 0.0, 1.0))
        return np.stack([across, down], axis=-1)

    @cached_property
    def _background(self) -> "Image":
        from PIL import Image, ImageDraw

        picture = Image.new("RGB", (self.width, self.height), palette.PAPER)
        draw = ImageDraw.Draw(picture)
        field = self._field
        write(draw, (0, 0), self.title, colour=self.colour)
        for value in (0.0, 0.5 * self.top, self.top):
            level = float(self.pixels(np.zeros(1), np.array([value]))[0, 1])
            draw.line((field.left, level, field.left + field.width, level), fill=palette.RULE)
            write(draw, (LEFT - 5, level), f"{value:g}", anchor="rm", colour=palette.QUIET)
        weeks = float(self.days[-1]) / DAYS_A_WEEK
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
        canvas = Canvas(self._background)
        past = self.days <= day + 1e-9
        canvas.line(self._line, colour=palette.GHOST, width=1.4)
        if past.sum() > 1:
            canvas.line(self._line[past], colour=self.colour, width=3.0)
        now = float(np.interp(day, self.days, self.values))
        centre = self.pixels(np.array([day]), np.array([now]))[0]
        angle = np.linspace(0.0, 2 * np.pi, 25)[:-1]
        ring = centre + DOT * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        canvas.polygon(ring, fill=self.colour, edge=palette.PAPER)
        return canvas.finished()
