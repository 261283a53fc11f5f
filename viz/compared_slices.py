"""Film of slices of two runs side by side: bone, ligament and force, the same scales and weeks."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.viz import palette, slice_film
from gomphosis.viz.compared_curve import TwoCurves
from gomphosis.viz.compared_film import even_days
from gomphosis.viz.compared_key import draw_key
from gomphosis.viz.compared_runs import Pair
from gomphosis.viz.compared_scene import Scales
from gomphosis.viz.compared_slices_layout import SlicesLayout, slices_layout
from gomphosis.viz.compared_surround import PairSurround
from gomphosis.viz.film_canvas import TEXT, fitted, write
from gomphosis.viz.film_curve import round_top
from gomphosis.viz.film_files import Movie, Progress, chosen_frames, drawn, save_film
from gomphosis.viz.film_layout import LINE, Box
from gomphosis.viz.recorded_slice import RecordedSlice
from gomphosis.viz.slice_numbers import LEAST_AREA, key_texts, write_key, write_numbers
from gomphosis.viz.slice_pairs import SlicePair, slice_pairs, slices_note
from gomphosis.viz.slice_scene import SliceScene
from gomphosis.viz.slice_view import ARROW

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

STEM = "compared_slices"
SHADES = (
    *slice_film.SHADES,
    *(palette.SERIES[k] for k in (1, 2)),
    *("#" + bytes(colour).hex() for colour in palette.traction_bytes()[::12]),
)


@dataclass(frozen=True)
class ComparedSlices:
    """Draw the frames of the slices of two runs.

    Parameters
    ----------
    pair
        The runs.

    Raises
    ------
    ValueError
        If one of them has no slice.
    """

    pair: Pair

    def __post_init__(self) -> None:
        if not self.shown:
            raise ValueError("a film of slices of two runs needs slices of both")

    @cached_property
    def shown(self) -> tuple[SlicePair, ...]:
        """Slices beside each other."""
        return slice_pairs(self.pair)

    @cached_property
    def _every(self) -> list[RecordedSlice]:
        return [shown for found in self.shown for shown in found.both]

    @cached_property
    def layout(self) -> SlicesLayout:
        """Places of everything."""
        return slices_layout(self.pair, self.shown)

    @cached_property
    def days(self) -> list[float]:
        """Days of the frames, rising: those of any state, and the end of the longer run."""
        return even_days([*(shown.days for shown in self._every), np.array([self.pair.end])])

    @cached_property
    def scales(self) -> Scales:
        """What all pictures share."""
        first = self._every[0]
        assert first.longest is not None
        traction = max(shown.largest_traction for shown in self._every)
        return Scales(self.layout.pixels, first.longest, traction, arrow=ARROW)

    @cached_property
    def largest_area(self) -> float:
        """Area at the end of all bars, mm2."""
        return max(LEAST_AREA, *(shown.largest_area for shown in self._every))

    @cached_property
    def scenes(self) -> list[tuple[SliceScene, RecordedSlice, Box, Box]]:
        """Every slice with its scene and the places of picture and text."""
        found = []
        for pair, boxes in zip(self.shown, self.layout.boxes, strict=True):
            for shown, (box, text) in zip(pair.both, boxes, strict=True):
                scene = SliceScene(
                    shown, box.width, box.height, self.scales.traction, fit=self.scales.pixels
                )
                found.append((scene, shown, box, text))
        return found

    @cached_property
    def curves(self) -> tuple[TwoCurves, ...]:
        """The force in the plane of both runs, one panel for each pair, to one scale."""
        top = round_top(self.scales.force)
        curves = []
        for pair, box in zip(self.shown, self.layout.curves, strict=True):
            lines = {shown.run.letter: shown.load for shown in pair.both}
            title = f"{self._named(pair)}: force in the plane, N"
            curves.append(TwoCurves(title, lines, top, self.pair.end, box.width, box.height))
        return tuple(curves)

    @staticmethod
    def _named(pair: SlicePair) -> str:
        if pair.same:
            return pair.first.label
        return f"A {pair.first.label}, B {pair.second.label}"

    @cached_property
    def _surround(self) -> PairSurround:
        return PairSurround(self.pair, self.layout.captions, self.layout.height)

    def frame(self, day: float) -> "Image":
        """Return the picture of a day."""
        from PIL import ImageDraw

        picture = self._background.copy()
        draw = ImageDraw.Draw(picture)
        for scene, shown, box, text in self.scenes:
            state = shown.state_at(day)
            picture.paste(scene.picture(state), (box.left, box.top))
            write_numbers(draw, shown.sides, state, box=text, largest=self.largest_area)
        for curve, box in zip(self.curves, self.layout.curves, strict=True):
            picture.paste(curve.picture(day), (box.left, box.top))
        self._surround.write(draw, day)
        return picture

    @cached_property
    def _background(self) -> "Image":
        """What no frame changes."""
        from PIL import ImageDraw

        picture = self._surround.background("Slices of two runs side by side", self.remarks())
        draw = ImageDraw.Draw(picture)
        for half, (_, shown, box, text) in enumerate(self.scenes):
            self._write_label(draw, shown.label, box)
            if len(self.shown) == 1:
                # beside the pictures there is room: half of it each
                texts = key_texts(self.scales.traction)
                write_key(draw, texts[2 * half : 2 * half + 2], text)
        draw_key(picture, self.scales, self.layout.key)
        return picture

    @staticmethod
    def _write_label(draw: "ImageDraw", label: str, box: Box) -> None:
        text = fitted(label, box.width, size=TEXT, bold=True)
        write(draw, (box.left, box.top - LINE - 2), text, size=TEXT, bold=True)

    def remarks(self) -> tuple[str, str]:
        """Return the two lines below the title."""
        first = (
            "Median person · dashed: root at the start · arrow: force in the plane · heavy line: "
            "plate open · both halves in one scale, movement true to it"
        )
        second = (
            "Blue, strokes: bone resorbed, wall compressed · orange, dots: bone laid down, wall "
            "stretched · curves: A solid, B dashed"
        )
        note = slices_note(self.pair)
        return first, f"{second} · {note}" if note else second


def save_compared_slices(pair: Pair, folder: Path, progress: Progress | None = None) -> None:
    """Write the film of slices of two runs, ``compared_slices.gif`` and what goes with it.

    Raises
    ------
    ValueError
        If one of the runs has no slice.
    OSError
        If a file cannot be written.
    """
    film = ComparedSlices(pair)
    pictures = drawn(film.frame, film.days, progress, what="slice frame")
    chosen = chosen_frames(film.days, pair.story())
    save_film(Movie(pictures, chosen, fixed=SHADES, pause=slice_film.PAUSE), folder, STEM)
