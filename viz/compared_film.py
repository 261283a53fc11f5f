"""Film of two runs side by side: the same scales, the same weeks."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.viz import palette
from gomphosis.viz.compared_curve import PairCurve, pair_curves
from gomphosis.viz.compared_key import draw_key
from gomphosis.viz.compared_layout import CURVE, WIDTH, PairLayout, curve_plan, pair_layout
from gomphosis.viz.compared_runs import Pair
from gomphosis.viz.compared_scene import FRONT, VIEWS, ComparedScene
from gomphosis.viz.compared_surround import PairSurround
from gomphosis.viz.film_canvas import Canvas, write
from gomphosis.viz.film_files import (
    FIXED,
    MOST_FRAMES,
    Movie,
    Progress,
    chosen_frames,
    drawn,
    save_film,
)
from gomphosis.viz.film_layout import MARGIN, Box

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

STEM = "compared"
SHADES = (
    *FIXED,
    *(palette.SERIES[k] for k in (1, 2, 5)),
    *("#" + bytes(colour).hex() for colour in palette.traction_bytes()[::12]),
)
"""Colours that keep their exact shade in the GIF: the traction scale as well."""


@dataclass(frozen=True)
class ComparedFilm:
    """Draw the frames of two runs.

    Parameters
    ----------
    pair
        The runs.
    """

    pair: Pair

    @cached_property
    def layout(self) -> PairLayout:
        """Places of everything."""
        return pair_layout(self.pair)

    @cached_property
    def days(self) -> list[float]:
        """Days of the frames, rising: those on which either run has a record, thinned evenly."""
        return even_days([run.days for run in self.pair.runs])

    @cached_property
    def scenes(self) -> tuple[ComparedScene, ...]:
        """Both views of both runs, placed on the strip of views."""
        top = self._strip.top
        found = []
        for run, boxes in zip(self.pair.runs, self.layout.boxes, strict=True):
            for view in VIEWS:
                box = boxes[view]
                placed = Box(box.left, box.top - top, box.width, box.height)
                found.append(ComparedScene(run, view, placed, self.layout.scales))
        return tuple(found)

    @cached_property
    def _strip(self) -> Box:
        boxes = [box for half in self.layout.boxes for box in half.values()]
        top = min(box.top for box in boxes)
        return Box(0, top, WIDTH, max(box.top + box.height for box in boxes) - top)

    @cached_property
    def curves(self) -> tuple[PairCurve, ...]:
        """Curves below the views, from left to right."""
        quantities, width = curve_plan(self.pair)
        by_quantity = [pair_curves(self.pair, q, width - 14, CURVE) for q in quantities]
        # those of one tooth beside each other
        return tuple(curve for of_tooth in zip(*by_quantity, strict=True) for curve in of_tooth)

    def frame(self, day: float) -> "Image":
        """Return the picture of a day."""
        from PIL import ImageDraw

        picture = self._background.copy()
        strip = self._strip
        edges = (strip.left, strip.top, strip.left + strip.width, strip.top + strip.height)
        canvas = Canvas(self._background.crop(edges))
        for scene in self.scenes:
            scene.draw(canvas, scene.run.row(day))
        picture.paste(canvas.finished(), edges[:2])
        _, width = curve_plan(self.pair)
        for k, curve in enumerate(self.curves):
            picture.paste(curve.picture(day), (MARGIN + k * width, self.layout.curves))
        draw = ImageDraw.Draw(picture)
        self._write_numbers(draw)
        self._surround.write(draw, day)
        return picture

    def _write_numbers(self, draw: "ImageDraw") -> None:
        """Write the number of every tooth beside its crown, clear of it on all days."""
        for scene in self.scenes:
            below = scene.run.head["upper"]
            for number, (low, high) in zip(scene.run.numbers, scene.extents, strict=True):
                middle, top = 0.5 * (low[0] + high[0]), self._strip.top
                place = (middle, top + high[1] + 4) if below else (middle, top + low[1] - 4)
                write(draw, place, str(number), bold=True, anchor="ma" if below else "md")

    @cached_property
    def _surround(self) -> PairSurround:
        return PairSurround(self.pair, self.layout.captions, self.layout.height)

    @cached_property
    def _background(self) -> "Image":
        """What no frame changes."""
        from PIL import ImageDraw

        picture = self._surround.background("Two runs side by side", self.remarks())
        draw = ImageDraw.Draw(picture)
        for run, boxes in zip(self.pair.runs, self.layout.boxes, strict=True):
            for view, box in boxes.items():
                edges = (box.left, box.top, box.left + box.width, box.top + box.height)
                draw.rectangle(edges, fill=palette.SHADE)
                seen = run.case["arch"]["seen"] if view == FRONT else "biting side"
                write(draw, (box.left + 6, box.top + 4), seen, colour=palette.QUIET)
        draw_key(picture, self.layout.scales, self.layout.key)
        return picture

    def remarks(self) -> tuple[str, str]:
        """Return the two lines below the title."""
        first = (
            "Median person · dashed outline: start · heavy line: wire · arrow: force on the tooth "
            "· both halves in one scale, movement true to it"
        )
        second = (
            "Sides of the sockets: strokes compression, dots tension · curves: A solid, B dashed"
        )
        note = self.pair.note.rstrip(".")
        return first, f"{second} · {note[:1].lower()}{note[1:]}" if note else second


def even_days(of_runs: Sequence[Array]) -> list[float]:
    """Return the days of two runs, rising, thinned evenly where there are too many."""
    every = np.unique(np.concatenate(of_runs))
    if len(every) > MOST_FRAMES:
        even = np.linspace(every[0], every[-1], MOST_FRAMES)
        every = every[np.unique(np.searchsorted(every, even + 1e-9, side="right") - 1)]
    return [float(day) for day in every]


def save_compared_film(pair: Pair, folder: Path, progress: Progress | None = None) -> None:
    """Write the film of two runs, ``compared.gif`` and what goes with it.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    film = ComparedFilm(pair)
    pictures = drawn(film.frame, film.days, progress, what="frame")
    movie = Movie(pictures, chosen_frames(film.days, pair.story()), fixed=SHADES)
    save_film(movie, folder, STEM)
