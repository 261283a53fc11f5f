"""Published findings on speed beside the default rate law, and what no such law can reach.

The same rows as those of the study of rate laws (``scenarios/rate_study.py``), for the default law.
"""

from functools import cache, partial

from gomphosis.bone.library import lookup
from gomphosis.bone.stimulus import STIMULI
from gomphosis.scenarios.checks.check import DISAGREES, SHOWN, Check, Outcome
from gomphosis.scenarios.rate_bound import Family
from gomphosis.scenarios.rate_candidates import Fitted, candidates
from gomphosis.scenarios.rate_findings import (
    PREMOLAR,
    TIPPING,
    Finding,
    cusp_height,
    findings,
)
from gomphosis.scenarios.rate_study import ERRORS, least_tipping

ELSEWHERE = (TIPPING, "rats-centre", "reviewed-250-over-50-cN")
"""Findings that have a check in ``scenarios/checks/rates.py``."""
WRONG = {
    "dogs-300-over-10-cN": "a law fitted to human translation, which doubles from 4 to 78 kPa, "
    "cannot be flat over a factor of 30 in force",
    "tipping-bracket": "tipping is too fast under every law whose speed does not fall with stress",
    "tipping-under-16": "as for tipping in all",
    "tipping-from-16": "as for tipping in all",
}
"""Findings outside whose spread the default law lies, and why."""


def checks() -> list[Check]:
    """Return the checks of this file."""
    rows = [finding for finding in findings() if finding.kind == "validation"]
    return [
        *(_beside(finding) for finding in rows if finding.key not in ELSEWHERE),
        *(_least(stimulus) for stimulus in STIMULI),
    ]


@cache
def default_law() -> Fitted:
    """Return the default law as fitted."""
    return Fitted(candidates()[0])


def _beside(finding: Finding) -> Check:
    wrong = WRONG.get(finding.key)
    return Check(
        name=f"speed-{finding.key}",
        quantity=finding.quantity,
        unit=finding.unit,
        kind=finding.kind,
        source=finding.source,
        status=finding.status,
        expected=SHOWN if wrong is None else DISAGREES,
        compute=lambda: Outcome(finding.compute(default_law()), finding.published),
        note="; ".join(part for part in (_spread(finding), finding.note, wrong) if part),
    )


def _spread(finding: Finding) -> str:
    if finding.low is None or finding.high is None:
        return ""
    return f"spread {finding.low:.3g} to {finding.high:.3g}"


def _least(stimulus: str) -> Check:
    cited = lookup("speed.dudic_2013.movement")
    return Check(
        name=f"least-tipping-{stimulus}",
        quantity=(
            "least movement of the tipped premolar's cusp in 8 weeks under any law of stimulus "
            f"{stimulus} whose speed does not fall with stress, against the largest published"
        ),
        unit="mm",
        kind="validation",
        source=cited.source,
        status=cited.status,
        expected=DISAGREES,
        compute=partial(_least_outcome, stimulus, cited.high),
        note=(
            f"every published translation within {ERRORS:g} standard errors; found by a linear "
            "programme over all such laws. None of them tips as slowly as the fastest tooth of "
            "the publication: what slows tipping is not in the family"
        ),
    )


def _least_outcome(stimulus: str, largest: float | None) -> Outcome:
    if largest is None:
        raise RuntimeError("the published movement has lost its range")
    return Outcome(least_tipping(Family(stimulus), cusp_height(PREMOLAR)), largest)
