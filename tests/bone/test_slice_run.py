"""Verification of weeks of movement through the density map."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.coverage import coverage, moved
from gomphosis.bone.library import lookup
from gomphosis.bone.ligament_laws import published_bilinear
from gomphosis.bone.perforation import DEHISCENCE, FENESTRATION
from gomphosis.bone.rates import Saturating
from gomphosis.bone.slice_body import SliceBody
from gomphosis.bone.slice_counts import SliceCounts
from gomphosis.bone.slice_mesh import slice_mesh
from gomphosis.bone.slice_response import wall_motion
from gomphosis.bone.slice_run import Place, advance, balance, follow_slice

LEVER = np.array([1.0, 0.0, 7.0])
SLOT, APEX = 7.0, -12.0


def at_start(case):
    return Place(np.zeros(3), case.bones, case.outline)


def steady(case, force, *, days, step=1.0, **words):
    at = np.linspace(0.0, days, round(days / step) + 1)
    return follow_slice(case, at, np.tile(force * LEVER, (len(at), 1)), **words)


def path(drift):
    """Travel of slot and apex, mm, shape (T, 3)."""
    ends = [drift[:, 0] + z * drift[:, 2] for z in (SLOT, APEX)]
    return np.stack([*ends, drift[:, 1]], axis=1)


def worn(track):
    """Day on which a tenth of the labial plate's least thickness is left."""
    return float(np.interp(-0.1 * track.plate[0, 0], -track.plate[:, 0], track.days))


@pytest.fixture(scope="module")
def tipped(incisor_case):
    """Eight days under 0.3 N, linear ligament, one-day steps."""
    return steady(incisor_case(), 0.3, days=8, keep=(0.0, 4.0, 8.0))


# --- what a step does ---------------------------------------------------------------------------


def test_first_step_is_the_drift_of_the_first_balance(incisor_case):
    case = incisor_case()
    response, state = balance(case, at_start(case), 0.3 * LEVER)
    speed = wall_motion(response, state, case.law, shear_weight=case.shear_weight).drift
    track = steady(case, 0.3, days=2, step=2.0, rate_factor=1.5)
    np.testing.assert_allclose(track.drift[0], 0.0, atol=0)
    np.testing.assert_allclose(track.drift[1], 1.5 * 2.0 * speed, rtol=1e-6)
    np.testing.assert_allclose(track.motion[0], state.motion, rtol=1e-12)
    assert track.mismatch[0] > 0.1


def test_the_load_at_the_end_of_a_step_drives_it(incisor_case):
    """Nothing pulls on day 0, so a step driven by its beginning would not move."""
    case = incisor_case()
    load = np.array([np.zeros(3), 0.3 * LEVER])
    found = follow_slice(case, np.array([0.0, 1.0]), load).drift[1]
    expected = steady(case, 0.3, days=1).drift[1]
    np.testing.assert_allclose(found, expected, rtol=1e-6)
    gone = follow_slice(case, np.array([0.0, 1.0]), load[::-1])
    np.testing.assert_array_equal(gone.drift, 0.0)


@pytest.mark.parametrize("spacing", [0.1, 0.15, 0.2])
def test_cells_at_the_crest_do_not_bridge_the_ligament(incisor_case, spacing):
    """Motion within 3 % of that on cells of 0.05 mm; a bridge would halve it."""
    load = 0.3 * LEVER
    fine, coarse = (incisor_case(spacing=size, plate=1.0) for size in (0.05, spacing))
    found, expected = (balance(case, at_start(case), load)[1].motion for case in (coarse, fine))
    np.testing.assert_allclose(found[[0, 2]], expected[[0, 2]], rtol=0.03)


def test_only_bone_is_sampled_from_the_map(incisor_case):
    case = incisor_case(spacing=0.2)
    body = case.body
    young = body.bone_moduli(case.bones, case.life.density_law, np.array([0.3, -0.5, 0.02]))
    soft = np.isin(body.bony, body.mesh.regions["soft tissue"]).repeat(9)
    assert (young[soft] == 0.05).all()
    assert young[~soft].max() > 13000.0
    # on the axis under the apex, by the map's own sampling of the moved place
    under = np.flatnonzero(~soft)[np.argmin(body.bony_places[1, ~soft])]
    place = moved(body.bony_places[:, [under]], np.array([0.3, -0.5, 0.02]))
    assert young[under] == case.bones.modulus_at(place, case.life.density_law)[0]


def test_bone_is_sampled_where_the_tooth_is(incisor_case):
    """Moved within a jaw that is moved with it, the tooth answers as before."""
    case = incisor_case(spacing=0.1)
    shift = np.array([0.7, -0.3, 0.0])  # whole cells
    raster = replace(case.bones.raster, origin=(-11.0 + 0.7, -20.0 - 0.3))
    place = Place(shift, replace(case.bones, raster=raster), moved(case.outline, shift))
    found = balance(case, place, 0.3 * LEVER)[1].motion
    here = balance(case, at_start(case), 0.3 * LEVER)[1].motion
    np.testing.assert_allclose(found, here, rtol=1e-7, atol=1e-9)
    elsewhere = replace(place, bones=case.bones)
    assert abs(balance(case, elsewhere, 0.3 * LEVER)[1].motion[0] / here[0] - 1) > 1e-3


def test_map_and_books_follow_the_outline(incisor_case, tipped):
    case = incisor_case()
    last = tipped.frames[-1]
    outline = moved(case.outline, last.drift)
    np.testing.assert_allclose(
        last.bones.covered, coverage(case.bones.raster, outline), rtol=0, atol=1e-12
    )
    books = tipped.books
    change = last.bones.bone_area - case.bones.bone_area
    np.testing.assert_allclose(books.deposited - books.resorbed, change, rtol=0, atol=1e-9)
    mineral = last.bones.mineral_area - case.bones.mineral_area
    np.testing.assert_allclose(books.mineral_change, mineral, rtol=0, atol=1e-9)
    assert books.swept > 5.0
    assert 0.0 < tipped.worst_residual <= 1e-6
    assert tipped.mismatch.min() > 0.1 and tipped.mismatch.max() < 1.5


def test_frames_are_those_asked_for(tipped):
    assert [frame.day for frame in tipped.frames] == [0.0, 4.0, 8.0]
    for frame in tipped.frames:
        np.testing.assert_array_equal(frame.drift, tipped.drift[round(frame.day)])
        np.testing.assert_array_equal(frame.state.motion, tipped.motion[round(frame.day)])


def test_new_bone_matures_and_plates_turn_over(incisor_case):
    case = incisor_case()
    place = at_start(case)
    step = np.array([0.05, 0.0, 0.0])
    after, books = advance(case, place, step, 10.0)
    # by hand: what is new holds 0.1, and gains 1 - exp(-10/18) of what its place holds mature
    new = (after.bones.bone > 1e-9) & (case.bones.bone == 0)
    density, mature = after.bones.density[new], after.bones.mature[new]
    expected = 0.1 + (mature - 0.1) * -np.expm1(-10.0 / 18.0)
    np.testing.assert_allclose(density, expected, rtol=1e-9)
    assert new.sum() > 20
    assert books.mineral_turned_over == 0.0
    lively = replace(case, life=replace(case.life, turnover=0.001))
    turned = advance(lively, place, step, 10.0)[1].mineral_turned_over
    assert -0.01 * case.bones.mineral_area < turned < 0.0


# --- when a run ends early, or does not begin ---


@pytest.mark.parametrize(
    ("days", "loads"),
    [
        ([1.0, 2.0], np.zeros((2, 3))),
        ([0.0, 2.0, 2.0], np.zeros((3, 3))),
        ([0.0, 2.0, 1.0], np.zeros((3, 3))),
        ([0.0, 1.0], np.zeros((3, 3))),
        ([0.0, 1.0], np.zeros((2, 6))),
    ],
)
def test_days_that_do_not_rise_and_loads_that_do_not_fit_are_refused(incisor_case, days, loads):
    with pytest.raises(ValueError, match=r"days rising from 0 and a load \(Fx, Fz, My\) at each"):
        follow_slice(incisor_case(), np.array(days), loads)


def test_linear_ligament_stops_beyond_half_strain(incisor_case):
    assert lookup("ligament.strain_limit.stop").number == 0.5
    load = np.outer([0.2, 0.2, 3.0, 3.0], LEVER)
    track = follow_slice(incisor_case(), np.arange(4.0), load)
    assert len(track.days) == len(track.drift) == len(track.plate) == len(track.load) == 2
    assert track.strain.max() < 0.5
    assert "on day 2 the linear ligament is strained by" in track.stopped
    assert track.stopped.endswith("beyond 50 %: choose the bilinear law")
    percent = float(track.stopped.split("by ")[1].split(" %")[0])
    assert percent > 50


def test_stop_is_at_half_strain_and_nowhere_else(incisor_case):
    """A linear ligament strains in proportion to its load."""
    case = incisor_case()
    unit = balance(case, at_start(case), LEVER)[1].strain
    assert steady(case, 0.49 / unit, days=1, step=1.0).stopped == ""
    assert "by 51 %, beyond 50 %" in steady(case, 0.51 / unit, days=1).stopped


def test_stop_on_the_first_day_leaves_an_empty_record(incisor_case):
    track = steady(incisor_case(), 3.0, days=1)
    assert track.drift.shape == track.motion.shape == track.load.shape == (0, 3)
    assert track.plate.shape == (0, 2)
    assert track.stopped.startswith("on day 0 ")
    assert track.frames == track.openings == ()


def test_stiffening_ligament_does_not_stop(incisor_case):
    case = replace(incisor_case(), ligament=published_bilinear())
    track = steady(case, 3.0, days=1)
    assert (track.stopped, len(track.days)) == ("", 2)
    assert track.strain.max() > 0.5


def test_progress_is_told_every_day(incisor_case):
    told = []
    steady(incisor_case(), 0.3, days=3, progress=told.append)
    assert told == [0.0, 1.0, 2.0, 3.0]


def test_a_state_to_start_from_changes_nothing_but_time(incisor_case):
    case = replace(incisor_case(), ligament=published_bilinear())
    state = balance(case, at_start(case), 1.0 * LEVER)[1]
    again = balance(case, at_start(case), 0.5 * LEVER, start=state)[1]
    fresh = balance(case, at_start(case), 0.5 * LEVER)[1]
    arm = np.array([1.0, 1.0, 12.0])
    np.testing.assert_allclose(again.motion * arm, fresh.motion * arm, rtol=0, atol=1e-6)


# --- the size of the step, and the plate ---------------------------------------------------------


@pytest.mark.parametrize("decay", [np.inf, 14.0])
def test_second_halving_of_the_step_changes_the_path_by_less_than_one_percent(incisor_case, decay):
    """Under a constant load and under one that falls by two thirds in two weeks.

    A step is driven by the load at its end, so a load that falls faster asks for shorter steps.
    """
    case = incisor_case(plate=1.0)
    paths = {}
    for step in (1.0, 0.5, 0.25):
        days = np.linspace(0.0, 6.0, round(6 / step) + 1)
        load = 0.3 * np.exp(-days / decay)[:, None] * LEVER
        paths[step] = path(follow_slice(case, days, load).drift)[:: round(1 / step)]
    scale = np.abs(paths[0.25]).max()
    first, second = (
        np.abs(paths[a] - paths[b]).max() / scale for a, b in ((1.0, 0.5), (0.5, 0.25))
    )
    assert scale > 0.3
    assert second < 0.01
    # first order in time, but for cells of the map that come and go
    assert second < 0.75 * first


def first_opening(track):
    return min(o.first_day for o in track.openings if o.side == 1)


@pytest.mark.slow
def test_thin_plate_opens_on_the_same_day_whatever_the_step_and_the_mesh(incisor_case):
    """0.5 mm of bone under 1 N tipping, ligament that stiffens; numbers are printed with -s."""

    def case(spacing=0.1, counts=None):
        plain = replace(incisor_case(spacing=spacing), ligament=published_bilinear())
        if counts is None:
            return plain
        body = plain.body
        return replace(plain, body=replace(body, mesh=slice_mesh(body.design, counts)))

    runs = {
        "as given": steady(case(), 1.0, days=7),
        "half the step": steady(case(), 1.0, days=7, step=0.5),
        "half the cells": steady(case(spacing=0.05), 1.0, days=7),
        "twice the mesh": steady(case(counts=SliceCounts()), 1.0, days=7),
    }
    found = {name: (worn(run), first_opening(run)) for name, run in runs.items()}
    for name, (day, opened) in found.items():
        print(f"{name:<30} worn on day {day:.2f}, open on day {opened:g}")
    worn_days, opened_days = np.array(list(found.values())).T
    # an opening is seen at the end of a step
    assert np.ptp(worn_days) < 0.25
    assert np.ptp(opened_days) <= 1.0
    assert 3.0 < worn_days.min() < worn_days.max() < 7.0
    assert max(run.worst_residual for run in runs.values()) <= 1e-6


def test_thin_plate_wears_through_from_the_crest(incisor_case):
    """Half a millimetre goes within a week under 1 N, a thicker plate does not."""
    law = published_bilinear()
    run = steady(replace(incisor_case(), ligament=law), 1.0, days=7)
    assert 5.0 < worn(run) < 6.0  # 5.5 on finer cells, steps and meshes
    assert {o.kind for o in run.openings} <= {DEHISCENCE, FENESTRATION}
    last = [o for o in run.openings if o.last_day == 7.0 and o.side == 1]
    assert any(o.kind == DEHISCENCE and o.lowest < -1.0 for o in last)
    assert not [o for o in run.openings if o.side == -1]
    thick = steady(replace(incisor_case(plate=1.5), ligament=law), 1.0, days=7, step=3.5)
    assert thick.openings == ()
    assert thick.plate[-1, 0] > 0.5


def test_six_millimetres_of_travel_invert_nothing(incisor_case):
    """Held upright and pushed for as long as it takes; the mesh moves, the map stays a map."""
    case = replace(incisor_case(plate=9.0), law=Saturating(0.5, 0.0014))
    response = balance(case, at_start(case), LEVER)[0]
    # a load that shifts the tooth bodily, found from the stiffness at the start
    load = response.stiffness @ np.array([0.02, 0.0, 0.0])
    days = np.linspace(0.0, 15.0, 31)
    track = follow_slice(case, days, np.tile(load, (31, 1)), keep=[float(day) for day in days])
    travel = np.abs(path(track.drift)[-1, :2])
    assert travel.max() >= 6.0
    size = case.body.mesh.scaled_jacobians.min()
    for frame in track.frames:
        for name in ("bone", "mineral", "covered"):
            values = getattr(frame.bones, name)
            assert -1e-9 <= values.min() <= values.max() <= 1 + 1e-9
        placed = moved(case.body.mesh.nodes, frame.drift)
        mesh = replace(case.body.mesh, nodes=placed)
        assert mesh.scaled_jacobians.min() == pytest.approx(size, rel=1e-6)
    assert track.worst_residual <= 1e-6
    assert np.isfinite(track.mismatch).all() and 0 < track.mismatch.mean() < 1
    assert isinstance(case.body, SliceBody)
