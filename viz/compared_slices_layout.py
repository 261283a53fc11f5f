"""Where things stand in a frame of the film of slices of two runs."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.viz.compared_layout import HALF, KEY, WIDTH, pictures_top, said_height
from gomphosis.viz.compared_runs import Pair
from gomphosis.viz.compared_surround import half_left
from gomphosis.viz.film_layout import FOOT, LINE, MARGIN, Box
from gomphosis.viz.slice_numbers import numbers_height
from gomphosis.viz.slice_pairs import SlicePair

GAP = 12  # px between pictures, and between a picture and its text
TEXT = 300  # px, width of a text
TALL, TALL_OF_TWO = 540, 420  # px, height of a picture
CURVE = 122  # px

Places = tuple[tuple[Box, Box], tuple[Box, Box]]
"""Picture and text of A, and of B."""


@dataclass(frozen=True)
class SlicesLayout:
    """All places of a frame.

    Attributes
    ----------
    pixels
        To a mm, in every picture.
    boxes
        Of every pair: picture and text of A, and of B.
    curves
        Of every pair.
    key, captions
        Upper edges, px.
    height
        Of the frame, px.
    """

    pixels: float
    boxes: tuple[Places, ...]
    curves: tuple[Box, ...]
    key: int
    captions: int
    height: int


def slices_layout(pair: Pair, shown: Sequence[SlicePair]) -> SlicesLayout:
    """Return the layout: one pair has its texts beside the pictures, two have them below."""
    top = pictures_top(pair) + LINE + 4
    boxes = _beside(top) if len(shown) == 1 else _below(top, shown)
    base = max(box.top + box.height for of_pair in boxes for both in of_pair for box in both)
    curves = base + 8 + KEY
    captions = curves + CURVE + 8
    return SlicesLayout(
        pixels=_fit(shown, boxes),
        boxes=boxes,
        curves=_curves(curves, len(shown)),
        key=base + 8,
        captions=captions,
        height=captions + said_height(pair) + FOOT,
    )


def _curves(top: int, count: int) -> tuple[Box, ...]:
    """Return the places of the curves: across the frame, or one in each half."""
    if count == 1:
        return (Box(MARGIN, top, WIDTH - 2 * MARGIN, CURVE),)
    return tuple(Box(half_left(k), top, HALF, CURVE) for k in range(count))


def _beside(top: int) -> tuple[Places]:
    """Return the places of one pair: text to the right of each picture."""
    first, second = (
        (
            Box(half_left(half), top, HALF - GAP - TEXT, TALL),
            Box(half_left(half) + HALF - TEXT, top, TEXT, TALL),
        )
        for half in (0, 1)
    )
    return ((first, second),)


def _below(top: int, shown: Sequence[SlicePair]) -> tuple[Places, ...]:
    """Return the places of several pairs: text below each picture."""
    wide = (HALF + GAP) // len(shown) - GAP
    said = [texts for pair in shown for side in pair.both for texts in side.every_text()]
    tall = numbers_height(said, wide)
    places = []
    for k in range(len(shown)):
        lefts = [half_left(half) + k * (wide + GAP) for half in (0, 1)]
        first, second = (
            (
                Box(left, top, wide, TALL_OF_TWO),
                Box(left, top + TALL_OF_TWO + 6, wide, tall),
            )
            for left in lefts
        )
        places.append((first, second))
    return tuple(places)


def _fit(shown: Sequence[SlicePair], boxes: Sequence[Places]) -> float:
    """Return the px to a mm with which every slice fits its picture."""
    found = []
    for pair, places in zip(shown, boxes, strict=True):
        for part, (box, _) in zip(pair.both, places, strict=True):
            low, high = part.window
            found.append(np.min(np.array([box.width, box.height]) / (high - low)))
    return float(min(found))
