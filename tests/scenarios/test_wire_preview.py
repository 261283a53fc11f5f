"""Force systems before anything has moved, against statics and a run's first day. Verification."""

import json

import numpy as np
import pytest

from gomphosis.bone.rates import Linear
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.run import run
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.summary import summary
from gomphosis.scenarios.wire_preview import wire_preview

TEETH = [{"number": 12}, {"number": 11, "vertical": "-1 mm", "angulation": "5 deg"}, {"number": 21}]
WIRES = [
    {"alloy": "nickel-titanium", "size": "0.014 in"},
    {"tied_in": "6 days", "alloy": "nickel-titanium", "size": "0.018 in"},
]
RATE = {"max_speed": "60 um/day", "half_stress": "1 kPa"}
FIRST, SECOND = "0.014 in nickel-titanium, week 0", "0.018 in nickel-titanium, week 0.857143"


def scenario(**document: object) -> Scenario:
    base = {"schema": 1, "title": "three", "duration": "1 week", "rate": RATE}
    return scenario_from({**base, **document}, "test")


@pytest.fixture(scope="module")
def wired() -> Scenario:
    return scenario(tooth=TEETH, wire=WIRES)


@pytest.fixture(scope="module")
def preview(wired: Scenario) -> dict:
    return wire_preview(wired)


def test_every_wire_is_shown_on_every_tooth(preview: dict):
    assert list(preview) == ["notice", "limits", "title", "loads"]
    assert (preview["title"], preview["notice"]) == ("three", NOTICE)
    assert list(preview["loads"]) == [FIRST, SECOND]
    for content in preview["loads"].values():
        assert list(content["teeth"]) == ["12", "11", "21"]
    assert json.loads(json.dumps(preview, allow_nan=False)) == preview


def forces(preview: dict, load: str) -> np.ndarray:
    teeth = preview["loads"][load]["teeth"].values()
    return np.array([list(t["force_system_at_bracket"].values()) for t in teeth])


def test_vertical_forces_balance(preview: dict):
    """Statics: extrusion is along one direction of space for all teeth of a straight wire."""
    for load in (FIRST, SECOND):
        axial = forces(preview, load)[:, 0]
        assert abs(axial.sum()) < 1e-9
        assert axial[1] > 0.3
        assert max(axial[0], axial[2]) < 0


def test_thicker_wire_gives_more_force_but_less_than_its_stiffness(preview: dict):
    """A round wire is (18/14)^4 = 2.73 times as stiff; the ligament in series takes its part."""
    light, heavy = (np.linalg.norm(forces(preview, k)[1, :3]) for k in (FIRST, SECOND))
    assert 1.2 < heavy / light < (18 / 14) ** 4


def test_first_day_of_a_run_shows_the_same(wired: Scenario, preview: dict):
    """The preview settles the ligament and does not age it."""
    teeth = summary(run(wired))["teeth"]
    for number, shown in preview["loads"][FIRST]["teeth"].items():
        start = teeth[number]["force_system_start"]
        assert shown["force_system_at_bracket"] == pytest.approx(start, rel=1e-9, abs=1e-9)


def test_centre_of_resistance_by_statics(wired: Scenario, preview: dict):
    """M_C = M_B + (B - C) x F with the slot at (x, 0, z) and the centre on the long axis.

    In trade words: tip_C = tip_B + d mesial, torque_C = torque_B + d labial - x extrusion,
    rotation_C = rotation_B + x mesial, with d the height of the slot above the centre.
    """
    for tooth in tooth_models(wired, Linear(1.0)):
        facts = preview["loads"][FIRST]["teeth"][str(tooth.number)]
        b = facts["force_system_at_bracket"]
        c = facts["force_system_at_centre_of_resistance"]
        x, d = tooth.slot[0], tooth.slot[2] - tooth.centre_of_resistance
        expected = {
            **{name: b[name] for name in ("extrusion_N", "labial_N", "mesial_N")},
            "tip_moment_Nmm": b["tip_moment_Nmm"] + d * b["mesial_N"],
            "torque_moment_Nmm": b["torque_moment_Nmm"] + d * b["labial_N"] - x * b["extrusion_N"],
            "rotation_moment_Nmm": b["rotation_moment_Nmm"] + x * b["mesial_N"],
        }
        assert c == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_give_is_the_ligaments(wired: Scenario, preview: dict):
    """Pose at the crest = compliance times the wrench about the crest."""
    for tooth in tooth_models(wired, Linear(1.0)):
        facts = preview["loads"][FIRST]["teeth"][str(tooth.number)]
        c = facts["force_system_at_centre_of_resistance"]
        planar = tooth.support.planar
        rocking = planar.lateral * planar.moment_distance
        height = -tooth.centre_of_resistance
        across = [
            c[f"{word}_N"] / planar.lateral + height * c[f"{turn}_moment_Nmm"] / rocking
            for word, turn in (("labial", "torque"), ("mesial", "tip"))
        ]
        give = np.linalg.norm([*across, c["extrusion_N"] / planar.axial])
        # poses are found to 1e-8 mm
        np.testing.assert_allclose(facts["elastic_give_at_crest_mm"], give, rtol=0, atol=2e-8)
        assert give > 0.001


def test_ratio_is_counter_tipping_positive_or_null(preview: dict):
    for facts in preview["loads"][FIRST]["teeth"].values():
        system = facts["force_system_at_bracket"]
        for plane, moment in (("labial", "torque"), ("mesial", "tip")):
            force, ratio = system[f"{plane}_N"], facts["moment_to_force_mm"][plane]
            if abs(force) < 0.02:
                assert ratio is None
            else:
                expected = -system[f"{moment}_moment_Nmm"] / force
                assert ratio == pytest.approx(expected, rel=1e-12)


def test_aligned_teeth_feel_nothing():
    shown = wire_preview(scenario(tooth=[{"number": 11}, {"number": 21}], wire=WIRES))
    np.testing.assert_allclose(forces(shown, FIRST), 0, atol=1e-9)
    teeth = shown["loads"][FIRST]["teeth"]
    assert teeth["11"]["moment_to_force_mm"] == {"labial": None, "mesial": None}


def test_force_cases_are_shown_by_name():
    cases = [
        {"case": "a", "tooth": 11, "force": "0.5 N", "direction": "distal"},
        {
            "case": "b",
            "tooth": 21,
            "force": "0.5 N",
            "direction": "labial",
            "moment_to_force": "8 mm",
        },
    ]
    shown = wire_preview(scenario(tooth=[{"number": 11}, {"number": 21}], force=cases))
    assert list(shown["loads"]) == ["a", "b"]
    np.testing.assert_allclose(
        forces(shown, "a"), [[0, 0, -0.5, 0, 0, 0], np.zeros(6)], rtol=0, atol=1e-12
    )
    np.testing.assert_allclose(
        forces(shown, "b"), [np.zeros(6), [0, 0.5, 0, 0, -4.0, 0]], rtol=0, atol=1e-12
    )
    ratio = shown["loads"]["b"]["teeth"]["21"]["moment_to_force_mm"]
    assert ratio == {"labial": pytest.approx(8.0, rel=1e-12), "mesial": None}
