"""From wires and visits of a scenario to loads: brackets, sides, ties, history. Verification."""

import numpy as np
import pytest

from gomphosis.bone.loop import Track, simulate
from gomphosis.bone.rates import Linear, Saturating
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.bonding import rebonded
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.model import ToothModel, tooth_models
from gomphosis.scenarios.periods import wires_of
from gomphosis.scenarios.run import WIRES, case_periods
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slotted_wire import Stop
from gomphosis.scenarios.stages import stages
from gomphosis.scenarios.visit_tables import Rebond
from gomphosis.scenarios.wires_in_use import WiresInUse

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
TEETH = [{"number": 12}, {"number": 11, "vertical": "-1 mm"}, {"number": 21}]
STEEL = {"alloy": "steel", "size": "0.016 x 0.022 in"}
X, Y, Z = range(3)
# towards mesial along the second axis of the tooth frame
MESIAL = {12: -1, 22: 1, 32: -1, 42: 1}


def scenario(**document: object) -> Scenario:
    base = {"schema": 1, "duration": "8 days", "step": "2 days", "tooth": TEETH, "wire": [STEEL]}
    return scenario_from({**base, **document}, "test")


def models(made: Scenario) -> tuple[ToothModel, ...]:
    return tooth_models(made, Linear(1.0), resolution=COARSE)


def in_use(**document: object) -> tuple[WiresInUse, Scenario]:
    made = scenario(**document)
    return WiresInUse(made, models(made)), made


def model(number: int, **place: object) -> ToothModel:
    return models(scenario(tooth=[{"number": number, **place}, {"number": number - 1}]))[
        0 if number // 10 in (1, 4) else 1
    ]


def rebond(**changes: object) -> Rebond:
    return Rebond.model_validate({"tooth": 11, **changes})


# --- brackets bonded anew ----------------------------------------------------------------------


@pytest.mark.parametrize("number", MESIAL)
@pytest.mark.parametrize(
    ("word", "axis"), [("vertical", Z), ("labial", X), ("mesial", Y)], ids=lambda value: str(value)
)
def test_a_bracket_moves_on_its_tooth_in_trade_words(number: int, word: str, axis: int):
    before = model(number)
    assert before.number == number
    after = rebonded(before, rebond(**{word: "0.4 mm"}))
    way = np.zeros(3)
    way[axis] = 0.4 * (MESIAL[number] if word == "mesial" else 1)
    np.testing.assert_allclose(after.slot - before.slot, way, rtol=0, atol=1e-15)
    np.testing.assert_allclose(after.bracket.start[:3], way, rtol=0, atol=1e-15)
    np.testing.assert_array_equal(after.bracket.start[3:], before.bracket.start[3:])
    assert after.bracket.place == before.bracket.place


@pytest.mark.parametrize("number", MESIAL)
def test_a_bracket_bonded_nearer_to_the_edge_is_as_one_that_always_was_there(number: int):
    """An aligned slot stays on the wire: the tooth with it stood too low by as much."""
    there = model(number, vertical="0.3 mm", bracket_from_edge="4.2 mm")
    after = rebonded(model(number, bracket_from_edge="4.5 mm"), rebond(vertical="0.3 mm"))
    np.testing.assert_allclose(after.bracket.slot, there.bracket.slot, rtol=1e-14)
    np.testing.assert_allclose(after.bracket.start, there.bracket.start, rtol=0, atol=1e-15)


@pytest.mark.parametrize("number", MESIAL)
@pytest.mark.parametrize("word", ["torque", "tip", "rotation"])
def test_turns_are_added_to_the_prescription(number: int, word: str):
    built_in = {"torque": "7 deg", "tip": "5 deg", "rotation": "2 deg"}
    more = {**built_in, word: f"{int(built_in[word].split()[0]) + 3} deg"}
    after = rebonded(model(number, prescription=built_in), rebond(**{word: "3 deg"}))
    there = model(number, prescription=more)
    np.testing.assert_allclose(after.bracket.start, there.bracket.start, rtol=0, atol=1e-15)
    np.testing.assert_array_equal(after.slot, there.slot)
    turn = np.abs(after.bracket.start - model(number, prescription=built_in).bracket.start)
    np.testing.assert_allclose(turn.max(), np.deg2rad(3.0), rtol=1e-12)


def test_a_slot_moves_with_the_tooth_as_it_stands():
    """An upper incisor inclined by 20 degrees: 1 mm towards its edge is 0.34 mm labially."""
    after = rebonded(model(12, inclination="20 deg"), rebond(vertical="1 mm"))
    lean = np.deg2rad(20.0)
    np.testing.assert_allclose(
        after.bracket.start[:3], [np.sin(lean), 0.0, np.cos(lean)], rtol=1e-12, atol=1e-15
    )


def test_brackets_are_where_they_are_bonded_at_each_stage():
    """Also for the next wire; two visits add."""
    visits = [
        {"at": "6 days", "rebond": [{"tooth": 21, "vertical": "0.2 mm"}]},
        {"at": "2 days", "rebond": [{"tooth": 21, "vertical": "0.3 mm", "torque": "2 deg"}]},
    ]
    wires, made = in_use(wire=[STEEL, {**STEEL, "tied_in": "4 days"}], visit=visits)
    assert [stage.start for stage in stages(made)] == [0.0, 2.0, 4.0, 6.0]
    raised = [wires.teeth(stage)[2].slot[Z] - models(made)[2].slot[Z] for stage in stages(made)]
    np.testing.assert_allclose(raised, [0.0, 0.3, 0.3, 0.5], rtol=0, atol=1e-14)
    for stage, high in zip(stages(made), raised, strict=True):
        brackets = wires.at(stage).brackets
        np.testing.assert_allclose(brackets[2].start[Z], high, rtol=0, atol=1e-14)
        assert brackets[1].start[Z] == -1.0


# --- wires and visits --------------------------------------------------------------------------


def test_each_stage_has_its_loads_once_and_an_elastic_changes_nothing():
    spring = {"kind": "coil-spring", "teeth": [12, 21], "force": "0.5 N", "stiffness": "0 N/mm"}
    wires, made = in_use(
        visit=[{"at": "2 days", "religate": True}, {"at": "6 days", "religate": True}],
        elastic=[{**spring, "put_on": "4 days"}],
    )
    new, first, same, second = (wires.at(stage) for stage in stages(made))
    assert first is same
    assert len({id(new), id(first), id(second)}) == 3
    assert wires.at(stages(made)[1]) is first
    # the same wire: what it holds goes on from one to the next
    new.engage(np.zeros((3, 6)))
    first.engage(np.zeros((3, 6)))
    assert first.held.mesh is new.held.mesh
    assert first.discretisation == new.discretisation


def test_ties_keep_their_age_unless_they_are_tied_anew():
    bend = {"kind": "twist", "between": [11, 21], "twist_angle": "3 deg", "by_hand": True}
    crimp = {"tooth": 21, "side": "distal", "by": "0.1 mm"}
    turn = {"tooth": 12, "torque": "2 deg"}
    visits = [
        {"at": "1 day", "rebond": [turn]},
        {"at": "2 days", "religate": True},
        {"at": "3 days", "activate": [crimp]},
        {"at": "5 days", "bend": [bend]},
        {"at": "6 days", "activate": [crimp]},
        {"at": "7.5 days", "religate": True, "rebond": [turn]},
    ]
    again = {**STEEL, "tied_in": "7 days", "cinched": True}
    wires, made = in_use(wire=[{**STEEL, "cinched": True}, again], visit=visits)
    found = [(stage.start, wires.at(stage).wire.tied_before) for stage in stages(made)]
    expected = {0: 0, 1: 1, 2: 0, 3: 1, 5: 0, 6: 1, 7: 0, 7.5: 0}
    assert found == [(float(day), float(age)) for day, age in expected.items()]


ENDS = {
    # teeth in order from the patient's right; slots grow along the wire to greater places, which
    # are the right ones above and the left ones below
    (12, 11, 21): {(12, "distal"): Stop(0, 1), (12, "mesial"): Stop(0, -1),
                   (21, "distal"): Stop(2, -1), (21, "mesial"): Stop(2, 1)},
    (41, 31, 32): {(41, "distal"): Stop(0, -1), (41, "mesial"): Stop(0, 1),
                   (32, "distal"): Stop(2, 1), (32, "mesial"): Stop(2, -1)},
}  # fmt: skip


@pytest.mark.parametrize(
    ("numbers", "tooth", "side", "stop"),
    [(teeth, *key, stop) for teeth, ends in ENDS.items() for key, stop in ends.items()],
)
def test_crimps_are_on_the_sides_they_are_said_to_be(
    numbers: tuple, tooth: int, side: str, stop: Stop
):
    teeth = [{"number": number} for number in numbers]
    crimp = {"tooth": tooth, "side": side}
    wires, made = in_use(tooth=teeth, wire=[{**STEEL, "stop": [crimp]}])
    loads = wires.at(stages(made)[0])
    assert loads.wire.stops == (stop,)
    places = [bracket.place for bracket in loads.brackets]
    # towards the midline, at place 0, is mesial
    assert (stop.side * places[stop.slot] < 0) is (side == "mesial")


@pytest.mark.parametrize(
    ("numbers", "stops"),
    [
        ((12, 11, 21), {Stop(0, 1), Stop(2, -1)}),
        ((41, 31), {Stop(0, -1), Stop(1, 1)}),
        # from right to left places fall above and grow below, on one side as on both
        ((14, 13), {Stop(0, 1), Stop(1, -1)}),
        ((33, 34), {Stop(0, -1), Stop(1, 1)}),
    ],
)
def test_a_cinched_wire_is_held_at_its_outer_ends_once(numbers: tuple, stops: set):
    teeth = [{"number": number} for number in numbers]
    # a crimp where the wire is cinched is the same
    end = {"tooth": max(numbers, key=lambda number: number % 10), "side": "distal"}
    wires, made = in_use(tooth=teeth, wire=[{**STEEL, "cinched": True, "stop": [end]}])
    found = wires.at(stages(made)[0]).wire.stops
    assert len(found) == len(set(found)) == 2
    assert set(found) == stops


@pytest.mark.parametrize(
    ("numbers", "tooth", "side"),
    [
        ((12, 11, 21), 12, "distal"),
        ((12, 11, 21), 21, "distal"),
        ((42, 41, 31), 42, "distal"),
        ((42, 41, 31), 31, "distal"),
        # an arch of one side ends mesially too
        ((14, 13), 13, "mesial"),
        ((33, 34), 33, "mesial"),
    ],
)
def test_an_activated_end_draws_the_end_teeth_together(numbers: tuple, tooth: int, side: str):
    """Verification: N = EA x / L between the crimps, 1.5 mm beyond the end slots."""
    teeth = [{"number": number} for number in numbers]
    crimp = {"tooth": tooth, "side": side, "by": "0.05 mm"}
    wires, made = in_use(
        tooth=teeth,
        wire=[{**STEEL, "cinched": True}],
        visit=[{"at": "2 days", "activate": [crimp]}],
    )
    rest = np.zeros((len(numbers), 6))
    loads = [wires.at(stage) for stage in stages(made)]
    for load in loads:
        load.engage(rest)
    begin, found = (load.evaluate(rest).wrenches[:, Y] for load in loads)
    places = np.array([bracket.place for bracket in loads[1].brackets])
    ends = [int(np.argmin(places)), int(np.argmax(places))]
    length = float(np.ptp(places)) + 3.0
    section = made.wires[0].cross_section
    area = section.height * section.width - (4 - np.pi) * section.rounding**2
    stiffness = made.wires[0].alloy_constants.young * area / length
    tension = 0.05 * stiffness
    # corners of contact are rounded by 10 nm
    np.testing.assert_allclose(begin, 0.0, rtol=0, atol=1e-5 * stiffness)
    np.testing.assert_allclose(found[ends], [tension, -tension], rtol=1e-3)
    assert abs(found.sum()) < 1e-6


# --- over the days -----------------------------------------------------------------------------


def followed(made: Scenario) -> tuple[Track, list]:
    teeth = tooth_models(made, Saturating(0.06, 0.0014), resolution=COARSE)
    periods = case_periods(made, teeth, WIRES)
    track = simulate(
        [tooth.remodelling for tooth in teeth], periods, days=made.duration, step=made.step
    )
    return track, periods


ROUND = {"alloy": "nickel-titanium", "size": "0.014 in", "friction": 0}
PAIR = {"duration": "4 days", "tooth": [{"number": 11, "vertical": "-1 mm"}, {"number": 21}]}


def test_movement_goes_on_over_a_religation_that_has_nothing_to_make_new():
    """A lid and no friction: the same movement as without the visit."""
    visit = {"at": "2 days", "religate": True}
    plain, _ = followed(scenario(**PAIR, wire=[ROUND]))
    visited, periods = followed(scenario(**PAIR, wire=[ROUND], visit=[visit]))
    assert visited.days.tolist() == [0.0, 2.0, 2.0, 4.0]
    once = np.delete(visited.pose, 2, axis=0)
    # poses are found to 1e-8 mm; a wire without friction may lie anywhere within its play
    np.testing.assert_allclose(once, plain.pose, rtol=0, atol=1e-5)
    assert np.abs(plain.pose[-1] - plain.pose[1]).max() > 0.01
    assert wires_of(periods)[1].held.mesh is wires_of(periods)[0].held.mesh


def test_a_bracket_bonded_anew_is_felt_from_its_day_on():
    aligned = [{"number": 11}, {"number": 21}]
    visit = {"at": "2 days", "rebond": [{"tooth": 11, "vertical": "1 mm"}]}
    track, _ = followed(scenario(**{**PAIR, "tooth": aligned}, wire=[ROUND], visit=[visit]))
    force = track.wrench[:, 0, Z]
    np.testing.assert_allclose(force[:2], 0.0, rtol=0, atol=1e-5)
    # its slot stands beyond the other one's line now: the tooth is pushed in
    assert np.all(force[2:] < -0.1)
    assert track.pose[-1, 0, Z] < -0.01
