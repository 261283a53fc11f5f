"""The density map and the law of moduli: sampling, conservation, refusals."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.coverage import Raster, coverage
from gomphosis.bone.density_law import DensityLaw, carter_hayes_modulus
from gomphosis.bone.density_map import CORTICAL, NONE, TRABECULAR, DensityMap
from gomphosis.bone.library import lookup

LAW = DensityLaw(full=2000.0, soft=0.05, exponent=3.0)


def block(spacing=0.1):
    """Bone of density 0.5 from x 0 to 2, tooth from 2 to 3, soft tissue from 3 to 4 mm."""
    raster = Raster((0.0, 0.0), (round(4 / spacing), round(2 / spacing)), spacing)
    x = np.repeat(raster.centres(0)[:, None], raster.shape[1], axis=1)
    bone, tooth = np.clip((2.04 - x) / spacing + 0.5, 0, 1), ((x > 2) & (x < 3)) * 1.0
    tooth[bone > 0] = np.minimum(tooth, 1 - bone)[bone > 0]
    envelope = np.ones(raster.shape)
    return DensityMap(raster, bone, 0.5 * bone, tooth, envelope, 0.5 * envelope)


# The law of moduli


def test_law_is_soft_tissue_at_none_and_cortical_bone_at_one():
    np.testing.assert_allclose(
        LAW.modulus(np.array([0.0, 0.5, 1.0])), [0.05, 0.05 + 1999.95 / 8, 2000.0], rtol=1e-15
    )
    np.testing.assert_allclose(LAW.density(float(LAW.modulus(0.3))), 0.3, rtol=1e-13)


def test_verification_carter_hayes_at_four_densities():
    # secondary source for the formula; the numbers are its arithmetic to the digits given
    found = carter_hayes_modulus(np.array([0.3, 0.6, 1.0, 1.8]), strain_rate=0.01)
    np.testing.assert_allclose(found, [77.6, 621, 2875, 16767], rtol=5e-4)


def test_cited_law_takes_the_exponent_of_its_study():
    assert DensityLaw.cited("carter_hayes", full=10.0, soft=1.0).exponent == 3.0
    assert DensityLaw.cited("morgan", full=10.0, soft=1.0).exponent == 1.49


def test_trabecular_density_has_the_study_s_trabecular_modulus():
    young = lookup("bone_layer.trabecular_young").number
    law = DensityLaw.cited(
        "carter_hayes", full=lookup("bone_layer.cortical_young").number, soft=1e-6
    )
    # four digits in the library
    assert abs(law.density(young) - lookup("bone_layer.trabecular_density").number) < 5e-5


@pytest.mark.parametrize("bad", [(1.0, 2.0, 3.0), (2.0, 0.0, 3.0), (2.0, 1.0, 0.5)])
def test_a_bad_law_is_refused(bad):
    with pytest.raises(ValueError, match="density law needs"):
        DensityLaw(*bad)
    with pytest.raises(ValueError, match=r"must lie between 0\.05 and 2000"):
        LAW.density(2001.0)


# The map


def test_kinds_follow_what_bone_matures_to():
    found = replace(
        block(),
        mature=np.where(block().raster.centres(0)[:, None] < 1, 1.0, 0.5) + 0 * block().bone,
    )
    kinds = found.kind[[2, 15, 25, 35], 5]
    np.testing.assert_array_equal(kinds, [CORTICAL, TRABECULAR, NONE, NONE])


def test_bone_beside_the_ligament_is_not_diluted_by_it():
    bones = block()
    points = np.array([[0.03, 1.0, 1.97, 2.03], [1.0, 0.51, 1.23, 1.0]])
    np.testing.assert_allclose(bones.density_at(points), 0.5, rtol=1e-14)
    np.testing.assert_allclose(bones.modulus_at(points, LAW), LAW.modulus(0.5), rtol=1e-14)


def test_soft_tissue_outside_and_cells_under_the_tooth():
    bones = block()
    points = np.array([[3.5, 2.5, 99.0, -99.0], [1.0, 1.0, 1.0, 1.0]])
    np.testing.assert_allclose(bones.density_at(points), [0, 0, 0, 0.5], rtol=1e-14)
    np.testing.assert_allclose(
        bones.modulus_at(points, LAW), [0.05, 0.05, 0.05, LAW.modulus(0.5)], rtol=1e-14
    )


def test_sampling_is_linear_between_centres():
    raster = Raster((0.0, 0.0), (10, 8), 0.25)
    x, z = np.meshgrid(raster.centres(0), raster.centres(1), indexing="ij")
    ones, field = np.ones(raster.shape), 0.1 + 0.2 * x + 0.15 * z
    bones = DensityMap(raster, ones, field, 0 * ones, ones, ones)
    points = np.array([[0.3, 1.111, 2.2], [0.9, 0.77, 1.234]])
    np.testing.assert_allclose(
        bones.density_at(points), 0.1 + 0.2 * points[0] + 0.15 * points[1], rtol=1e-13
    )


def test_a_half_filled_cell_has_half_the_stiffness_of_its_bone():
    raster = Raster((0.0, 0.0), (2, 2), 1.0)
    half = np.full(raster.shape, 0.5)
    bones = DensityMap(raster, half, half, 0 * half, half, half)
    found = bones.modulus_at(np.array([[1.0], [1.0]]), LAW)
    np.testing.assert_allclose(found, 0.5 * (2000.0 + 0.05), rtol=1e-14)


def test_mean_densities_over_a_partition_hold_all_mineral():
    bones = block(spacing=0.08)
    cut = np.array([[0.0, 1.7, 0.4, 0.0], [0.0, 0.0, 2.0, 2.0]])
    rest = np.array([[1.7, 4.0, 4.0, 0.4], [0.0, 0.0, 2.0, 2.0]])
    held = 0.0
    for part in (cut, rest):
        share = coverage(bones.raster, part)
        held += bones.mean_density(share) * share.sum() * bones.raster.cell_area
    np.testing.assert_allclose(held, bones.mineral_area, rtol=1e-12)
    with pytest.raises(ValueError, match="area above 0"):
        bones.mean_density(0 * bones.bone)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"bone": np.zeros((3, 3))}, "bone must have shape"),
        ({"mature": np.full((40, 20), 1.1)}, "mature must lie in"),
        ({"envelope": np.full((40, 20), np.nan)}, "envelope must lie in"),
        ({"mineral": np.full((40, 20), 0.9)}, "more mineral than"),
        ({"covered": np.full((40, 20), 0.5)}, "more than a whole cell"),
    ],
)
def test_a_map_that_cannot_be_is_refused(change, message):
    with pytest.raises(ValueError, match=message):
        replace(block(), **change)
