"""From force system to drift: rule, limits and derivative."""

import numpy as np
import pytest

from gomphosis.bone.rates import DeadZone, Linear, Saturating
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, motion_at, support
from gomphosis.bone.wall import SocketWall

LOAD = np.array([0.5, 0.2, -0.1, 1.0, -2.0, 0.5])
ROOT = RootProfile(3.24, 12.0, 0.35)


def wall_of(thickness, poisson=0.3, size=None):
    resolution = size or Resolution()
    layer = ThicknessProfile.uniform(thickness)
    return SocketWall(
        support(SupportDesign(ROOT, layer, Elastic(0.05, poisson), None, None), resolution),
        resolution.sectors,
    )


@pytest.fixture(scope="module")
def wall():
    return wall_of(0.2)


def test_wall_moves_where_the_ligament_pushes_it(wall):
    """Compressed wall recedes along its outward normal, stretched wall comes after the tooth."""
    centre = wall.support.planar.centre_of_resistance
    load = motion_at(np.array([0, 0, centre])).T @ np.array([1.0, 0, 0, 0, 0, 0])
    velocity = Remodelling(wall, Linear(1.0)).wall_velocity(load)
    middle = wall.area.shape[0] // 2
    assert velocity[middle, 0, 0] > 0 > velocity[middle, 12, 0]
    stress = wall.stress(load)
    np.testing.assert_allclose(
        np.linalg.norm(velocity[middle, 0]), abs(stress.normal[middle, 0]), rtol=0.02
    )


def test_speed_of_the_wall_is_the_law_of_its_stimulus(wall):
    law = Saturating(0.06, 0.002)
    stimulus = np.linalg.norm(Remodelling(wall, Linear(1.0)).wall_velocity(LOAD), axis=2)
    velocity = Remodelling(wall, law).wall_velocity(LOAD)
    np.testing.assert_allclose(np.linalg.norm(velocity, axis=2), law.speed(stimulus), rtol=1e-12)


def test_shear_weight_by_default_is_the_ratio_of_both_moduli(wall):
    """Verification: M/G = 2 (1 - nu) / (1 - 2 nu) = 3.5 at nu 0.3."""
    by_default = Remodelling(wall, Linear(1.0)).drift(LOAD)[0]
    given = Remodelling(wall, Linear(1.0), 3.5).drift(LOAD)[0]
    np.testing.assert_allclose(by_default, given, rtol=1e-12)
    other = Remodelling(wall, Linear(1.0), 1.0).drift(LOAD)[0]
    assert np.abs(other / given - 1).max() > 0.1


def test_thin_layer_drifts_as_it_gives():
    """Verification: w = k_n times the displacement jump, so v = C k_n u in every direction."""
    thickness = 0.003 * ROOT.radius
    wall = wall_of(thickness)
    pair = wall.support.design.ligament
    drift = Remodelling(wall, Linear(1.0)).drift(LOAD)[0]
    expected = pair.constrained / thickness * wall.support.displacement(LOAD)
    np.testing.assert_allclose(drift, expected, rtol=0, atol=0.02 * np.abs(expected).max())
    centre = wall.support.planar.centre_of_resistance
    np.testing.assert_allclose(drift[:3], expected[:3], rtol=0.01)
    assert centre < 0


def test_the_thin_layer_limit_is_approached_in_proportion_to_the_thickness():
    """Tipping over translation tends to 1: the difference halves with the thickness."""
    gaps = []
    for share in (0.02, 0.01, 0.005):
        wall = wall_of(share * ROOT.radius)
        model = Remodelling(wall, Linear(1.0))
        centre = wall.support.planar.centre_of_resistance
        speeds = []
        for height in (7.0, centre):
            load = motion_at(np.array([0, 0, height])).T @ np.array([1.0, 0, 0, 0, 0, 0])
            drift = model.drift(load)[0]
            speeds.append(drift[0] + centre * drift[4])
        gaps.append(speeds[0] / speeds[1] - 1)
    assert 0.01 < gaps[0] < 0.03
    np.testing.assert_allclose([gaps[0] / gaps[1], gaps[1] / gaps[2]], 2.0, rtol=0.1)


@pytest.mark.parametrize(
    "law", [Linear(3.0), Saturating(0.06, 0.002), DeadZone(2.0, 0.001)], ids=lambda law: repr(law)
)
def test_derivative_against_central_differences(wall, law):
    model = Remodelling(wall, law)
    given = model.drift(LOAD)[1]
    step = 1e-6
    columns = [
        (model.drift(LOAD + step * unit)[0] - model.drift(LOAD - step * unit)[0]) / (2 * step)
        for unit in np.eye(6)
    ]
    difference = np.stack(columns, axis=1)
    # a dead zone has a kink that some samples may cross within the step
    np.testing.assert_allclose(given, difference, rtol=0, atol=1e-4 * np.abs(difference).max())


def test_without_load_nothing_drifts_and_the_derivative_is_that_of_small_loads(wall):
    model = Remodelling(wall, Saturating(0.06, 0.002))
    speed, change = model.drift(np.zeros(6))
    np.testing.assert_array_equal(speed, 0.0)
    linear = Remodelling(wall, Linear(0.06 / 0.002)).drift(np.zeros(6))[1]
    np.testing.assert_allclose(change, linear, rtol=1e-10, atol=1e-12)
    assert np.abs(np.diag(change)).min() > 1e-3


def test_twice_the_force_under_a_saturating_law_is_less_than_twice_as_fast(wall):
    model = Remodelling(wall, Saturating(0.06, 0.002))
    once, twice = (np.linalg.norm(model.drift(f * LOAD)[0][:3]) for f in (1.0, 2.0))
    assert 1.05 * once < twice < 1.5 * once


def test_turning_the_load_turns_the_drift(wall):
    model = Remodelling(wall, Saturating(0.06, 0.002))
    c, s = np.cos(np.pi / 2), np.sin(np.pi / 2)
    turn = np.kron(np.eye(2), [[c, -s, 0], [s, c, 0], [0, 0, 1]])
    np.testing.assert_allclose(
        model.drift(turn @ LOAD)[0], turn @ model.drift(LOAD)[0], rtol=1e-9, atol=1e-12
    )
