"""Curves of two runs in one panel of a film, each with a mark that runs along it."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from gomphosis.fem.section import Array
from gomphosis.viz import palette
from gomphosis.viz.compared_figure import COLOURS, Quantity, median_of
from gomphosis.viz.compared_runs import Pair
from gomphosis.viz.film_canvas import Canvas, write
from gomphosis.viz.film_curve import BELOW, Curve, round_top

if TYPE_CHECKING:
    from PIL.Image import Image

ASIDE = 18  # px, room for the letters beside the marks
NEAR = 14.0  # px, between letters


@dataclass(frozen=True)
class TwoCurves:
    """One quantity over the weeks, of both runs or of the one that has it.

    Parameters
    ----------
    title
        What it is, with its unit.
    lines
        Days and values by the letter of the run.
    top
        At the upper end of the scale.
    end
        Day at the right end.
    width, height
        Of the panel, px.
    """

    title: str
    lines: Mapping[str, tuple[Array, Array]]
    top: float
    end: float
    width: int
    height: int

    @cached_property
    def curves(self) -> dict[str, Curve]:
        """Curve of each run, by its letter."""
        return {
            letter: Curve(
                days,
                values,
                self.top,
                "",
                COLOURS[letter],
                self.width - ASIDE,
                self.height,
                end=self.end,
                dashed=letter == "B",
            )
            for letter, (days, values) in self.lines.items()
        }

    @cached_property
    def _background(self) -> "Image":
        from PIL import Image, ImageDraw

        picture = Image.new("RGB", (self.width, self.height), palette.PAPER)
        first = next(iter(self.curves.values()))
        picture.paste(first.background, (0, 0))
        write(ImageDraw.Draw(picture), (0, 0), self.title, bold=True)
        return picture

    def picture(self, day: float) -> "Image":
        """Return the panel at a day."""
        from PIL import ImageDraw

        canvas = Canvas(self._background)
        for curve in self.curves.values():
            curve.draw(canvas, day)
        picture = canvas.finished()
        draw = ImageDraw.Draw(picture)
        marks = {letter: curve.mark(day) for letter, curve in self.curves.items()}
        heights = {letter: float(mark[1]) for letter, mark in marks.items()}
        if len(marks) == 2 and abs(marks["A"][0] - marks["B"][0]) < NEAR:
            heights = _apart(heights, self.height - BELOW - 0.5 * NEAR)
        for letter, mark in marks.items():
            place = (float(mark[0]) + 8, heights[letter])
            write(draw, place, letter, bold=True, colour=COLOURS[letter], anchor="lm")
        return picture


@dataclass(frozen=True)
class PairCurve:
    """One quantity of one tooth over the weeks, for the runs that have it.

    Parameters
    ----------
    pair
        The runs.
    number
        Of the tooth.
    quantity
        Which.
    top
        At the upper end of the scale.
    width, height
        Of the panel, px.
    """

    pair: Pair
    number: int
    quantity: Quantity
    top: float
    width: int
    height: int

    @cached_property
    def panel(self) -> TwoCurves:
        """What is drawn."""
        lines = {
            run.letter: (run.days, median_of(run, self.number, self.quantity))
            for run in self.pair.runs
            if self.number in run.numbers
        }
        title = f"tooth {self.number}: {self.quantity.name}"
        return TwoCurves(title, lines, self.top, self.pair.end, self.width, self.height)

    @property
    def curves(self) -> dict[str, Curve]:
        """Curve of each run that has the tooth, by its letter."""
        return self.panel.curves

    def picture(self, day: float) -> "Image":
        """Return the panel at a day."""
        return self.panel.picture(day)


def _apart(heights: dict[str, float], lowest: float) -> dict[str, float]:
    """Return heights of two letters, px, moved apart where they would meet, none below a limit."""
    upper, lower = sorted(heights, key=lambda letter: (heights[letter], letter))
    short = max(0.0, NEAR - (heights[lower] - heights[upper]))
    down = min(heights[lower] + 0.5 * short, lowest)
    return {lower: down, upper: min(heights[upper] - 0.5 * short, down - NEAR)}


def pair_curves(pair: Pair, quantity: Quantity, width: int, height: int) -> list[PairCurve]:
    """Return the curves of all shown teeth, to one scale."""
    values = [
        float(median_of(run, number, quantity).max())
        for number in pair.shown
        for run in pair.runs
        if number in run.numbers
    ]
    top = round_top(max(quantity.least, *values))
    return [PairCurve(pair, number, quantity, top, width, height) for number in pair.shown]
