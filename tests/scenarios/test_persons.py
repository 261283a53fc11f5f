"""Differences between persons, against closed forms of the log-normal distribution.

Verification of the arithmetic; the two constants are published, or derived in the library.
"""

import math
from statistics import NormalDist

import pytest

from gomphosis.scenarios.persons import QUANTILES, growth_factor, person_factor


def test_growing_persons_are_1_6_times_as_fast():
    """Nickel et al., AJODO 2014;145(4 Suppl):S74-S81 (authors and volume from memory)."""
    assert growth_factor("yes") / growth_factor("no") == pytest.approx(1.6, rel=1e-12)


def test_pooled_mean_lies_between_the_two_groups():
    assert growth_factor("unknown") == 1.0
    assert growth_factor("yes") * growth_factor("no") == pytest.approx(1.0, rel=1e-12)


def test_unknown_answer_is_refused():
    with pytest.raises(KeyError):
        growth_factor("maybe")


@pytest.mark.parametrize("quantile", [0.01, 0.1, 0.5, 0.9, 0.99])
def test_log_normal_quantile(quantile: float):
    """ln f is normal with sigma 0.45: f_q = exp(0.45 z_q), z_q from the standard library."""
    expected = math.exp(0.45 * NormalDist().inv_cdf(quantile))
    assert person_factor(quantile) == pytest.approx(expected, rel=1e-9)


def test_band_spans_a_factor_of_three():
    """exp(2 x 1.2816 x 0.45) = 3.17, near the published 3:1 between persons."""
    slow, median, fast = (person_factor(q) for q in QUANTILES)
    assert QUANTILES == (0.1, 0.5, 0.9)
    assert median == pytest.approx(1.0, rel=1e-12)
    assert slow * fast == pytest.approx(1.0, rel=1e-12)
    assert fast / slow == pytest.approx(math.exp(2 * 1.2815515655446004 * 0.45), rel=1e-9)
