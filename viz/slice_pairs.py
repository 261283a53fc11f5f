"""Which slices of two runs stand beside each other, and in what scales."""

from dataclasses import dataclass, replace

import numpy as np

from gomphosis.viz.compared_runs import Pair
from gomphosis.viz.recorded_slice import RecordedSlice

MOST_PAIRS = 2


@dataclass(frozen=True, eq=False)
class SlicePair:
    """A slice of A beside one of B.

    Parameters
    ----------
    first, second
        Of A and of B.
    """

    first: RecordedSlice
    second: RecordedSlice

    @property
    def both(self) -> tuple[RecordedSlice, RecordedSlice]:
        """Both."""
        return self.first, self.second

    @property
    def same(self) -> bool:
        """Whether they are of the same tooth in the same plane."""
        return _key(self.first) == _key(self.second)


def _key(shown: RecordedSlice) -> tuple[int, str]:
    return shown.tooth, shown.plane


def slices_of(pair: Pair) -> tuple[list[RecordedSlice], list[RecordedSlice]]:
    """Return the slices of the compared case of A and of B."""
    first, second = (
        [RecordedSlice(run, k) for k in range(len(run.case["slices"]))] for run in pair.runs
    )
    return first, second


def slice_pairs(pair: Pair) -> tuple[SlicePair, ...]:
    """Return the slices to be shown beside each other; none where a run has no slice.

    Those of one tooth in one plane, at most two; where there are none, the first of each run.
    The same place of the jaw is then at the same place of both pictures.
    """
    first, second = slices_of(pair)
    if not (first and second):
        return ()
    chosen = _alike(first, second)[:MOST_PAIRS] or [SlicePair(first[0], second[0])]
    longest = max(shown.largest_force for found in chosen for shown in found.both)
    return tuple(_scaled(found, longest) for found in chosen)


def _alike(first: list[RecordedSlice], second: list[RecordedSlice]) -> list[SlicePair]:
    return [SlicePair(a, b) for a in first for b in second if _key(a) == _key(b)]


def _scaled(found: SlicePair, longest: float) -> SlicePair:
    windows = [shown.window for shown in found.both]
    if found.same:
        low = np.min([window[0] for window in windows], axis=0)
        high = np.max([window[1] for window in windows], axis=0)
        windows = [(low, high)] * 2
    first, second = (
        replace(shown, reach=window, longest=longest)
        for shown, window in zip(found.both, windows, strict=True)
    )
    return SlicePair(first, second)


def slices_note(pair: Pair) -> str:
    """Say what the choice of slices leaves out or sets side by side; nothing where all agree."""
    first, second = slices_of(pair)
    if not (first and second):
        return ""
    alike = _alike(first, second)
    if len(alike) > MOST_PAIRS:
        return f"first {MOST_PAIRS} of {len(alike)} slices that both runs have"
    if alike:
        return ""
    if first[0].tooth == second[0].tooth:
        return "the slices are in different planes"
    return "the slices are of different teeth"


def missing_slices(pair: Pair) -> str:
    """Say which run alone has slices, so that there is no film of them; else nothing."""
    having = [run.letter for run in pair.runs if run.case["slices"]]
    return f"No film of slices: only {having[0]} has some." if len(having) == 1 else ""
