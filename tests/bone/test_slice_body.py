"""Verification of the plane body of a slice: depth, side walls, loads on the bracket."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.root import RootProfile, ThicknessProfile, offset_surface
from gomphosis.bone.slice_body import rigid_motions
from gomphosis.bone.thin_layer import surface_integrals
from gomphosis.fem.plane_mesh import PlaneMesh

ROOT = RootProfile(3.24, 12.0, 0.35)
LAYER = ThicknessProfile(0.22, 0.16, 0.22)


def shell_volume():
    """Volume of the ligament as a body of revolution, mm^3, between its two surfaces."""
    s = np.linspace(0, 1, 20001)
    inner = ROOT.surface(s)[0]
    outer = offset_surface(ROOT, LAYER, s, fraction=1.0)
    # once around its section; the layer's end at the crest is not quite level
    r, z = np.concatenate([inner, outer[:, ::-1]], axis=1)
    return abs(np.trapezoid(np.pi * r**2, z))


def test_root_has_the_volume_of_its_body_of_revolution(incisor_body):
    """Closed form: pi r0^2 h / (2 n + 1)."""
    body = incisor_body()
    found = body.elements.measure[body.mesh.regions["root"]].sum()
    closed = np.pi * ROOT.radius**2 * ROOT.length / (2 * ROOT.exponent + 1)
    # the mesh's outline is a chain of parabolas, coarse at the rounded apex
    np.testing.assert_allclose(found, closed, rtol=2e-3)


def test_ligament_in_the_plane_is_half_of_the_shell(incisor_body):
    """Closed form: pi |x| / 2 on both sides is half of 2 pi r."""
    body = incisor_body()
    found = body.elements.measure[body.ligament].sum()
    np.testing.assert_allclose(found, 0.5 * shell_volume(), rtol=5e-3)


def test_wall_in_the_plane_is_half_of_the_socket(incisor_body):
    s = np.linspace(0, 1, 20001)
    r, z = offset_surface(ROOT, LAYER, s, fraction=1.0)
    area = np.pi * np.sum((r[1:] + r[:-1]) * np.hypot(np.diff(r), np.diff(z)))
    np.testing.assert_allclose(incisor_body().wall.area.sum(), 0.5 * area, rtol=2e-3)


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.45])
def test_side_walls_hold_what_a_thin_layer_has_beside_the_plane(incisor_body, poisson):
    """Closed form: half of the axial stiffness; laterally the integral of pi r k_t."""
    body = incisor_body(poisson=poisson)
    across, along = body.side.stiffness.sum(axis=0)
    layer = surface_integrals(ROOT, LAYER, young=0.05, poisson=poisson)
    np.testing.assert_allclose(along, 0.5 * layer.axial, rtol=1e-4)
    s = np.linspace(0, 1, 8001)
    edge = offset_surface(ROOT, LAYER, s, fraction=0.5)
    length = np.hypot(*np.diff(edge, axis=1))
    middle = 0.5 * (s[1:] + s[:-1])
    gap = LAYER.at(-ROOT.surface(middle)[0][1] / ROOT.length)
    radius = 0.5 * (edge[0, 1:] + edge[0, :-1])
    closed = np.pi * np.sum(radius * length / gap) * body.tissue.ligament.shear
    np.testing.assert_allclose(across, closed, rtol=1e-4)


def test_side_walls_resist_a_shift_and_strain_as_a_layer_does(incisor_body):
    side = incisor_body().side
    total = side.matrices()
    size = incisor_body().elements.size
    for k in range(2):
        shift = np.zeros(size)
        shift[k::2] = 1.0
        force = total.force(shift)
        np.testing.assert_allclose(force[k::2].sum(), side.stiffness[:, k].sum(), rtol=1e-12)
        np.testing.assert_allclose(force[1 - k :: 2], 0.0, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(total.matrices, np.swapaxes(total.matrices, 1, 2))
    # where the root is widest the layer is 0.22 mm thick and all but upright: pure shear
    strain = side.equivalent(np.tile([0.022, 0.0], (len(side.nodes), 1)))
    pair = incisor_body().tissue.ligament
    np.testing.assert_allclose(strain[0], 0.1 * np.sqrt(pair.shear / pair.constrained), rtol=5e-3)


def test_stiffening_side_walls_count_where_they_are(incisor_body):
    side = incisor_body().side
    double = np.ones(len(side.nodes))
    double[::2] = 3.0
    shift = np.zeros(incisor_body().elements.size)
    shift[::2] = 1.0
    found = side.matrices(double).force(shift)[::2].sum()
    np.testing.assert_allclose(found, (double * side.stiffness[:, 0]).sum(), rtol=1e-12)


def test_axis_displacement_is_exact_for_a_parabola(incisor_body):
    body = incisor_body()
    x, z = body.mesh.nodes
    field = np.stack([1 + 0.1 * z - 0.02 * z**2 + x, 0.3 * z**2], axis=1).ravel()
    # the weights themselves say where a place is
    at = np.einsum("pa,pa->p", body.side.shape, z[body.side.nodes])
    expected = np.stack([1 + 0.1 * at - 0.02 * at**2, 0.3 * at**2], axis=1)
    # mid-side nodes of the axis lie half-way to the tenth of a micron
    np.testing.assert_allclose(body.side.displacement(field), expected, rtol=0, atol=2e-3)
    assert at[0] == pytest.approx(0.0, abs=0.1)
    # beyond the apex the axis ends: the lowest places are held by its end
    assert at.min() == pytest.approx(-ROOT.length, abs=1e-9)


def test_without_side_walls_nothing_is_left_of_them(incisor_body):
    body = incisor_body(side_walls=False)
    assert np.abs(body.side.stiffness).max() == 0.0
    assert np.abs(body.side.stimulus).max() > 0.0


@pytest.mark.parametrize("plane", ["labiolingual", "mesiodistal"])
def test_unit_loads_have_unit_resultants_and_pick_rigid_motions(incisor_body, plane):
    body = incisor_body(plane=plane)
    x, z = body.mesh.nodes
    force = body.unit_loads.reshape(-1, 2, 3)
    # resultants by hand: force, and the moment about y that carries the crown to +x
    moment = np.einsum("n,nk->k", z, force[:, 0]) - np.einsum("n,nk->k", x, force[:, 1])
    found = np.stack([*force.sum(axis=0), moment])
    np.testing.assert_allclose(found, np.eye(3), rtol=0, atol=1e-12)
    motion = np.array([0.3, -0.2, 0.05])
    moved = rigid_motions(body.mesh.nodes) @ motion
    np.testing.assert_allclose(body.unit_loads.T @ moved, motion, rtol=1e-12)
    loaded = np.flatnonzero(np.abs(force).max(axis=(1, 2)))
    assert set(loaded) == set(body.mesh.lines["bracket"])


def test_a_mesh_without_a_bracket_is_loaded_on_the_upper_axis(incisor_body):
    body = incisor_body()
    mesh = body.mesh
    lines = {name: line for name, line in mesh.lines.items() if name != "bracket"}
    bare = replace(body, mesh=PlaneMesh(mesh.nodes, mesh.elements, mesh.regions, lines))
    motion = np.array([0.3, -0.2, 0.05])
    moved = rigid_motions(mesh.nodes) @ motion
    np.testing.assert_allclose(bare.unit_loads.T @ moved, motion, rtol=1e-10)
    loaded = np.flatnonzero(np.abs(bare.unit_loads.reshape(-1, 6)).max(axis=1) > 1e-12)
    assert set(loaded) <= set(mesh.lines["axis"])
    assert mesh.nodes[1, loaded].min() >= -0.5 * ROOT.length


def test_rigid_motions_strain_no_ligament(incisor_body):
    body = incisor_body()
    for column in rigid_motions(body.mesh.nodes).T:
        # forces of a strain of one would be some 0.05 MPa times mm^2
        np.testing.assert_allclose(body.wall_force(column), 0.0, rtol=0, atol=1e-12)


def test_depth_is_that_of_the_formulas(incisor_body):
    """Definition: pi |x| / 2 in ligament and bone, pi r(z) / 2 in the tooth."""
    body = incisor_body(soft_height=1.5)
    x, z = np.moveaxis(body.points.place, -1, 0)
    outside = np.concatenate([body.ligament, body.bony])
    np.testing.assert_allclose(body.depth[outside], np.pi / 2 * np.abs(x[outside]), rtol=1e-12)
    root, crown = body.mesh.regions["root"], body.mesh.regions["crown"]
    inside = root[z[root].min(axis=1) > -11.0]
    closed = np.pi / 2 * 3.24 * np.clip(1 + z[inside] / 12.0, 0, 1) ** 0.35
    np.testing.assert_allclose(body.depth[inside], closed, rtol=1e-3)
    np.testing.assert_allclose(body.depth[crown], np.pi / 2 * 3.24, rtol=1e-4)
