"""How people differ in their rate of movement: growth, and the band between persons."""

import numpy as np
from scipy.stats import norm

from gomphosis.bone.library import lookup

QUANTILES = (0.1, 0.5, 0.9)
MEDIAN_FIRST = (0.5, 0.1, 0.9)
"""The order in which they are followed: the median is what an impatient reader wants."""


def growth_factor(growing: str) -> float:
    """Return the factor on all speeds for growing ``yes``, ``no`` or ``unknown``.

    The published means pool growing and non-growing persons, whose speeds differ by a factor f;
    taking equal shares, the pooled mean lies at their geometric mean, so yes is sqrt(f) and no
    1/sqrt(f). The equal shares are an assumption.
    """
    ratio = lookup("speed.growing_factor").number
    return {"yes": ratio**0.5, "no": ratio**-0.5, "unknown": 1.0}[growing]


def person_factor(quantile: float) -> float:
    """Return the log-normal factor between persons at a quantile (median 1)."""
    return float(np.exp(lookup("spread.sigma").number * norm.ppf(quantile)))
