"""Head and foot of a film's frames: title, mark of made-up data, week, caption and caution."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from gomphosis.scenarios.caution import SHORT
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.stages import stages
from gomphosis.viz import palette, theme
from gomphosis.viz.captions import Captions
from gomphosis.viz.film_canvas import TEXT, TITLE, fitted, wrapped, write, write_caption
from gomphosis.viz.film_layout import CAPTION, FOOT, HEAD, LINE, MARGIN
from gomphosis.viz.wording import DAYS_A_WEEK, invented_text, visits, weeks_text

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

RIGHT = 250  # px beside the title, for the week


@dataclass(frozen=True)
class Surround:
    """Write what stands around the pictures of a run's film.

    Parameters
    ----------
    result
        A finished run.
    width, height
        Of the frame, px.
    """

    result: RunResult
    width: int
    height: int

    @cached_property
    def captions(self) -> Captions:
        """What is said under the pictures."""
        return Captions(self.result)

    def background(self, remarks: Sequence[str]) -> "Image":
        """Return a frame with what does not change: title, remarks below it, mark and caution."""
        from PIL import Image, ImageDraw

        picture = Image.new("RGB", (self.width, self.height), palette.PAPER)
        draw = ImageDraw.Draw(picture)
        scenario = self.result.scenario
        room = self.width - 2 * MARGIN - RIGHT
        title = fitted(theme.printable(scenario.title), room, size=TEXT, bold=True)
        write(draw, (MARGIN, 14), title, size=TEXT, bold=True)
        for row, remark in enumerate(remarks):
            write(draw, (MARGIN, 36 + LINE * row), remark, colour=palette.QUIET)
        mark = invented_text(scenario)
        right = self.width - MARGIN
        if mark:
            write(draw, (right, 58), mark, bold=True, anchor="ra")
        draw.line((MARGIN, HEAD - 14, right, HEAD - 14), fill=palette.RULE, width=3)
        write_caution(draw, (self.width, self.height))
        return picture

    def write_state(self, draw: "ImageDraw", record: int) -> None:
        """Write week, acting wire and caption at a record of the median runs."""
        self._write_week(draw, record)
        day = float(self.result.cases[0].median.days[record])
        place = (MARGIN, self.height - FOOT - CAPTION + 8)
        write_caption(draw, place, self.captions.at(day), self.width - 2 * MARGIN)

    def _write_week(self, draw: "ImageDraw", record: int) -> None:
        track = self.result.cases[0].median
        day, end = float(track.days[record]), float(track.days[-1])
        text = f"week {day / DAYS_A_WEEK:.1f} of {weeks_text(end)}"
        right = self.width - MARGIN
        write(draw, (right, 12), text, size=TITLE, bold=True, anchor="ra")
        wires = visits(self.result.scenario)
        if wires:
            stage = stages(self.result.scenario)[int(track.period[record])]
            acting = wires[stage.wire][1]
            write(draw, (right, 41), acting, anchor="ra", colour=palette.QUIET)
        gone = MARGIN + (self.width - 2 * MARGIN) * day / end
        draw.line((MARGIN, HEAD - 14, gone, HEAD - 14), fill=palette.INK, width=3)


def write_caution(draw: "ImageDraw", size: tuple[int, int]) -> None:
    """Write the caution at the foot of a frame of a size in px, in two lines."""
    width, height = size
    # a no-break space keeps the dot at the end of its line
    lines = wrapped(SHORT.replace(" · ", "\u00a0· "), width - 2 * MARGIN)
    for k, line in enumerate(lines[:2]):
        write(draw, (MARGIN, height - FOOT + 8 + k * LINE), line, colour=palette.QUIET)
