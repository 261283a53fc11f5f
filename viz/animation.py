"""Film of a run: teeth, wire and socket walls week by week, as an animated GIF."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.result import RunResult, rows_at
from gomphosis.viz import palette
from gomphosis.viz.film import Film

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_FRAMES = 60
DAYS_A_FRAME = 2.0
FEWEST_FRAMES = 20  # as far as there are records
NEAR = 7  # of 255
PAUSE, FIRST, LAST = 110, 900, 2500  # ms
FIXED = (
    palette.PAPER,
    palette.INK,
    palette.QUIET,
    palette.RULE,
    palette.SHADE,
    palette.TOOTH,
    palette.ROOT,
    palette.METAL,
    palette.NEUTRAL,
)
"""Colours of large areas, which keep their exact shade."""

Progress = Callable[[float, str], None]
Moment = TypeVar("Moment")


def frame_records(result: RunResult) -> list[int]:
    """Return the records of the median runs that the film shows, in order and without repeats."""
    track = result.cases[0].median
    days = float(track.days[-1])
    count = min(MOST_FRAMES, max(FEWEST_FRAMES, round(days / DAYS_A_FRAME) + 1))
    return np.unique(rows_at(track, np.linspace(0.0, days, count))).tolist()


def frames(
    result: RunResult, records: Sequence[int], progress: Progress | None = None
) -> list["Image"]:
    """Return the pictures of records, in colour."""
    return drawn(Film(result).frame, records, progress, what="frame")


def drawn(
    frame: Callable[[Moment], "Image"],
    moments: Sequence[Moment],
    progress: Progress | None,
    *,
    what: str,
) -> list["Image"]:
    """Return the pictures of moments, telling how many are done."""
    pictures = []
    for k, moment in enumerate(moments):
        pictures.append(frame(moment))
        if progress is not None:
            progress((k + 1) / len(moments), f"{what} {k + 1} of {len(moments)}")
    return pictures


def save_animation(result: RunResult, path: Path, progress: Progress | None = None) -> None:
    """Write the film of a run as a GIF: the same bytes for the same result.

    Parameters
    ----------
    path
        File to write.
    progress
        Told the share done and what is being done.
    """
    save_gif(frames(result, frame_records(result), progress), path)


def save_gif(
    pictures: Sequence["Image"], path: Path, *, fixed: Sequence[str] = FIXED, pause: int = PAUSE
) -> None:
    """Write pictures as one GIF that repeats: the same bytes for the same pictures.

    Parameters
    ----------
    fixed
        Colours that keep their exact shade.
    pause
        From picture to picture, ms; the first and the last stay longer.
    """
    from PIL import Image

    colours = _palette(pictures, fixed)
    indexed = [picture.quantize(palette=colours, dither=Image.Dither.NONE) for picture in pictures]
    pauses = [FIRST, *[pause] * (len(pictures) - 2), LAST][: len(pictures)]
    indexed[0].save(
        path,
        format="GIF",
        save_all=True,
        append_images=indexed[1:],
        duration=pauses,
        loop=0,
        optimize=False,
        comment=NOTICE.encode(),
    )


def _palette(pictures: Sequence["Image"], shades: Sequence[str]) -> "Image":
    """Return one palette for the whole film, so that nothing flickers."""
    from PIL import Image

    chosen = [pictures[k] for k in sorted({0, len(pictures) // 3, len(pictures) - 1})]
    width, height = chosen[0].size
    together = Image.new("RGB", (width, height * len(chosen)))
    for k, picture in enumerate(chosen):
        together.paste(picture, (0, k * height))
    free = 256 - len(shades)
    found = together.quantize(free, method=Image.Quantize.MEDIANCUT).getpalette() or []
    fixed = np.array([palette.rgb(colour) for colour in shades])
    others = np.array(found[: 3 * free]).reshape(-1, 3)
    # a colour found next to a fixed one would take its place
    apart = np.abs(others[:, None] - fixed).max(axis=2).min(axis=1) > NEAR
    colours = Image.new("P", (1, 1))
    colours.putpalette(np.concatenate([fixed, others[apart]]).ravel().tolist())
    return colours
