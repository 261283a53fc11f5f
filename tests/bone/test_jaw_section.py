"""Building a map from plates over a root, or from outlines."""

import numpy as np
import pytest

from gomphosis.bone.coverage import Raster, enclosed_area
from gomphosis.bone.jaw_section import (
    JawSection,
    PlateThickness,
    jaw_map,
    outlined_map,
    tooth_outline,
)
from gomphosis.bone.outline import side_at
from gomphosis.bone.perforation import plate_profile
from gomphosis.bone.root import RootProfile, ThicknessProfile

ROOT = RootProfile(3.0, 12.0, 0.35)
TOOTH = tooth_outline(ROOT, ThicknessProfile.uniform(0.2), above=4.0)
RASTER = Raster((-12.0, -18.0), (240, 240), 0.1)
LABIAL, PALATAL = PlateThickness(0.8, 1.0, 1.5), PlateThickness(1.25, 3.5, 6.5)
BOX = np.array([[-5.0, 5.0, 5.0, -5.0], [-9.0, -9.0, 0.0, 0.0]])
PEG = np.array([[-1.0, 1.0, 1.0, -1.0], [-6.0, -6.0, 2.0, 2.0]])


def section(**change):
    return JawSection(
        **{"plus": LABIAL, "minus": PALATAL, "cortex": 1.5, "trabecular": 0.3} | change
    )


def test_tooth_outline_is_the_root_with_its_ligament():
    peg = tooth_outline(RootProfile(2.0, 10.0, 0.5), ThicknessProfile.uniform(1e-9), above=3.0)
    # 2 r h / (n + 1) of the power profile and the straight part; 80 chords lack 1e-3 of it
    np.testing.assert_allclose(enclosed_area(peg), 4.0 * 10.0 / 1.5 + 12.0, rtol=1e-3)
    np.testing.assert_allclose(peg[1].max(), 3.0)


def test_plates_have_their_thickness_at_crest_middle_and_apex():
    bones = jaw_map(RASTER, TOOTH, section())
    inside = TOOTH * 0.999
    apex = TOOTH[1].min()
    for side, plate in ((1, LABIAL), (-1, PALATAL)):
        profile = plate_profile(bones, inside, side=side)
        depth = -profile.height / -apex
        # rows are measured at their middle, of walls that slope by up to a third of a cell there
        upper = depth < 0.84
        np.testing.assert_allclose(profile.bone[upper], plate.at(depth)[upper], atol=0.02)
        # beside the blunt apex the bone is thicker than given: it does not step in
        assert np.all(profile.bone[depth > 0.9] > plate.at(depth[depth > 0.9]) + 0.05)
    labial = plate_profile(bones, inside, side=1)
    np.testing.assert_allclose(labial.plate[-1], 0.8, atol=0.02)


def test_thick_bone_has_a_cortex_and_trabecular_bone_within():
    bones = jaw_map(RASTER, TOOTH, section())
    profile = plate_profile(bones, TOOTH * 0.999, side=-1)
    middle = int(np.argmin(abs(profile.height + 7.0)))
    # the border of plate and trabecular bone is found to half a cell
    np.testing.assert_allclose(profile.plate[middle], 1.5, atol=0.05)
    within = bones.density_at(np.array([[-3.5], [-7.0]]))
    np.testing.assert_allclose(within, 0.3, rtol=1e-12)
    assert bones.density_at(np.array([[6.0], [-7.0]])) == 0.0


def test_no_bone_above_either_crest():
    bones = jaw_map(RASTER, TOOTH, section(crest_plus=-3.0, crest_minus=-1.0))
    z, x = RASTER.centres(1), RASTER.centres(0)
    tops = [z[bones.bone[side].any(axis=0)].max() for side in (x > 0, x < 0)]
    np.testing.assert_allclose(tops, [-3.05, -1.05], atol=1e-9)


def test_outlines_give_areas_to_round_off():
    plate = np.array([[4.0, 5.0, 5.0, 4.0], [-9.0, -9.0, 0.0, 0.0]])
    bones = outlined_map(RASTER, PEG, bone=BOX, plates=[plate], trabecular=0.3)
    np.testing.assert_allclose(bones.bone_area, 90.0 - 12.0, rtol=1e-12)
    np.testing.assert_allclose(bones.mineral_area, 9.0 + 0.3 * 69.0, rtol=1e-12)
    np.testing.assert_allclose(bones.envelope.sum() * RASTER.cell_area, 90.0, rtol=1e-12)


def test_bone_that_stands_is_mature_where_plate_ligament_and_marrow_share_a_cell():
    plate = np.array([[1.07, 5.0, 5.0, 1.07], [-9.0, -9.0, 0.0, 0.0]])
    bones = outlined_map(RASTER, PEG * 1.04, bone=BOX, plates=[plate], trabecular=0.3)
    some = bones.bone > 0
    np.testing.assert_allclose(bones.mature[some], bones.density[some], rtol=0, atol=1e-10)
    # a cell of 0.4 tooth, 0.3 marrow, 0.3 plate
    shared = bones.density[130, 150]
    np.testing.assert_allclose(shared, 0.65, rtol=1e-9)


def test_outlines_that_do_not_fit_are_refused():
    plate = BOX * 0.5
    with pytest.raises(ValueError, match="plates overlap or leave the bone near x "):
        outlined_map(RASTER, PEG, bone=BOX, plates=[plate, plate], trabecular=0.3)
    with pytest.raises(ValueError, match="plates overlap or leave the bone near x "):
        outlined_map(RASTER, PEG, bone=BOX, plates=[BOX + 1.0], trabecular=0.3)
    with pytest.raises(ValueError, match=r"^plate 2: the outline crosses itself"):
        outlined_map(RASTER, PEG, bone=BOX, plates=[plate, plate[:, [0, 2, 1, 3]]], trabecular=0.3)
    with pytest.raises(ValueError, match="trabecular density"):
        outlined_map(RASTER, PEG, bone=BOX, plates=[], trabecular=0.0)
    with pytest.raises(ValueError, match=r"bone crest at 5\.0 mm is not between"):
        jaw_map(RASTER, TOOTH, section(crest_plus=5.0))
    with pytest.raises(ValueError, match="plate thickness must be >= 0"):
        PlateThickness(0.5, -0.1, 1.0)
    with pytest.raises(ValueError, match="jaw section needs"):
        section(trabecular=1.5)


def test_inner_face_is_the_socket_where_bone_is_thin_and_a_cortex_from_outside_where_it_is_thick():
    z = np.array([0.0, -5.9, -8.0])
    jaw = section()
    labial = jaw.inner_surface(TOOTH, z, 1)
    np.testing.assert_allclose(labial, side_at(TOOTH, z, 1), rtol=1e-12)
    lingual = jaw.inner_surface(TOOTH, z[1:], -1)
    # 3.5 mm at mid-root and more below, of which 1.5 mm is cortex
    np.testing.assert_allclose(lingual, jaw.outer_surface(TOOTH, z[1:], -1) + 1.5, rtol=1e-12)
    assert np.all(lingual < side_at(TOOTH, z[1:], -1) - 1.5)
