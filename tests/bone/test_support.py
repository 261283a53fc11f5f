"""Support of one tooth beyond what the checks show."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import (
    Elastic,
    Resolution,
    SupportDesign,
    axis_ties,
    motion_at,
    rigid_modes,
    support,
    support_section,
)

LAYER = ThicknessProfile(0.22, 0.16, 0.22)
DESIGN = SupportDesign(
    root=RootProfile(3.24, 12.0, 0.35),
    thickness=LAYER,
    ligament=Elastic(0.05, 0.3),
    dentine=Elastic(2e4, 0.3),
    bone=Elastic(2e3, 0.3),
)
RIGID = replace(DESIGN, dentine=None, bone=None)
COARSE = Resolution(along=12)


@pytest.fixture(scope="module")
def incisor():
    return support(DESIGN)


def test_bands_fill_the_volumes_of_root_layer_and_bone():
    """Verification: Pappus and the volume of a power profile, pi R^2 h / (2 n + 1)."""
    section = support_section(DESIGN, Resolution(along=48))
    basis_volume = {}
    for name, elements in section.bands.items():
        mesh = section.mesh
        corners = section.nodes[:, mesh.dofs.element_dofs[:, elements]]
        basis_volume[name] = _volume(corners)
    whole = np.pi * 3.24**2 * 12.0 / 1.7
    # the fan of the root is cut at the crest plane and along the axis: exact shape
    np.testing.assert_allclose(basis_volume["root"], whole, rtol=2e-3)
    assert 0.16 < basis_volume["ligament"] / _area() < 0.25


def _volume(corners):
    """Integrate 2 pi r over quadratic quadrilaterals by their corners, fine enough here."""
    r, z = corners[:, :4]
    twice = np.zeros(r.shape[1])
    moment = np.zeros(r.shape[1])
    for a, b in ((0, 1), (1, 2), (2, 3), (3, 0)):
        cross = r[a] * z[b] - r[b] * z[a]
        twice += cross
        moment += (r[a] + r[b]) * cross
    return float(np.abs(2 * np.pi * moment / 6).sum())


def _area():
    r, z = DESIGN.root.surface(np.linspace(0, 1, 2001))[0]
    return np.pi * np.sum((r[1:] + r[:-1]) * np.hypot(np.diff(r), np.diff(z)))


def test_rigid_bodies_have_no_band_of_their_own():
    section = support_section(RIGID, COARSE)
    assert list(section.bands) == ["ligament"]
    np.testing.assert_array_equal(section.lines["outer"], section.lines["wall"])


def test_softer_bodies_make_a_softer_support(incisor):
    rigid = support(RIGID).planar
    for name in ("lateral", "rocking", "axial", "torsional"):
        assert 0.9 < getattr(incisor.planar, name) / getattr(rigid, name) < 1.0


def test_stiffness_is_proportional_to_the_modulus_of_rigidly_held_layers():
    soft, stiff = (support(replace(RIGID, ligament=Elastic(e, 0.45)), COARSE) for e in (0.05, 0.5))
    np.testing.assert_allclose(stiff.stiffness, 10 * soft.stiffness, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(stiff.pressure_modes, 10 * soft.pressure_modes, rtol=1e-6, atol=1e-6)


def test_stiffness_has_the_signs_of_a_body_of_revolution(incisor):
    """Rotation about y carries the root (below the crest) backwards, about x to the left."""
    k = incisor.stiffness
    assert k[0, 4] < 0 < k[1, 3]
    np.testing.assert_allclose(np.linalg.eigvalsh(k) > 0, True)
    centre = incisor.planar.centre_of_resistance
    about = incisor.stiffness_at([0, 0, centre])
    np.testing.assert_allclose(about[0, 4] / k[0, 4], 0.0, rtol=0, atol=1e-12)
    np.testing.assert_allclose(about[1, 3] / k[1, 3], 0.0, rtol=0, atol=1e-12)


def test_force_through_the_centre_translates(incisor):
    centre = incisor.planar.centre_of_resistance
    for direction in ([1.0, 0, 0], [0.0, 1, 0], [0.6, 0.8, 0]):
        wrench = motion_at(np.array([0, 0, centre])).T @ [*direction, 0, 0, 0]
        moved = incisor.displacement(wrench)
        np.testing.assert_allclose(moved[3:], 0.0, rtol=0, atol=1e-14)
        np.testing.assert_allclose(moved[:3], np.array(direction) / incisor.planar.lateral)


def test_displacement_takes_many_wrenches_at_once(incisor):
    wrenches = np.random.default_rng(1).normal(size=(4, 3, 6))
    found = incisor.displacement(wrenches)
    np.testing.assert_allclose(found[2, 1], incisor.displacement(wrenches[2, 1]), rtol=1e-13)
    np.testing.assert_allclose(
        incisor.stiffness @ found[2, 1], wrenches[2, 1], rtol=1e-9, atol=1e-12
    )


def test_motion_at_a_point_is_that_of_a_rigid_body():
    point, turn = np.array([1.0, -2.0, 3.0]), np.array([0.1, 0.2, -0.3])
    moved = motion_at(point) @ [1.0, 2.0, 3.0, *turn]
    np.testing.assert_allclose(moved[:3], np.array([1, 2, 3]) + np.cross(turn, point), rtol=1e-14)
    np.testing.assert_allclose(moved[3:], turn, rtol=0, atol=0)


def test_work_is_the_same_about_every_point(incisor):
    point = np.array([3.5, -1.0, 7.0])
    wrench = np.array([0.5, 0.1, -0.2, 3.0, 1.0, -2.0])
    at_crest = motion_at(point).T @ wrench
    motion = incisor.displacement(at_crest)
    at_point = np.linalg.solve(incisor.stiffness_at(point), wrench)
    np.testing.assert_allclose(at_point, motion_at(point) @ motion, rtol=1e-9)


def test_rigid_modes_are_regular_on_the_axis():
    section = support_section(DESIGN, COARSE)
    for order in (0, 1):
        modes = rigid_modes(section.nodes, order)
        ties = axis_ties(section, order)
        np.testing.assert_allclose(ties @ modes, modes, rtol=0, atol=1e-9)


@pytest.mark.parametrize("pair", [(0.0, 0.3), (0.05, 0.5)])
def test_impossible_ligaments_are_refused(pair):
    with pytest.raises(ValueError, match=r"0 <= Poisson's ratio < 0.5"):
        Elastic(*pair)


def test_doubling_doubles_every_count():
    assert Resolution(1, 2, 3, 4, 8).doubled() == Resolution(2, 4, 6, 8, 16)
