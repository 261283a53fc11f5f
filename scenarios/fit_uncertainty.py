"""Standard errors of fitted constants, and what the points of a fit leave open."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.refusal import listed

DETERMINED = 0.5
"""Relative standard error above which a combination of constants counts as left open."""

SINGULAR = 1e-6  # of the largest sensitivity: no effect on the points at all
SHARE = 0.1  # of a constant in what is left open, above which it has no error of its own


@dataclass(frozen=True)
class Uncertainty:
    """How well points determine constants.

    Attributes
    ----------
    names
        Of the constants.
    errors
        Relative standard errors, shape (n,); NaN where the constant is not determined.
    left_open
        Number of independent combinations of relative changes that the points do not notice.
    """

    names: tuple[str, ...]
    errors: Array
    left_open: int

    @property
    def undetermined(self) -> tuple[str, ...]:
        """Constants that the points do not determine."""
        return tuple(
            name for name, error in zip(self.names, self.errors, strict=True) if np.isnan(error)
        )

    @property
    def words(self) -> tuple[str, ...]:
        """Sentences that say so."""
        names = self.undetermined
        if not names:
            return ()
        if self.left_open >= len(names):
            return (f"The curve does not determine {listed(names, last='and')}.",)
        count = len(names) - self.left_open
        return (
            f"Of {listed(names, last='and')} the curve determines only "
            f"{count} combination{'s' if count > 1 else ''}, not each.",
        )


def uncertainty(change: Array, scatter: float, names: Sequence[str]) -> Uncertainty:
    """Return how well points determine constants, by a linear model with independent errors.

    Parameters
    ----------
    change
        Of the points per relative change of each constant, shape (m, n).
    scatter
        Standard deviation of one point, in the unit of `change`.
    names
        Of the n constants.
    """
    _, sizes, axes = np.linalg.svd(change, full_matrices=False)
    is_open = (sizes <= SINGULAR * sizes[0]) | (scatter > DETERMINED * sizes)
    known = axes[~is_open] / sizes[~is_open, None]
    errors = scatter * np.sqrt(np.sum(known**2, axis=0))
    errors[np.sum(axes[is_open] ** 2, axis=0) > SHARE**2] = np.nan
    return Uncertainty(tuple(names), errors, int(is_open.sum()))
