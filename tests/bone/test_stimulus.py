"""Other stimuli than the local traction: what they mean, and their exact derivative."""

import numpy as np
import pytest

from gomphosis.bone.rates import Linear, Saturating
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.stimulus import EXPONENT, STIMULI, velocity
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, support
from gomphosis.bone.wall import SocketWall

LOAD = np.array([0.5, 0.2, -0.1, 1.0, -2.0, 0.5])
LAW = Saturating(0.06, 0.002)


@pytest.fixture(scope="module")
def wall():
    layer = ThicknessProfile(0.22, 0.16, 0.22)
    design = SupportDesign(RootProfile(3.24, 12.0, 0.35), layer, Elastic(0.05, 0.3), None, None)
    return SocketWall(support(design, Resolution(along=12)), 12)


@pytest.mark.parametrize("name", STIMULI)
@pytest.mark.parametrize("law", [Linear(3.0), LAW], ids=repr)
def test_derivative_against_central_differences(wall, law, name):
    """Verification: exact derivative, differences of second order."""
    model = Remodelling(wall, law, None, name)
    moving = np.linspace(0, 1, wall.area.size)
    step = 1e-6
    for share in (None, moving):
        given = model.drift(LOAD, share)[1]
        columns = [
            (model.drift(LOAD + step * unit, share)[0] - model.drift(LOAD - step * unit, share)[0])
            / (2 * step)
            for unit in np.eye(6)
        ]
        difference = np.stack(columns, axis=1)
        np.testing.assert_allclose(given, difference, rtol=0, atol=1e-6 * np.abs(difference).max())


@pytest.mark.parametrize("name", STIMULI)
def test_the_wall_moves_along_its_traction(wall, name):
    load = Remodelling(wall, LAW, None, name).load(LOAD)
    moved, _ = velocity(LAW, name, load)
    along = np.einsum("pi,pi->p", moved, load.w)
    size = np.linalg.norm(load.w, axis=1)
    np.testing.assert_allclose(along, np.linalg.norm(moved, axis=1) * size, rtol=1e-12)


def test_speed_under_pressure_is_the_law_of_the_mean_stress(wall):
    model = Remodelling(wall, LAW, None, "pressure")
    speed = np.linalg.norm(model.wall_velocity(LOAD), axis=2)
    np.testing.assert_allclose(speed, LAW.speed(np.abs(wall.stress(LOAD).pressure)), rtol=1e-12)


def test_one_stimulus_for_the_tooth_keeps_the_pattern_of_a_linear_law(wall):
    """R(s)/s is one number on the whole wall, s the mean of |w|^16 over its area."""
    linear = Remodelling(wall, Linear(1.0)).wall_velocity(LOAD)
    found = Remodelling(wall, LAW, None, "tooth").wall_velocity(LOAD)
    size = np.linalg.norm(linear, axis=2)
    mean = np.average(size**EXPONENT, weights=wall.area) ** (1 / EXPONENT)
    np.testing.assert_allclose(found, LAW.speed(mean) / mean * linear, rtol=1e-12)
    assert np.average(size, weights=wall.area) < mean < size.max()


@pytest.mark.parametrize("name", STIMULI)
def test_without_load_nothing_moves(wall, name):
    speed, change = Remodelling(wall, LAW, None, name).drift(np.zeros(6))
    np.testing.assert_array_equal(speed, 0.0)
    assert np.all(np.isfinite(change))


def test_without_load_the_pace_of_the_tooth_changes_as_under_a_linear_law(wall):
    change = Remodelling(wall, LAW, None, "tooth").drift(np.zeros(6))[1]
    linear = Remodelling(wall, Linear(0.06 / 0.002)).drift(np.zeros(6))[1]
    np.testing.assert_allclose(change, linear, rtol=1e-10, atol=1e-12)


def test_an_unknown_stimulus_is_refused(wall):
    with pytest.raises(ValueError, match="no stimulus 'strain': expected one of"):
        Remodelling(wall, LAW, None, "strain")
