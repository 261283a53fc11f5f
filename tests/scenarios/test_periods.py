"""Wires and elastics together over the weeks: stages, history, hooks. Verification."""

import numpy as np
import pytest

from gomphosis.bone.directions import to_trade
from gomphosis.bone.joint_loads import Continued, parts
from gomphosis.bone.loop import Period, Track, simulate
from gomphosis.bone.rates import Linear, Saturating
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.model import ToothModel, tooth_models
from gomphosis.scenarios.periods import attachment, elastics_of, wires_of
from gomphosis.scenarios.run import WIRES, case_periods
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.stages import Stage, stages

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
LAW = Saturating(0.06, 0.0014)
TEETH = [{"number": 12}, {"number": 11, "vertical": "-1 mm"}, {"number": 21}]
LIGHT = {"size": "0.016 in"}
DAY = "4 days"


def scenario(**document: object) -> Scenario:
    base = {"schema": 1, "duration": "8 days", "step": "2 days", "tooth": TEETH, "wire": [LIGHT]}
    return scenario_from({**base, **document}, "test")


def elastic(**changes: object) -> dict[str, object]:
    base = {"kind": "coil-spring", "teeth": [12, 21], "force": "0.5 N", "stiffness": "0 N/mm"}
    return {**base, **changes}


def followed(made: Scenario) -> tuple[Track, list, tuple[ToothModel, ...]]:
    teeth = tooth_models(made, LAW, resolution=COARSE)
    periods = case_periods(made, teeth, WIRES)
    models = [tooth.remodelling for tooth in teeth]
    return simulate(models, periods, days=made.duration, step=made.step), periods, teeth


# --- stages --------------------------------------------------------------------------------------


def test_a_stage_begins_with_every_change():
    made = scenario(
        duration="10 weeks",
        wire=[LIGHT, {"tied_in": "6 weeks", "size": "0.018 in"}],
        elastic=[
            elastic(),
            elastic(put_on="2 weeks", taken_off="6 weeks"),
            elastic(put_on="2 weeks", taken_off="9 weeks", lost="50 days"),
            elastic(put_on="3 weeks", taken_off="20 weeks"),
        ],
    )
    assert stages(made) == (
        Stage(0.0, 0, (), (0,)),
        Stage(14.0, 0, (), (0, 1, 2)),
        Stage(21.0, 0, (), (0, 1, 2, 3)),
        Stage(42.0, 1, (), (0, 2, 3)),
        Stage(50.0, 1, (), (0, 3)),
    )


def test_stages_of_wires_alone_are_the_wires_and_forces_have_none():
    wires = [LIGHT, {"tied_in": DAY, "size": "0.018 in"}]
    assert stages(scenario(wire=wires)) == (Stage(0.0, 0, (), ()), Stage(4.0, 1, (), ()))
    push = [{"tooth": 11, "force": "1 N", "direction": "labial"}]
    assert stages(scenario(wire=[], force=push)) == ()


# --- periods -------------------------------------------------------------------------------------


def test_wire_and_elastics_go_on_and_a_new_wire_takes_the_elastic_over():
    made = scenario(
        wire=[LIGHT, {"tied_in": "6 days", "size": "0.018 in"}],
        elastic=[elastic(), elastic(put_on=DAY)],
    )
    teeth = tooth_models(made, LAW, resolution=COARSE)
    periods = case_periods(made, teeth, WIRES)
    assert [period.start for period in periods] == [0.0, 4.0, 6.0]
    first, second, third = wires_of(periods)
    assert first is second
    assert third is not first
    one, two, three = elastics_of(periods)
    assert [[load.number for load in loads] for loads in (one, two, three)] == [[1], [1, 2], [1, 2]]
    assert one[0] is two[0]
    assert three[0] is not one[0]
    assert all(isinstance(load, Continued) for load in periods[0].loads.loads)


def test_wires_alone_are_as_they_were():
    made = scenario(wire=[LIGHT, {"tied_in": DAY, "size": "0.018 in"}])
    teeth = tooth_models(made, LAW, resolution=COARSE)
    periods = case_periods(made, teeth, WIRES)
    first, second = wires_of(periods)
    assert first is not second
    assert [list(parts(period.loads)) for period in periods] == [[first], [second]]
    # each by itself in a load that goes on, should a visit or an elastic come
    assert [type(period.loads) for period in periods] == [Continued, Continued]
    assert [type(load) for load in (first, second)] == [WireLoads, WireLoads]
    assert elastics_of(periods) == ((), ())


@pytest.mark.slow
def test_elastic_put_on_midway_keeps_the_wires_history():
    """An elastic of next to no force does as much as a wire that goes on, and that is nothing.

    At a change the loop lets the slots slide along the wire once more than it would otherwise.
    """
    bent = {"tooth": [{"number": 12}, {"number": 11, "vertical": "-2 mm"}, {"number": 21}]}
    steel = {"size": "0.016 in", "alloy": "steel"}
    made = scenario(**bent, wire=[steel])
    plain, _, teeth = followed(made)
    weightless = elastic(force="1e-9 N", put_on=DAY)
    nothing, _, _ = followed(scenario(**bent, wire=[steel], elastic=[weightless]))
    anew, _, _ = followed(scenario(**bent, wire=[steel, {"tied_in": DAY, **steel}]))
    going_on = Continued(case_periods(made, teeth, WIRES)[0].loads)
    models = [tooth.remodelling for tooth in teeth]
    halves = [Period(0.0, going_on), Period(4.0, going_on)]
    cut = simulate(models, halves, days=8.0, step=2.0)
    np.testing.assert_array_equal(nothing.days, anew.days)
    # poses are found to 1e-8 mm, and a wire of some newtons per millimetre answers to them
    np.testing.assert_allclose(nothing.wrench, cut.wrench, rtol=0, atol=1e-6)
    other, fresh = (
        np.abs(np.delete(track.wrench, 3, axis=0) - plain.wrench)[:, :, :3].max()
        for track in (nothing, anew)
    )
    assert other < 0.05 * fresh
    assert fresh > 0.5 * np.abs(plain.wrench[0, :, :3]).max()


def test_elastic_pulls_from_the_day_it_is_put_on_until_it_is_lost():
    smooth = {"wire": [LIGHT | {"friction": 0.0}]}
    track, _, _ = followed(scenario(**smooth, elastic=[elastic(put_on="2 days", lost="6 days")]))
    plain, _, _ = followed(scenario(**smooth))
    assert [float(day) for day in track.days] == [0.0, 2.0, 2.0, 4.0, 6.0, 6.0, 8.0]
    np.testing.assert_array_equal(track.wrench[:2], plain.wrench[:2])
    along = track.wrench[:, 0, 1]
    # a spring of 0.5 N between the outer teeth, which the wire lets slide but for its anchor
    assert np.all(np.abs(along[2:5] - plain.wrench[1:4, 0, 1]) > 0.3)
    assert abs(along[5]) < 0.1


def test_pull_ages_in_a_run():
    decay = {"lost_share": 0.5, "time_constant": "2 days"}
    aligned = [{"number": number} for number in (12, 11, 21)]
    weak = elastic(force="0.002 N", decay=decay, put_on="2 days")
    made = scenario(tooth=aligned, elastic=[weak])
    track, periods, _ = followed(made)
    (loads,) = elastics_of(periods)[1]
    found = [
        loads.tensions(pose, day)[0]
        for day, pose in zip(track.days[2:], track.pose[2:], strict=True)
    ]
    pull = 0.002 * (0.5 + 0.5 * np.exp(-(track.days[2:] - 2.0) / 2.0))
    np.testing.assert_allclose(found, pull, rtol=1e-12)
    # along the wire, which slides freely, the tooth feels the spring alone, but for the lean of
    # the wire, which is in proportion to the pull
    np.testing.assert_allclose(np.abs(track.wrench[2:, 0, 1]), pull, rtol=0.001)


def test_stretch_goes_on_when_another_wire_is_tied_in():
    """From a straight to an arched line the chord shortens by far more than the teeth move."""
    arch = {"tied_in": DAY, "size": "0.016 in", "shape": {"half_width": "25 mm", "depth": "30 mm"}}
    made = scenario(wire=[LIGHT, arch], elastic=[elastic(teeth=[12, 21], stiffness="0.1 N/mm")])
    track, periods, _ = followed(made)
    before, after = (loads[0] for loads in elastics_of(periods))
    at = int(np.flatnonzero(track.period == 1)[0])
    last = track.pose[at - 1]
    assert before.lengths(last)[0] - after.lengths(last)[0] > 0.05
    np.testing.assert_allclose(after.extensions(last), before.extensions(last), rtol=0, atol=1e-12)


# --- attachments ---------------------------------------------------------------------------------


def test_hook_stands_on_the_long_axis_of_a_tilted_tooth():
    """Inclined by 20 degrees, crown labially: an arm of 5 mm leans labially by its sine."""
    made = scenario(
        tooth=[
            {"number": 11, "inclination": "20 deg", "prescription": {"torque": "7 deg"}},
            {"number": 21},
        ]
    )
    tooth = tooth_models(made, Linear(1.0), resolution=COARSE)[0]
    at_slot, hook = tooth.bracket, attachment(tooth, 5.0)
    np.testing.assert_array_equal(hook.slot - at_slot.slot, [0.0, 0.0, 5.0])
    lean = hook.start[:3] - at_slot.start[:3]
    tilt = np.deg2rad(20)
    np.testing.assert_allclose(
        lean, [5 * np.sin(tilt), 0, 5 * np.cos(tilt)], rtol=1e-12, atol=1e-12
    )
    np.testing.assert_array_equal(hook.start[3:], at_slot.start[3:])
    same = attachment(tooth, 0.0)
    np.testing.assert_array_equal(same.start, at_slot.start)


@pytest.mark.parametrize("height", [0.0, -8.0])
def test_hook_shortens_the_lever_to_the_root(height: float):
    """The moment about the centre of resistance is the pull times what is left of the lever."""
    made = scenario(
        tooth=[{"number": 13}, {"number": 15}],
        elastic=[elastic(teeth=[13, 15], hook=f"{height} mm")],
    )
    teeth = tooth_models(made, Linear(1.0), resolution=COARSE)
    (loads,) = elastics_of(case_periods(made, teeth, WIRES))[0]
    rest = np.zeros((2, 6))
    loads.engage(rest)
    wrench, canine = loads.evaluate(rest).wrenches[1], teeth[1]
    assert canine.number == 13
    lever = canine.slot[2] + height
    words = to_trade(13, wrench)
    # distal, and the crown tipped distally about the crest
    np.testing.assert_allclose(words[[2, 3]], [-0.5, -0.5 * lever], rtol=1e-12)
