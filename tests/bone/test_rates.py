"""Rate laws: values, slopes against differences, and what they refuse."""

import numpy as np
import pytest

from gomphosis.bone.rates import DeadZone, Linear, Saturating, Scaled, UserLaw

STRESS = np.array([0.0, 0.0005, 0.0014, 0.004, 0.05])
LAWS = {
    "saturating": Saturating(0.06, 0.0014),
    "linear": Linear(2.0),
    "dead zone": DeadZone(2.0, 0.001),
    "user": UserLaw(lambda s: s**2, lambda s: 2 * s),
    "scaled": Scaled(Saturating(0.06, 0.0014), 0.3),
}


def test_saturating_law_rises_in_proportion_then_levels_off():
    law = LAWS["saturating"]
    speed = law.speed(STRESS)
    np.testing.assert_allclose(speed[2], 0.03, rtol=1e-14)
    np.testing.assert_allclose(law.speed(np.array([1e-9])), 0.06 / 0.0014 * 1e-9, rtol=1e-5)
    np.testing.assert_allclose(law.speed(np.array([1e3])), 0.06, rtol=1e-5)


def test_dead_zone_stays_still_up_to_its_threshold():
    np.testing.assert_allclose(
        LAWS["dead zone"].speed(STRESS), [0, 0, 0.0008, 0.006, 0.098], rtol=1e-12, atol=1e-18
    )
    np.testing.assert_array_equal(
        LAWS["dead zone"].slope(np.array([0.0, 0.001, 0.0011])), [0, 0, 2]
    )


def test_linear_and_user_laws():
    np.testing.assert_allclose(LAWS["linear"].speed(STRESS), 2 * STRESS, rtol=0, atol=0)
    np.testing.assert_allclose(LAWS["user"].speed(STRESS), STRESS**2, rtol=0, atol=0)


def test_scaled_law_is_its_law_times_the_factor():
    np.testing.assert_allclose(
        LAWS["scaled"].speed(STRESS), 0.3 * LAWS["saturating"].speed(STRESS), rtol=1e-14
    )


@pytest.mark.parametrize("name", LAWS)
def test_slope_is_the_derivative_of_the_speed(name):
    law, at, step = LAWS[name], STRESS[1:], 1e-7
    difference = (law.speed(at + step) - law.speed(at - step)) / (2 * step)
    np.testing.assert_allclose(law.slope(at), difference, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Saturating(0.0, 1.0), "saturating rate law needs max_speed > 0, got 0"),
        (lambda: Saturating(0.1, -1.0), "half_stress > 0, got -1"),
        (lambda: Linear(np.inf), "linear rate law needs constant > 0, got inf"),
        (lambda: Linear(np.nan), "got nan"),
        (lambda: Scaled(Linear(1.0), 0.0), "scaled rate law needs factor > 0, got 0"),
        (lambda: DeadZone(1.0, 0.0), "dead-zone rate law needs threshold > 0, got 0"),
    ],
)
def test_impossible_constants_are_refused(make, message):
    with pytest.raises(ValueError, match=message):
        make()
