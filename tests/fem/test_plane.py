"""The plane element beyond what the checks show."""

import numpy as np
import pytest

from gomphosis.fem.plane import isotropic_moduli, plane_elements
from gomphosis.fem.plane_grid import plane_grid
from gomphosis.fem.plane_points import plane_points, shape_functions


def body(count=3, height=2.0):
    """Return a distorted block, 1 wide and 2 high."""

    def place(xi, eta):
        bulge = 0.08 * np.sin(np.pi * xi) * np.sin(np.pi * eta)
        return np.stack([xi + bulge, height * eta - bulge])

    grid = np.linspace(0, 1, count + 1)
    return plane_grid(grid, grid, mapping=place)


def elements_of(mesh, depth=1.0):
    return plane_elements(plane_points(mesh.nodes, mesh.elements), depth)


def whole(elements, local):
    """Add local matrices up without the product's own pattern."""
    total = np.zeros((elements.size,) * 2)
    for dofs, matrix in zip(elements.dofs, local, strict=True):
        total[np.ix_(dofs, dofs)] += matrix
    return total


def motion(x, z):
    return np.stack([x, z], axis=1).ravel()


def test_shape_functions_are_one_at_their_own_node_and_have_no_slope_in_sum():
    xi = np.array([-1.0, 1, 1, -1, 0, 1, 0, -1, 0])
    eta = np.array([-1.0, -1, 1, 1, -1, 0, 1, 0, 0])
    value, slope = shape_functions(xi, eta)
    np.testing.assert_allclose(value, np.eye(9), rtol=0, atol=1e-15)
    np.testing.assert_allclose(slope.sum(axis=2), 0.0, rtol=0, atol=1e-14)


def test_areas_and_places_of_integration_points():
    """Verification: a block of 1 x 2 mm has area 2 and its first moments are 1 and 2."""
    # the bulge is odd about neither axis, so compare a plain block
    grid = np.linspace(0, 1, 3)
    mesh = plane_grid(grid, grid, mapping=lambda xi, eta: np.stack([xi, 2 * eta]))
    points = plane_points(mesh.nodes, mesh.elements)
    moments = np.einsum("eq,eqc->c", points.weight, points.place)
    np.testing.assert_allclose(points.weight.sum(), 2.0, rtol=1e-14)
    np.testing.assert_allclose(moments, [1.0, 2.0], rtol=1e-14)


def test_an_element_turned_inside_out_is_named_with_its_place():
    mesh = body()
    turned = mesh.elements.copy()
    turned[4] = turned[4, [0, 3, 2, 1, 7, 6, 5, 4, 8]]
    with pytest.raises(ValueError, match=r"element 4 near x = 0.5\d+, z = 0.9\d+ mm is turned"):
        plane_points(mesh.nodes, turned)


def test_other_shapes_of_mesh_are_refused():
    with pytest.raises(ValueError, match=r"nodes \(2, n\) and elements \(e, 9\)"):
        plane_points(np.zeros((2, 4)), np.array([[0, 1, 2, 3]]))


def test_depth_must_be_above_zero():
    mesh = body()
    with pytest.raises(ValueError, match="depth must be > 0 mm at integration points, found -1"):
        elements_of(mesh, -1.0)


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.499])
def test_only_rigid_motions_have_no_energy(poisson):
    """Verification: three zero eigenvalues, the fourth far above round-off."""
    elements = elements_of(body())
    values = np.linalg.eigvalsh(whole(elements, elements.stiffness(1.0, poisson)))
    assert np.abs(values[:3]).max() < 1e-11 * values[-1]
    assert values[3] > 1e-6 * values[-1]


def test_a_single_element_has_no_spurious_mode():
    elements = elements_of(body(1))
    values = np.linalg.eigvalsh(whole(elements, elements.stiffness(1.0, 0.0)))
    assert values[3] > 1e-3 * values[-1]


def test_energy_of_even_strains():
    """Verification: E/2 times volume for uniaxial strain at nu 0, G/2 times volume in shear."""
    mesh = body()
    elements = elements_of(mesh, 1.7)
    matrix = whole(elements, elements.stiffness(3.0, 0.0))
    x, z = mesh.nodes
    volume = 1.7 * float(plane_points(mesh.nodes, mesh.elements).weight.sum())
    np.testing.assert_allclose(elements.volume.sum(), volume, rtol=1e-14)
    stretch = motion(x, 0 * z)
    np.testing.assert_allclose(stretch @ matrix @ stretch, 3.0 * volume, rtol=1e-12)
    shear = motion(z, 0 * x)
    np.testing.assert_allclose(shear @ matrix @ shear, 1.5 * volume, rtol=1e-12)


def test_stiffness_of_two_lame_constants_is_the_tangent_of_their_moduli():
    elements = elements_of(body(), 0.4)
    young = np.linspace(1.0, 9.0, elements.measure.size).reshape(elements.measure.shape)
    direct = elements.stiffness(young, 0.42)
    general = elements.tangent(isotropic_moduli(young, 0.42))
    np.testing.assert_allclose(direct, general, rtol=0, atol=1e-12 * np.abs(direct).max())


def test_constants_per_element_and_per_point_agree():
    elements = elements_of(body())
    young = np.arange(1.0, 10.0)
    points = np.repeat(young[:, None], 9, axis=1)
    np.testing.assert_array_equal(elements.stiffness(young, 0.3), elements.stiffness(points, 0.3))
    poisson = np.linspace(0.1, 0.4, 9)
    np.testing.assert_array_equal(
        elements.stiffness(points, poisson), elements.stiffness(young, poisson)
    )
    chosen = np.array([7, 2])
    np.testing.assert_array_equal(
        elements.stiffness(young[chosen], 0.3, elements=chosen),
        elements.stiffness(young, 0.3)[chosen],
    )


def test_force_of_the_stress_is_stiffness_times_displacement():
    elements = elements_of(body(), 2.0)
    field = np.random.default_rng(7).normal(size=elements.size)
    stress = elements.strain(field) @ isotropic_moduli(5.0, 0.45)
    expected = whole(elements, elements.stiffness(5.0, 0.45)) @ field
    np.testing.assert_allclose(
        elements.force(stress), expected, rtol=0, atol=1e-12 * np.abs(expected).max()
    )
    halves = np.arange(4), np.arange(4, 9)
    parts = [elements.force(stress[half], elements=half) for half in halves]
    np.testing.assert_allclose(sum(parts), expected, rtol=0, atol=1e-12 * np.abs(expected).max())


def test_dilatation_is_projected_and_the_rest_of_the_strain_is_not():
    """Verification: of the dilatation x^2 on -1..1 the mean 1/3 remains; u = x^3/3 is not in the
    element, so w = x^2 z is taken: difference -x^2, shear 2 x z."""
    grid = np.array([-1.0, 1.0])
    mesh = plane_grid(grid, grid, mapping=lambda xi, eta: np.stack([xi, eta]))
    x, z = mesh.nodes
    points = plane_points(mesh.nodes, mesh.elements)
    strain = elements_of(mesh).strain(motion(0 * x, x**2 * z))[0]
    px, pz = points.place[0].T
    np.testing.assert_allclose(strain[:, 0] + strain[:, 1], 1 / 3, rtol=0, atol=1e-14)
    np.testing.assert_allclose(strain[:, 0] - strain[:, 1], -(px**2), rtol=0, atol=1e-14)
    np.testing.assert_allclose(strain[:, 2], 2 * px * pz, rtol=0, atol=1e-14)


def test_moduli_of_plane_strain():
    """Verification: Hooke's law at E 2.6, nu 0.3: lambda 1.5, mu 1."""
    np.testing.assert_allclose(
        isotropic_moduli(2.6, 0.3), [[3.5, 1.5, 0], [1.5, 3.5, 0], [0, 0, 1]], rtol=1e-14
    )
