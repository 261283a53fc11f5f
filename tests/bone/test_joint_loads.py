"""Loads that act together or go on: sums, and who is told what. Verification."""

import numpy as np
import pytest

from gomphosis.bone.joint_loads import Continued, Together, parts
from gomphosis.bone.loads import ConstantLoads, LoadResponse, SpringLoads

POSES = np.linspace(-0.3, 0.4, 12).reshape(2, 6)


class Cubic:
    """Loads of the third power of the poses, which note what they were told."""

    def __init__(self, factor=1.0):
        self.factor = factor
        self.told = []

    def at_day(self, day):
        self.told.append(("day", day))

    def engage(self, poses):
        self.told.append(("engage", poses.copy()))

    def evaluate(self, poses):
        slope = np.diag(3 * self.factor * poses.ravel() ** 2)
        return LoadResponse(self.factor * poses**3, slope)

    def commit(self, poses):
        self.told.append(("commit", poses.copy()))

    def rollback(self):
        self.told.append(("rollback", None))


def names(load):
    return [name for name, _ in load.told]


def springs():
    stiffness = np.arange(144.0).reshape(12, 12)
    return SpringLoads(np.ones((2, 6)), stiffness)


def test_force_systems_of_three_add():
    push = ConstantLoads(np.full((2, 6), 2.0))
    found = Together([Cubic(), push, springs()]).evaluate(POSES)
    expected = (
        POSES**3 + 2.0 + 1.0 - (np.arange(144.0).reshape(12, 12) @ POSES.ravel()).reshape(2, 6)
    )
    np.testing.assert_allclose(found.wrenches, expected, rtol=1e-14)


def test_derivative_of_the_sum_against_differences():
    both = Together([Cubic(2.0), springs(), Cubic(-0.5)])
    step, slope = 1e-5, both.evaluate(POSES).derivative
    for column in range(12):
        change = np.zeros(12)
        change[column] = step
        ends = [
            both.evaluate(POSES + sign * change.reshape(2, 6)).wrenches.ravel() for sign in (1, -1)
        ]
        # central differences of a cubic are off by the square of the step
        np.testing.assert_allclose(
            slope[:, column], (ends[0] - ends[1]) / (2 * step), rtol=1e-6, atol=1e-8
        )


def test_all_are_told_everything():
    one, two = Cubic(), Cubic()
    both = Together([one, two])
    both.at_day(3.0)
    both.engage(POSES)
    both.commit(2 * POSES)
    both.rollback()
    for load in (one, two):
        assert names(load) == ["day", "engage", "commit", "rollback"]
        assert load.told[0] == ("day", 3.0)
        np.testing.assert_array_equal(load.told[1][1], POSES)
        np.testing.assert_array_equal(load.told[2][1], 2 * POSES)


def test_nothing_together_is_refused():
    with pytest.raises(ValueError, match="need at least one"):
        Together([])


def test_a_load_that_goes_on_is_put_on_once():
    load = Cubic()
    going_on = Continued(load)
    going_on.at_day(0.0)
    going_on.engage(POSES)
    going_on.commit(POSES)
    going_on.at_day(4.0)
    going_on.engage(3 * POSES)
    going_on.rollback()
    going_on.commit(2 * POSES)
    assert names(load) == ["day", "engage", "commit", "day", "rollback", "commit"]
    np.testing.assert_array_equal(load.told[1][1], POSES)
    np.testing.assert_array_equal(load.told[-1][1], 2 * POSES)
    found = going_on.evaluate(POSES)
    np.testing.assert_array_equal(found.wrenches, POSES**3)
    np.testing.assert_array_equal(found.derivative, np.diag(3 * POSES.ravel() ** 2))


def test_parts_are_found_through_both():
    one, two, three = Cubic(), Cubic(), springs()
    assert list(parts(Together([Continued(one), Together([two, Continued(three)])]))) == [
        one,
        two,
        three,
    ]
    assert list(parts(one)) == [one]
