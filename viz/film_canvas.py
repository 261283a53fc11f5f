"""Drawing on a frame of the film: smooth shapes at twice the size, then crisp text."""

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gomphosis.fem.section import Array
from gomphosis.viz import palette

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

OVER = 2  # supersampling
DASH, GAP = 5.0, 4.0  # px
SMALL, TEXT, SAID, TITLE = 13, 14, 16, 20  # px; 13 px are 9.75 pt at 96 dots to the inch
CAPTION_LINES, CAPTION_STEP = 2, 22  # lines, px


@cache
def font(size: int, *, bold: bool = False) -> "FreeTypeFont":
    """Return a font of the plotting library at a size in px."""
    import matplotlib
    from PIL import ImageFont

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    path = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name
    return ImageFont.truetype(path, size, layout_engine=ImageFont.Layout.BASIC)


class Canvas:
    """Shapes of one frame, drawn smoothly.

    Parameters
    ----------
    background
        Frame to draw over, at its final size; it is not changed.
    """

    def __init__(self, background: "Image") -> None:
        from PIL import ImageDraw

        self._large = background.resize((background.width * OVER, background.height * OVER), 0)
        self._draw = ImageDraw.Draw(self._large)

    def polygon(self, points: Array, *, fill: str | None, edge: str, width: float = 1.0) -> None:
        """Draw a closed outline through points in px, shape (n, 2)."""
        corners = [(float(x), float(y)) for x, y in OVER * points]
        if fill is not None:
            self._draw.polygon(corners, fill=fill)
        self._draw.line([*corners, corners[0]], fill=edge, width=round(OVER * width), joint="curve")

    def line(self, points: Array, *, colour: str, width: float) -> None:
        """Draw an open line through points in px, shape (n, 2), as one smooth ribbon."""
        along = np.gradient(points, axis=0)
        along /= np.maximum(np.linalg.norm(along, axis=1), 1e-12)[:, None]
        aside = 0.5 * width * np.stack([-along[:, 1], along[:, 0]], axis=1)
        ribbon = OVER * np.concatenate([points + aside, (points - aside)[::-1]])
        self._draw.polygon([(float(x), float(y)) for x, y in ribbon], fill=colour)

    def dashes(self, points: Array, *, colour: str, width: float = 1.0) -> None:
        """Draw every other stretch of a closed outline through points in px."""
        closed = np.concatenate([points, points[:1]])
        arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
        begin = np.arange(0.0, arc[-1], DASH + GAP)
        at = np.stack([begin, begin + 0.5 * DASH, begin + DASH], axis=1)
        pieces = OVER * np.stack([np.interp(at, arc, closed[:, k]) for k in (0, 1)], axis=-1)
        for piece in pieces.tolist():
            self._draw.line([tuple(p) for p in piece], fill=colour, width=round(OVER * width))

    def coloured(self, points: Array, colours: npt.NDArray[np.uint8], *, width: float) -> None:
        """Draw a line whose stretches have colours of their own, shape (n - 1, 3)."""
        corners = [(float(x), float(y)) for x, y in OVER * points]
        for k, colour in enumerate(colours):
            fill = (int(colour[0]), int(colour[1]), int(colour[2]))
            self._draw.line([corners[k], corners[k + 1]], fill=fill, width=round(OVER * width))

    def arrow(self, tail: Array, head: Array, *, colour: str, width: float = 3.0) -> None:
        """Draw an arrow from place to place, px; its whole length is their distance."""
        reach = float(np.linalg.norm(head - tail))
        along = (head - tail) / reach
        aside = np.array([-along[1], along[0]])
        size = min(9.0, 0.6 * reach)
        back = head - size * along
        barbs = np.stack([head, back + 0.5 * size * aside, back - 0.5 * size * aside])
        self.line(np.stack([tail, head - 0.8 * size * along]), colour=colour, width=width)
        self.polygon(barbs, fill=colour, edge=colour)

    def finished(self) -> "Image":
        """Return the frame at its final size."""
        return self._large.reduce(OVER)


def write(
    draw: "ImageDraw",
    place: tuple[float, float],
    text: str,
    *,
    size: int = SMALL,
    bold: bool = False,
    colour: str = palette.INK,
    anchor: str = "la",
) -> None:
    """Write text at a place in px; the anchor is Pillow's."""
    draw.text(place, text, fill=colour, font=font(size, bold=bold), anchor=anchor)


def fitted(text: str, width: float, *, size: int = SMALL, bold: bool = False) -> str:
    """Return text shortened to a width in px."""
    face = font(size, bold=bold)
    if face.getlength(text) <= width:
        return text
    while text and face.getlength(text + "…") > width:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, width: float, *, size: int = SMALL) -> list[str]:
    """Return text in lines of at most a width in px."""
    face = font(size)
    lines: list[str] = []
    for word in text.split(" "):
        if lines and face.getlength(f"{lines[-1]} {word}") <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def write_caption(draw: "ImageDraw", place: tuple[float, float], text: str, width: float) -> None:
    """Write what a film says, in at most two lines of a width in px."""
    lines = wrapped(text, width, size=SAID)
    if len(lines) > CAPTION_LINES:
        rest = " ".join(lines[CAPTION_LINES - 1 :])
        lines = [*lines[: CAPTION_LINES - 1], fitted(rest, width, size=SAID)]
    for k, line in enumerate(lines):
        write(draw, (place[0], place[1] + k * CAPTION_STEP), line, size=SAID)
