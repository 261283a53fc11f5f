"""Where things stand in a frame of the film."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.scenarios.history import histories
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.viz import theme
from gomphosis.viz.panels import across

WIDTH = 960  # px
HEAD, CAPTION, FOOT, MARGIN = 92, 52, 50, 16  # px
LINE = 18  # px from line to line of text
MOST_BESIDE = 5  # teeth whose cards stand beside the view
MOST_CASES = 15
FRONT, SIDE = "front", "side"
FACTORS = (10, 5, 3, 2)
ROOM = 3.0  # mm; movements are not enlarged beyond
MOST_SIDES = 3  # teeth on a wire that still find room side by side
MOSTLY = 3.0  # times as far labially or lingually as in any other direction


@dataclass(frozen=True)
class Box:
    """A rectangle in px from the top left corner."""

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True)
class View:
    """Teeth of one case, seen from the ``front`` or from the ``side``."""

    case: int
    teeth: tuple[int, ...]
    side: str
    box: Box


@dataclass(frozen=True)
class Card:
    """Wall and numbers of one tooth of one case."""

    case: int
    tooth: int
    label: str
    tile: Box
    text: Box


@dataclass(frozen=True)
class Layout:
    """All places of a frame.

    Attributes
    ----------
    height
        Of the frame, px; its width is `WIDTH`.
    factor
        By which movements are enlarged in the views.
    """

    height: int
    factor: int
    views: tuple[View, ...]
    cards: tuple[Card, ...]
    note: str


def layout(result: RunResult) -> Layout:
    """Return the layout of a result: view and cards side by side, above another, or by case."""
    factor = enlarged(result)
    if len(result.cases) > 1:
        return _by_case(result, factor)
    if len(result.teeth) <= MOST_BESIDE:
        return _beside(result, factor)
    return _above(result, factor)


def seen_from(result: RunResult, case: CaseResult) -> str:
    """Return ``side`` where prescribed forces move teeth labially or lingually, else ``front``."""
    if result.scenario.wires:
        return FRONT
    ends = np.abs(np.stack([history.crown[-1] for history in histories(result, case)]))
    return SIDE if ends[:, 1].max() > ends[:, 2].max() else FRONT


def leans(result: RunResult) -> bool:
    """Return whether what a wire does to a few teeth shows from the side only.

    It does where edges and apices move labially or lingually far more than in other directions.
    """
    case = result.cases[0]
    if not case.wires or len(result.teeth) > MOST_SIDES:
        return False
    points = [part for h in histories(result, case) for part in (h.crown, h.apex)]
    ways = np.max([np.abs(part).max(axis=0) for part in points], axis=0)
    return bool(ways[1] > MOSTLY * max(ways[0], ways[2]))


def enlarged(result: RunResult) -> int:
    """Return the factor by which movements are drawn; a wire is drawn true to scale."""
    if result.scenario.wires:
        return 1
    moved = [
        np.linalg.norm(h.crown, axis=1).max() for c in result.cases for h in histories(result, c)
    ]
    return next((f for f in FACTORS if f * max(moved) <= ROOM), 1)


def most_loaded(case: CaseResult) -> int:
    """Return the tooth with the largest first force, or else moment."""
    wrench = case.median.wrench[0]
    sizes = [(float(np.linalg.norm(w[:3])), float(np.linalg.norm(w[3:]))) for w in wrench]
    return max(range(len(sizes)), key=sizes.__getitem__)


def _beside(result: RunResult, factor: int) -> Layout:
    count = len(result.teeth)
    row = max(126, 430 // count)
    body = max(430, row * count)
    views = _views(result, Box(MARGIN, HEAD, 430, body))
    left = 2 * MARGIN + 430
    cards = []
    for k, tooth in enumerate(result.teeth):
        top = HEAD + k * row
        tile = Box(left + 232, top + 22, WIDTH - MARGIN - left - 232, min(row, 190) - 52)
        cards.append(Card(0, k, f"tooth {tooth.number}", tile, Box(left, top, 216, row)))
    return Layout(HEAD + body + CAPTION + FOOT, factor, views, tuple(cards), "")


def _views(result: RunResult, box: Box) -> tuple[View, ...]:
    """Return one view of all teeth; from the side, where they hide each other, one of each."""
    count = len(result.teeth)
    side = SIDE if leans(result) else seen_from(result, result.cases[0])
    if side == FRONT:
        return (View(0, tuple(range(count)), FRONT, box),)
    wide = box.width // count
    return tuple(
        View(0, (k,), SIDE, Box(box.left + k * wide, box.top, wide - 4 * (count > 1), box.height))
        for k in range(count)
    )


def _above(result: RunResult, factor: int) -> Layout:
    count = len(result.teeth)
    views = _views(result, Box(MARGIN, HEAD, WIDTH - 2 * MARGIN, 250))
    columns, rows = across(count, most=8)
    cards, height = _stacked(
        [(0, k, f"tooth {tooth.number}") for k, tooth in enumerate(result.teeth)],
        columns,
        top=HEAD + 260,
        view=0,
        tile=76,
    )
    return Layout(HEAD + 260 + rows * height + CAPTION + FOOT, factor, views, tuple(cards), "")


def _by_case(result: RunResult, factor: int) -> Layout:
    cases = result.cases[:MOST_CASES]
    columns, rows = across(len(cases), most=5)
    tall = 210 if rows < 3 else 150
    chosen = [most_loaded(case) for case in cases]
    sides = [seen_from(result, case) for case in cases]
    names = [
        case.name if len(result.teeth) == 1 else f"{result.teeth[k].number}, {case.name}"
        for case, k in zip(cases, chosen, strict=True)
    ]
    entries = [(i, chosen[i], theme.printable(names[i])) for i in range(len(cases))]
    cards, height = _stacked(entries, columns, top=HEAD, view=tall, tile=60)
    everyone = tuple(range(len(result.teeth)))
    views = tuple(
        View(
            card.case,
            (card.tooth,) if side == SIDE else everyone,
            side,
            Box(card.tile.left, card.text.top + LINE + 4, card.tile.width, tall - 6),
        )
        for card, side in zip(cards, sides, strict=True)
    )
    left_out = len(result.cases) - len(cases)
    note = f"first {len(cases)} of {len(result.cases)} cases" if left_out else ""
    return Layout(HEAD + rows * height + CAPTION + FOOT, factor, views, tuple(cards), note)


def _stacked(
    entries: Sequence[tuple[int, int, str]], columns: int, *, top: int, view: int, tile: int
) -> tuple[list[Card], int]:
    """Return cards with heading, room for a view, wall and three lines, and their height."""
    wide = (WIDTH - 2 * MARGIN) // columns
    height = LINE + 4 + view + tile + 3 * LINE + 24
    cards = []
    for k, (case, tooth, label) in enumerate(entries):
        row, column = divmod(k, columns)
        left, here = MARGIN + column * wide, top + row * height
        box = Box(left, here + LINE + 4 + view, wide - 12, tile)
        cards.append(Card(case, tooth, label, box, Box(left, here, wide - 12, height)))
    return cards, height
