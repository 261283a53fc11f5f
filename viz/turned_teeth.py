"""Teeth of the figures about turning, and what is said where a curve cannot show it."""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.kinematics import STILL
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import theme
from gomphosis.viz.wording import signed

FAR_WORDS = "far: translation"


@dataclass(frozen=True)
class TurnedTooth:
    """One tooth of one case, at the median rate."""

    label: str
    tooth: ToothModel
    history: ToothHistory


def turned_teeth(result: RunResult) -> list[TurnedTooth]:
    """Return the teeth that are loaded; a case without any keeps its first tooth."""
    rows = []
    for case in result.cases:
        found = histories(result, case)
        acting = [k for k, history in enumerate(found) if np.any(history.at_bracket)]
        for k in acting or [0]:
            name = f"tooth {found[k].number}"
            if len(result.cases) > 1:
                name = case.name if len(result.teeth) == 1 else f"{name}, {case.name}"
            rows.append(TurnedTooth(theme.printable(name), result.teeth[k], found[k]))
    return rows


def beyond_words(values: Array, limits: tuple[float, float]) -> str:
    """Return the range of values, mm, if it reaches beyond limits, else nothing."""
    known = values[np.isfinite(values)]
    if not np.any((known < limits[0]) | (known > limits[1])):
        return ""
    low, high = float(known.min()), float(known.max())
    return f"{signed(low, digits=0)} to {signed(high, digits=0)} mm"


def no_centre(history: ToothHistory, plane: int) -> str:
    """Return why there is no centre of rotation in a plane at some time, in words, or nothing."""
    missing = ~np.isfinite(history.rotation_centre[:, plane])
    moved = np.abs(history.crown[:, 1 + plane]) >= STILL
    if (missing & moved).any():
        return FAR_WORDS if missing[moved].all() else f"at times {FAR_WORDS}"
    return "does not move" if missing.all() else ""
