"""Fischer's function: its zeros, its derivatives, its rounded corner. Verification: closed form."""

import numpy as np
import pytest

from gomphosis.fem.complementarity import fischer


def test_it_is_zero_where_apart_or_pushing_and_nowhere_else():
    ways = np.array([0.0, 1e-12, 0.3, 2.0])
    none = np.zeros(4)
    np.testing.assert_array_equal(fischer(ways, none, 0.0)[0], 0.0)
    np.testing.assert_array_equal(fischer(none, ways, 0.0)[0], 0.0)
    # both at once: positive; one of them below 0: negative
    assert np.all(fischer(ways[1:], ways[1:], 0.0)[0] > 0.0)
    below = fischer(np.array([-1.0, 1.0, -1.0, -1e-3]), np.array([1.0, -1.0, -1.0, 0.0]), 0.0)[0]
    assert np.all(below < 0.0)
    # a + b - hypot(a, b) for a 3-4-5 triangle
    assert fischer(np.array([3.0]), np.array([4.0]), 0.0)[0][0] == pytest.approx(2.0, rel=1e-15)
    assert fischer(np.array([-3.0]), np.array([-4.0]), 0.0)[0][0] == pytest.approx(-12.0, rel=1e-15)


def test_a_small_push_beside_a_large_gap_is_not_lost():
    """It is the push itself: gap + push - hypot(gap, push) would keep none of its digits."""
    push = np.array([1e-13, -1e-13])
    np.testing.assert_allclose(fischer(np.ones(2), push, 0.0)[0], push, rtol=1e-12)
    np.testing.assert_allclose(fischer(push, np.ones(2), 0.0)[0], push, rtol=1e-12)


@pytest.mark.parametrize("rounding", [0.0, 0.05])
def test_derivatives_are_those_of_differences(rounding):
    rng = np.random.default_rng(1)
    gap, push = rng.normal(size=(2, 40))
    step = 1e-6
    _, by_gap, by_push = fischer(gap, push, rounding)
    for slope, d_gap, d_push in ((by_gap, step, 0.0), (by_push, 0.0, step)):
        ahead = fischer(gap + d_gap, push + d_push, rounding)[0]
        behind = fischer(gap - d_gap, push - d_push, rounding)[0]
        np.testing.assert_allclose(slope, (ahead - behind) / (2 * step), rtol=0, atol=1e-8)


def test_in_the_corner_it_falls_along_the_diagonal():
    """Its slope from (0, 0) along (1, 1) is 2 - sqrt 2: closed form."""
    value, by_gap, by_push = fischer(np.zeros(1), np.zeros(1), 0.0)
    assert value[0] == 0.0
    assert by_gap[0] + by_push[0] == pytest.approx(2.0 - np.sqrt(2.0), rel=1e-15)
    assert by_gap[0] == by_push[0]
    along = fischer(np.array([1e-3]), np.array([1e-3]), 0.0)[0][0] / 1e-3
    assert by_gap[0] + by_push[0] == pytest.approx(along, rel=1e-12)


def test_rounded_it_is_zero_where_the_product_is_the_square_of_the_rounding():
    """The rounding fades out with the gap, and is gone beyond 100 roundings."""
    gap = np.array([1e-6, 0.02, 0.05, 3.0])
    square = (0.05 * (1.0 - (gap / 5.0) ** 2)) ** 2
    value, *_ = fischer(gap, square / gap, 0.05)
    np.testing.assert_allclose(value, 0.0, rtol=0, atol=1e-14)
    assert np.all(fischer(gap, 1.04 * square / gap, 0.05)[0] > 1e-8)
    assert np.all(fischer(gap, 0.96 * square / gap, 0.05)[0] < -1e-8)
    assert fischer(np.array([5.001]), np.zeros(1), 0.05)[0][0] == 0.0
