"""Film of a run's slices: bone resorbed and laid down day by day, beside the force over time."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.captions import Captions
from gomphosis.viz.film_canvas import (
    TEXT,
    TITLE,
    fitted,
    write,
    write_caption,
)
from gomphosis.viz.film_curve import Curve, round_top
from gomphosis.viz.film_files import (
    FIXED,
    MOST_FRAMES,
    Movie,
    Progress,
    chosen_frames,
    drawn,
    save_film,
)
from gomphosis.viz.film_layout import CAPTION, FOOT, LINE, MARGIN, Box
from gomphosis.viz.film_surround import write_caution
from gomphosis.viz.slice_figure import largest_traction
from gomphosis.viz.slice_numbers import LEAST_AREA, key_texts, write_key, write_numbers
from gomphosis.viz.slice_scene import SliceScene
from gomphosis.viz.slice_state import SliceState
from gomphosis.viz.slice_view import SliceView, slice_views
from gomphosis.viz.wording import invented_text, weeks_text

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

WIDTH = 960  # px
HEAD = 76  # px
MOST_SLICES, COLUMNS = 6, 3
ALONE = (540, 760)  # px, picture of a single slice; text stands beside it
TALL, TEXTS = 440, 128  # px, picture and text of one of several
OPENED = 4  # lines for what opens
CURVE, CURVE_ALONE = 104, 190  # px, height of the force over time
CURVE_BELOW = 226  # px from the top of the text of a single slice
STEM = "slice"
PAUSE = 160  # ms
LEAST_FORCE = 0.01  # N, least reach of the curve
SHADES = (
    *FIXED,
    palette.SOFT_TISSUE,
    palette.LIGAMENT,
    palette.BONE_FULL,
    palette.COMPRESSION,
    palette.TENSION,
    palette.SERIES[5],
)


@dataclass(frozen=True)
class SliceFilm:
    """Draw the frames of the slices of one result.

    Parameters
    ----------
    result
        A finished run.

    Raises
    ------
    ValueError
        If the run has no slice with a state to show.
    """

    result: RunResult

    def __post_init__(self) -> None:
        if not self.views:
            raise ValueError("a film of slices needs a run with a slice that did not stop at once")

    @cached_property
    def views(self) -> tuple[SliceView, ...]:
        """Slices that are shown."""
        return slice_views(self.result)[:MOST_SLICES]

    @cached_property
    def days(self) -> list[float]:
        """Days of the film's frames, rising: those kept of any slice, thinned if too many."""
        kept = sorted({frame.day for view in self.views for frame in view.opened.track.frames})
        if len(kept) <= MOST_FRAMES:
            return kept
        chosen = np.unique(np.linspace(0, len(kept) - 1, MOST_FRAMES).round().astype(int))
        return [kept[k] for k in chosen]

    @cached_property
    def boxes(self) -> tuple[tuple[Box, Box], ...]:
        """Places of every slice's picture and text."""
        if len(self.views) == 1:
            left = 2 * MARGIN + ALONE[0]
            text = Box(left, HEAD, WIDTH - MARGIN - left, ALONE[1])
            return ((Box(MARGIN, HEAD, *ALONE), text),)
        columns = min(COLUMNS, len(self.views))
        wide = (WIDTH - MARGIN) // columns
        opens = any(view.opened.track.openings for view in self.views)
        tall = TEXTS + OPENED * LINE * opens + CURVE
        places = []
        for k in range(len(self.views)):
            row, column = divmod(k, columns)
            left, top = MARGIN + column * wide, HEAD + row * (LINE + TALL + tall)
            picture = Box(left, top + LINE + 4, wide - MARGIN, TALL - 4)
            places.append((picture, Box(left, top + LINE + TALL, wide - MARGIN, tall)))
        return tuple(places)

    @property
    def height(self) -> int:
        """Of a frame, px; its width is `WIDTH`."""
        return max(text.top + text.height for _, text in self.boxes) + CAPTION + FOOT

    @cached_property
    def largest_traction(self) -> float:
        """Traction at the ends of the colour scale, kPa: the largest of the whole film."""
        return largest_traction(self.views)

    @cached_property
    def largest_area(self) -> float:
        """Area at the end of the bars, mm2: the largest of the whole film."""
        ends = [view.opened.track.frames[-1].books for view in self.views]
        return max(LEAST_AREA, *(max(books.resorbed, books.deposited) for books in ends))

    @cached_property
    def _scenes(self) -> tuple[SliceScene, ...]:
        return tuple(
            SliceScene(view, box.width, box.height, self.largest_traction)
            for view, (box, _) in zip(self.views, self.boxes, strict=True)
        )

    @cached_property
    def captions(self) -> Captions:
        """What is said under the pictures."""
        return Captions(self.result)

    @cached_property
    def curves(self) -> tuple[Curve, ...]:
        """The force in the plane of every slice over the days it was followed."""
        largest = [float(np.hypot(*v.opened.track.load[:, :2].T).max()) for v in self.views]
        top = round_top(max(LEAST_FORCE, *largest))
        tall = CURVE_ALONE if len(self.views) == 1 else CURVE
        return tuple(
            Curve(
                view.opened.track.days,
                np.hypot(*view.opened.track.load[:, :2].T),
                top,
                "force in the plane, N",
                palette.SERIES[5],
                text.width,
                tall,
            )
            for view, (_, text) in zip(self.views, self.boxes, strict=True)
        )

    def _curve_place(self, text: Box) -> tuple[int, int]:
        if len(self.views) == 1:
            return text.left, text.top + CURVE_BELOW
        return text.left, text.top + text.height - CURVE

    def frame(self, day: float) -> "Image":
        """Return the picture of a day."""
        from PIL import ImageDraw

        picture = self._background.copy()
        draw = ImageDraw.Draw(picture)
        for view, scene, (box, text) in zip(self.views, self._scenes, self.boxes, strict=True):
            state = view.state(view.frame_index(day))
            picture.paste(scene.picture(state), (box.left, box.top))
            self._write_state(draw, view, state, text)
        for curve, (_, text) in zip(self.curves, self.boxes, strict=True):
            last = float(curve.days[-1])
            picture.paste(curve.picture(min(day, last)), self._curve_place(text))
        self._write_day(draw, day)
        place = (MARGIN, self.height - FOOT - CAPTION + 8)
        write_caption(draw, place, self.captions.at(day), WIDTH - 2 * MARGIN)
        return picture

    def _write_day(self, draw: "ImageDraw", day: float) -> None:
        end = self.days[-1]
        text = f"day {day:g} · week {weeks_text(day)} of {weeks_text(end)}"
        write(draw, (WIDTH - MARGIN, 10), text, size=TITLE, bold=True, anchor="ra")
        right = MARGIN + (WIDTH - 2 * MARGIN) * (day / end if end > 0 else 1.0)
        draw.line((MARGIN, HEAD - 12, right, HEAD - 12), fill=palette.INK, width=3)

    def _write_state(self, draw: "ImageDraw", view: SliceView, state: SliceState, box: Box) -> None:
        """Write force, books and openings of one slice from the top of its box."""
        alone = len(self.views) == 1
        if not alone:
            place = (box.left, box.top - TALL - LINE)
            write(draw, place, fitted(view.label, box.width, size=TEXT, bold=True), bold=True)
        top = box.top + (2 * LINE if alone else 6)
        room = Box(box.left, top, box.width, box.top + box.height - top)
        write_numbers(draw, view.sides, state, box=room, largest=self.largest_area)

    @cached_property
    def _background(self) -> "Image":
        """What no frame changes."""
        from PIL import Image, ImageDraw

        picture = Image.new("RGB", (WIDTH, self.height), palette.PAPER)
        draw = ImageDraw.Draw(picture)
        scenario = self.result.scenario
        room = WIDTH - 2 * MARGIN - 300
        title = fitted(theme.printable(scenario.title), room, size=TEXT, bold=True)
        write(draw, (MARGIN, 12), title, size=TEXT, bold=True)
        write(draw, (MARGIN, 36), self.remark(), colour=palette.QUIET)
        mark = invented_text(scenario)
        if mark:
            write(draw, (WIDTH - MARGIN, 38), mark, bold=True, anchor="ra")
        draw.line((MARGIN, HEAD - 12, WIDTH - MARGIN, HEAD - 12), fill=palette.RULE, width=3)
        if len(self.views) == 1:
            self._write_key(draw, self.boxes[0][1])
        write_caution(draw, (WIDTH, self.height))
        return picture

    def remark(self) -> str:
        """Return the line below the title."""
        text = "Median person · arrow: force · strokes: resorbed, compressed"
        text += " · dots: laid down, stretched"
        total = len(slice_views(self.result))
        if total > len(self.views):
            text += f" · first {len(self.views)} of {total}"
        return text

    def _write_key(self, draw: "ImageDraw", box: Box) -> None:
        view = self.views[0]
        heading = f"{view.label}, {view.opened.model.plane} plane"
        write(draw, (box.left, box.top), heading, size=TEXT, bold=True)
        write_key(draw, key_texts(self.largest_traction), box)


def slice_frames(
    film: SliceFilm, days: Sequence[float], progress: Progress | None = None
) -> list["Image"]:
    """Return the pictures of days, in colour."""
    return drawn(film.frame, days, progress, what="slice frame")


def save_slice_animation(result: RunResult, folder: Path, progress: Progress | None = None) -> None:
    """Write the film of a run's slices, ``slice.gif`` and what goes with it.

    Parameters
    ----------
    folder
        Where to.
    progress
        Told the share done and what is being done.

    Raises
    ------
    ValueError
        If the run has no slice with a state to show.
    """
    film = SliceFilm(result)
    chosen = chosen_frames(film.days, film.captions.story())
    pictures = slice_frames(film, film.days, progress)
    save_film(Movie(pictures, chosen, fixed=SHADES, pause=PAUSE), folder, STEM)
