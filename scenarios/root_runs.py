"""One tooth of a case at three rates of movement, as the preview of its root reads it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import ToothHistory
from gomphosis.scenarios.kinematics import PLANES
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.plates import LABIOLINGUAL
from gomphosis.scenarios.result import CaseResult, RunResult, rows_at, weekly
from gomphosis.scenarios.root_quantities import Origin, Quantity, band_text
from gomphosis.scenarios.slice_model import in_plane


@dataclass(frozen=True)
class RootRuns:
    """Hold one tooth of a case at the slow, the median and the fast rate.

    Attributes
    ----------
    result, case, index
        Of the run; place of the tooth in it.
    runs
        Its histories at the three rates.
    """

    result: RunResult
    case: CaseResult
    index: int
    runs: tuple[ToothHistory, ...]

    @property
    def tooth(self) -> ToothModel:
        """Model of the tooth."""
        return self.result.teeth[self.index]

    @property
    def number(self) -> int:
        """ISO 3950."""
        return self.tooth.number

    @property
    def plane(self) -> str:
        """Plane of the median movement; the labial one where nothing moves across."""
        found = self.runs[1].plane[-1]
        return found if found in PLANES else PLANES[0]

    @property
    def across(self) -> int:
        """Place of that plane in arrays."""
        return PLANES.index(self.plane)

    @property
    def weeks(self) -> Array:
        """Whole weeks of the run, and its end."""
        return weekly(self.case.median) / 7

    @property
    def end(self) -> str:
        """When the run ends, in words."""
        return f"by week {self.weeks[-1]:.3g}"

    def at_weeks(self, series: Sequence[Array]) -> list[tuple[float | None, ...]]:
        """Return the three runs' values at the end of each week."""
        rows = [
            rows_at(self.case.tracks[q], weekly(self.case.tracks[q])).tolist() for q in QUANTILES
        ]
        return [
            tuple(finite(float(values[row])) for values, row in zip(series, at, strict=True))
            for at in zip(*rows, strict=True)
        ]

    def planar(self, what: str) -> list[Array]:
        """Return pose or drift in the labiolingual plane at the three rates, (T, 3) each."""
        tracks = [self.case.tracks[q] for q in QUANTILES]
        return [
            in_plane(self.number, LABIOLINGUAL, getattr(t, what)[:, self.index]) for t in tracks
        ]

    def wrenches(self) -> list[Array]:
        """Return the force systems about the crest at the three rates, (T, 6) each."""
        return [self.case.tracks[q].wrench[:, self.index] for q in QUANTILES]


def weekly_series(
    root: RootRuns,
    key: str,
    name: str,
    values: Sequence[tuple[float | None, ...]],
    *,
    origin: Origin | None = None,
) -> list[Quantity]:
    """Return one finding for the end of each week, from values of the three runs."""
    return [
        Quantity(
            key,
            name,
            "mm",
            found,
            f"Tooth {root.number}, week {week:.3g}: {name} {band_text(found, 'mm')}.",
            origin or Origin(),
            week=float(week),
        )
        for week, found in zip(root.weeks, values, strict=True)
    ]


def finite(value: float) -> float | None:
    """Return a number, or None for one that is not."""
    return float(value) if np.isfinite(value) else None
