"""Openings of a plate by topology, their dates, and the measures of plate and clearance."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.coverage import Raster, moved
from gomphosis.bone.jaw_section import JawSection, PlateThickness, jaw_map, outlined_map
from gomphosis.bone.mineral import travelled
from gomphosis.bone.perforation import (
    DEHISCENCE,
    FENESTRATION,
    Opening,
    dated,
    openings,
    plate_profile,
)

RASTER = Raster((-4.0, -8.0), (80, 100), 0.1)
PEG = np.array([[-1.0, 1.0, 1.0, -1.0], [-6.0, -6.0, 1.5, 1.5]])
ROOT = PEG + np.array([[0.2, -0.2, -0.2, 0.2], [0.2, 0.2, 0.0, 0.0]])
BOX = np.array([[-3.0, 1.5, 1.5, -3.0], [-9.0, -9.0, 0.0, 0.0]])
LABIAL = np.array([[1.0, 1.5, 1.5, 1.0], [-9.0, -9.0, 0.0, 0.0]])


def bones(**change):
    """Return a plate of 0.5 mm on the +x side and 2 mm of bone on the other."""
    whole = outlined_map(RASTER, PEG, bone=BOX, plates=[LABIAL], trabecular=0.3)
    return replace(whole, **change)


def without(*windows):
    """Remove bone from x, z windows (x0, x1, z0, z1) in mm."""
    whole = bones()
    x, z = RASTER.centres(0)[:, None], RASTER.centres(1)[None, :]
    kept = np.ones(RASTER.shape)
    for x0, x1, z0, z1 in windows:
        kept[(x > x0) & (x < x1) & (z > z0) & (z < z1)] = 0.0
    return bones(bone=whole.bone * kept, mineral=whole.mineral * kept)


def test_a_whole_plate_has_no_opening():
    assert openings(bones()) == ()


@pytest.mark.parametrize("side", [1, -1])
def test_a_window_with_bone_over_it_is_a_fenestration(side):
    x = (1.0, 3.0) if side > 0 else (-3.0, -1.0)
    (found,) = openings(without((*x, -4.0, -2.5)))
    assert (found.kind, found.side) == (FENESTRATION, side)
    np.testing.assert_allclose([found.lowest, found.highest], [-4.0, -2.5], atol=1e-9)
    np.testing.assert_allclose(found.height, 1.5, rtol=1e-9)


def test_an_opening_from_the_crest_is_a_dehiscence_and_a_window_below_it_is_not():
    crest, window = openings(without((1.0, 2.0, -1.2, 0.0), (1.0, 2.0, -5.0, -3.0)))
    assert (crest.kind, window.kind) == (DEHISCENCE, FENESTRATION)
    np.testing.assert_allclose([crest.lowest, crest.highest], [-1.2, 0.0], atol=1e-9)
    np.testing.assert_allclose([window.lowest, window.highest], [-5.0, -3.0], atol=1e-9)


def test_a_hole_within_bone_is_not_an_opening():
    # a void at the ligament, and one in the plate, both closed to the outside
    assert openings(without((-2.0, -1.0, -4.0, -2.0))) == ()
    assert openings(without((1.2, 1.4, -4.0, -2.0))) == ()
    # joined to the outside through a gap elsewhere, the void is part of it
    (found,) = openings(without((1.0, 1.4, -4.0, -2.0), (1.35, 1.6, -2.3, -2.0)))
    np.testing.assert_allclose([found.lowest, found.highest], [-4.0, -2.0], atol=1e-9)


def test_bone_cells_that_touch_at_corners_keep_the_outside_out():
    whole = bones()
    bone = whole.bone.copy()
    i, k = 50, 30  # the cell at x 1.0 to 1.1, z -5.0 to -4.9
    bone[i + 1 : i + 5, k] = 0.0
    bone[i, k + 1] = 0.0
    assert openings(bones(bone=bone, mineral=np.minimum(whole.mineral, bone))) == ()
    bone[i, k] = 0.0
    assert len(openings(bones(bone=bone, mineral=np.minimum(whole.mineral, bone)))) == 1


def test_bone_too_soft_does_not_close_a_plate():
    whole = bones()
    assert len(openings(bones(mineral=0.04 * whole.bone))) == 2
    assert openings(bones(mineral=0.1 * whole.bone)) == ()


def test_a_tooth_that_travels_through_its_plate_opens_it_when_half_a_cell_is_left():
    state, old, first = bones(), PEG, None
    for count in range(1, 13):
        new = moved(PEG, np.array([0.05 * count, 0.0, 0.0]))
        state, _ = travelled(state, old, new, new_density=0.1)
        old = new
        found = openings(state)
        if found and first is None:
            first = count
    # 0.5 mm of plate at 0.05 mm a step: a cell of which half is tooth counts as tooth
    assert first in (9, 10)
    np.testing.assert_allclose(found[0].lowest, -6.0, atol=1e-9)
    assert (found[0].kind, found[0].side) == (DEHISCENCE, 1)


def test_a_tooth_turned_about_its_crest_fenestrates_at_the_apex():
    state, old = bones(), PEG
    for count in range(1, 13):
        new = moved(PEG, np.array([0.0, 0.0, -0.01 * count]))
        state, _ = travelled(state, old, new, new_density=0.1)
        old = new
    (found,) = openings(state)
    assert (found.kind, found.side) == (FENESTRATION, 1)
    # wall at depth d: x = 1/cos 0.12 + d tan 0.12, open from 1.45 (half of the last cell) on
    depth = (1.45 - 1 / np.cos(0.12)) / np.tan(0.12)
    np.testing.assert_allclose(found.highest, -depth, atol=RASTER.spacing)
    # the corner at (1, -6) has gone to the height -6 cos 0.12 + sin 0.12
    corner = np.sin(0.12) - 6 * np.cos(0.12)
    np.testing.assert_allclose(found.lowest, corner, atol=RASTER.spacing)


def test_openings_are_dated_and_grow():
    early = Opening(FENESTRATION, 1, -4.0, -3.0)
    wider = Opening(FENESTRATION, 1, -4.5, -2.9)
    other = Opening(FENESTRATION, -1, -4.0, -3.0)
    log = dated((), [early], day=7.0)
    log = dated(log, [wider, other], day=14.0)
    log = dated(log, [other], day=21.0)
    assert log == (
        Opening(FENESTRATION, 1, -4.5, -2.9, first_day=7.0, last_day=14.0),
        Opening(FENESTRATION, -1, -4.0, -3.0, first_day=14.0, last_day=21.0),
    )


def test_verification_plate_and_clearance_of_a_peg():
    right, left = (plate_profile(bones(), ROOT, side=side) for side in (1, -1))
    assert right.height[0] == pytest.approx(-5.75)
    assert right.height[-1] == pytest.approx(-0.05)
    np.testing.assert_allclose(right.plate, 0.5, rtol=1e-9)
    np.testing.assert_allclose(right.bone, 0.5, rtol=1e-9)
    np.testing.assert_allclose(right.clearance, 0.2, rtol=1e-9)
    np.testing.assert_allclose(left.bone, 2.0, rtol=1e-9)
    np.testing.assert_allclose(left.plate, 0.0, atol=1e-12)
    assert np.all(np.isinf(left.clearance))


def test_thickness_is_measured_finer_than_a_cell():
    state, books = travelled(bones(), PEG, PEG + np.array([[0.237], [0.0]]), new_density=0.1)
    right = plate_profile(state, ROOT + np.array([[0.237], [0.0]]), side=1)
    np.testing.assert_allclose(right.plate, 0.5 - 0.237, rtol=1e-9)
    np.testing.assert_allclose(right.clearance, 0.2, rtol=1e-9)
    assert books.resorbed > 0


def test_thinnest_and_nearest_are_located():
    peg = jaw_map(
        RASTER,
        PEG,
        JawSection(PlateThickness(1.0, 0.4, 1.0), PlateThickness(1.0, 1.0, 1.0), 2.0, 0.3),
    )
    profile = plate_profile(peg, ROOT, side=1)
    thickness, height = profile.thinnest
    # rows lie 0.05 mm off the middle, where the plate thickens by 0.2 mm per mm
    np.testing.assert_allclose(thickness, 0.41, atol=0.002)
    np.testing.assert_allclose(height, -3.0, atol=0.051)
    np.testing.assert_allclose(profile.nearest[0], 0.2, rtol=1e-9)


def test_a_root_beyond_the_map_is_refused():
    with pytest.raises(ValueError, match="no row of the map lies along the root"):
        plate_profile(bones(), ROOT + np.array([[0.0], [20.0]]), side=1)
