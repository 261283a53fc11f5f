"""The checks of the slice are registered, and say what they are taken to say."""

import numpy as np
import pytest

from gomphosis.scenarios.checks import all_checks, slice, slice_motion
from gomphosis.scenarios.checks.check import SHOWN
from gomphosis.scenarios.checks.slice import compared, left_over, wall_totals
from gomphosis.scenarios.checks.slice_bodies import held_stiffness, opened, thin
from gomphosis.scenarios.checks.slice_motion import LIGHT, path_change, rotation_heights

CHECKS = [*slice.checks(), *slice_motion.checks()]


def test_they_are_registered():
    names = {check.name for check in all_checks()}
    assert names >= {check.name for check in CHECKS}
    assert len([check for check in CHECKS if check.expected != SHOWN]) == 29


def test_side_walls_carry_what_the_thin_layer_says():
    """Closed form: G/(M + G) laterally and half axially; the crown's end takes 1 %."""
    lateral = compared("lateral", 0.3, side_walls=False)
    axial = compared("axial", 0.3, side_walls=False)
    layer = 1 / (1 + 3.5)  # M/G = 3.5 at nu 0.3
    assert lateral.ours / lateral.theirs == pytest.approx(1 - layer, abs=0.01)
    assert axial.ours / axial.theirs == pytest.approx(0.5, abs=0.01)


def test_bone_loss_leaves_the_relative_centre_where_it_was():
    """A parabola cut off is a parabola: at three bone levels within a thousandth of h'."""
    centres = [left_over(share) for share in (1.0, 0.75, 0.5)]
    assert np.ptp(centres) < 1e-3
    np.testing.assert_allclose(centres, 0.4, rtol=0.01)


def test_a_thinner_layer_comes_closer_to_the_closed_form():
    """The layer's own thickness widens the wall: the miss halves with it (cone, 1/3)."""
    misses = []
    for share in (0.01, 0.005):
        k = held_stiffness(thin(1.0, slender=0.02, thickness=share))
        misses.append(-k[0, 2] / k[0, 0] / 12.0 - 1 / 3)
    assert misses[0] / misses[1] == pytest.approx(2.0, rel=0.15)


@pytest.mark.parametrize("ratio", [0.0, 5.0])
def test_stiffening_ligament_moves_the_centre_of_rotation_and_the_linear_one_does_not(ratio):
    """Validation, qualitative: Cattaneo PM, Dalstra M, Melsen B, AJODO 2008;133:681-689."""
    linear, stiffening = (
        rotation_heights(LIGHT, stiffening=flag, ratio=ratio) for flag in (False, True)
    )
    assert np.ptp(linear) < 1e-8 * 12.0
    assert np.ptp(stiffening) > 0.005 * 12.0
    # before the switch both are one
    assert stiffening[0] == pytest.approx(linear[0], abs=0.002)


@pytest.mark.slow
def test_centre_of_rotation_from_light_to_heavy_forces():
    """Printed with -s: heights over the crest of a single force. Heavy forces tie them down again.

    Far beyond the switch all of the ligament is on its second branch: linear in form.
    """
    forces = np.array([*LIGHT, 1.0, 2.0, 5.0, 20.0, 40.0])
    heights = rotation_heights(forces, stiffening=True)
    for force, height in zip(forces, heights, strict=True):
        print(f"{force:5.1f} N: {height:.3f} mm")
    assert np.ptp(heights) > 0.02 * 12.0
    assert abs(heights[-1] - heights[-2]) < 0.2 * np.ptp(heights)


def test_wall_totals_miss_what_side_walls_would_take():
    """The balance can fail: without their share 22 % of a lateral load are gone."""
    found = wall_totals(opened(young=0.05, poisson=0.3))
    np.testing.assert_allclose(np.diag(found), 1.0, rtol=1e-6)
    side = opened(young=0.05, poisson=0.3)
    held = side.slice_body.side.stiffness[:, 0] @ side.side_displacement[:, 0, 0]
    assert 0.1 < held < 0.4


@pytest.mark.slow
def test_path_settles_under_a_falling_load_as_well():
    """Second halving; the load falls by two thirds in two weeks, as a light wire's may."""
    assert 0 < path_change(0.5, decay=14.0) < 0.01
