"""Slots after a re-bonding against statics by hand and against what the wire sees. Verification.

Tracks are made here, so that nothing but the place of the slot decides. Tooth 21 has its labial
side at +x, its mesial side at +y and its edge at +z, so its numbers can be written down.
"""

import numpy as np
import pytest

from gomphosis.bone.loop import Track
from gomphosis.bone.rates import Linear
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.bonding import at_slot, at_slots, bonded, bonded_rows
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.flags import tooth_flags
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.key_times import key_times, out_of_line
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.slots import TRIAD, Slots
from gomphosis.scenarios.surfaces import placement
from gomphosis.scenarios.wire_preview import wire_preview
from gomphosis.scenarios.wire_shape import WireShape

COARSE = Resolution(along=8, root=2, ligament=1, bone=1, sectors=16)
RATE = {"max_speed": "60 um/day", "half_stress": "8 kPa"}
SHIFT = {"vertical": "0.5 mm", "labial": "0.2 mm", "mesial": "0.3 mm"}
TURN = {"tip": "4 deg", "torque": "5 deg", "rotation": "-3 deg"}
UP, OUT, IN = 0.5, 0.2, 0.3  # mm, of SHIFT


def scenario(*visits: dict, **changes: object):
    document = {
        "schema": 1,
        "duration": "6 days",
        "tooth": [{"number": 11}, {"number": 21}],
        "wire": [{"size": "0.014 in"}],
        "visit": list(visits),
        "rate": RATE,
    }
    return scenario_from({**document, **changes}, "test")


def at(day: int, *rebonds: dict) -> dict:
    return {"at": f"{day} days", "rebond": list(rebonds)}


NONE = np.zeros(6)


def result(made, wrench=NONE, pose=NONE) -> RunResult:
    """Return a run with one record in each period, all teeth under one load in one pose."""
    law = Linear(1.0)
    teeth = tooth_models(made, law, resolution=COARSE)
    count = 1 + len(made.visit)
    rows = np.ones((count, len(teeth), 1))
    place = rows * np.asarray(pose, dtype=float)
    track = Track(np.arange(float(count)), np.arange(count), place, place, rows * wrench)
    return RunResult(made, teeth, law, None, (CaseResult("wires", {0.5: track}),), 0.0)


def test_a_bracket_stays_itself_until_it_is_bonded_anew():
    made = scenario(
        at(1, {"tooth": 11, "tip": "1 deg"}),
        at(2, {"tooth": 21, **SHIFT}),
        {"at": "3 days", "religate": True},
        at(4, {"tooth": 21, "vertical": "-0.1 mm"}),
    )
    tooth = tooth_models(made, Linear(1.0), resolution=COARSE)[1]
    first, same, moved, kept, again = bonded(made, tooth)
    assert first is tooth and same is tooth and kept is moved
    np.testing.assert_allclose(moved.slot - tooth.slot, [OUT, IN, UP], rtol=0, atol=1e-14)
    np.testing.assert_allclose(again.slot - moved.slot, [0, 0, -0.1], rtol=0, atol=1e-14)


def test_each_record_belongs_to_one_place_of_the_bracket():
    made = scenario(at(2, {"tooth": 21, **SHIFT}), at(4, {"tooth": 11, **SHIFT}))
    bonds = bonded(made, tooth_models(made, Linear(1.0), resolution=COARSE)[1])
    period = np.array([0, 0, 1, 2, 2])
    rows = [
        (tooth.slot[2] - bonds[0].slot[2], held.tolist())
        for tooth, held in bonded_rows(bonds, period)
    ]
    assert rows == [
        (0.0, [True, True, False, False, False]),
        (pytest.approx(UP), [False, False, True, True, True]),
    ]
    with pytest.raises(IndexError):
        at_slot(bonds, np.array([3]), np.zeros((1, 6)))


def test_moments_are_about_the_slot_where_it_is():
    """By hand: M' = M − s × F; F = (1, 0, 2) N, s = (0.2, 0.3, 0.5): s × F = (0.6, 0.1, −0.3)."""
    made = scenario(at(2, {"tooth": 21, **SHIFT, **TURN}))
    run = result(made, np.array([1.0, 0.0, 2.0, 0.0, 0.0, 0.0]))
    case = run.cases[0]
    other, tooth = at_slots(made, run.teeth, case.median).swapaxes(0, 1)
    np.testing.assert_allclose(tooth[1] - tooth[0], [0, 0, 0, -0.6, -0.1, 0.3], atol=1e-12)
    np.testing.assert_array_equal(other[1], other[0])
    still, history = histories(run, case)
    # of tooth 21: tip is −Mx, torque My, rotation Mz
    change = history.at_bracket[1] - history.at_bracket[0]
    np.testing.assert_allclose(change, [0, 0, 0, 0.6, -0.1, 0.3], atol=1e-12)
    np.testing.assert_array_equal(history.at_resistance[1], history.at_resistance[0])
    np.testing.assert_array_equal(still.at_bracket[1], still.at_bracket[0])


def test_ratio_for_translation_follows_the_slot():
    """M/F that translates is the distance to the centre of resistance: 0.5 mm more, 0.5 higher."""
    made = scenario(at(2, {"tooth": 21, "vertical": "0.5 mm", "torque": "5 deg"}))
    height = result(made).teeth[1].centre_of_resistance
    push = np.array([0.3, 0.0, 0.0, 0.0, 0.3 * height, 0.0])
    run = result(made, push)
    ratio = histories(run, run.cases[0])[1].moment_to_force[:, 0]
    distance = run.teeth[1].slot[2] - height
    np.testing.assert_allclose(ratio, [distance, distance + 0.5], rtol=1e-12)


def test_slot_jumps_out_of_line_by_the_shift_and_the_tooth_does_not():
    made = scenario(at(2, {"tooth": 21, **SHIFT, **TURN}))
    run = result(made)
    still, moved = histories(run, run.cases[0])
    jump = moved.position[1] - moved.position[0]
    np.testing.assert_allclose(jump, [UP, OUT, IN, 0, 0, 0], rtol=0, atol=1e-14)
    np.testing.assert_array_equal(moved.first_place, np.zeros((2, 3)))
    for name in ("crown", "apex", "turn", "rotation_centre"):
        np.testing.assert_array_equal(*getattr(moved, name), err_msg=name)
    np.testing.assert_allclose(out_of_line([still, moved]), [0.0, UP], rtol=0, atol=1e-14)


def test_a_turned_tooth_carries_its_slot_from_where_it_is_bonded():
    """By hand: a turn of 0.02 about +y takes a slot 0.5 mm higher 0.01 mm farther labially."""
    made = scenario(at(2, {"tooth": 21, "vertical": "0.5 mm"}))
    run = result(made, pose=[0, 0, 0, 0, 0.02, 0])
    moved = histories(run, run.cases[0])[1]
    jump = moved.position[1] - moved.position[0]
    np.testing.assert_allclose(jump, [0.5, 0.01, 0, 0, 0, 0], rtol=0, atol=1e-14)


def test_crowns_do_not_overlap_because_a_bracket_is_bonded_nearer():
    made = scenario(at(2, {"tooth": 21, "mesial": "1 mm"}))
    run = result(made)
    found = histories(run, run.cases[0])
    assert [tooth_flags(run, found, k) for k in (0, 1)] == [(), ()]
    # both crowns 0.2 mm towards the midline: 0.4 mm, over the threshold of 0.1 mm
    run.cases[0].median.pose[:, :, 1] = -0.2, 0.2
    (flag,) = tooth_flags(run, histories(run, run.cases[0]), 1)
    assert flag.value == pytest.approx(0.4, rel=1e-12)


ROWS = {11: (11, 21), 21: (11, 21), 33: (33, 34), 46: (46, 45)}
LEAN = np.deg2rad(10.0)


def leaning(number: int, rebond: dict):
    """Return a tooth that leans and stands out, as it is bonded first and anew."""
    stands = {"inclination": "10 deg", "labial": "0.4 mm"}
    row = [{"number": n, **(stands if n == number else {})} for n in ROWS[number]]
    made = scenario(at(2, {"tooth": number, **rebond}), tooth=row)
    teeth = tooth_models(made, Linear(1.0), resolution=COARSE)
    return bonded(made, teeth[ROWS[number].index(number)])


@pytest.mark.parametrize("number", ROWS)
@pytest.mark.parametrize("turn", [{}, {"torque": "5 deg"}])
def test_drawn_slot_stands_as_the_wire_sees_it(number: int, turn: dict):
    """Place and axes of the slot by two ways.

    The torque turns about the axis about which the tooth leans, so that the sum of rotation
    vectors is exact.
    """
    tooth, after = leaning(number, {**SHIFT, **turn})
    seen = Slots([after.bracket], WireShape(StraightLine())).at(np.zeros((1, 6)))
    here = placement(tooth, np.zeros(6), StraightLine())
    np.testing.assert_allclose(here.points(after.slot), seen.place[0], rtol=0, atol=1e-12)
    drawn = here.points(after.on_slot(np.eye(3))) - here.points(after.slot)
    np.testing.assert_allclose(drawn.T[:, TRIAD], seen.triads[0], rtol=0, atol=1e-12)
    assert np.linalg.norm(after.slot - tooth.slot) == pytest.approx(np.hypot(UP, np.hypot(OUT, IN)))


@pytest.mark.parametrize("number", ROWS)
def test_drawn_slot_leaves_the_wire_by_the_second_order_of_the_turn(number: int):
    """|R(a + t)s − R(a)s − t × s| is at most |s| (a t + t²/2): of 0.6 mm, 0.006 mm here."""
    tooth, after = leaning(number, SHIFT)
    turn = 0.05
    pose = np.array([0.1, 0.0, 0.2, 0.0, turn, 0.0])
    seen = Slots([after.bracket], WireShape(StraightLine())).at(pose[None]).place[0]
    off = np.linalg.norm(placement(tooth, pose, StraightLine()).points(after.slot) - seen)
    bound = np.linalg.norm(after.slot - tooth.slot) * (LEAN * turn + 0.5 * turn**2)
    assert 0.1 * bound < off <= bound


def test_key_time_of_the_visit_names_the_teeth():
    made = scenario(at(2, {"tooth": 21, **SHIFT}, {"tooth": 11, **TURN}))
    (visit,) = [key for key in key_times(result(made)) if key.kind == "visit"]
    assert (visit.day, visit.words, visit.rebonded) == (2.0, ("re-bonded",), (21, 11))


def test_preview_of_a_later_wire_is_about_the_slot_where_it_is_by_then():
    """Statics between slot and centre of resistance, tooth 21: M_b = M_r − d × F."""
    later = {"size": "0.014 in", "tied_in": "4 days"}
    shift = {"tooth": 21, "vertical": "0.5 mm", "labial": "0.2 mm"}
    row = [{"number": number} for number in (11, 21, 22)]
    made = scenario(at(2, shift), wire=[{"size": "0.014 in"}, later], tooth=row)
    tooth = tooth_models(made, Linear(1.0))[1]
    first, second = wire_preview(made)["loads"].values()
    for load, (x, z) in ((first, (0.0, 0.0)), (second, (0.2, 0.5))):
        found = load["teeth"]["21"]
        bracket, centre = (
            found[f"force_system_at_{point}"] for point in ("bracket", "centre_of_resistance")
        )
        out, high = tooth.slot[0] + x, tooth.slot[2] + z - tooth.centre_of_resistance
        expected = (
            centre["torque_moment_Nmm"] - high * bracket["labial_N"] + out * bracket["extrusion_N"]
        )
        assert bracket["torque_moment_Nmm"] == pytest.approx(expected, abs=1e-9)
    assert abs(second["teeth"]["21"]["force_system_at_bracket"]["extrusion_N"]) > 0.05
