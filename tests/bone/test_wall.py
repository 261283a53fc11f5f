"""The sampled socket wall: zones, resultants and symmetry."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, motion_at, support
from gomphosis.bone.wall import COMPRESSION, NEUTRAL, TENSION, SocketWall

RIGID = SupportDesign(
    RootProfile(3.24, 12.0, 0.35), ThicknessProfile.uniform(0.2), Elastic(0.05, 0.3), None, None
)


@pytest.fixture(scope="module")
def wall():
    return SocketWall(support(RIGID))


def labial(wall, force=1.0):
    centre = wall.support.planar.centre_of_resistance
    return motion_at(np.array([0, 0, centre])).T @ np.array([force, 0, 0, 0, 0, 0])


def test_area_is_that_of_the_socket(wall):
    """Verification: the surface of revolution 0.2 mm outside the root, by its own sum."""
    s = np.linspace(0, 1, 4001)
    point, normal = RIGID.root.surface(s)
    r, z = point + 0.2 * normal
    exact = np.pi * np.sum((r[1:] + r[:-1]) * np.hypot(np.diff(r), np.diff(z)))
    np.testing.assert_allclose(wall.area.sum(), exact, rtol=1e-4)
    np.testing.assert_allclose(wall.angles[6], np.pi / 2, rtol=1e-14)


def test_the_side_a_tooth_moves_to_is_compressed(wall):
    stress = wall.stress(labial(wall))
    middle = wall.area.shape[0] // 2
    assert stress.normal[middle, 0] < 0 < stress.pressure[middle, 0]
    assert stress.normal[middle, 12] > 0 > stress.pressure[middle, 12]
    # the sides a quarter round are sheared only
    assert abs(stress.normal[middle, 6]) < 1e-12
    np.testing.assert_allclose(stress.normal[:, 12], -stress.normal[:, 0], rtol=0, atol=1e-15)
    assert stress.traction.shape == (*wall.area.shape, 3)


def test_pressure_of_a_thin_layer_is_the_bulk_share_of_its_normal_stress():
    """Verification: confined slab, -p = sigma_n (1 + nu) / (3 (1 - nu)), away from both ends."""
    for poisson in (0.0, 0.3, 0.45):
        layer = replace(
            RIGID, thickness=ThicknessProfile.uniform(0.02), ligament=Elastic(0.05, poisson)
        )
        wall = SocketWall(support(layer, Resolution(along=48)))
        stress = wall.stress(labial(wall))
        rows = slice(20, 70)
        share = (1 + poisson) / (3 * (1 - poisson))
        np.testing.assert_allclose(
            stress.pressure[rows, 0], -share * stress.normal[rows, 0], rtol=0.02
        )


def test_normal_traction_of_a_cylinder_in_translation_is_force_over_springs():
    """Verification: k_n d cos(angle), d the force over pi r h (k_n + k_t)."""
    radius, height, gap = 3.0, 12.0, 0.006
    pair = Elastic(0.05, 0.3)
    design = SupportDesign(
        RootProfile(radius, height, 0.0), ThicknessProfile.uniform(gap), pair, None, None
    )
    wall = SocketWall(support(design))
    middle = wall.area.shape[0] // 2
    stress = wall.stress(labial(wall))
    push = 1.0 / (np.pi * (radius + gap / 2) * height * (1 + pair.shear / pair.constrained))
    np.testing.assert_allclose(
        stress.normal[middle], -push * np.cos(wall.angles), rtol=0, atol=0.01 * push
    )
    np.testing.assert_allclose(
        stress.traction[middle, 6, 2], -push * pair.shear / pair.constrained, rtol=0.01
    )


def test_many_wrenches_at_once_and_superposition(wall):
    loads = np.random.default_rng(2).normal(size=(2, 6))
    both = wall.stress(loads)
    total = wall.stress(loads.sum(axis=0))
    for name in ("traction", "normal", "pressure"):
        np.testing.assert_allclose(
            getattr(both, name).sum(axis=0), getattr(total, name), rtol=0, atol=1e-12
        )


def test_zones_by_sign_and_size(wall):
    normal = np.array([-3.0, -1.0, 0.0, 0.5, 1.0, 2.0])
    zones = wall.zones(normal, neutral_below=1.0)
    expected = [COMPRESSION, COMPRESSION, NEUTRAL, NEUTRAL, TENSION, TENSION]
    np.testing.assert_array_equal(zones, expected)


def test_weighted_traction_ranges_from_normal_to_plain(wall):
    load = np.array([0.5, 0.2, -0.1, 1.0, -2.0, 0.5])
    stress = wall.stress(load)
    plain = wall.weighted_traction(1.0) @ load
    np.testing.assert_allclose(plain, stress.traction, rtol=0, atol=1e-13)
    only = wall.weighted_traction(0.0) @ load
    np.testing.assert_allclose(
        np.linalg.norm(only, axis=2), np.abs(stress.normal), rtol=0, atol=1e-13
    )
    twice = wall.weighted_traction(2.0) @ load
    np.testing.assert_allclose(twice - plain, plain - only, rtol=0, atol=1e-13)


def test_too_few_sectors_are_refused(wall):
    with pytest.raises(ValueError, match="at least 8 sectors, got 7"):
        SocketWall(wall.support, 7)


def test_answers_do_not_depend_on_the_number_of_sectors(wall):
    fine = SocketWall(wall.support, 48)
    load = np.array([0.5, 0.2, -0.1, 1.0, -2.0, 0.5])
    np.testing.assert_allclose(
        fine.stress(load).normal[:, ::2], wall.stress(load).normal, rtol=0, atol=1e-14
    )
    np.testing.assert_allclose(fine.area.sum(), wall.area.sum(), rtol=1e-13)
