"""Film of a run: teeth, wire and socket walls week by week."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.scenarios.result import RunResult, rows_at
from gomphosis.viz.film import Film
from gomphosis.viz.film_files import (
    MOST_FRAMES,
    Movie,
    Progress,
    chosen_frames,
    drawn,
    save_film,
)

if TYPE_CHECKING:
    from PIL.Image import Image

DAYS_A_FRAME = 2.0
FEWEST_FRAMES = 20  # as far as there are records
STEM = "teeth"


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


def save_animation(result: RunResult, folder: Path, progress: Progress | None = None) -> None:
    """Write the film of a run, ``teeth.gif`` and what goes with it: the same for the same result.

    Parameters
    ----------
    folder
        Where to.
    progress
        Told the share done and what is being done.
    """
    film, records = Film(result), frame_records(result)
    days = [float(result.cases[0].median.days[record]) for record in records]
    pictures = drawn(film.frame, records, progress, what="frame")
    save_film(Movie(pictures, chosen_frames(days, film.captions.story())), folder, STEM)
