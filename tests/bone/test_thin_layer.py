"""The thin layer's integrals against formulas by hand, and which surface is the right one."""

import numpy as np
import pytest

from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, support
from gomphosis.bone.thin_layer import PlanarSupport, surface_integrals

RADIUS, LENGTH = 3.0, 12.0
NAMES = ("lateral", "coupling", "rocking", "axial", "torsional")


def springs(poisson, thickness, young=0.05):
    shear = young / (2 * (1 + poisson))
    return young * (1 - poisson) / (
        (1 + poisson) * (1 - 2 * poisson)
    ) / thickness, shear / thickness


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.45])
def test_cylinder_in_closed_form(poisson):
    """Verification: springs k_n, k_t around a cylinder of radius r and height h, by hand.

    Lateral pi r h (k_n + k_t), its arm h/2, rocking pi r [(k_n + k_t) h^3/3 + k_t h r^2], axial
    2 pi r h k_t, torsion 2 pi r^3 h k_t.
    """
    layer = 0.02
    kn, kt = springs(poisson, layer)
    r, h = RADIUS + layer / 2, LENGTH
    found = surface_integrals(
        RootProfile(RADIUS, LENGTH, 0.0), ThicknessProfile.uniform(layer), young=0.05,
        poisson=poisson,
    )  # fmt: skip
    lateral = np.pi * r * h * (kn + kt)
    expected = PlanarSupport(
        lateral=lateral,
        coupling=-lateral * h / 2,
        rocking=np.pi * r * ((kn + kt) * h**3 / 3 + kt * h * r**2),
        axial=2 * np.pi * r * h * kt,
        torsional=2 * np.pi * r**3 * h * kt,
    )
    for name in NAMES:
        np.testing.assert_allclose(getattr(found, name), getattr(expected, name), rtol=1e-7)
    np.testing.assert_allclose(found.centre_of_resistance, -h / 2, rtol=1e-7)
    spread = h**2 / 12 + r**2 * kt / (kn + kt)
    np.testing.assert_allclose(found.moment_distance, spread, rtol=1e-6)


def test_cone_in_closed_form():
    """Verification: on a cone of half-angle a, cos a = c, sin a = s, area element 2 pi r dz / c.

    Axial (k_n s^2 + k_t c^2) A, lateral (k_n c^2 + k_t (2 - c^2)) A / 2, torsion k_t A R^2 / 2
    with A = pi R times the slant.
    """
    layer, poisson = 1e-4, 0.3
    kn, kt = springs(poisson, layer)
    slant = np.hypot(RADIUS, LENGTH)
    c, s = LENGTH / slant, RADIUS / slant
    area = np.pi * RADIUS * slant
    found = surface_integrals(
        RootProfile(RADIUS, LENGTH, 1.0), ThicknessProfile.uniform(layer), young=0.05,
        poisson=poisson,
    )  # fmt: skip
    # the layer's own half thickness is a hundred-thousandth of the radius
    np.testing.assert_allclose(found.axial, (kn * s**2 + kt * c**2) * area, rtol=1e-4)
    np.testing.assert_allclose(found.lateral, (kn * c**2 + kt * (2 - c**2)) * area / 2, rtol=1e-4)
    np.testing.assert_allclose(found.torsional, kt * area * RADIUS**2 / 2, rtol=2e-4)
    # with u = 1 + z/h from 0 to 1: integral of u (u - 1) is -1/6, of u^2 is 1/3
    depth, across = -RADIUS * slant * LENGTH / 6, RADIUS**2 * slant / 3
    swing = c * (c * depth + s * across)
    np.testing.assert_allclose(
        found.coupling, np.pi * (kn * swing + kt * (2 * depth - swing)), rtol=2e-4
    )


def test_uneven_thickness_acts_through_its_own_springs():
    """Verification: torsion of a cylinder, G 2 pi r^3 times the integral of dz / t."""
    layer = ThicknessProfile(0.022, 0.016, 0.020)
    found = surface_integrals(RootProfile(RADIUS, LENGTH, 0.0), layer, young=0.05, poisson=0.0)
    depth = np.linspace(0, 1, 20001)
    gap = layer.at(depth)
    per_gap = (RADIUS + gap / 2) ** 3 / gap
    integral = LENGTH * np.mean(0.5 * (per_gap[1:] + per_gap[:-1]))
    np.testing.assert_allclose(found.torsional, 2 * np.pi * 0.025 * integral, rtol=1e-4)


def on_root_surface(root, layer, poisson):
    """Return the five numbers integrated over the root's surface instead of the middle one."""
    kn, kt = springs(poisson, layer)
    s = np.linspace(0, 1, 8001)
    point, _ = root.surface(s)
    _, (nr, nz) = root.surface(0.5 * (s[1:] + s[:-1]))
    r, z = 0.5 * (point[:, 1:] + point[:, :-1])
    weight = np.linalg.norm(np.diff(point, axis=1), axis=0) * r
    swing = nr * z - nz * r
    return {
        "lateral": np.pi * np.sum(weight * (kn * nr**2 + kt * (2 - nr**2))),
        "rocking": np.pi * np.sum(weight * (kn * swing**2 + kt * (2 * z**2 + r**2 - swing**2))),
        "axial": 2 * np.pi * np.sum(weight * (kn * nz**2 + kt * (1 - nz**2))),
        "torsional": 2 * np.pi * np.sum(weight * kt * r**2),
    }


@pytest.mark.parametrize("exponent", [0.0, 0.5, 1.0])
def test_the_middle_surface_is_right_and_the_root_surface_is_not(exponent):
    """A layer of 0.02 R: the root's surface is off by up to 4 %, the middle one by 0.5 %."""
    layer, poisson = 0.02 * RADIUS, 0.3
    root, profile = RootProfile(RADIUS, LENGTH, exponent), ThicknessProfile.uniform(layer)
    design = SupportDesign(root, profile, Elastic(0.05, poisson), None, None)
    elements = support(design, Resolution(along=48)).planar
    middle = surface_integrals(root, profile, young=0.05, poisson=poisson)
    surface = on_root_surface(root, layer, poisson)
    misses = {name: abs(value / getattr(elements, name) - 1) for name, value in surface.items()}
    for name in surface:
        np.testing.assert_allclose(getattr(elements, name), getattr(middle, name), rtol=5e-3)
    assert 0.02 < max(misses.values()) < 0.05
    assert min(misses.values()) > 0.005


@pytest.mark.parametrize("exponent", [0.0, 0.35, 0.5])
def test_the_relative_centre_does_not_depend_on_the_bone_level(exponent):
    """Verification: a shortened power profile is one again, so CR/h stays (slender root)."""
    layer = ThicknessProfile.uniform(1e-4)
    shares = []
    for length in (12.0, 8.0):
        root = RootProfile(0.1 * (length / 12) ** exponent, length, exponent)
        found = surface_integrals(root, layer, young=0.05, poisson=0.3)
        shares.append(found.centre_of_resistance / length)
    np.testing.assert_allclose(shares[1], shares[0], rtol=1e-3)
