"""What a scenario asks of the rate beyond its law: stimulus, lag, a factor on one tooth."""

import numpy as np
import pytest

from gomphosis.bone.overload import Lag
from gomphosis.bone.rates import Saturating
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.calibration import calibrate
from gomphosis.scenarios.caution import model_limits
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.run import run
from gomphosis.scenarios.schema import Ligament

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
PUSH = {"tooth": 11, "force": "0.5 N", "direction": "labial"}


def scenario(rate=None, **tooth):
    document = {
        "schema": 1,
        "duration": "4 days",
        "tooth": [{"number": 11, **tooth}],
        "force": [PUSH],
        "rate": rate or {},
    }
    return scenario_from(document, "test")


def moved(case):
    """Return the labial drift of the crest after four days, mm."""
    return run(case, resolution=COARSE).cases[0].median.drift[-1, 0, 0]


def test_options_reach_the_model_of_a_tooth():
    lag = {"overload_pressure": "5 kPa", "overload_delay": "3 weeks"}
    case = scenario({"stimulus": "pressure", **lag})
    (tooth,) = tooth_models(case, Saturating(0.06, 0.001), resolution=COARSE)
    assert tooth.remodelling.stimulus == "pressure"
    assert tooth.remodelling.lag == Lag(0.005, 21.0)
    (plain,) = tooth_models(scenario(), Saturating(0.06, 0.001), resolution=COARSE)
    assert (plain.remodelling.stimulus, plain.remodelling.lag) == ("traction", None)


def test_a_factor_scales_the_drift_of_its_tooth():
    np.testing.assert_allclose(moved(scenario(speed_factor=0.25)), 0.25 * moved(scenario()))


@pytest.mark.parametrize("stimulus", ["pressure", "tooth"])
def test_another_stimulus_is_calibrated_to_the_same_speeds(stimulus):
    plain = calibrate(Ligament(), resolution=COARSE)
    other = calibrate(Ligament(), resolution=COARSE, stimulus=stimulus)
    # both have two constants for the same five means, so the speeds agree and the constants do not
    np.testing.assert_allclose(other.fitted, plain.fitted, rtol=0.02)
    assert abs(other.law.half_stress / plain.law.half_stress - 1) > 0.02
    case = scenario({"stimulus": stimulus})
    assert run(case, resolution=COARSE).law == other.law


def test_the_wall_waits_and_then_moves():
    lag = {"overload_pressure": "0.1 kPa", "overload_delay": "2 days"}
    slow, free = moved(scenario(lag)), moved(scenario())
    assert 0.5 * free < slow < 0.9 * free


def test_options_are_said_among_the_limits():
    said = " ".join(model_limits(scenario()))
    assert not any(word in said for word in ("Overloaded", "another stimulus", "factors"))
    lag = {"overload_pressure": "5 kPa", "overload_delay": "3 weeks"}
    said = " ".join(model_limits(scenario({"stimulus": "tooth", **lag}, speed_factor=0.3)))
    assert all(word in said for word in ("Overloaded", "another stimulus", "teeth 11 are"))
