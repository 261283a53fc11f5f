"""One comparison of the product with something outside it."""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

from gomphosis.bone.library import STATUSES

KINDS = ("verification", "calibration", "validation")
"""Against a closed form or another code; against data the parameters were fitted to, or sharing
subjects with them; against independent data."""

CHECK_STATUSES = (*STATUSES, "closed form", "reference library")
"""Status words of the library, and two more: a formula whose derivation stands in the source, and
another program that was run."""

MEASURES = ("relative", "absolute", "band half-width")
"""What a tolerance bounds: ours / theirs - 1 in size; ours - theirs; the same, where theirs is the
middle of a published range."""

AGREES = "agrees"
DISAGREES = "known disagreement"
SHOWN = "shown only"
EXPECTATIONS = (AGREES, DISAGREES, SHOWN)
"""A check that must pass; a difference that is known and explained; a number to look at."""

NEVER_DECIDES = "from memory, unverified"


@dataclass(frozen=True)
class Outcome:
    """Hold the product's number and the other one, in the unit of the check."""

    ours: float
    theirs: float


@dataclass(frozen=True)
class Report:
    """What one run of a check found.

    Attributes
    ----------
    check
        The check that was run.
    ours, theirs
        The two numbers, in the unit of the check.
    error
        Signed, relative or in the unit of the check, as its measure says; nan if not defined.
    passed
        None for a known disagreement and for a number that is only shown.
    seconds
        Time taken; checks that share a computation count it once.
    """

    check: "Check"
    ours: float
    theirs: float
    error: float
    passed: bool | None
    seconds: float


@dataclass(frozen=True)
class Check:
    """Compare one quantity with the outside.

    Parameters
    ----------
    name
        Stable slug.
    quantity
        What is compared, in words.
    unit
        Of both numbers; ``"1"`` if dimensionless.
    kind
        One of `KINDS`.
    source
        Who says so: a derivation, a paper, another program.
    status
        One of `CHECK_STATUSES`: how far the source can be trusted.
    tolerance, measure
        Accepted error and what it bounds, one of `MEASURES`; infinite where nothing is decided.
    compute
        Returns both numbers.
    expected
        One of `EXPECTATIONS`; only ``"agrees"`` can pass or fail.
    slow
        True if it takes more than five seconds.
    note
        What the reader must know: why this tolerance, what explains a difference.

    Raises
    ------
    ValueError
        If a word is not in its list, the tolerance does not fit the expectation, or a number
        from memory would decide.
    """

    name: str
    quantity: str
    unit: str
    kind: str
    source: str
    status: str
    compute: Callable[[], Outcome]
    tolerance: float = math.inf
    measure: str = "relative"
    expected: str = AGREES
    slow: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        words = (
            (self.kind, KINDS),
            (self.status, CHECK_STATUSES),
            (self.measure, MEASURES),
            (self.expected, EXPECTATIONS),
        )
        for word, known in words:
            if word not in known:
                raise ValueError(f"check {self.name}: {word!r} is not one of {known}")
        if not self.tolerance > 0 or (math.isinf(self.tolerance) == (self.expected == AGREES)):
            raise ValueError(
                f"check {self.name}: tolerance {self.tolerance} does not fit {self.expected!r}: "
                "what must agree needs a finite one above 0, the rest none"
            )
        if self.status == NEVER_DECIDES and self.expected == AGREES:
            raise ValueError(f"check {self.name}: a number {NEVER_DECIDES} never decides")

    def run(self) -> Report:
        """Compute both numbers and judge their difference."""
        begin = time.perf_counter()
        outcome = self.compute()
        seconds = time.perf_counter() - begin
        ours, theirs = float(outcome.ours), float(outcome.theirs)
        error = self._error(ours, theirs)
        # written so that a result that is not a number fails
        passed = abs(error) <= self.tolerance if self.expected == AGREES else None
        return Report(self, ours, theirs, error, passed, seconds)

    def _error(self, ours: float, theirs: float) -> float:
        if self.measure != "relative":
            return ours - theirs
        return ours / theirs - 1 if theirs != 0 else math.nan
