"""Verification of what closes a slot: its force over time, and what is refused."""

import numpy as np
import pytest

from gomphosis.scenarios.ligation import Ligation


def test_a_lid_does_not_press():
    assert [Ligation().force(age) for age in (0.0, 10.0)] == [0.0, 0.0]


def test_a_tie_keeps_its_force_unless_told_otherwise():
    assert [Ligation(1.5).force(age) for age in (0.0, 1.0, 1000.0)] == [1.5, 1.5, 1.5]


def test_a_tie_fades_to_its_lasting_share():
    """All but 1/e of what is lost has gone after the time of fading."""
    tie = Ligation(2.0, lasting=0.3, fading=4.0)
    ages = np.array([0.0, 4.0, 8.0, 400.0])
    expected = 2.0 * (0.3 + 0.7 * np.array([1.0, np.exp(-1), np.exp(-2), 0.0]))
    np.testing.assert_allclose([tie.force(age) for age in ages], expected, rtol=1e-14)


def test_a_lost_tie_presses_to_its_last_day_and_no_longer():
    tie = Ligation(2.0, lost=7.0)
    assert [tie.force(age) for age in (0.0, 6.999, 7.0, 8.0)] == [2.0, 2.0, 0.0, 0.0]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"seating": -0.1}, r"force >= 0 N and a stiffness > 0 N/mm, got -0\.1 and 5"),
        ({"seating": 1.0, "stiffness": 0.0}, r"stiffness > 0 N/mm, got 1\.0 and 0\.0"),
        ({"seating": np.nan}, "force >= 0 N"),
        ({"lasting": 1.1}, r"share from 0 to 1 and fades in more than 0 days, got 1\.1 and 1"),
        ({"lasting": -0.1}, "share from 0 to 1"),
        ({"fading": 0.0}, r"got 1\.0 and 0\.0"),
        ({"lost": -1.0}, r"lost on day -1\.0"),
    ],
)
def test_numbers_out_of_range_are_refused(options, words):
    with pytest.raises(ValueError, match=words):
        Ligation(**options)
