"""Film of two runs side by side: the same scales, the same weeks."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.viz import palette
from gomphosis.viz.compared_curve import PairCurve, pair_curves
from gomphosis.viz.compared_key import draw_key
from gomphosis.viz.compared_layout import (
    CURVE,
    HALF,
    TITLED,
    WIDTH,
    PairLayout,
    curve_plan,
    pair_layout,
)
from gomphosis.viz.compared_runs import ComparedRun, Pair
from gomphosis.viz.compared_scene import FRONT, VIEWS, ComparedScene
from gomphosis.viz.film_canvas import SMALL, TEXT, TITLE, Canvas, fitted, font, wrapped, write
from gomphosis.viz.film_files import (
    FIXED,
    MOST_FRAMES,
    Movie,
    Progress,
    chosen_frames,
    drawn,
    save_film,
)
from gomphosis.viz.film_layout import HEAD, LINE, MARGIN, Box
from gomphosis.viz.film_surround import write_caution
from gomphosis.viz.wording import DAYS_A_WEEK, INVENTED, weeks_text

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
        every = np.unique(np.concatenate([run.days for run in self.pair.runs]))
        if len(every) > MOST_FRAMES:
            even = np.linspace(every[0], every[-1], MOST_FRAMES)
            every = every[np.unique(np.searchsorted(every, even + 1e-9, side="right") - 1)]
        return [float(day) for day in every]

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
        for run, boxes in zip(self.pair.runs, self.layout.boxes, strict=True):
            self._write_state(draw, run, day, boxes[FRONT])
        self._write_week(draw, day)
        return picture

    def _write_state(self, draw: "ImageDraw", run: ComparedRun, day: float, box: Box) -> None:
        """Write what acts on one run, whether it has ended, and what is said of it."""
        place = (box.left, box.top - LINE - 4)
        acting = run.acting(day)
        if run.ended(day):
            text = f"ended in week {weeks_text(run.end)}"
            write(draw, place, text, bold=True)
            place = (place[0] + draw.textlength(text, font=font(SMALL, bold=True)) + 10, place[1])
        write(draw, place, acting, colour=palette.QUIET)
        lines = wrapped(run.caption(day), HALF, size=TEXT)
        if len(lines) > self.layout.said:
            kept = lines[: max(self.layout.said - 1, 0)]
            rest = " ".join(lines[len(kept) :])
            lines = [*kept, fitted(rest, HALF, size=TEXT)][: self.layout.said]
        for k, line in enumerate(lines):
            write(draw, (box.left, self.layout.captions + k * (LINE + 2)), line, size=TEXT)

    def _write_week(self, draw: "ImageDraw", day: float) -> None:
        end = self.pair.end
        text = f"week {day / DAYS_A_WEEK:.1f} of {weeks_text(end)}"
        write(draw, (WIDTH - MARGIN, 12), text, size=TITLE, bold=True, anchor="ra")
        right = MARGIN + (WIDTH - 2 * MARGIN) * (day / end if end > 0 else 1.0)
        draw.line((MARGIN, HEAD - 14, right, HEAD - 14), fill=palette.INK, width=3)

    def _write_numbers(self, draw: "ImageDraw") -> None:
        """Write the number of every tooth beside its crown, clear of it on all days."""
        for scene in self.scenes:
            below = scene.run.head["upper"]
            for number, (low, high) in zip(scene.run.numbers, scene.extents, strict=True):
                middle, top = 0.5 * (low[0] + high[0]), self._strip.top
                place = (middle, top + high[1] + 4) if below else (middle, top + low[1] - 4)
                write(draw, place, str(number), bold=True, anchor="ma" if below else "md")

    @cached_property
    def _background(self) -> "Image":
        """What no frame changes."""
        from PIL import Image, ImageDraw

        picture = Image.new("RGB", (WIDTH, self.layout.height), palette.PAPER)
        draw = ImageDraw.Draw(picture)
        write(draw, (MARGIN, 14), "Two runs side by side", size=TEXT, bold=True)
        for row, remark in enumerate(self.remarks()):
            write(draw, (MARGIN, 36 + LINE * row), remark, colour=palette.QUIET)
        draw.line((MARGIN, HEAD - 14, WIDTH - MARGIN, HEAD - 14), fill=palette.RULE, width=3)
        for run, boxes in zip(self.pair.runs, self.layout.boxes, strict=True):
            self._write_heading(draw, run, boxes[FRONT])
            for view, box in boxes.items():
                edges = (box.left, box.top, box.left + box.width, box.top + box.height)
                draw.rectangle(edges, fill=palette.SHADE)
                seen = run.case["arch"]["seen"] if view == FRONT else "biting side"
                write(draw, (box.left + 6, box.top + 4), seen, colour=palette.QUIET)
        draw_key(picture, self.layout.scales, self.layout.key)
        write_caution(draw, (WIDTH, self.layout.height))
        return picture

    def _write_heading(self, draw: "ImageDraw", run: ComparedRun, box: Box) -> None:
        lines = wrapped(run.heading, TITLED, size=TEXT)
        if len(lines) > 2:
            lines = [lines[0], fitted(" ".join(lines[1:]), HALF, size=TEXT, bold=True)]
        for k, line in enumerate(lines):
            write(draw, (box.left, HEAD + k * LINE), line, size=TEXT, bold=True)
        if run.invented:
            place = (box.left + box.width, box.top - LINE - 4)
            write(draw, place, INVENTED, bold=True, anchor="ra")

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

    def story(self) -> list[float]:
        """Return days worth a still picture: those on which something happens in either run."""
        said = [day for run in self.pair.runs for day, _ in run.captions]
        keys = [key["day"] for run in self.pair.runs for key in run.head["keys"]]
        return [*(run.end for run in self.pair.runs), *said, *keys]


def save_compared_film(pair: Pair, folder: Path, progress: Progress | None = None) -> None:
    """Write the film of two runs, ``compared.gif`` and what goes with it.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    film = ComparedFilm(pair)
    pictures = drawn(film.frame, film.days, progress, what="frame")
    movie = Movie(pictures, chosen_frames(film.days, film.story()), fixed=SHADES)
    save_film(movie, folder, STEM)
