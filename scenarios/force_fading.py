"""How the force on each bracket fades after each change of what acts on the teeth."""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.key_times import LEAST_FORCE
from gomphosis.scenarios.result import CaseResult, RunResult

HALF = 0.5


@dataclass(frozen=True)
class Fading:
    """Total force on one bracket from one change of wire, visit or elastics to the next.

    Attributes
    ----------
    number
        Of the tooth.
    period
        Index of the stage.
    days
        Since the start of the run, shape (n,).
    force
        Size of the force on the bracket at the median rate, N, shape (n,).
    """

    number: int
    period: int
    days: Array
    force: Array

    @property
    def strong(self) -> bool:
        """Whether the force at the change was one whose share says something."""
        return bool(self.force[0] >= LEAST_FORCE)

    @property
    def share(self) -> Array:
        """Force over that at the change, shape (n,); nan where that was below 0.02 N."""
        if not self.strong:
            return np.full(len(self.force), np.nan)
        return self.force / self.force[0]

    @property
    def half_after(self) -> float | None:
        """Days from the change until the force first is half of what it was then, or None."""
        below = np.flatnonzero(self.share <= HALF)
        if not len(below):
            return None
        k = int(below[0])
        # the force is linear from record to record
        between = np.interp(HALF, self.share[k - 1 : k + 1][::-1], self.days[k - 1 : k + 1][::-1])
        return float(between - self.days[0])


def fadings(result: RunResult, case: CaseResult) -> tuple[tuple[Fading, ...], ...]:
    """Return the fading of every tooth of a case, in the order of the stages."""
    found = []
    for history in histories(result, case):
        force = np.linalg.norm(history.at_bracket[:, :3], axis=1)
        stages = [history.period == period for period in np.unique(history.period)]
        found.append(
            tuple(
                Fading(history.number, int(history.period[of][0]), history.days[of], force[of])
                for of in stages
            )
        )
    return tuple(found)
