"""The harmonic element beyond what the checks show."""

import numpy as np
import pytest

from gomphosis.fem.harmonic import (
    COMPONENTS,
    constrained_modulus,
    harmonic,
    lame,
    projected_dilatation,
    quadrature,
    restricted,
)
from gomphosis.fem.section import tensor_section


def body():
    """Return a distorted block of 3 x 3 elements that does not reach the axis."""

    def place(xi, eta):
        bulge = 0.1 * np.sin(np.pi * xi) * np.sin(np.pi * eta)
        return np.stack([1 + eta + bulge, 2 * xi + bulge])

    grid = np.linspace(0, 1, 4)
    return tensor_section(grid, {"body": grid}, mapping=place, lines={"outer": 1.0})


def stiffness(order, poisson=0.3):
    section = body()
    size = section.mesh.nelements
    rule = harmonic(quadrature(section), order)
    return section, rule, rule.stiffness(np.ones(size), np.full(size, poisson))


def amplitudes(u, w, v):
    return np.stack([u, w, v], axis=1).ravel()


@pytest.mark.parametrize(
    ("young", "poisson"), [(0.0, 0.3), (-1.0, 0.3), (1.0, -0.1), (1.0, 0.5), (1.0, [0.1, 0.6])]
)
def test_elastic_constants_out_of_range_are_refused(young, poisson):
    with pytest.raises(ValueError, match=r"modulus > 0 MPa and 0 <= Poisson's ratio < 0.5"):
        lame(young, poisson)


def test_constants_of_a_confined_slab():
    """Verification: M/E of published pairs, 1.35 at nu 0.30 and 17.1 at nu 0.49."""
    np.testing.assert_allclose(constrained_modulus(1.0, 0.30), 1.346, rtol=0, atol=1e-3)
    np.testing.assert_allclose(constrained_modulus(1.0, 0.49), 17.11, rtol=0, atol=1e-2)
    np.testing.assert_allclose(lame(2.0, 0.0), [0.0, 1.0], rtol=0, atol=0)


@pytest.mark.parametrize("order", [0, 1, 2, 3])
@pytest.mark.parametrize("poisson", [0.0, 0.49])
def test_stiffness_is_symmetric_and_never_negative(order, poisson):
    matrix = stiffness(order, poisson)[2].toarray()
    scale = np.abs(matrix).max()
    np.testing.assert_allclose(matrix, matrix.T, rtol=0, atol=1e-10 * scale)
    assert np.linalg.eigvalsh(0.5 * (matrix + matrix.T)).min() > -1e-12 * scale


def test_energy_of_a_uniform_stretch_in_every_harmonic_that_holds_one():
    """Verification: E/2 volume e^2 of uniaxial strain states, written in polar components."""
    section, _, matrix = stiffness(0, poisson=0.0)
    r, z = section.nodes
    zero = np.zeros_like(r)
    volume = float(np.sum(quadrature(section).weight * quadrature(section).place[:, :, 0]))
    along = amplitudes(zero, z, zero)
    np.testing.assert_allclose(along @ matrix @ along, 2 * np.pi * volume, rtol=1e-12)
    # u_x = x: half of it is harmonic 0 (U = r/2), half harmonic 2 (U = r/2, V = -r/2)
    even = amplitudes(r / 2, zero, zero)
    _, _, second = stiffness(2, poisson=0.0)
    odd = amplitudes(r / 2, zero, -r / 2)
    total = even @ matrix @ even + odd @ second @ odd
    np.testing.assert_allclose(total, 2 * np.pi * volume, rtol=1e-12)


def test_only_chosen_elements_are_assembled():
    section, rule, whole = stiffness(1)
    size = section.mesh.nelements
    halves = (np.arange(4), np.arange(4, size))
    parts = [rule.stiffness(np.ones(size), np.full(size, 0.3), elements=e) for e in halves]
    assert abs(parts[0]).sum() > 0
    np.testing.assert_allclose((parts[0] + parts[1]).toarray(), whole.toarray(), rtol=0, atol=1e-12)


def test_projected_dilatation_of_a_linear_field():
    """Verification: U = r^2 / 2, W = 3 z^2 have dilatation 1.5 r + 6 z, linear in place."""
    section, rule, _ = stiffness(0)
    r, z = section.nodes
    field = amplitudes(r**2 / 2, 3 * z**2, 0 * r)[:, None]
    points = quadrature(section, order=9)
    places = np.array([[[1.3, 0.4], [1.5, 0.6]]])
    rule = harmonic(points, 0)
    found = projected_dilatation(rule, points, field, elements=np.array([2]), nodes=places)
    # r^2 is not exactly quadratic on a curved element: a thousandth
    expected = 1.5 * places[..., 0] + 6 * places[..., 1]
    np.testing.assert_allclose(found[..., 0], expected, rtol=5e-3)


def test_quadrature_restricted_to_some_elements_keeps_their_rows():
    points = quadrature(body())
    some = restricted(points, np.array([3, 1]))
    np.testing.assert_array_equal(some.nodes, points.nodes[[3, 1]])
    np.testing.assert_array_equal(some.place, points.place[[3, 1]])
    assert some.value.shape[0] == 2
    assert COMPONENTS == 3
