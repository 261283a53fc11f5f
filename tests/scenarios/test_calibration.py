"""Calibration of the rate law: the fit itself, and that it finds what is known."""

import numpy as np
import pytest

from gomphosis.bone.library import lookup
from gomphosis.bone.rates import Linear, Saturating
from gomphosis.bone.wall import SocketWall
from gomphosis.scenarios.calibration import TranslatedCanine, calibrate, fit
from gomphosis.scenarios.checks.bodies import centre_speed, lateral, solved
from gomphosis.scenarios.persons import QUANTILES, growth_factor, person_factor
from gomphosis.scenarios.schema import Ligament


@pytest.fixture(scope="module")
def fitted():
    return calibrate(Ligament())


@pytest.fixture(scope="module")
def canine():
    return TranslatedCanine(SocketWall(solved(13, young=0.05, poisson=0.3)), None)


def test_fit_is_within_ten_per_cent_of_every_published_mean(fitted):
    """Calibration: five means of 82 canines, printed in um/day."""
    np.testing.assert_allclose(fitted.published * 1e3, [28, 40, 50, 54, 61], rtol=1e-14)
    assert np.abs(fitted.residual).max() < 0.10
    np.testing.assert_allclose(fitted.fitted, fitted.published * (1 + fitted.residual), rtol=1e-12)


def test_no_law_in_proportion_to_stress_fits(fitted):
    """19.5-fold force, 2.2-fold speed: the best straight line misses by more than half."""
    np.testing.assert_allclose(
        fitted.linear / fitted.force, fitted.linear[0] / fitted.force[0], rtol=1e-12
    )
    misses = np.abs(fitted.linear / fitted.published - 1)
    assert misses.max() > 0.8
    assert (misses > 0.10).sum() >= 4
    # it is the best one: its residual is orthogonal to it
    assert abs((fitted.linear - fitted.published) @ fitted.linear) < 1e-12


def test_leaving_a_force_out_shows_how_far_the_fit_predicts(fitted):
    """The lightest force is predicted 20 to 30 % low by the others: a fit, not a prediction."""
    assert -0.30 < fitted.left_out_error[0] < -0.20
    assert np.abs(fitted.left_out_error[1:]).max() < 0.15
    assert np.all(np.abs(fitted.left_out_error) > np.abs(fitted.residual))


def test_logarithmic_alternative_is_the_one_of_the_library(fitted):
    """Verification: 12.9 + 10.9 ln(stress/kPa), found from the same means against stress."""
    offset, slope = (lookup(f"speed.nickel_2014.log_{n}").number for n in ("offset", "slope"))
    stress = np.array(lookup("speed.nickel_2014.stress").numbers)
    # both are printed to 0.1: 0.05 + 0.05 ln 78
    np.testing.assert_allclose(
        fitted.logarithmic_speed * 1e3, offset + slope * np.log(stress), rtol=0, atol=0.27
    )


def test_a_law_is_found_again_from_its_own_speeds(canine):
    force = np.array([0.2, 0.6, 1.2, 2.5, 3.5])
    law = Saturating(0.08, 0.003)
    found = fit(canine, force, canine.speed(law, force))
    np.testing.assert_allclose(
        [found.max_speed, found.half_stress], [law.max_speed, law.half_stress], rtol=1e-6
    )


def test_speed_of_a_linear_law_is_in_proportion_to_the_force(canine):
    speed = canine.speed(Linear(2.0), np.array([1.0, 2.0]))
    np.testing.assert_allclose(speed[1], 2 * speed[0], rtol=1e-12)
    # area mean of the stimulus and speed of the centre agree but for the angle around the tooth
    assert 0.8 < speed[0] / (2 * canine.mean_stimulus()) < 2.0


def test_speed_is_that_of_the_centre_of_resistance(canine):
    law, force = Saturating(0.06, 0.0014), np.array([0.5, 2.0])
    height = canine.wall.support.planar.centre_of_resistance
    expected = [centre_speed(canine.wall, lateral(height, f), law) for f in force]
    np.testing.assert_allclose(canine.speed(law, force), expected, rtol=1e-12)


def test_half_force_and_local_stress_are_consistent(fitted):
    per_newton = fitted.local_stress / fitted.force
    np.testing.assert_allclose(per_newton, per_newton[0], rtol=1e-12)
    np.testing.assert_allclose(fitted.half_force * per_newton[0], fitted.law.half_stress)


def test_a_stiffer_ligament_of_the_same_ratio_leaves_the_fit_to_speeds_unchanged(fitted):
    """A modulus twice as high scales traction alike; bodies that give matter by a per cent."""
    stiff = calibrate(Ligament().model_copy(update={"young": 0.1}))
    np.testing.assert_allclose(stiff.fitted, fitted.fitted, rtol=2e-3)
    np.testing.assert_allclose(stiff.law.max_speed, fitted.law.max_speed, rtol=0.01)


def test_factor_between_persons_is_log_normal_around_one():
    """Verification: z(0.9) = 1.28155 of the standard normal distribution."""
    low, middle, high = (person_factor(q) for q in QUANTILES)
    assert middle == 1.0
    np.testing.assert_allclose(low * high, 1.0, rtol=1e-12)
    np.testing.assert_allclose(np.log(high), 0.45 * 1.2815516, rtol=1e-7)


def test_growth_splits_the_published_factor_evenly():
    assert growth_factor("unknown") == 1.0
    np.testing.assert_allclose(growth_factor("yes") / growth_factor("no"), 1.6, rtol=1e-12)
    np.testing.assert_allclose(growth_factor("yes") * growth_factor("no"), 1.0, rtol=1e-12)
    with pytest.raises(KeyError, match="perhaps"):
        growth_factor("perhaps")
