"""What stands around both halves of a film of two runs: titles, week, captions, caution."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from gomphosis.viz import palette
from gomphosis.viz.compared_layout import (
    BETWEEN,
    HALF,
    TITLED,
    WIDTH,
    pictures_top,
    said_lines,
)
from gomphosis.viz.compared_runs import ComparedRun, Pair
from gomphosis.viz.film_canvas import SMALL, TEXT, TITLE, fitted, font, wrapped, write
from gomphosis.viz.film_layout import HEAD, LINE, MARGIN
from gomphosis.viz.film_surround import write_caution
from gomphosis.viz.wording import DAYS_A_WEEK, INVENTED, weeks_text

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw


def half_left(half: int) -> int:
    """Return the left edge of the half of A (0) or of B (1), px."""
    return MARGIN + half * (HALF + BETWEEN)


@dataclass(frozen=True)
class PairSurround:
    """Write what does not depend on what is drawn of two runs.

    Parameters
    ----------
    pair
        The runs.
    captions
        Upper edge of the captions, px.
    height
        Of the frame, px.
    """

    pair: Pair
    captions: int
    height: int

    @cached_property
    def _top(self) -> int:
        return pictures_top(self.pair)

    @cached_property
    def _said(self) -> int:
        return said_lines(self.pair)

    def background(self, title: str, remarks: Sequence[str]) -> "Image":
        """Return a frame with what no day changes: title, remarks below it, marks, caution."""
        from PIL import Image, ImageDraw

        picture = Image.new("RGB", (WIDTH, self.height), palette.PAPER)
        draw = ImageDraw.Draw(picture)
        write(draw, (MARGIN, 14), title, size=TEXT, bold=True)
        for row, remark in enumerate(remarks):
            write(draw, (MARGIN, 36 + LINE * row), remark, colour=palette.QUIET)
        draw.line((MARGIN, HEAD - 14, WIDTH - MARGIN, HEAD - 14), fill=palette.RULE, width=3)
        for half in range(len(self.pair.runs)):
            self._write_heading(draw, half)
        write_caution(draw, (WIDTH, self.height))
        return picture

    def write(self, draw: "ImageDraw", day: float) -> None:
        """Write the week, and of both runs what acts, whether it has ended, and what is said."""
        for half, run in enumerate(self.pair.runs):
            self._write_state(draw, run, day, half_left(half))
        self._write_week(draw, day)

    def _write_heading(self, draw: "ImageDraw", half: int) -> None:
        left = half_left(half)
        lines = wrapped(self.pair.headings[half], TITLED, size=TEXT)
        if len(lines) > 2:
            lines = [lines[0], fitted(" ".join(lines[1:]), HALF, size=TEXT, bold=True)]
        for k, line in enumerate(lines):
            write(draw, (left, HEAD + k * LINE), line, size=TEXT, bold=True)
        if self.pair.runs[half].invented:
            place = (left + HALF, self._top - LINE - 4)
            write(draw, place, INVENTED, bold=True, anchor="ra")

    def _write_state(self, draw: "ImageDraw", run: ComparedRun, day: float, left: int) -> None:
        place = (left, self._top - LINE - 4)
        if run.ended(day):
            text = f"ended in week {weeks_text(run.end)}"
            write(draw, place, text, bold=True)
            place = (left + draw.textlength(text, font=font(SMALL, bold=True)) + 10, place[1])
        write(draw, place, run.acting(day), colour=palette.QUIET)
        lines, most = wrapped(run.caption(day), HALF, size=TEXT), self._said
        if len(lines) > most:
            kept = lines[: max(most - 1, 0)]
            rest = " ".join(lines[len(kept) :])
            lines = [*kept, fitted(rest, HALF, size=TEXT)][:most]
        for k, line in enumerate(lines):
            write(draw, (left, self.captions + k * (LINE + 2)), line, size=TEXT)

    def _write_week(self, draw: "ImageDraw", day: float) -> None:
        end = self.pair.end
        text = f"week {day / DAYS_A_WEEK:.1f} of {weeks_text(end)}"
        write(draw, (WIDTH - MARGIN, 12), text, size=TITLE, bold=True, anchor="ra")
        right = MARGIN + (WIDTH - 2 * MARGIN) * (day / end if end > 0 else 1.0)
        draw.line((MARGIN, HEAD - 14, right, HEAD - 14), fill=palette.INK, width=3)
