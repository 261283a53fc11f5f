"""Verification: a slice is that of its tooth, under the loads that its tooth bears in the run."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.ligament_laws import published_bilinear
from gomphosis.bone.loop import Track
from gomphosis.bone.slice_run import Place, balance
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.files import ScenarioError, parse_scenario
from gomphosis.scenarios.model import rate_law, tooth_models
from gomphosis.scenarios.slice_model import (
    SliceModel,
    default_plates,
    in_plane,
    jaw_section,
    slice_case,
    slice_loads,
    slice_models,
)

COARSE = Resolution(along=16, root=2, ligament=2, bone=1, sectors=16)
RATE = '[rate]\nmax_speed = "60 um/day"\nhalf_stress = "8 kPa"\n'


def opened(table: str, numbers=(11, 21)):
    teeth = "".join(f"[[tooth]]\nnumber = {number}\n" for number in numbers)
    scenario = parse_scenario(f"schema = 1\n{teeth}{RATE}[slice]\n{table}\n", "test")
    law = rate_law(scenario.rate, None)
    return scenario, tooth_models(scenario, law, resolution=COARSE)


def track(days, wrench):
    zeros = np.zeros_like(wrench)
    return Track(np.array(days), np.zeros(len(days), dtype=int), zeros, zeros, wrench)


def mouth_axes(number):
    """Tooth frame of a front tooth in the patient's frame: right, front, up (right-handed)."""
    upper = number // 10 in (1, 2)
    labial = np.array([0.0, 1.0, 0.0])
    crown = np.array([0.0, 0.0, -1.0 if upper else 1.0])
    return np.stack([labial, np.cross(crown, labial), crown])


def midline(number):
    """Direction to the midline: the patient's right is on the right in quadrants 1 and 4."""
    return np.array([-1.0, 0.0, 0.0]) if number // 10 in (1, 4) else np.array([1.0, 0.0, 0.0])


# --- loads ---


@pytest.mark.parametrize("plane", ["labiolingual", "mesiodistal"])
@pytest.mark.parametrize("number", [11, 21, 31, 41])
def test_in_plane_loads_are_those_of_vectors_in_the_mouth(number, plane):
    """Independent derivation: vectors in the patient's frame, projected on the slice's plane.

    The turn's axis a is the one that carries points above the crest to +x: a × z = x.
    """
    six = np.array([0.3, -0.7, 0.2, 4.0, -2.0, 5.0])
    axes = mouth_axes(number)
    force, moment = six[:3] @ axes, six[3:] @ axes
    across = axes[0] if plane == "labiolingual" else midline(number)
    along = axes[2]
    turn = np.cross(along, across)
    np.testing.assert_allclose(np.cross(turn, along), across, rtol=0, atol=1e-15)
    expected = [force @ across, force @ along, moment @ turn]
    np.testing.assert_allclose(in_plane(number, plane, six), expected, rtol=0, atol=1e-14)


def test_a_force_at_the_slot_turns_the_crown_its_own_way():
    """Both planes: a push to +x above the crest has a positive moment about it."""
    arm = np.array([0.0, 0.0, 7.0])
    for number in (11, 21, 31, 41):
        for plane, direction in (
            ("labiolingual", np.array([1.0, 0, 0])),
            ("mesiodistal", mouth_axes(number) @ midline(number)),
        ):
            six = np.concatenate([direction, np.cross(arm, direction)])
            np.testing.assert_allclose(in_plane(number, plane, six), [1, 0, 7], atol=1e-14)


def test_of_days_that_appear_twice_the_last_record_counts():
    days = [0.0, 1.0, 2.0, 2.0, 3.0, 3.0]
    wrench = np.arange(6 * 2 * 6, dtype=float).reshape(6, 2, 6)
    model = SliceModel(11, "labiolingual", 1, None)  # type: ignore[arg-type]  # no case is needed
    found, loads = slice_loads(model, track(days, wrench))
    assert found.tolist() == [0.0, 1.0, 2.0, 3.0]
    expected = wrench[[0, 1, 3, 5], 1][:, [0, 2, 4]]
    np.testing.assert_array_equal(loads, expected)


# --- models ---


def test_no_table_makes_no_slice_and_cannot_make_a_case():
    scenario, teeth = opened("teeth = [11]")
    bare = scenario.model_copy(update={"slice": None})
    assert slice_models(bare, teeth) == ()
    with pytest.raises(RuntimeError, match=r"without \[slice\]"):
        slice_case(bare, teeth[0])


def test_slices_come_in_the_order_of_the_teeth():
    scenario, teeth = opened("teeth = [21, 12]", (12, 11, 21))
    found = [(model.number, model.index) for model in slice_models(scenario, teeth)]
    assert found == [(12, 0), (21, 2)]


@pytest.mark.parametrize("plane", ["labiolingual", "mesiodistal"])
@pytest.mark.parametrize("law", ["linear", "bilinear"])
def test_teeth_of_both_sides_have_the_same_slices(plane, law):
    scenario, teeth = opened(f'teeth = [11, 21]\nplane = "{plane}"\nlaw = "{law}"', (11, 21))
    right, left = (model.case for model in slice_models(scenario, teeth))
    np.testing.assert_allclose(right.bones.mineral, left.bones.mineral, rtol=0, atol=1e-9)
    load = np.array([0.3, -0.1, 2.0])
    motions = [
        balance(case, Place(np.zeros(3), case.bones, case.outline), load)[1].motion
        for case in (right, left)
    ]
    np.testing.assert_allclose(motions[0], motions[1], rtol=1e-9)


def test_case_takes_the_constants_of_its_law():
    scenario, teeth = opened('teeth = [11]\nlaw = "bilinear"')
    case = slice_case(scenario, teeth[0])
    law = published_bilinear()
    assert case.ligament == law
    pair = case.body.tissue.ligament
    assert (pair.young, pair.poisson) == (law.first, law.poisson)
    assert case.shear_weight == pytest.approx(pair.constrained / pair.shear, rel=1e-12)
    linear = slice_case(*_first("teeth = [11]"))
    assert linear.ligament is None
    assert linear.body.tissue.ligament == teeth[0].support.design.ligament
    assert linear.law == case.law == teeth[0].remodelling.law


def test_given_shear_weight_is_kept():
    scenario, teeth = opened("teeth = [11]")
    weighted = replace(teeth[0], remodelling=replace(teeth[0].remodelling, shear_weight=0.0))
    assert slice_case(scenario, weighted).shear_weight == 0.0


def test_turnover_is_off_unless_asked_for():
    assert slice_case(*_first("teeth = [11]")).life.turnover == 0.0
    assert slice_case(*_first("teeth = [11]\nturnover = true")).life.turnover > 0.0


def _first(table):
    scenario, teeth = opened(table)
    return scenario, teeth[0]


# --- bone ---


@pytest.mark.parametrize(
    ("number", "labial"),
    [
        (11, [0.95, 1.00, 1.53]),
        (21, [0.95, 1.00, 1.53]),
        (22, [0.87, 0.71, 1.30]),
        (13, [0.97, 0.60, 1.05]),
        (14, [0.95, 1.00, 1.53]),
        (31, [0.95, 1.00, 1.53]),
        (42, [0.95, 1.00, 1.53]),
    ],
)
def test_default_plates_of_upper_front_teeth_are_the_published_ones(number, labial):
    """Meng M et al. 2018, n = 300: 1 mm below the crest, mid-root, apex. Verification."""
    front, back = default_plates(number, "labiolingual")
    np.testing.assert_array_equal(front, labial)
    assert (np.diff(back) > 0).all()
    between = default_plates(number, "mesiodistal")
    np.testing.assert_array_equal(between[0], between[1])
    np.testing.assert_array_equal(between[0], back)


def test_given_plates_replace_those_of_the_library_one_by_one():
    scenario, teeth = opened('teeth = [11]\nfront = { crest = "0.5 mm" }\nback = { apex = "2 mm" }')
    assert scenario.slice is not None
    section = jaw_section(teeth[0], scenario.slice)
    assert (section.plus.crest, section.plus.middle, section.plus.apex) == (0.5, 1.0, 1.53)
    assert section.minus.apex == 2.0
    assert section.minus.crest == default_plates(11, "labiolingual")[1][0]


def test_map_has_room_for_six_millimetres_of_travel_in_every_direction():
    case = slice_case(*_first('teeth = [11]\nspacing = "0.2 mm"'))
    raster = case.bones.raster
    assert raster.spacing == pytest.approx(0.2, rel=1e-12)
    for axis in range(2):
        centres = raster.centres(axis)
        root = case.root[axis]
        assert centres[0] < root.min() - 6.0
        assert centres[-1] > root.max() + 6.0


def test_plate_has_its_thickness_in_the_map():
    """By hand: dense bone in the row half-way down the socket, labial of it."""
    table = 'teeth = [11]\nfront = { crest = "0.8 mm", middle = "0.8 mm", apex = "0.8 mm" }'
    case = slice_case(*_first(table))
    raster = case.bones.raster
    row = int(np.argmin(np.abs(raster.centres(1) + 6.0)))
    labial = raster.centres(0) > 0
    assert case.bones.bone[labial, row].sum() * raster.spacing == pytest.approx(0.8, rel=1e-6)


def test_a_file_that_is_not_there_is_refused_in_one_line():
    with pytest.raises(ScenarioError) as caught:
        slice_case(*_first('teeth = [11]\noutline = "nowhere.csv"'))
    assert str(caught.value) == "nowhere.csv: no such file or directory"
