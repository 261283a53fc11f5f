"""Days that a report can be turned to, and the records and frames that belong to them."""

from collections.abc import Sequence

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.key_times import KeyTime
from gomphosis.scenarios.result import RunResult, rows_at, weekly
from gomphosis.scenarios.slice_result import SAME_DAY, SliceResult

MOST_STEPS = 121
MOST_DRAWN = 20_000  # teeth of all cases times days: some 4 MB of a page
MOST_CELLS = 1.2e7  # of density maps in one page, all slices and days together


def report_days(
    result: RunResult, keys: Sequence[KeyTime], captioned: Sequence[float] = ()
) -> Array:
    """Return the days of the slider: weeks, key times, and days between, thinned if too many.

    Weeks go only where a run has more teeth and cases than a page can hold; key times stay, and
    so do the days on which a caption begins.
    """
    track = result.cases[0].median
    most = max(2, MOST_DRAWN // (len(result.teeth) * len(result.cases)))
    times = [*(key.day for key in keys), *captioned]
    needed = np.unique(np.concatenate([_even(weekly(track), most), times]))
    every = np.unique(np.concatenate([track.days, needed]))
    room = min(most, MOST_STEPS)
    if len(every) <= room:
        return every
    between = _even(every, room - len(needed)) if room - len(needed) >= 2 else needed
    return np.unique(np.concatenate([needed, between]))


def _even(days: Array, most: int) -> Array:
    """Return at most so many of some days, evenly, with the first and the last."""
    if len(days) <= most:
        return days
    return days[np.unique(np.linspace(0, len(days) - 1, most).round().astype(int))]


def report_records(result: RunResult, days: Array) -> list[np.ndarray]:
    """Return for each case the record of the median run that belongs to each day."""
    return [rows_at(case.median, days) for case in result.cases]


def report_frames(opened: SliceResult, days: Array, slices: int) -> list[int]:
    """Return which kept states of a slice a report holds: those of its days, thinned if too many.

    Parameters
    ----------
    days
        Of the slider.
    slices
        How many slices share the page.
    """
    kept = np.array([frame.day for frame in opened.track.frames])
    rows = np.unique(np.searchsorted(kept, days + SAME_DAY, side="right") - 1)
    rows = rows[rows >= 0]
    cells = opened.track.frames[0].bones.bone.size
    most = max(8, int(MOST_CELLS / (cells * slices)))
    if len(rows) <= most:
        return [int(row) for row in rows]
    chosen = np.unique(np.linspace(0, len(rows) - 1, most).round().astype(int))
    return [int(row) for row in rows[chosen]]
