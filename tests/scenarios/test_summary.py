"""The summary of a run: its agreed names, and its numbers against the histories they come from.

The names are the ones other programs read; the sets below are written out by hand. Verification.
"""

import json
import math
from importlib.metadata import version

import numpy as np
import pytest

from gomphosis.bone.support import Resolution
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.run import run
from gomphosis.scenarios.summary import summary, summary_text

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
RATE = {"max_speed": "60 um/day", "half_stress": "1 kPa"}

TOP = {
    *("version", "schema", "notice", "limits", "scenario", "weeks", "rate", "case", "teeth"),
    "wall_time_s",
}
SYSTEM = {
    *("extrusion_N", "labial_N", "mesial_N"),
    *("tip_moment_Nmm", "torque_moment_Nmm", "rotation_moment_Nmm"),
}
PARTS = {"extrusion", "labial", "mesial"}
TOOTH = {
    "force_system_start": SYSTEM,
    "force_system_end": SYSTEM,
    "crown_movement_mm": PARTS,
    "apex_movement_mm": PARTS,
    "orientation_change_deg": {"angulation", "inclination", "rotation"},
    "movement_type": None,
    "movement_plane": None,
    "centre_of_rotation_mm": None,
    "centre_of_rotation_by_plane_mm": {"labial", "mesial"},
    "crown_movement_band_mm": {"p10", "p50", "p90"},
    "peak_pressure_kPa": None,
    "mean_pressure_start_kPa": None,
    "resorbed_mm3": None,
    "deposited_mm3": None,
    "root_preview": {"plane", "support", "quantities", "weekly", "remarks"},
    "flags": None,
}


def followed(**document: object) -> RunResult:
    base = {"schema": 1, "title": "test", "duration": "1 week", "rate": RATE}
    return run(scenario_from({**base, **document}, "test"), resolution=COARSE)


def force(case: str, **parts: object) -> dict[str, object]:
    return {"case": case, "tooth": 11, **parts}


FORCES = [
    force("tip", force="0.3 N", direction="lingual"),
    force("shift", force="0.3 N", direction="lingual", moment_to_force="translation"),
    force("down", force="0.3 N", direction="extrusion"),
    # the moment of a force 3 mm labial of the long axis, taken back
    force("straight down", extrusion="0.3 N", torque_moment="0.9 N*mm"),
]


@pytest.fixture(scope="module")
def wired() -> RunResult:
    teeth = [{"number": 12}, {"number": 11, "vertical": "-1 mm"}, {"number": 21}]
    return followed(tooth=teeth, wire=[{"alloy": "nickel-titanium", "size": "0.014 in"}])


@pytest.fixture(scope="module")
def forced() -> RunResult:
    return followed(tooth=[{"number": 11, "bracket_from_axis": "3 mm"}], force=FORCES)


def check_tooth(facts: dict) -> None:
    assert set(facts) == set(TOOTH)
    for name, keys in TOOTH.items():
        if keys is not None:
            assert set(facts[name]) == keys, name


def test_names_of_a_run_with_wires(wired: RunResult):
    document = summary(wired)
    assert set(document) == TOP
    assert list(document["teeth"]) == ["12", "11", "21"]
    for facts in document["teeth"].values():
        check_tooth(facts)
    assert document["case"] == "wires"
    assert document["version"] == version("gomphosis")
    assert (document["schema"], document["weeks"]) == (1, 1.0)
    assert document["notice"] == NOTICE


def test_names_of_a_run_with_force_cases(forced: RunResult):
    document = summary(forced)
    assert set(document) == TOP | {"cases"}
    assert list(document["cases"]) == ["tip", "shift", "down", "straight down"]
    for content in document["cases"].values():
        assert set(content) == {"teeth"}
        check_tooth(content["teeth"]["11"])
    assert document["case"] == "tip"
    assert document["teeth"] == document["cases"]["tip"]["teeth"]


def test_one_force_case_is_shown_without_a_list_of_cases():
    document = summary(followed(tooth=[{"number": 11}], force=FORCES[:1]))
    assert set(document) == TOP
    assert document["case"] == "tip"


def test_caution_names_the_four_points(forced: RunResult):
    notice = summary(forced)["notice"]
    for point in (
        "not a medical device",
        "twelve weeks of canine translation",
        "root resorption",
        "licensed practitioner",
    ):
        assert point in notice


def plain(value: object) -> bool:
    """Whether a value is made of what JSON knows, without a hidden array or numpy scalar."""
    if isinstance(value, dict):
        return all(type(key) is str and plain(item) for key, item in value.items())
    if isinstance(value, list):
        return all(plain(item) for item in value)
    if type(value) is float:
        return math.isfinite(value)
    return value is None or type(value) in (str, int, bool)


def test_text_is_json_of_the_same_document(wired: RunResult, forced: RunResult):
    for result in (wired, forced):
        document = summary(result)
        assert plain(document)
        text = summary_text(document)
        assert json.loads(text) == document
        assert text.endswith("}\n")
    assert "NaN" not in text
    # the checker itself sees what JSON cannot say
    assert not plain({"a": [np.float64(1.0)]})
    assert not plain({"a": math.nan})


def test_not_a_number_is_refused_by_the_text():
    with pytest.raises(ValueError, match="JSON"):
        summary_text({"value": math.nan})


def test_missing_centre_of_rotation_is_null(forced: RunResult):
    cases = summary(forced)["cases"]
    shifted, raised = (cases[name]["teeth"]["11"] for name in ("shift", "straight down"))
    for facts in (shifted, raised):
        assert facts["centre_of_rotation_mm"] is None
        assert facts["centre_of_rotation_by_plane_mm"] == {"labial": None, "mesial": None}
        assert "null" in summary_text({"teeth": facts})
    assert (shifted["movement_type"], shifted["movement_plane"]) == ("translation", "labial")
    assert (raised["movement_type"], raised["movement_plane"]) == ("extrusion", "none")


def test_centre_of_rotation_is_that_of_the_plane_of_movement(forced: RunResult):
    """A force at the bracket tips about a point between centre of resistance and apex."""
    cases = summary(forced)["cases"]
    tooth = forced.teeth[0]
    tipped = cases["tip"]["teeth"]["11"]
    assert tipped["movement_plane"] == "labial"
    assert -tooth.centre_of_resistance < tipped["centre_of_rotation_mm"] < tooth.embedded
    assert tipped["centre_of_rotation_by_plane_mm"]["labial"] == tipped["centre_of_rotation_mm"]
    assert tipped["centre_of_rotation_by_plane_mm"]["mesial"] is None
    # an axial force beside the axis is a couple as well, which turns about the centre of resistance
    lowered = cases["down"]["teeth"]["11"]["centre_of_rotation_by_plane_mm"]["labial"]
    np.testing.assert_allclose(lowered, -tooth.centre_of_resistance, rtol=0.05)


def test_numbers_are_those_of_the_median_history(wired: RunResult):
    case = wired.cases[0]
    runs = {q: histories(wired, case, quantile=q) for q in (0.1, 0.5, 0.9)}
    for k, facts in enumerate(summary(wired)["teeth"].values()):
        median = runs[0.5][k]
        for name, values in (
            ("force_system_start", median.at_bracket[0]),
            ("force_system_end", median.at_bracket[-1]),
            ("crown_movement_mm", median.crown[-1]),
            ("apex_movement_mm", median.apex[-1]),
            ("orientation_change_deg", np.degrees(median.turn[-1])),
        ):
            np.testing.assert_array_equal(list(facts[name].values()), values, err_msg=name)
        band = [np.linalg.norm(runs[q][k].crown[-1]) for q in (0.1, 0.5, 0.9)]
        np.testing.assert_allclose(list(facts["crown_movement_band_mm"].values()), band)
        np.testing.assert_allclose(facts["peak_pressure_kPa"], 1e3 * median.peak_pressure.max())
        assert facts["movement_type"] == median.movement[-1]


def test_wire_fades_and_force_does_not(wired: RunResult, forced: RunResult):
    middle = summary(wired)["teeth"]["11"]
    start, end = (middle[f"force_system_{when}"]["extrusion_N"] for when in ("start", "end"))
    assert 0 < end < 0.9 * start
    tipped = summary(forced)["teeth"]["11"]
    assert tipped["force_system_start"] == tipped["force_system_end"]
    np.testing.assert_allclose(tipped["force_system_start"]["labial_N"], -0.3, rtol=1e-12)


def test_scenario_is_repeated_and_can_be_run_again(wired: RunResult):
    again = scenario_from(json.loads(summary_text(summary(wired)))["scenario"], "summary")
    assert again == wired.scenario


def test_rate_law_and_growth_are_told():
    force_cases = FORCES[:1]
    given = summary(followed(tooth=[{"number": 11}], force=force_cases, growing="yes"))["rate"]
    assert given == {
        "law": "saturating",
        "max_speed_um_per_day": pytest.approx(60.0, rel=1e-12),
        "half_stress_kPa": pytest.approx(1.0, rel=1e-12),
        "stimulus": "traction",
        "overload_lag": None,
        "growth_factor": pytest.approx(1.6**0.5, rel=1e-12),
    }
    linear = {"law": "linear", "constant": "1 um/day/kPa"}
    told = summary(followed(tooth=[{"number": 11}], force=force_cases, rate=linear))["rate"]
    rest = {"stimulus": "traction", "overload_lag": None, "growth_factor": 1.0}
    assert told == {"law": "linear", **rest}
    other = {"stimulus": "tooth", "overload_pressure": "5 kPa", "overload_delay": "3 weeks"}
    told = summary(followed(tooth=[{"number": 11}], force=force_cases, rate=other))["rate"]
    assert told["stimulus"] == "tooth"
    assert told["overload_lag"] == {"pressure_kPa": pytest.approx(5.0), "delay_days": 21.0}
    fitted = summary(followed(tooth=[{"number": 11}], force=force_cases, rate={}))["rate"]
    assert "calibrated to published mean speeds" in fitted["fit"]
    assert fitted["half_force_canine_N"] > 0


def test_limits_say_what_bears_on_this_run(wired: RunResult, forced: RunResult):
    wire, prescribed = (" ".join(summary(r)["limits"]) for r in (wired, forced))
    assert "one phase fraction" in wire
    assert "one phase fraction" not in prescribed
    assert "do not fade" in prescribed
    for text in (wire, prescribed):
        assert "differences between persons only" in text


def test_flags_stand_with_the_tooth():
    heavy = [force("heavy", force="3 N", direction="lingual")]
    facts = summary(followed(tooth=[{"number": 11}], force=heavy))["teeth"]["11"]
    assert facts["flags"]
    for flag in facts["flags"]:
        assert set(flag) == {"what", "value", "threshold", "unit", "source", "status"}
        assert flag["value"] > flag["threshold"]
