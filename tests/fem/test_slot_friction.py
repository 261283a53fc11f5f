"""Friction as a condition, against an elastic-plastic slider and differences. Verification."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq

from gomphosis.fem.slot_friction import PER_SHARE, rub

ELASTIC = 0.002


def left(share, slid, before, rounding=0.0):
    one = (np.array([value]) for value in (share, slid))
    return float(rub(*one, before=np.array([before]), elastic=ELASTIC, rounding=rounding).left[0])


def found(slid, before, rounding=0.0):
    return brentq(lambda share: left(share, slid, before, rounding), -3.0, 3.0, xtol=1e-14)


@pytest.mark.parametrize("before", [-1.0, -0.4, 0.0, 0.7, 1.0])
def test_without_sliding_a_share_stays_what_it_is(before):
    """For any number of steps, whatever the share: an idle drag does not fade."""
    assert left(before, 0.0, before) == pytest.approx(0.0, abs=1e-17)
    share = before
    for _ in range(20):
        share = found(0.0, share)
    assert share == pytest.approx(before, abs=1e-12)


def test_within_its_limit_nothing_slips():
    """Elastic way only: share = before + slid / elastic."""
    for slid in (-0.0012, 0.0005, 0.0015):
        share = found(slid, 0.2)
        assert share == pytest.approx(0.2 + slid / ELASTIC, abs=1e-12)
        one = rub(np.array([share]), np.array([slid]), before=np.array([0.2]), elastic=ELASTIC)
        assert one.slip[0] == pytest.approx(0.0, abs=1e-15)


def test_on_and_back_it_is_an_elastic_plastic_slider():
    """Closed form: each step clips before + slid / elastic to the box from -1 to 1."""
    places = ELASTIC * np.array([0.0, 0.6, 2.5, 9.0, 8.4, 6.9, 5.5, 5.6, 9.9, -3.0])
    ours, exact = 0.0, 0.0
    for start, end in pairwise(places):
        ours = found(end - start, ours)
        exact = float(np.clip(exact + (end - start) / ELASTIC, -1.0, 1.0))
        assert ours == pytest.approx(exact, abs=1e-10)
    assert exact == -1.0


def test_slip_goes_with_the_drag_at_its_limit_only():
    """Sign of what is left: at a limit slip one way is free, the other way and inside it is not."""
    ahead, back = 5 * ELASTIC, -5 * ELASTIC
    assert left(1.0, ahead, 1.0) == pytest.approx(0.0, abs=1e-16)
    assert left(-1.0, back, -1.0) == pytest.approx(0.0, abs=1e-16)
    wrong = [(1.0, back, 1.0), (-1.0, ahead, -1.0), (0.3, ahead, 0.3), (0.3, back, 0.3)]
    for share, slid, before in wrong:
        assert abs(left(share, slid, before)) > 0.1 * PER_SHARE


@pytest.mark.parametrize("slid", [-1.0, -0.001, 0.0, 0.001, 1.0])
def test_no_share_is_beyond_its_box(slid):
    for before in (-1.0, 0.0, 1.0):
        assert left(1.1, slid, before) > 0.0
        assert left(-1.1, slid, before) < 0.0
        assert abs(found(slid, before)) <= 1.0 + 1e-12


def test_rounded_the_share_tends_to_the_sharp_one():
    sharp_inside = 0.1 + 0.0015 / ELASTIC
    for slid in (-0.01, 0.0015, 0.05):
        sharp, shares = found(slid, 0.1), [found(slid, 0.1, e) for e in (1e-3, 1e-4, 1e-5)]
        assert np.all(np.abs(shares) < 1.01)
        assert np.all(np.diff(np.abs(np.array(shares) - sharp)) <= 0.0)
        assert shares[-1] == pytest.approx(sharp, abs=1e-4)
    # well inside the box the rounding has faded out
    assert found(0.0015, 0.1, 1e-5) == pytest.approx(sharp_inside, abs=1e-12)


@pytest.mark.parametrize("rounding", [0.0, 0.001])
def test_derivatives_are_those_of_differences(rounding):
    rng = np.random.default_rng(2)
    share, before = rng.uniform(-1.3, 1.3, (2, 40))
    slid = rng.normal(size=40) * 0.01
    step = 1e-7
    options = {"before": before, "elastic": ELASTIC, "rounding": rounding}
    here = rub(share, slid, **options)
    ahead, behind = (rub(share + d, slid, **options).left for d in (step, -step))
    np.testing.assert_allclose(here.by_share, (ahead - behind) / (2 * step), rtol=1e-5, atol=1e-8)
    ahead, behind = (rub(share, slid + d, **options).left for d in (step, -step))
    np.testing.assert_allclose(here.by_slide, (ahead - behind) / (2 * step), rtol=1e-4, atol=1e-6)
