"""Laws of the ligament: values by hand, tangents against differences, energy."""

import numpy as np
import pytest

from gomphosis.bone.ligament_laws import (
    BilinearLigament,
    LinearLigament,
    mean_stress,
    published_bilinear,
)
from gomphosis.fem.harmonic import constrained_modulus

BILINEAR = BilinearLigament(0.05, 0.28, 0.075, 0.3)
NEARLY = LinearLigament(0.05, 0.499)
LAWS = {"linear": LinearLigament(0.68, 0.3), "nearly": NEARLY, "bilinear": BILINEAR}


def directions(count=40):
    drawn = np.random.default_rng(11).normal(size=(count, 3))
    return drawn / BILINEAR.equivalent(drawn)[:, None]


def strains():
    """Return strains below, within and beyond the switch in many directions."""
    sizes = np.array([1e-6, 0.03, 0.06, 0.07, 0.075, 0.08, 0.09, 0.3])
    return (sizes[:, None, None] * directions()).reshape(-1, 3)


@pytest.mark.parametrize("name", LAWS)
def test_tangent_is_the_slope_of_the_stress(name):
    law, strain, step = LAWS[name], strains(), 1e-6
    for column in range(3):
        nudge = step * np.eye(3)[column]
        slope = (law.stress(strain + nudge) - law.stress(strain - nudge)) / (2 * step)
        found = law.tangent(strain)[..., column]
        np.testing.assert_allclose(found, slope, rtol=0, atol=1e-6 * np.abs(slope).max())


@pytest.mark.parametrize("name", LAWS)
def test_tangent_is_symmetric_and_positive(name):
    tangent = LAWS[name].tangent(strains())
    np.testing.assert_allclose(tangent, np.swapaxes(tangent, -1, -2), rtol=0, atol=1e-14)
    assert np.linalg.eigvalsh(tangent).min() > 0.9 * 0.05 / (2 * 1.5)


def test_work_around_a_closed_path_is_nothing():
    """Verification: the stress comes from an energy; a loop through both branches, trapezium."""
    turn = np.linspace(0, 2 * np.pi, 20001)
    path = np.stack([0.1 + 0.1 * np.cos(turn), 0.07 * np.sin(turn), 0.2 * np.sin(2 * turn)], 1)
    middle = BILINEAR.stress(0.5 * (path[1:] + path[:-1]))
    work = np.einsum("ni,ni->n", middle, np.diff(path, axis=0))
    assert abs(work.sum()) < 1e-7 * np.abs(work).sum()


def test_confined_stretch_by_hand():
    """Verification: M1 e up to 7.5 %, then M2 more; M of the same pair; outside the blend."""
    first, second = constrained_modulus(0.05, 0.3), constrained_modulus(0.28, 0.3)
    for size, expected in (
        (0.05, first * 0.05),
        (0.2, first * 0.075 + second * 0.125),
        (-0.2, -first * 0.075 - second * 0.125),
    ):
        stress = BILINEAR.stress(np.array([0.0, size, 0.0]))
        np.testing.assert_allclose(stress[1], expected, rtol=1e-12)
        np.testing.assert_allclose(stress[0], 0.3 / 0.7 * expected, rtol=1e-12)


def test_invariant_is_the_change_of_thickness_of_a_layer_in_any_direction():
    np.testing.assert_allclose(BILINEAR.equivalent(np.array([0.0, -0.04, 0.0])), 0.04, rtol=1e-14)
    turned = np.array([0.02, 0.02, 0.04])  # 0.04 along the diagonal
    np.testing.assert_allclose(BILINEAR.equivalent(turned), 0.04, rtol=1e-14)
    # in shear G / M = (1 - 2 nu) / (2 (1 - nu)) = 2/7
    shear = BILINEAR.equivalent(np.array([0.0, 0.0, 0.1]))
    np.testing.assert_allclose(shear, 0.1 * np.sqrt(2 / 7), rtol=1e-14)


def test_curve_is_the_published_one_outside_the_blend_and_smooth_within():
    inside, outside = np.array([0.01, 0.0675]), np.array([0.0825, 0.3])
    np.testing.assert_allclose(BILINEAR.secant(inside), 0.05, rtol=1e-14)
    expected = (0.05 * 0.075 + 0.28 * (outside - 0.075)) / outside
    np.testing.assert_allclose(BILINEAR.secant(outside), expected, rtol=1e-13)
    # half way through the blend the curve lies over the kink by (E2 - E1) half / 4
    middle = BILINEAR.secant(np.array(0.075)) * 0.075
    np.testing.assert_allclose(middle, 0.05 * 0.075 + 0.23 * 0.0075 / 4, rtol=1e-12)


def test_equal_branches_are_the_linear_law():
    same = BilinearLigament(0.05, 0.05, 0.075, 0.45)
    np.testing.assert_allclose(
        same.stress(strains()), LinearLigament(0.05, 0.45).stress(strains()), rtol=1e-12, atol=0
    )


def test_no_strain_has_no_stress_and_the_first_moduli():
    zero = np.zeros((2, 3))
    np.testing.assert_array_equal(BILINEAR.stress(zero), zero)
    np.testing.assert_allclose(
        BILINEAR.tangent(zero), LinearLigament(0.05, 0.3).tangent(zero), rtol=1e-15
    )


def test_nearly_incompressible_layer_is_as_stiff_as_its_constrained_modulus():
    stress = NEARLY.stress(np.array([0.0, 0.01, 0.0]))
    np.testing.assert_allclose(stress[1], 0.01 * constrained_modulus(0.05, 0.499), rtol=1e-13)
    # a pressure in all directions, but for 1/498 of it
    np.testing.assert_allclose(mean_stress(stress, 0.499), stress[1], rtol=3e-3)


def test_mean_stress_counts_the_stress_across_the_plane():
    """Verification: bulk modulus E / (3 (1 - 2 nu)) times the dilatation."""
    strain = np.array([0.01, -0.03, 0.05])
    stress = LinearLigament(0.6, 0.3).stress(strain)
    np.testing.assert_allclose(mean_stress(stress, 0.3), 0.6 / (3 * 0.4) * -0.02, rtol=1e-13)


def test_published_pair_and_switch():
    assert published_bilinear() == BILINEAR
    assert published_bilinear("ligament.bilinear_2017").second == 0.20
    with pytest.raises(KeyError):
        published_bilinear("ligament.nobody")


@pytest.mark.parametrize(
    "wrong", [{"switch": 0.0}, {"blend": 0.0}, {"blend": 1.0}, {"first": -1.0}, {"poisson": 0.5}]
)
def test_constants_out_of_range_are_refused(wrong):
    right = {"first": 0.05, "second": 0.28, "switch": 0.075, "poisson": 0.3, "blend": 0.1}
    with pytest.raises(ValueError, match="needs"):
        BilinearLigament(**(right | wrong))
    with pytest.raises(ValueError, match="needs Young's modulus"):
        LinearLigament(0.0, 0.3)
