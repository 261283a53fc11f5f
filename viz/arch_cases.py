"""Figure of the arch for several cases of prescribed forces: one panel for each."""

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.scenarios.history import histories
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.arch_panels import (
    EXPLAINED,
    KEY,
    VIEWS,
    arrows,
    axes_in,
    box_of,
    draw_scale,
    draw_view,
    write,
)
from gomphosis.viz.arch_table import CASE_LINES, LINE, SENSE, case_lines
from gomphosis.viz.arch_views import ArchView
from gomphosis.viz.film_layout import SIDE, most_loaded, seen_from
from gomphosis.viz.load_marks import Scale

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_CASES, ACROSS = 10, 5
LARGEST, TALLEST = 0.115, 2.6  # inches: on the page to 1 mm, and of a view
PITCH = 2.5  # inches


def arch_by_case(result: RunResult) -> "Figure":
    """Draw the loads of every case on the tooth that it loads most, or on all from the front."""
    cases = result.cases[:MOST_CASES]
    left = f" (first {len(cases)} of {len(result.cases)})" if len(cases) < len(result.cases) else ""
    found = [histories(result, case) for case in cases]
    views = [_view(result, case) for case in cases]
    pairs = list(zip(views, found, strict=True))
    scale = Scale.of(view.load(k, every[k]) for view, every in pairs for k in view.teeth)
    boxes = [box_of([view], arrows([view], every, scale)) for view, every in pairs]
    size = np.max([high - low for low, high in boxes], axis=0)
    inches = min(LARGEST, (PITCH - 0.3) / size[0], TALLEST / size[1])
    columns = -(-len(cases) // -(-len(cases) // ACROSS))
    names = [_name(case.name) for case in cases]
    head = 0.3 + 0.18 * max(len(lines) for lines in names)
    tall = head + inches * size[1] + (CASE_LINES + 1) * LINE + 0.15
    page = theme.page(
        result.scenario,
        heading=f"Force system on the bracket, case by case{left}",
        detail=f"{EXPLAINED}Moments in numbers: {SENSE}.",
        width=max(8.0, columns * PITCH + 2 * theme.MARGIN),
        body=-(-len(cases) // columns) * tall + KEY,
    )
    for index, ((view, every), (low, high)) in enumerate(zip(pairs, boxes, strict=True)):
        row, column = divmod(index, columns)
        left_edge, top = theme.MARGIN + column * PITCH, page.top - row * tall
        bottom = top - head - inches * size[1]
        middle, half = 0.5 * (low + high), 0.5 * size
        corner = (left_edge + 0.5 * (PITCH - 0.3 - inches * size[0]), bottom)
        axes = axes_in(page, corner, (middle - half, middle + half), inches)
        draw_view(axes, view, every, scale=scale)
        title, level = "\n".join(names[index]), top - 0.1 - 0.18 * len(names[index])
        write(page, (left_edge, top - 0.06), title, weight="bold", size=theme.TEXT)
        write(page, (left_edge, level), VIEWS[view.kind], color=palette.QUIET)
        k = most_loaded(view.case)
        lines = [f"tooth {every[k].number}", *case_lines(result.teeth[k], every[k])]
        write(page, (left_edge, bottom - 0.08), "\n".join(lines), linespacing=1.25)
    draw_scale(page, scale, inches)
    return page.figure


def _view(result: RunResult, case: CaseResult) -> ArchView:
    side = seen_from(result, case)
    # from the side teeth would hide each other
    teeth = (most_loaded(case),) if side == SIDE else tuple(range(len(result.teeth)))
    return ArchView(result, case, 0, side, teeth)


def _name(text: str) -> list[str]:
    return textwrap.wrap(theme.printable(text), 26, max_lines=2, placeholder="…")
