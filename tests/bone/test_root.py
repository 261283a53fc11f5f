"""Root profile and ligament thickness: geometry by hand, and what both refuse."""

import numpy as np
import pytest

from gomphosis.bone.root import RootProfile, ThicknessProfile, offset_surface

EVEN = np.linspace(0.0, 1.0, 11)


def test_cylinder_runs_along_its_side():
    point, normal = RootProfile(3.0, 12.0, 0.0).surface(EVEN)
    np.testing.assert_allclose(point, [np.full(11, 3.0), 12 * (EVEN - 1)], rtol=0, atol=1e-12)
    np.testing.assert_allclose(normal, np.stack([np.ones(11), np.zeros(11)]), rtol=0, atol=1e-15)


def test_cone_runs_along_its_slant():
    root = RootProfile(5.0, 12.0, 1.0)
    point, normal = root.surface(EVEN)
    np.testing.assert_allclose(root.arc_length(), 13.0, rtol=1e-12)
    np.testing.assert_allclose(point, [5 * EVEN, 12 * (EVEN - 1)], rtol=0, atol=1e-9)
    np.testing.assert_allclose(normal[:, 3], [12 / 13, -5 / 13], rtol=1e-12)


@pytest.mark.parametrize("exponent", [0.2, 0.35, 0.5])
def test_apex_is_round_and_points_follow_the_power_of_depth(exponent):
    point, normal = RootProfile(3.0, 12.0, exponent).surface(EVEN)
    r, z = point
    np.testing.assert_allclose(r, 3 * (1 + z / 12) ** exponent, rtol=0, atol=1e-5)
    np.testing.assert_allclose([r[0], z[0], r[-1], z[-1]], [0, -12, 3, 0], rtol=0, atol=1e-12)
    np.testing.assert_allclose(normal[:, 0], [0, -1], rtol=0, atol=1e-9)
    np.testing.assert_allclose(np.hypot(*normal), 1.0, rtol=1e-14)


def test_steps_of_the_parameter_are_steps_of_arc_length():
    point, _ = RootProfile(3.0, 12.0, 0.35).surface(np.linspace(0, 1, 401))
    steps = np.linalg.norm(np.diff(point, axis=1), axis=0)
    np.testing.assert_allclose(steps, steps.mean(), rtol=1e-3)


def test_a_shortened_power_profile_is_one_again():
    """What is left of the root after the crest sank by 4 mm is the profile of length 8 mm."""
    whole, rest = RootProfile(3.0, 12.0, 0.5), RootProfile(3.0 * (8 / 12) ** 0.5, 8.0, 0.5)
    r, z = rest.surface(EVEN)[0]
    np.testing.assert_allclose(r, 3.0 * (1 + (z - 4) / 12) ** 0.5, rtol=0, atol=1e-5)
    assert whole.exponent == rest.exponent


@pytest.mark.parametrize(
    "sizes", [(0.0, 12.0, 0.3), (3.0, -1.0, 0.3), (3.0, 12.0, -0.1), (3.0, 12.0, 1.2)]
)
def test_impossible_roots_are_refused(sizes):
    with pytest.raises(ValueError, match=f"radius > 0 mm.*got {sizes[0]}, {sizes[1]}, {sizes[2]}"):
        RootProfile(*sizes)


def test_thickness_is_a_parabola_through_its_three_values():
    layer = ThicknessProfile(0.22, 0.16, 0.20)
    np.testing.assert_allclose(layer.at(np.array([0, 0.5, 1])), [0.22, 0.16, 0.20], rtol=1e-14)
    second = np.diff(layer.at(np.linspace(0, 1, 5)), n=2)
    np.testing.assert_allclose(second, second[0], rtol=1e-10)
    np.testing.assert_allclose(ThicknessProfile.uniform(0.2).at(EVEN), 0.2, rtol=1e-14)


def test_a_layer_that_vanishes_between_its_values_is_refused():
    with pytest.raises(ValueError, match=r"stay > 0 mm.*crest 0.2, middle 0.01, apex 0.02"):
        ThicknessProfile(0.2, 0.01, 0.02)


def test_offset_surface_lies_at_its_share_of_the_thickness():
    root, layer = RootProfile(3.0, 12.0, 0.35), ThicknessProfile(0.22, 0.16, 0.22)
    inner = root.surface(EVEN)[0]
    for fraction in (0.0, 0.5, 1.0):
        outer = offset_surface(root, layer, EVEN, fraction=fraction)
        gap = np.linalg.norm(outer - inner, axis=0)
        expected = fraction * layer.at(-inner[1] / 12)
        np.testing.assert_allclose(gap, expected, rtol=0, atol=1e-13)


@pytest.mark.parametrize("exponent", [0.0, 0.35, 1.0])
@pytest.mark.parametrize("depth", [0.0, 5.0, 11.0])
def test_a_lowered_crest_leaves_the_root_itself_as_it_is(exponent: float, depth: float):
    whole = RootProfile(3.0, 12.0, exponent)
    left = whole.below(depth)
    assert left.length == 12.0 - depth
    # the same points, told from the new crest: r = r0 (1 + z/h)^n of the whole root
    r, z = left.surface(np.linspace(0.05, 1.0, 30))[0]
    expected = 3.0 * (1 + (z - depth) / 12.0) ** exponent
    np.testing.assert_allclose(r, expected, rtol=1e-6, atol=1e-6)


@pytest.mark.parametrize("depth", [-0.1, 12.0, 13.0])
def test_a_crest_cannot_sink_above_itself_or_below_the_apex(depth: float):
    with pytest.raises(ValueError, match="crest must sink by 0 to less than"):
        RootProfile(3.0, 12.0, 0.35).below(depth)
