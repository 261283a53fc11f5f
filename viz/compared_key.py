"""Scales that both halves of a film of two runs share: length, force and traction."""

from typing import TYPE_CHECKING

import numpy as np

from gomphosis.viz import palette
from gomphosis.viz.compared_layout import WIDTH
from gomphosis.viz.compared_scene import Scales
from gomphosis.viz.film_canvas import Canvas, write
from gomphosis.viz.film_curve import STEPS
from gomphosis.viz.film_layout import MARGIN
from gomphosis.viz.film_wall import traction_pixels

if TYPE_CHECKING:
    from PIL.Image import Image

RAMP, TALL = 200, 12  # px
LONGEST = 190.0  # px of a scale bar


def round_below(largest: float) -> float:
    """Return the largest of 1, 2, 5 times a power of ten that is not above a positive number."""
    power = 10.0 ** np.floor(np.log10(largest))
    steps = STEPS[:-1]
    return float(power * steps[np.searchsorted(steps, largest / power + 1e-9) - 1])


def draw_key(picture: "Image", scales: Scales, top: int) -> None:
    """Draw the three scales in a row into a picture."""
    from PIL import Image, ImageDraw

    row = picture.crop((0, top, WIDTH, top + 24))
    canvas, middle = Canvas(row), 11.0
    length = round_below(LONGEST / scales.pixels)
    force = round_below(min(scales.force, LONGEST / scales.pixels_per_newton))
    left = np.array([float(MARGIN), middle])
    across = np.array([1.0, 0.0])
    bar = np.stack([left, left + length * scales.pixels * across])
    canvas.line(bar, colour=palette.INK, width=3.0)
    tail = np.array([340.0, middle])
    head = tail + force * scales.pixels_per_newton * across
    canvas.arrow(tail, head, colour=palette.SERIES[5])
    row = canvas.finished()
    draw = ImageDraw.Draw(row)
    write(draw, (bar[1, 0] + 8, middle), f"{length:g} mm", anchor="lm")
    text = f"{force:g} N (below {scales.least_force:.2g} N none is drawn)"
    write(draw, (head[0] + 8, middle), text, anchor="lm")
    ramp = np.repeat(traction_pixels(np.linspace(-1, 1, RAMP))[None], TALL, axis=0)
    place = (850, round(middle) - TALL // 2)
    row.paste(Image.fromarray(ramp), place)
    reach = f"{scales.traction:.3g}"
    write(draw, (place[0] - 8, middle), f"compression {reach}", anchor="rm")
    text = f"tension {reach} kPa"
    write(draw, (place[0] + RAMP + 8, middle), text, anchor="lm")
    picture.paste(row, (0, top))
