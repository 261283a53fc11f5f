"""Numbers beside the teeth of the figure of the arch."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.scenarios.history import ToothHistory
from gomphosis.scenarios.model import ToothModel
from gomphosis.viz import palette
from gomphosis.viz.arch_panels import write
from gomphosis.viz.wording import direction_text, force_text, gram_force, signed

if TYPE_CHECKING:
    from gomphosis.viz.theme import Page

LINE = 0.185  # inches
FORCES = ("extrusion", "labial", "mesial")
MOMENTS = ("tip", "torque", "rotation")
SENSE = "+ tips the crown mesially, torques it outward, turns it mesiolingually"
CASE_LINES = 4
TABLE = LINE * (1 + len(FORCES) + len(MOMENTS))
"""Height of the numbers, inches."""


def draw_numbers(
    page: "Page",
    corner: tuple[float, float],
    places: Sequence[tuple[ToothHistory, float]],
    *,
    record: int,
    hidden: str,
) -> None:
    """Write the force system of every tooth in a column of its own, names of rows on the left.

    Parameters
    ----------
    corner
        Upper left one of the names, inches.
    places
        Teeth and the middles of their columns, inches.
    record
        Which of their records.
    hidden
        The moment that no view shows.
    """
    names = [f"{word}, N (gf)" for word in FORCES]
    names += [f"{word}, N·mm" + (" (not seen)" if word == hidden else "") for word in MOMENTS]
    for row, name in enumerate(names, start=1):
        level = corner[1] - row * LINE
        write(page, (corner[0], level), name, color=palette.QUIET)
    for history, middle in places:
        column = [f"tooth {history.number}", *_numbers(history.at_bracket[record])]
        for row, text in enumerate(column):
            weight = "normal" if row else "bold"
            write(page, (middle, corner[1] - row * LINE), text, ha="center", weight=weight)


def _numbers(system: np.ndarray) -> list[str]:
    forces = [f"{signed(f)} ({signed(gram_force(f), digits=0)})" for f in system[:3]]
    return [*forces, *(signed(moment, digits=1) for moment in system[3:])]


def case_lines(tooth: ToothModel, history: ToothHistory) -> list[str]:
    """Return what loads a tooth in a case with constant forces, in at most four lines."""
    system = history.at_bracket[0]
    size = float(np.linalg.norm(system[:3]))
    words = direction_text(system[:3], tooth.anatomy)
    lines = [f"{force_text(size)} {words}".strip() if size > 0 else "no force"]
    for name, moment in zip(MOMENTS, system[3:], strict=True):
        text = signed(float(moment), digits=1)
        if float(text.replace("−", "-")):
            lines.append(f"{name} {text} N·mm")
    return lines if len(lines) > 1 else [*lines, "no moment"]
