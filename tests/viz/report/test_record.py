"""What a report holds equals histories, field files and density maps, to the digit it shows.

Verification: the same quantity by two ways.
"""

import meshio
import numpy as np
import pytest

from gomphosis.scenarios.history import histories
from gomphosis.scenarios.result import rows_at, weekly
from gomphosis.scenarios.slice_vtu import slice_mesh_fields, slice_wall_fields
from gomphosis.viz.captions import Captions
from gomphosis.viz.report_packing import unpacked
from gomphosis.viz.report_steps import MOST_STEPS, report_days, report_frames
from gomphosis.viz.report_store import read_record


def numbers(record, place):
    return unpacked(record.block, place)


@pytest.fixture(scope="module")
def wired(wires_folder):
    return read_record(wires_folder)[0]


@pytest.fixture(scope="module")
def sliced(slices_folder):
    return read_record(slices_folder)[0]


def test_days_hold_all_weeks_and_the_change_of_wire(wires, wired):
    assert wired.head["days"] == [float(day) for day in range(15)]
    assert [(k["day"], k["kind"], k["wire"]) for k in wired.head["keys"][:2]] == [
        (0.0, "wire", 0),
        (7.0, "wire", 1),
    ]
    assert wired.head["wires"] == ["0.014 in nickel-titanium", "0.016 in nickel-titanium"]


def test_numbers_of_teeth_are_those_of_the_histories(wires, wired):
    days = np.array(wired.head["days"])
    case = wires.cases[0]
    rows = rows_at(case.median, days)
    for kept, history in zip(wired.head["cases"][0]["teeth"], histories(wires, case), strict=True):
        assert kept["number"] == history.number
        crown = numbers(wired, kept["crown_mm"])
        np.testing.assert_allclose(crown, history.crown[rows], rtol=0, atol=0.5001e-3)
        force = np.linalg.norm(history.at_bracket[rows, :3], axis=1)
        np.testing.assert_allclose(numbers(wired, kept["force_N"]), force, rtol=0, atol=0.5001e-3)
        peak = 1e3 * history.peak_pressure[rows]
        kept_peak = numbers(wired, kept["peak_pressure_kPa"])
        np.testing.assert_allclose(kept_peak, peak, rtol=0, atol=0.5001e-2)


def test_band_is_that_of_whole_runs(wires, wired):
    case = wires.cases[0]
    fast = histories(wires, case, quantile=0.9)[0]
    row = rows_at(case.tracks[0.9], np.array([14.0]))[0]
    kept = numbers(wired, wired.head["cases"][0]["teeth"][0]["crown_band_mm"])
    expected = float(np.linalg.norm(fast.crown[row]))
    np.testing.assert_allclose(kept[-1, 2], expected, rtol=0, atol=0.5001e-3)
    assert kept.shape == (15, 3)


def test_movement_and_traction_of_the_front_view_are_those_of_the_field_files(
    wires, wired, wires_folder
):
    """Sectors 8 and 24 of 32 of the surface are the outline seen from the front."""
    arch = wired.head["cases"][0]["arch"]["teeth"]
    for week, day in enumerate(weekly(wires.cases[0].median)):
        stem = wires_folder / "fields" / f"week_{week:03d}"
        teeth, walls = (meshio.read(f"{stem}_{part}.vtu") for part in ("teeth", "walls"))
        step = wired.head["days"].index(day)
        start = wall_start = 0
        for tooth, kept in zip(wires.teeth, arch, strict=True):
            rows = numbers(wired, kept["moved"]).shape[1] // 2
            moved = np.linalg.norm(teeth.point_data["movement_mm"][start:], axis=1)
            moved = moved[: rows * 32].reshape(rows, 32)
            # lower screen side first, then back from the edge
            outline = np.concatenate([moved[:, 24], moved[::-1, 8]])
            kept_moved = numbers(wired, kept["moved"])[step]
            np.testing.assert_allclose(kept_moved, outline, rtol=0, atol=0.5001e-3)
            start += rows * 32
            nodes, sectors = tooth.wall.area.shape
            normal = walls.point_data["normal_traction_kPa"][wall_start:]
            normal = normal[: nodes * sectors].reshape(nodes, sectors)
            quarter = sectors // 4
            sides = normal[:, [sectors - quarter, quarter]].T
            kept_normal = numbers(wired, kept["normal"])[step]
            np.testing.assert_allclose(kept_normal, sides, rtol=0, atol=0.5001e-2)
            wall_start += nodes * sectors


def test_slices_hold_density_wall_and_displacement_of_the_day(slices, sliced):
    for case, kept_case in zip(slices.cases, sliced.head["cases"], strict=True):
        (kept,), opened = kept_case["slices"], case.slices[0]
        assert kept["days"] == [frame.day for frame in opened.track.frames]
        for k in (0, 5, len(kept["days"]) - 1):
            frame = opened.track.frames[k]
            density = numbers(sliced, kept["density"])[k]
            np.testing.assert_allclose(density, frame.bones.density, rtol=0, atol=0.5001e-2)
            wall = slice_wall_fields(
                opened.model.case, frame, neutral_below=slices.scenario.neutral_below
            )
            normal = numbers(sliced, kept["normal"])[k]
            expected = wall.point_data["normal_traction_kPa"]
            np.testing.assert_allclose(normal, expected, rtol=0, atol=0.5001e-2)
            np.testing.assert_array_equal(
                numbers(sliced, kept["zone"])[k], wall.cell_data["zone"][0]
            )
            mesh = slice_mesh_fields(opened.model.case, frame)
            displaced = np.linalg.norm(mesh.point_data["displacement_mm"], axis=1)
            kept_displaced = numbers(sliced, kept["displaced"])[k]
            np.testing.assert_allclose(kept_displaced, displaced, rtol=0, atol=0.5001e-4)
            assert kept["states"][k]["resorbed_mm2"] == frame.books.resorbed


def test_arrows_from_above_keep_the_share_of_the_largest_force(slices, sliced):
    """A labial force of 30 of 60 cN has half the length, and points up the screen."""
    heavy, light = (
        numbers(sliced, case["arch"]["teeth"][0]["force_above"])[0][1]
        for case in sliced.head["cases"]
    )
    np.testing.assert_allclose(light, [0.0, -0.5], rtol=0, atol=0.006)
    np.testing.assert_allclose(heavy, [0.0, -1.0], rtol=0, atol=0.011)


def test_moments_are_those_seen_in_each_picture(slices, sliced, wires, wired):
    """A moment that holds the crown back, seen from the side with the crown below: clockwise.

    From above the same tooth has none. From the front it is the tip moment of the table but for
    the tooth's small lean.
    """
    heavy = sliced.head["cases"][0]["arch"]["teeth"][0]
    np.testing.assert_allclose(numbers(sliced, heavy["moment_front"])[0], [8 * 0.6], atol=0.006)
    np.testing.assert_allclose(numbers(sliced, heavy["moment_above"])[0], [0.0], atol=0.006)
    teeth = wired.head["cases"][0]
    for tooth, seen in zip(teeth["teeth"], teeth["arch"]["teeth"], strict=True):
        tip = numbers(wired, tooth["moments_Nmm"])[0, 0]
        assert abs(tip) > 0.5
        found = abs(numbers(wired, seen["moment_front"])[0, 0])
        np.testing.assert_allclose(found, abs(tip), rtol=0.02, atol=0.02)
    largest = wired.head["scales"]["moment_Nmm"]
    every = [numbers(wired, tooth["moments_Nmm"]) for tooth in teeth["teeth"]]
    assert largest == pytest.approx(max(np.linalg.norm(m, axis=1).max() for m in every), abs=0.02)


def test_what_stood_still_lies_on_the_axis(slices, sliced):
    """The point of the axis at the depth of the centre of rotation has hardly moved; from the side
    of an upper tooth the apex is up."""
    case = sliced.head["cases"][0]
    (tooth,), (seen,) = case["teeth"], case["arch"]["teeth"]
    axis = numbers(sliced, seen["axis"])
    depth = numbers(sliced, tooth["rotation_centre_mm"])[:, 0]
    crest = numbers(sliced, seen["wall"])[0][:, -1].mean(axis=0)  # of the unmoved socket
    np.testing.assert_allclose(axis[0, 0], crest, rtol=0, atol=0.1)
    np.testing.assert_allclose(axis[:, 1, 1], -1.0, rtol=0, atol=0.05)
    places = axis[:, 0] + depth[:, None] * axis[:, 1]
    assert abs(axis[-1, 0, 0] - crest[0]) > 0.2
    np.testing.assert_allclose(places[-1, 0], crest[0], rtol=0, atol=0.03)


def test_a_single_tooth_pushed_labially_is_seen_from_its_side(slices, sliced, wired):
    assert wired.head["cases"][0]["arch"]["seen"] == "front"
    arch = sliced.head["cases"][0]["arch"]
    assert arch["seen"] == "side"
    (kept,) = arch["teeth"]
    case, tooth = slices.cases[0], slices.teeth[0]
    stress = tooth.wall.stress(case.median.wrench[rows_at(case.median, np.array([7.0]))[0], 0])
    lingual = tooth.wall.sectors // 2
    sides = 1e3 * stress.normal[:, [lingual, 0]].T
    np.testing.assert_allclose(numbers(sliced, kept["normal"])[7], sides, rtol=0, atol=0.5001e-2)
    # the crown goes labially: to the right on the screen
    body = numbers(sliced, kept["body"])
    assert body[-1][:, 0].max() > body[0][:, 0].max() + 0.2


def test_seen_from_the_biting_side_the_right_tooth_is_on_the_left(wired):
    right, left = (
        numbers(wired, tooth["above"])[0][:, 0].mean()
        for tooth in wired.head["cases"][0]["arch"]["teeth"]
    )
    # half the width of a central incisor's crown, 8.5 mm
    np.testing.assert_allclose([right, left], [-4.25, 4.25], rtol=0, atol=0.2)


def test_colour_scales_reach_the_largest_value_of_all_days(wires, wired):
    largest = max(
        np.abs(numbers(wired, t["normal"])).max() for t in wired.head["cases"][0]["arch"]["teeth"]
    )
    assert wired.head["scales"]["wall_traction_kPa"] >= largest
    moved = max(numbers(wired, t["crown_mm"]).max() for t in wired.head["cases"][0]["teeth"])
    assert wired.head["scales"]["moved_mm"] >= moved


def test_many_days_are_thinned_but_weeks_and_key_times_stay(wires, monkeypatch):
    from gomphosis.scenarios.key_times import key_times

    monkeypatch.setattr("gomphosis.viz.report_steps.MOST_STEPS", 10)
    keys = key_times(wires)
    days = report_days(wires, keys)
    assert len(days) <= 10 + 2
    assert {0.0, 7.0, 14.0} <= set(days) and {key.day for key in keys} <= set(days)
    assert MOST_STEPS > 84  # twelve weeks of days fit
    monkeypatch.setattr("gomphosis.viz.report_steps.MOST_DRAWN", 2 * 2)
    few = report_days(wires, keys)
    assert set(few) == {0.0, 14.0} | {key.day for key in keys}
    assert list(report_days(wires, ())) == [0.0, 14.0]


def test_states_of_slices_are_thinned_to_what_a_page_can_hold(slices, monkeypatch):
    opened = slices.cases[0].slices[0]
    every = report_frames(opened, np.arange(9.0), 1)
    assert every == list(range(9))
    cells = opened.track.frames[0].bones.bone.size
    monkeypatch.setattr("gomphosis.viz.report_steps.MOST_CELLS", 8.0 * cells)
    few = report_frames(opened, np.arange(9.0), 1)
    assert len(few) == 8 and few[0] == 0 and few[-1] == 8


def test_captions_are_those_of_the_films(wires, wired, lesson, lesson_folder):
    for result, record in ((wires, wired), (lesson, read_record(lesson_folder)[0])):
        kept = record.head["captions"]
        assert kept == [[day, text] for day, text in Captions(result).entries]
        assert {day for day, _ in kept} <= set(record.head["days"])


def test_days_on_which_a_caption_begins_stay_when_days_are_thinned(lesson, monkeypatch):
    monkeypatch.setattr("gomphosis.viz.report_steps.MOST_DRAWN", 2)
    assert list(report_days(lesson, (), [3.0])) == [0.0, 3.0, 8.0]
