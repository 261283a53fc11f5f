"""Lines of nodes: area, normals, and tractions that give back the forces they came from."""

import numpy as np
import pytest

from gomphosis.fem.boundary import Line, line
from gomphosis.fem.section import tensor_section

COUNT = 17


def arc():
    """Return a quarter circle of radius 2 about the origin, from below to the side."""
    angle = np.linspace(-np.pi / 2, 0, COUNT)
    return Line(np.arange(COUNT), 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1))


def test_area_of_half_a_sphere():
    """Verification: 2 pi R^2 per full turn, so R^2 per radian."""
    np.testing.assert_allclose(arc().area.sum(), 4.0, rtol=1e-5)


def test_mass_integrates_products_of_quadratics():
    """Verification: on a cylinder r = 3 the integral of z^2 r dz from 0 to 1 is 1."""
    z = np.linspace(0, 1, 5)
    wall = Line(np.arange(5), np.stack([np.full(5, 3.0), z], axis=1))
    np.testing.assert_allclose(z @ wall.mass @ z, 1.0, rtol=1e-13)


def test_normals_of_a_circle_point_from_its_centre():
    wall = arc()
    np.testing.assert_allclose(wall.normal, wall.place / 2, rtol=0, atol=2e-3)


def test_traction_gives_back_the_field_whose_work_it_is():
    wall = arc()
    field = np.stack([wall.place[:, 1], 1 + wall.place[:, 0]], axis=1)
    np.testing.assert_allclose(wall.traction(wall.mass @ field), field, rtol=0, atol=1e-12)


def test_line_takes_nodes_in_order_from_a_section():
    section = tensor_section(
        np.linspace(0, 1, 3),
        {"body": np.linspace(0, 1, 2)},
        mapping=lambda xi, eta: np.stack([1 + eta, xi]),
        lines={"wall": 1.0},
    )
    wall = line(section, "wall")
    np.testing.assert_allclose(wall.place[:, 1], np.linspace(0, 1, 5), rtol=0, atol=1e-12)
    with pytest.raises(KeyError, match="ceiling"):
        line(section, "ceiling")
