"""Where things stand in a frame of the film of two runs."""

from dataclasses import dataclass

import numpy as np

from gomphosis.viz.compared_figure import FORCE, MOVED, PRESSURE, Quantity
from gomphosis.viz.compared_runs import Pair
from gomphosis.viz.compared_scene import VIEWS, Scales, parts_of
from gomphosis.viz.film_canvas import TEXT, wrapped
from gomphosis.viz.film_layout import FOOT, HEAD, LINE, MARGIN, Box

WIDTH = 1280  # px
BETWEEN = 24  # px between the halves
HALF = (WIDTH - 2 * MARGIN - BETWEEN) // 2
TITLED = 0.86 * HALF  # px by plain letters: headings are bold, and wider
EDGE = 26  # px around what a view shows: room for the numbers of the teeth
TALLEST = 430  # px of both views
LARGEST = 22.0  # px to a mm
KEY, CURVE = 38, 138  # px
MOST_SAID = 4  # lines of a caption


@dataclass(frozen=True)
class PairLayout:
    """All places of a frame.

    Attributes
    ----------
    scales
        Shared by both runs.
    boxes
        Of the views ``front`` and ``above`` of A and of B.
    key, curves, captions
        Upper edges, px.
    height
        Of the frame, px.
    """

    scales: Scales
    boxes: tuple[dict[str, Box], dict[str, Box]]
    key: int
    curves: int
    captions: int
    height: int


def pair_layout(pair: Pair) -> PairLayout:
    """Return the layout of two runs: views one over the other, both as large as they fit."""
    size = {view: _reach(pair, view) for view in VIEWS}
    wide = max(float(size[view][0]) for view in VIEWS)
    tall = sum(float(size[view][1]) for view in VIEWS)
    fit = min(LARGEST, (HALF - 2 * EDGE) / wide, (TALLEST - 4 * EDGE) / tall)
    top = pictures_top(pair)
    boxes: tuple[dict[str, Box], dict[str, Box]] = ({}, {})
    for view in VIEWS:
        height = int(np.ceil(fit * float(size[view][1]))) + 2 * EDGE
        for k in range(2):
            boxes[k][view] = Box(MARGIN + k * (HALF + BETWEEN), top, HALF, height)
        top += height + 4
    captions = top + KEY + CURVE + 8
    return PairLayout(
        scales=Scales(fit, pair.largest_force, pair.largest_traction),
        boxes=boxes,
        key=top + 8,
        curves=top + KEY,
        captions=captions,
        height=captions + said_height(pair) + FOOT,
    )


def pictures_top(pair: Pair) -> int:
    """Return where pictures begin below the longer heading and the line of what acts, px."""
    headings = max(len(wrapped(text, TITLED, size=TEXT)[:2]) for text in pair.headings)
    return HEAD + LINE * (headings + 1) + 6


def said_lines(pair: Pair) -> int:
    """Return the lines of text that the longest caption takes."""
    said = [len(wrapped(text, HALF, size=TEXT)) for run in pair.runs for _, text in run.captions]
    return min(max(said, default=0), MOST_SAID)


def said_height(pair: Pair) -> int:
    """Return the room that the longest caption takes, px."""
    said = said_lines(pair)
    return (LINE + 2) * said + (6 if said else 0)


def _reach(pair: Pair, view: str) -> np.ndarray:
    """Return the size of what a view shows of the larger run, mm, shape (2,)."""
    found = []
    for run in pair.runs:
        low, high = parts_of(run, view).reach(pair.largest_force)
        found.append(high - low)
    return np.max(found, axis=0)


def curve_plan(pair: Pair) -> tuple[tuple[Quantity, ...], int]:
    """Return the quantities of the curves of a film, and the width of each curve, px."""
    by_teeth = {1: (MOVED, FORCE, PRESSURE), 2: (MOVED, FORCE)}
    quantities = by_teeth.get(len(pair.shown), (MOVED,))
    return quantities, (WIDTH - 2 * MARGIN) // (len(quantities) * len(pair.shown))
