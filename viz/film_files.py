"""Files of a film: an animated GIF, an MP4, and a sheet of chosen frames that does not move."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from errno import EIO
from pathlib import Path
from subprocess import DEVNULL, PIPE, Popen
from tempfile import TemporaryFile
from typing import IO, TYPE_CHECKING, TypeVar, cast

import numpy as np

from gomphosis.scenarios.caution import NOTICE
from gomphosis.viz import palette

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_FRAMES = 60
NEAR = 7  # of 255
PAUSE, FIRST, LAST = 110, 900, 2500  # ms
MOST_ON_SHEET, SHEET_COLUMNS = 6, 2
SHEET_GAP = 12  # px
DOTS = 96  # to the inch: what sizes of text on a frame are meant for
QUALITY = 20  # constant rate factor of the encoder: letters stay crisp
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


@dataclass(frozen=True)
class Movie:
    """Frames of a film in order, all of one size.

    Parameters
    ----------
    pictures
        In colour.
    chosen
        Indices of the frames that tell the story without motion, rising.
    fixed
        Colours that keep their exact shade in the GIF.
    pause
        From picture to picture, ms; the first and the last stay longer.
    """

    pictures: Sequence["Image"]
    chosen: Sequence[int]
    fixed: Sequence[str] = FIXED
    pause: int = PAUSE

    def __post_init__(self) -> None:
        sizes = {picture.size for picture in self.pictures}
        if len(sizes) != 1:
            raise ValueError(f"a film needs frames of one size, not of {sorted(sizes)}")

    @property
    def pauses(self) -> list[int]:
        """How long each picture stays, ms."""
        count = len(self.pictures)
        return [FIRST, *[self.pause] * (count - 2), LAST][:count]


def film_names(stem: str) -> tuple[str, str, str]:
    """Return the names of a film's files: GIF, MP4 and sheet."""
    return f"{stem}.gif", f"{stem}.mp4", f"{stem}_sheet.png"


def save_film(movie: Movie, folder: Path, stem: str) -> None:
    """Write a film's three files into a folder.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    gif, mp4, sheet = film_names(stem)
    save_gif(movie, folder / gif)
    save_mp4(movie, folder / mp4)
    save_sheet(movie, folder / sheet)


def chosen_frames(days: Sequence[float], keys: Sequence[float]) -> list[int]:
    """Return frames to stand for a film: its ends, what happens between, even steps else.

    Parameters
    ----------
    days
        Of the frames, rising.
    keys
        Days on which something happens, the weightiest first.
    """
    ends = {0, len(days) - 1}
    found = set(ends)
    even = np.linspace(days[0], days[-1], MOST_ON_SHEET)
    for day in [*keys, *even]:
        if len(found) == min(MOST_ON_SHEET, len(days)):
            break
        # the first frame that shows it
        found.add(min(int(np.searchsorted(days, day - 1e-9)), len(days) - 1))
    return sorted(found)


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


def save_gif(movie: Movie, path: Path) -> None:
    """Write a GIF that repeats: the same bytes for the same film."""
    from PIL import Image

    colours = _palette(movie.pictures, movie.fixed)
    indexed = [p.quantize(palette=colours, dither=Image.Dither.NONE) for p in movie.pictures]
    indexed[0].save(
        path,
        format="GIF",
        save_all=True,
        append_images=indexed[1:],
        duration=movie.pauses,
        loop=0,
        optimize=False,
        comment=NOTICE.encode(),
    )


def save_mp4(movie: Movie, path: Path) -> None:
    """Write an MP4 (H.264) whose first and last picture stay as long as those of the GIF.

    Raises
    ------
    OSError
        If the encoder cannot write the file; the cause it names is told.
    """
    width, height = movie.pictures[0].size
    # the colour format halves both sides
    odd = ((0, height % 2), (0, width % 2), (0, 0))
    with _encoder(movie, path) as frames:
        for picture, pause in zip(movie.pictures, movie.pauses, strict=True):
            frame = np.pad(np.asarray(picture.convert("RGB")), odd, mode="edge").tobytes()
            for _ in range(max(1, round(pause / movie.pause))):
                frames.write(frame)


@contextmanager
def _encoder(movie: Movie, path: Path) -> Iterator[IO[bytes]]:
    """Give the stream that takes the frames; at its end the file is whole, or an error tells."""
    from imageio_ffmpeg import get_ffmpeg_exe

    width, height = movie.pictures[0].size
    size = f"{width + width % 2}x{height + height % 2}"
    words = [
        *(get_ffmpeg_exe(), "-y", "-v", "error"),
        *("-f", "rawvideo", "-pix_fmt", "rgb24", "-s", size, "-r", str(1000 / movie.pause)),
        *("-i", "-", "-an", "-c:v", "libx264", "-pix_fmt", "yuv420p"),
        *("-crf", str(QUALITY), "-preset", "veryfast", "-movflags", "+faststart"),
        *("-fflags", "+bitexact", "-flags:v", "+bitexact", "-metadata", f"comment={NOTICE}"),
        str(path.absolute()),
    ]
    with TemporaryFile() as told:
        # a group of its own: an interruption reaches this program, which ends the encoder
        process = Popen(words, stdin=PIPE, stdout=DEVNULL, stderr=told, process_group=0)
        frames = cast(IO[bytes], process.stdin)
        try:
            # the encoder that has given up reads no more: why, its words tell
            with suppress(BrokenPipeError):
                yield frames
        except BaseException:
            process.kill()
            raise
        finally:
            with suppress(BrokenPipeError):
                frames.close()
            status = process.wait()
        if status != 0:
            told.seek(0)
            # its first line is the cause, what follows are consequences
            first = told.readline().decode(errors="replace").strip(". \n") or "no word why"
            raise OSError(EIO, f"the encoder of films stopped: {first.split(': ')[-1]}", str(path))


def save_sheet(movie: Movie, path: Path) -> None:
    """Write the chosen frames in two columns, each as large as in the film, as a PNG."""
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    frames = [movie.pictures[k] for k in movie.chosen]
    width, height = frames[0].size
    columns = min(SHEET_COLUMNS, len(frames))
    rows = -(-len(frames) // columns)
    size = (columns * (width + SHEET_GAP) - SHEET_GAP, rows * (height + SHEET_GAP) - SHEET_GAP)
    sheet = Image.new("RGB", size, palette.RULE)
    for k, frame in enumerate(frames):
        row, column = divmod(k, columns)
        sheet.paste(frame, (column * (width + SHEET_GAP), row * (height + SHEET_GAP)))
    notice = PngInfo()
    notice.add_text("Description", NOTICE)
    sheet.save(path, format="PNG", dpi=(DOTS, DOTS), pnginfo=notice)


def _palette(pictures: Sequence["Image"], shades: Sequence[str]) -> "Image":
    """Return one palette for the whole film, so that nothing flickers."""
    from PIL import Image

    last = len(pictures) - 1
    chosen = [pictures[k] for k in sorted({0, last // 3, 2 * last // 3, last})]
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
