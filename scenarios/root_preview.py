"""Preview of a root: how it tips, where it turns about, and what it nears, from whole runs.

Every number is that of the model at three rates of movement, those of the 10th, 50th and 90th
percentile of persons, each from a whole run. Thresholds are those of the library or of the
scenario; they stand beside the number and decide nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.plates import LABIOLINGUAL
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.root_clearance import known_plates, plate_findings
from gomphosis.scenarios.root_movement import (
    apex_found,
    apex_weekly,
    movement_found,
    rotation_found,
    rotation_weekly,
)
from gomphosis.scenarios.root_quantities import BAND, Quantity
from gomphosis.scenarios.root_runs import RootRuns
from gomphosis.scenarios.root_support import RootSupport, root_support
from gomphosis.scenarios.root_wall import apex_stress, wall_shares
from gomphosis.scenarios.slice_model import SIDE_NAMES


@dataclass(frozen=True)
class RootPreview:
    """What a run shows of one root.

    Attributes
    ----------
    number, case
        ISO 3950, and the case of the run.
    plane
        ``labial`` or ``mesial``: in which tipping and centre of rotation are told.
    support
        How its ligament holds it.
    quantities
        Findings of the whole run.
    weekly
        Findings at the end of each week: centre of rotation, apical displacement, clearances.
    remarks
        What could not be said, in plain sentences.
    """

    number: int
    case: str
    plane: str
    support: RootSupport
    quantities: tuple[Quantity, ...]
    weekly: tuple[Quantity, ...]
    remarks: tuple[str, ...] = ()

    def quantity(self, key: str) -> Quantity:
        """Return a finding of the whole run by its key.

        Raises
        ------
        KeyError
            If there is none of that key.
        """
        for quantity in self.quantities:
            if quantity.key == key:
                return quantity
        raise KeyError(f"no {key!r}; there are {[q.key for q in self.quantities]}")

    def document(self) -> dict[str, Any]:
        """Return the preview as plain data."""
        return {
            "plane": self.plane,
            "support": self.support.document(),
            "quantities": {q.key: q.document() for q in self.quantities},
            "weekly": _weekly_document(self.weekly),
            "remarks": list(self.remarks),
        }


def root_previews(result: RunResult, case: CaseResult) -> tuple[RootPreview, ...]:
    """Return the preview of every tooth of a case."""
    runs = {q: histories(result, case, quantile=q) for q in QUANTILES}
    return tuple(
        root_preview(result, case, index, {q: runs[q][index] for q in QUANTILES})
        for index in range(len(result.teeth))
    )


def root_preview(
    result: RunResult, case: CaseResult, index: int, runs: Mapping[float, ToothHistory]
) -> RootPreview:
    """Return the preview of one tooth of a case.

    Parameters
    ----------
    index
        Place of the tooth in the run.
    runs
        Its histories by quantile of the rate.
    """
    root = RootRuns(result, case, index, tuple(runs[q] for q in QUANTILES))
    plates, plates_weekly = plate_findings(root)
    return RootPreview(
        root.number,
        case.name,
        root.plane,
        root_support(result.scenario, root.tooth),
        (
            movement_found(root),
            rotation_found(root),
            apex_found(root),
            *plates,
            *wall_shares(root),
            *apex_stress(root),
        ),
        (*rotation_weekly(root), *apex_weekly(root), *plates_weekly),
        _unknown_plates(root),
    )


def _unknown_plates(root: RootRuns) -> tuple[str, ...]:
    known = [plate.side for plate in known_plates(root)]
    if not known:
        return (f"Tooth {root.number}: plates of this tooth are not given.",)
    missing = [side for side in SIDE_NAMES[LABIOLINGUAL] if side not in known]
    return tuple(f"Tooth {root.number}: the {side} plate is not given." for side in missing)


def _weekly_document(rows: Sequence[Quantity]) -> dict[str, list[dict[str, Any]]]:
    found: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        values = dict(zip(BAND, row.values, strict=True))
        found.setdefault(f"{row.key}_{row.unit}", []).append({"week": row.week, **values})
    return found
