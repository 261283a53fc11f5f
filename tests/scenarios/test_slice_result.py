"""Verification of what slices of a run return, beside the run that drives them."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.perforation import DEHISCENCE, FENESTRATION, Opening
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.files import case_text, parse_scenario
from gomphosis.scenarios.result import MEDIAN
from gomphosis.scenarios.run import run
from gomphosis.scenarios.slice_result import lasting, slice_document

COARSE = Resolution(along=16, root=2, ligament=2, bone=1, sectors=16)
RATE = '[rate]\nmax_speed = "60 um/day"\nhalf_stress = "8 kPa"\n'
WIRES = (
    case_text("three-incisors")
    .replace('duration = "12 weeks"', 'duration = "2 weeks"')
    .replace('tied_in = "6 weeks"', 'tied_in = "1 week"')
)
FORCES = """
schema = 1
duration = "4 days"
[[tooth]]
number = 11
[[tooth]]
number = 21
"""
PUSH = '[[force]]\ntooth = {}\nforce = "40 cN"\ndirection = "{}"\nmoment_to_force = "3 mm"\n'


def followed(text: str, table: str):
    return run(parse_scenario(f"{text}{RATE}[slice]\n{table}\n", "test"), resolution=COARSE)


@pytest.fixture(scope="module")
def wires():
    """Two weeks of three incisors with a change of wires, all three opened."""
    return followed(WIRES, 'teeth = [12, 11, 21]\nplane = "mesiodistal"\nspacing = "0.2 mm"')


def test_slices_are_under_the_loads_of_the_arch(wires):
    """By hand: force towards the midline, along the axis, and tip moment, last record of a day."""
    case = wires.cases[0]
    track = case.tracks[MEDIAN]
    assert len(track.days) > len(np.unique(track.days))  # the wire changes on day 7
    assert [result.model.number for result in case.slices] == [12, 11, 21]
    for index, result in enumerate(case.slices):
        # mesial is -y on the patient's right, +y on the left; the turn follows
        side = 1.0 if result.model.number == 21 else -1.0
        for day, load in zip(result.track.days, result.track.load, strict=True):
            row = track.wrench[np.flatnonzero(track.days == day)[-1], index]
            np.testing.assert_allclose(load, [side * row[1], row[2], -side * row[3]], atol=1e-12)
        np.testing.assert_array_equal(result.track.days, np.unique(track.days))
    # the middle tooth is pulled down, its neighbours up, and the load fades until the next wire
    down = case.slices[1].track.load[:, 1]
    assert down[0] > down[6] > 0 > case.slices[0].track.load[0, 1]
    assert down[7] > down[6]


def test_slices_report_the_other_model_beside_them(wires):
    case = wires.cases[0]
    result = case.slices[1]
    pose = case.tracks[MEDIAN].pose[-1, 1]
    np.testing.assert_allclose(result.beside[-1], [-pose[1], pose[2], pose[3]], atol=1e-12)
    apart = result.pose[-1] - result.beside[-1]
    at = result.difference(-5.0)[-1]
    assert at == pytest.approx(np.hypot(apart[0] - 5.0 * apart[2], apart[1]), rel=1e-12)
    # both models of one tooth tell the same story
    assert 0 < at < 0.3 * np.hypot(*result.pose[-1, :2])
    assert result.track.worst_residual <= 1e-6


@pytest.mark.slow
def test_halving_the_step_of_a_run_twice_moves_its_slice_by_less_than_one_percent():
    """The loads are the arch's own, solved again at every step; the first wire only."""
    text = WIRES.replace('duration = "2 weeks"', 'duration = "6 days"')
    text = text[: text.rindex("[[wire]]")]
    ends = []
    for step in ("1 day", "0.5 day", "0.25 day"):
        found = followed(text.replace('step = "1 day"', f'step = "{step}"'), "teeth = [11]")
        ends.append(found.cases[0].slices[0].track.drift[-1])
    coarse, middle, fine = ends
    assert np.abs(fine[:2]).max() > 0.05
    for height in (11.0, -12.0):
        paths = [np.array([end[0] + height * end[2], end[1]]) for end in (middle, fine)]
        assert np.abs(paths[0] - paths[1]).max() < 0.01 * np.abs(paths[1]).max()
    assert np.abs(middle - fine).max() < np.abs(coarse - middle).max()


@pytest.mark.parametrize(
    ("plane", "direction"), [("labiolingual", "labial"), ("mesiodistal", "mesial")]
)
def test_mirrored_teeth_move_alike(plane, direction):
    """Symmetry of the mouth: 11 and 21 under mirrored forces, in trade words the same."""
    text = FORCES + PUSH.format(11, direction) + PUSH.format(21, direction)
    table = f'teeth = [11, 21]\nplane = "{plane}"\nspacing = "0.2 mm"'
    right, left = followed(text, table).cases[0].slices
    for name in ("load", "drift", "motion", "plate", "mismatch"):
        found, expected = getattr(left.track, name), getattr(right.track, name)
        np.testing.assert_allclose(found, expected, rtol=0, atol=1e-9, err_msg=name)
    np.testing.assert_allclose(left.beside, right.beside, rtol=0, atol=1e-9)
    assert right.track.drift[-1, 0] > 0.05
    assert right.track.load[0, 0] == pytest.approx(0.4, rel=1e-12)
    words = slice_document(right), slice_document(left)
    assert words[0]["crown_movement_mm"].keys() == words[1]["crown_movement_mm"].keys()
    assert set(words[0]["crown_movement_mm"]) == {direction, "extrusion"}


def test_document_says_what_the_record_holds(wires):
    result = wires.cases[0].slices[1]
    document = slice_document(result)
    track, last = result.track, result.pose[-1]
    assert (document["plane"], document["stopped"], document["days"]) == ("mesiodistal", None, 14)
    assert document["crown_movement_mm"]["mesial"] == pytest.approx(
        last[0] + result.edge * last[2], rel=1e-12
    )
    assert document["apex_movement_mm"]["mesial"] == pytest.approx(
        last[0] + result.apex * last[2], rel=1e-12
    )
    assert document["crown_movement_mm"]["extrusion"] == last[1]
    assert document["turn_deg"] == pytest.approx(last[2] * 180 / np.pi, rel=1e-12)
    assert document["least_plate_mm"]["mesial"]["end"] == track.plate[-1, 0]
    assert document["least_plate_mm"]["distal"]["start"] == track.plate[0, 1]
    assert document["bone_mm2"]["resorbed"] == track.books.resorbed
    assert document["largest_strain"] == track.strain.max()
    assert document["swept_area_mismatch"] == pytest.approx(track.mismatch.mean(), rel=1e-12)


def test_a_slice_that_stops_says_why_and_nothing_else():
    text = FORCES + PUSH.format(11, "labial").replace("40 cN", "5 N").replace("3 mm", "0 mm")
    result = followed(text, 'teeth = [11]\nspacing = "0.2 mm"').cases[0].slices[0]
    document = slice_document(result)
    assert set(document) == {"plane", "stopped"}
    assert document["stopped"].startswith("on day 0 the linear ligament is strained by")
    assert result.beside.shape == (0, 3)
    with pytest.raises(LookupError, match="no state of tooth 11 was kept by day 3"):
        result.frame_at(3.0)


# --- openings ---


def opening(lowest, highest, first, *, side=1, kind=FENESTRATION):
    return Opening(kind, side, lowest, highest, first_day=first, last_day=first + 1)


def test_openings_that_a_larger_one_takes_in_are_left_out():
    large = opening(-5.0, 0.0, 8.0, kind=DEHISCENCE)
    within = opening(-2.0, -1.0, 6.0)
    apart = opening(-9.0, -8.0, 7.0)
    other = opening(-2.0, -1.0, 5.0, side=-1)
    found = lasting((within, large, apart, other))
    # the larger one lay open where the smaller one did, from that day on
    assert found == (replace(large, first_day=6.0), apart, other)


def test_openings_that_only_overlap_are_both_kept():
    pair = (opening(-3.0, -1.0, 2.0), opening(-4.0, -2.0, 3.0))
    assert lasting(pair) == pair
    assert lasting(()) == ()


def test_openings_of_the_same_extent_are_kept_once():
    fenestration = opening(-3.0, -1.0, 2.0)
    dehiscence = opening(-3.0, -1.0, 4.0, kind=DEHISCENCE)
    assert lasting((fenestration, dehiscence)) == (fenestration,)
