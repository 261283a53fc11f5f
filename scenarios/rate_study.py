"""Every published finding on speed beside every rate law: what is inside, what none can reach."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from gomphosis.bone.library import lookup
from gomphosis.bone.stimulus import STIMULI
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.rate_bound import Family
from gomphosis.scenarios.rate_candidates import (
    DEFAULT,
    FORCES,
    SPEEDS,
    STIFF,
    Candidate,
    Fitted,
    candidates,
)
from gomphosis.scenarios.rate_findings import (
    INSIDE,
    NOT_JUDGED,
    PREMOLAR,
    TIPPED_DAYS,
    TIPPED_FORCE,
    TIPPING,
    Finding,
    bracket_height,
    cusp_height,
    findings,
    tipping,
)

Progress = Callable[[float, str], None]
ERRORS = 2.0
"""Standard errors by which a law may miss each published mean when the least movement is sought."""


@dataclass(frozen=True)
class Row:
    """A published finding and what every law says of it, in the order of the study's laws."""

    finding: Finding
    ours: tuple[float, ...]

    @property
    def verdicts(self) -> tuple[str, ...]:
        """Inside, outside or not judged, per law."""
        return tuple(self.finding.verdict(value) for value in self.ours)


@dataclass(frozen=True)
class Law:
    """A candidate as fitted.

    Attributes
    ----------
    max_speed, half_stress
        mm/day and MPa.
    worst_residual
        Largest relative one at the five published speeds.
    inside, judged
        Findings within their spread, and findings that have one.
    """

    candidate: Candidate
    max_speed: float
    half_stress: float
    worst_residual: float
    inside: int
    judged: int


@dataclass(frozen=True)
class Bound:
    """Least tipping by any law of a stimulus that fits translation within `ERRORS`.

    Attributes
    ----------
    stimulus, ligament
        As in ``bone/stimulus.py``, and the name of the law whose ligament it is.
    falling
        Whether speed may fall as stress rises.
    cusp, bracket
        Least movement there, mm.
    """

    stimulus: str
    ligament: str
    falling: bool
    cusp: float
    bracket: float


@dataclass(frozen=True)
class RateStudy:
    """Findings, laws and bounds."""

    rows: tuple[Row, ...]
    laws: tuple[Law, ...]
    bounds: tuple[Bound, ...]

    @property
    def alternatives(self) -> tuple[int, int]:
        """Places of the two best laws beside the default.

        Most findings inside, then fewest numbers added, then tipping nearest to the published.
        """
        tipped = next(row for row in self.rows if row.finding.key == TIPPING)
        missed = np.abs(np.log(np.array(tipped.ours) / tipped.finding.published))
        order = sorted(
            range(1, len(self.laws)),
            key=lambda k: (-self.laws[k].inside, self.laws[k].candidate.added, missed[k]),
        )
        return order[0], order[1]

    def least(self, place: str) -> float:
        """Return the least movement of ``cusp`` or ``bracket``, mm, by laws that nowhere fall."""
        return min(getattr(bound, place) for bound in self.bounds if not bound.falling)


def rate_study(
    progress: Progress | None = None, *, laws: Sequence[Candidate] | None = None
) -> RateStudy:
    """Fit every candidate, compute every finding, and bound what no candidate can reach.

    Parameters
    ----------
    progress
        Told how far the study is.
    laws
        Candidates to compare, the default first and two more at least; None for all.
    """
    tell = progress or (lambda share, what: None)
    fitted = [Fitted(candidate) for candidate in laws or candidates()]
    table = []
    for index, law in enumerate(fitted):
        tell(0.8 * index / len(fitted), law.candidate.words)
        table.append([finding.compute(law) for finding in findings()])
    rows = tuple(
        Row(finding, tuple(ours))
        for finding, ours in zip(findings(), zip(*table, strict=True), strict=True)
    )
    tell(0.8, "least movement by any law")
    study = RateStudy(rows, tuple(_law(law, rows, k) for k, law in enumerate(fitted)), _bounds())
    tell(1.0, "done")
    return study


def _law(fitted: Fitted, rows: tuple[Row, ...], index: int) -> Law:
    residual = fitted.speed(fitted.law, FORCES) / SPEEDS - 1
    verdicts = [row.verdicts[index] for row in rows]
    return Law(
        candidate=fitted.candidate,
        max_speed=fitted.law.max_speed,
        half_stress=fitted.law.half_stress,
        worst_residual=float(np.abs(residual).max()),
        inside=verdicts.count(INSIDE),
        judged=len(verdicts) - verdicts.count(NOT_JUDGED),
    )


def _bounds() -> tuple[Bound, ...]:
    """Bound every stimulus in the ligaments that differ most, and by the way laws that fall."""
    known = {candidate.name: candidate.ligament for candidate in candidates()}
    ways = [(name, s, False) for name in (DEFAULT, STIFF) for s in STIMULI]
    ways += [(DEFAULT, s, True) for s in STIMULI]
    heights = (cusp_height(PREMOLAR), bracket_height(PREMOLAR))
    return tuple(
        Bound(
            stimulus,
            name,
            falling,
            *(
                least_tipping(Family(stimulus, known[name]), height, falling=falling)
                for height in heights
            ),
        )
        for name, stimulus, falling in ways
    )


def least_tipping(family: Family, height: float, *, falling: bool = False) -> float:
    """Return the least movement, mm, at a height of the premolar tipped as published."""
    found = family.least(
        PREMOLAR,
        tipping(PREMOLAR, TIPPED_FORCE),
        height=height,
        days=TIPPED_DAYS,
        errors=ERRORS,
        falling=falling,
    )
    return found.movement


def study_table(study: RateStudy) -> pd.DataFrame:
    """Return one row per finding and law; units stand beside the numbers they belong to."""
    return pd.DataFrame(
        [
            {
                "finding": row.finding.key,
                "quantity": row.finding.quantity,
                "unit": row.finding.unit,
                "published": row.finding.published,
                "low": row.finding.low,
                "high": row.finding.high,
                "law": law.candidate.name,
                "default": index == 0,
                "model": row.ours[index],
                "verdict": row.verdicts[index],
                "kind": row.finding.kind,
                "source": row.finding.source,
                "status": row.finding.status,
                "note": row.finding.note,
            }
            for row in study.rows
            for index, law in enumerate(study.laws)
        ]
    )


def study_document(study: RateStudy) -> dict[str, Any]:
    """Return a study as plain data; None stands for what has no number."""
    names = [law.candidate.name for law in study.laws]
    whole = lookup("speed.dudic_2013.movement")
    return {
        "notice": NOTICE,
        "default": names[0],
        "best_alternatives": [names[k] for k in study.alternatives],
        "laws": {law.candidate.name: _law_document(law) for law in study.laws},
        "findings": [_finding_document(row, names) for row in study.rows],
        "least_tipping": {
            "standard_errors": ERRORS,
            "published_mm": [whole.number, whole.low, whole.high],
            "bounds": [
                {
                    "stimulus": bound.stimulus,
                    "ligament_of_law": bound.ligament,
                    "speed_may_fall_with_stress": bound.falling,
                    "cusp_mm": bound.cusp,
                    "bracket_mm": bound.bracket,
                }
                for bound in study.bounds
            ],
        },
    }


def _finding_document(row: Row, names: Sequence[str]) -> dict[str, Any]:
    finding = row.finding
    texts = ("quantity", "unit", "kind", "source", "status", "note")
    return {
        "finding": finding.key,
        **{name: getattr(finding, name) for name in texts},
        "published": finding.published,
        "low": _finite(finding.low),
        "high": _finite(finding.high),
        "model": dict(zip(names, row.ours, strict=True)),
        "verdict": dict(zip(names, row.verdicts, strict=True)),
    }


def _law_document(law: Law) -> dict[str, Any]:
    return {
        "assumes": law.candidate.words,
        "numbers_added": law.candidate.added,
        "max_speed_um_per_day": 1e3 * law.max_speed,
        "half_stress_kPa": 1e3 * law.half_stress,
        "worst_residual_percent": 100 * law.worst_residual,
        "inside": law.inside,
        "judged": law.judged,
    }


def _finite(value: float | None) -> float | None:
    return value if value is not None and np.isfinite(value) else None
