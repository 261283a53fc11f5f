"""Figure: the force system on the arch as each wire is tied in and at the end, or case by case."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.stages import stages
from gomphosis.viz import palette, theme
from gomphosis.viz.arch_cases import arch_by_case
from gomphosis.viz.arch_panels import (
    EXPLAINED,
    HIDDEN,
    KEY,
    VIEWS,
    Box,
    arrows,
    axes_in,
    box_of,
    draw_scale,
    draw_view,
    name_teeth,
    write,
)
from gomphosis.viz.arch_table import SENSE, TABLE, draw_numbers
from gomphosis.viz.arch_views import ABOVE, ArchView
from gomphosis.viz.film_layout import seen_from
from gomphosis.viz.load_marks import Scale
from gomphosis.viz.wording import visits, weeks_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from gomphosis.viz.theme import Page

WIDEST, TALLEST = 13.0, 2.5  # inches, of a page and of a view
TALLEST_OF_MANY = 3.8  # inches, of a view above a wide row of numbers
LARGEST = 0.115  # inches on the page to 1 mm
NAMES, COLUMN, APART = 1.7, 0.98, 0.5  # inches
MOST_BESIDE = 4  # teeth whose numbers stand beside the first view
HEAD, BELOW = 0.52, 0.25  # inches, above a row's views and below its numbers


@dataclass(frozen=True)
class ShownMoment:
    """A moment of the run: what is said of it, and its record."""

    name: str
    record: int


def arch_figure(result: RunResult) -> "Figure":
    """Draw forces as arrows and moments as arcs at the slots, from two sides or case by case."""
    with theme.styled():
        return arch_by_case(result) if len(result.cases) > 1 else _by_moment(result)


def shown_moments(result: RunResult) -> tuple[list[ShownMoment], str]:
    """Return the first and the last tying-in of a wire and the end; and what is left out."""
    case = result.cases[0]
    if not result.scenario.wires:
        return [ShownMoment("throughout: prescribed and constant", 0)], ""
    first: dict[int, int] = {}
    for index, stage in enumerate(stages(result.scenario)):
        first.setdefault(stage.wire, int(np.argmax(case.median.period == index)))
    tied = visits(result.scenario)
    every = [
        ShownMoment(f"week {weeks_text(tied[k][0])}: wire {k + 1} is tied in, {tied[k][1]}", record)
        for k, record in first.items()
    ]
    kept = [*every[:1], *every[1:][-1:]]
    left = [f"wire {k + 1}" for k, moment in enumerate(every) if moment not in kept]
    last = len(case.median.days) - 1
    end = ShownMoment(f"week {weeks_text(case.median.days[-1])}: end", last)
    return [*kept, end], f"Left out: {', '.join(left)}." if left else ""


def _by_moment(result: RunResult) -> "Figure":
    case = result.cases[0]
    moments, left_out = shown_moments(result)
    found = histories(result, case)
    kind = seen_from(result, case)
    everyone = tuple(range(len(result.teeth)))
    rows = [
        [ArchView(result, case, moment.record, side, everyone) for side in (kind, ABOVE)]
        for moment in moments
    ]
    scale = Scale.of(v.load(k, found[k]) for row in rows for v in row for k in everyone)
    columns = [[row[k] for row in rows] for k in (0, 1)]
    plan = _Plan.of([box_of(views, arrows(views, found, scale)) for views in columns], everyone)
    page = theme.page(
        result.scenario,
        heading="Force system on the arch",
        detail=f"{EXPLAINED}Moments in numbers: {SENSE}. {left_out}".strip(),
        width=plan.width,
        body=len(rows) * plan.row + KEY,
    )
    for index, (moment, views) in enumerate(zip(moments, rows, strict=True)):
        top = page.top - index * plan.row
        write(page, (theme.MARGIN, top - 0.08), moment.name, weight="bold", size=theme.HEADING)
        for k, view in enumerate(views):
            axes = plan.axes(page, k, top - HEAD)
            draw_view(axes, view, found, scale=scale)
            name_teeth(axes, view, found)
            left = plan.second + NAMES * plan.few if k else theme.MARGIN
            write(page, (left, top - HEAD + 0.2), VIEWS[view.kind], color=palette.QUIET)
        places = [(found[k], place) for k, place in plan.columns(views[0])]
        below = top - plan.views
        left = plan.second if plan.few else theme.MARGIN
        draw_numbers(page, (left, below), places, record=moment.record, hidden=HIDDEN[kind])
    draw_scale(page, scale, plan.inches)
    return page.figure


@dataclass(frozen=True)
class _Plan:
    """Places on a page of a row's two views and its numbers, inches.

    Numbers of few teeth stand below the view from the biting side, those of many below both views.
    """

    boxes: tuple[Box, ...]
    inches: float
    count: int

    @classmethod
    def of(cls, boxes: list[Box], teeth: tuple[int, ...]) -> "_Plan":
        sizes = np.array([high - low for low, high in boxes])
        many = len(teeth) > MOST_BESIDE
        below = NAMES + COLUMN * len(teeth) if many else 0.0
        room = max(WIDEST - 2 * theme.MARGIN, below) - APART
        tallest = TALLEST_OF_MANY if many else TALLEST
        inches = min(LARGEST, room / sizes[:, 0].sum(), tallest / sizes[:, 1].max())
        return cls(tuple(boxes), inches, len(teeth))

    def size(self, k: int) -> Array:
        low, high = self.boxes[k]
        return self.inches * (high - low)

    @property
    def front(self) -> float:
        """Width of the first view and what is written above it."""
        return max(2.2, float(self.size(0)[0]))

    @property
    def few(self) -> bool:
        return self.count <= MOST_BESIDE

    @property
    def numbers(self) -> float:
        """Width of the numbers with the names of their rows."""
        return NAMES + COLUMN * self.count

    @property
    def width(self) -> float:
        front, above = self.front, float(self.size(1)[0])
        beside = max(above, self.numbers) if self.few else above
        both = front + APART + beside
        return 2 * theme.MARGIN + max(7.0, both, 0.0 if self.few else self.numbers)

    @property
    def second(self) -> float:
        """Left edge of what stands beside the first view."""
        return theme.MARGIN + self.front + APART

    @property
    def views(self) -> float:
        """From the top of a row to its numbers."""
        tall = (self.size(1)[1],) if self.few else (self.size(0)[1], self.size(1)[1])
        return HEAD + float(max(tall)) + 0.12

    @property
    def row(self) -> float:
        return max(self.views + TABLE, HEAD + float(self.size(0)[1])) + BELOW

    def axes(self, page: "Page", k: int, top: float) -> "Axes":
        """Return the axes of a view whose top is at a height on the page."""
        wide, tall = self.size(k)
        left = theme.MARGIN
        if k == 1:
            left = self.second
            if self.few:
                left += NAMES + 0.5 * (COLUMN * self.count - wide)
        return axes_in(page, (left, top - tall), self.boxes[k], self.inches)

    def columns(self, view: ArchView) -> list[tuple[int, float]]:
        """Return teeth from left to right and the middles of their numbers."""
        order = sorted(view.teeth, key=lambda k: view.slot(k)[0])
        begin = (self.second if self.few else theme.MARGIN) + NAMES
        return [(k, begin + (place + 0.5) * COLUMN) for place, k in enumerate(order)]
