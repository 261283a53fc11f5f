"""Slice mesh (verification): areas and lengths in closed form, places of nodes, robustness.

Closed forms: a root r0 (1 + z/h)^n has the mid-plane area 2 r0 h / (n + 1); a layer of constant
thickness t outside a convex curve of length L whose normal turns by a has the area L t + a t^2/2
and the outer length L + a t (Steiner's formula for parallel curves, derived here).
"""

import numpy as np
import pytest

from gomphosis.bone.root import RootProfile, ThicknessProfile, offset_surface
from gomphosis.bone.slice_counts import SliceCounts
from gomphosis.bone.slice_crown import SIDES, CrownOutline
from gomphosis.bone.slice_mesh import SliceDesign, slice_mesh
from gomphosis.bone.slice_root import RootOutline
from gomphosis.bone.teeth import catalogue, tooth
from gomphosis.fem.plane_lines import boundary_edges

UNIFORM = ThicknessProfile.uniform(0.2)
HOURGLASS = ThicknessProfile(0.22, 0.16, 0.22)
COARSE = SliceCounts(along=12, base=4, bone=3, crown=4)


def crown(radius, edge=10.0):
    return CrownOutline((0.0, 0.5 * edge, edge), (radius, 1.2 * radius, 0.3 * radius), 0.5 * edge)


def design(root, thickness=UNIFORM, **kwargs):
    return SliceDesign(RootOutline.of_profile(root), thickness, crown(root.radius), **kwargs)


def of_tooth(number, plane, thickness=HOURGLASS, loss=1.5):
    anatomy = tooth(number)
    root = RootProfile(anatomy.cervical_radius, anatomy.root_length - loss, 0.38)
    outline = CrownOutline.of_tooth(
        anatomy, plane, embedded=root.length, radius=root.radius, from_edge=4.0
    )
    return SliceDesign(RootOutline.of_profile(root), thickness, outline, plane)


def turn(root):
    """Return the angle in rad by which the normal turns from crest to crest."""
    steep = np.arctan2(root.radius * root.exponent, root.length)
    return np.pi - 2 * steep


def closed_forms(root, thickness, width):
    """Return lengths of root surface and wall, areas of root, ligament and bone."""
    length = 2 * root.arc_length() + (2 * root.radius if root.exponent == 0.0 else 0.0)
    wall = length + thickness * turn(root)
    return {
        "root surface": length,
        "wall": wall,
        "root": 2 * root.radius * root.length / (root.exponent + 1),
        "ligament": length * thickness + 0.5 * turn(root) * thickness**2,
        "bone": wall * width + 0.5 * turn(root) * width**2,
    }


def measured(mesh):
    lengths = {name: mesh.length(name) for name in ("root surface", "wall")}
    return lengths | {name: mesh.area(name) for name in ("root", "ligament", "bone")}


@pytest.mark.parametrize("exponent", [0.1, 0.25, 0.38, 0.5])
def test_areas_and_lengths_are_those_in_closed_form(exponent):
    root = RootProfile(3.0, 12.0, exponent)
    found = measured(slice_mesh(design(root), SliceCounts(along=60, base=12)))
    for name, exact in closed_forms(root, 0.2, 6.0).items():
        np.testing.assert_allclose(found[name], exact, rtol=2e-4, err_msg=name)


@pytest.mark.parametrize(("exponent", "edge_turn"), [(0.0, 0.25 * np.pi), (1.0, np.arctan(4.0))])
def test_at_corners_of_the_root_only_the_arc_of_one_edge_is_missing(exponent, edge_turn):
    """Flat end and cone: a parabola stands for an arc of this turn, on each side of a corner.

    It spans 2/3 chord x rise instead of the segment r^2 (a - sin a)/2. That is the bound, since
    the edge of the mesh is partly straight and has its middle node elsewhere.
    """
    root = RootProfile(3.0, 12.0, exponent)
    found = measured(slice_mesh(design(root), SliceCounts(along=60, base=12)))
    exact = closed_forms(root, 0.2, 6.0)
    parabola = 4 / 3 * np.sin(edge_turn / 2) * (1 - np.cos(edge_turn / 2))
    lack = 0.5 * (edge_turn - np.sin(edge_turn)) - parabola
    edges = 4 if exponent == 0.0 else 2
    assert 0 < exact["bone"] - found["bone"] < 1.05 * edges * lack * 6.2**2
    for name in ("root surface", "wall", "root", "ligament"):
        np.testing.assert_allclose(found[name], exact[name], rtol=1e-3, err_msg=name)


def test_the_sharper_apex_above_one_half_converges_too():
    """Its curvature is infinite: the edge at the apex turns by atan(5 p^(1/4)), 62 degrees at
    p = 0.02 of the radius and 53 at 0.005, and lacks about the fifth power of that: 0.46 x.
    """
    root = RootProfile(3.0, 12.0, 0.8)
    exact = closed_forms(root, 0.2, 6.0)["bone"]
    sizes = [SliceCounts(along=n, base=n // 5 // 2 * 2) for n in (30, 120)]
    coarse, fine = (exact - measured(slice_mesh(design(root), size))["bone"] for size in sizes)
    assert 0 < fine < 0.6 * coarse


def test_areas_converge_at_third_order_or_better():
    """Nine-node elements with nodes on a smooth curve: halving divides the error by 8 or more."""
    root = RootProfile(3.0, 12.0, 0.5)
    sizes = [SliceCounts(along=n, base=n // 3, grading=1.0) for n in (12, 24)]
    meshes = [slice_mesh(design(root), size) for size in sizes]
    exact = 6.0 * 12.0 / 1.5
    coarse, fine = (abs(mesh.area("root") - exact) for mesh in meshes)
    assert fine < coarse / 8


def test_crown_is_as_large_as_its_outline():
    shape = design(RootProfile(3.0, 12.0, 0.4))
    mesh = slice_mesh(shape)
    share = np.linspace(0, 1, 20001)
    exact = 10.0 * np.trapezoid(2 * shape.crown.half_width(share), share)
    np.testing.assert_allclose(mesh.area("crown"), exact, rtol=1e-4)


@pytest.mark.parametrize("exponent", [0.2, 0.38, 0.5])
def test_nodes_lie_on_the_exact_root_and_wall(exponent):
    """Every node of either line is at a point of the axisymmetric model's curve, both sides."""
    root = RootProfile(3.0, 12.0, exponent)
    mesh = slice_mesh(design(root, HOURGLASS), COARSE)
    x, z = mesh.nodes[:, mesh.lines["root surface"]]
    np.testing.assert_allclose(1 + z / 12, (np.abs(x) / 3) ** (1 / exponent), rtol=0, atol=1e-6)
    fine = offset_surface(root, HOURGLASS, np.linspace(0, 1, 20001), fraction=1.0)
    wall = np.abs(mesh.nodes[:, mesh.lines["wall"]].T * [1, 0]) + mesh.nodes[
        :, mesh.lines["wall"]
    ].T * [0, 1]
    start, step = fine[:, :-1].T, np.diff(fine, axis=1).T
    for place in wall:
        share = np.clip(np.sum((place - start) * step, 1) / np.sum(step**2, 1), 0, 1)
        gap = np.linalg.norm(start + share[:, None] * step - place, axis=1).min()
        assert gap < 2e-6
    corners = (
        mesh.nodes[:, mesh.lines["wall"][::2]] - mesh.nodes[:, mesh.lines["root surface"][::2]]
    )
    depth = -mesh.nodes[1, mesh.lines["root surface"][::2]] / 12
    np.testing.assert_allclose(np.linalg.norm(corners, axis=0), HOURGLASS.at(depth), rtol=1e-6)


@pytest.mark.parametrize("plane", list(SIDES))
def test_left_and_right_are_mirror_images(plane):
    mesh = slice_mesh(of_tooth(13, plane), COARSE)
    places = np.round(mesh.nodes, 9) + 0.0
    mirrored = np.round(mesh.nodes * [[-1], [1]], 9) + 0.0
    assert set(map(tuple, places.T)) == set(map(tuple, mirrored.T))
    left, right = (mesh.nodes[:, mesh.lines[name]] for name in ("crest left", "crest right"))
    np.testing.assert_allclose(left * [[-1], [1]], right, rtol=0, atol=1e-12)


def test_lines_run_as_promised():
    mesh = slice_mesh(of_tooth(11, "labiolingual"))
    place = {name: mesh.nodes[:, line] for name, line in mesh.lines.items()}
    for name in ("root surface", "wall", "outer"):
        assert place[name][0, 0] < 0 < place[name][0, -1]
        middle = place[name].shape[1] // 2
        assert place[name][0, middle] == 0.0
        assert place[name][1].argmin() == middle
    np.testing.assert_array_equal(place["axis"][0], 0.0)
    assert np.all(np.diff(place["axis"][1]) < 0)
    np.testing.assert_allclose(place["axis"][1, [0, -1]], [0.0, -11.5], rtol=0, atol=1e-12)
    for name, side in (("crest left", 0), ("crest right", -1)):
        line = mesh.lines[name]
        assert line[0] == mesh.lines["root surface"][side]
        assert mesh.lines["wall"][side] in line
        assert line[-1] == mesh.lines["outer"][side]
        assert np.all(np.diff(np.abs(mesh.nodes[0, line])) > 0)
    np.testing.assert_allclose(place["crown surface"][1].max(), 12.0, rtol=1e-12)
    assert mesh.lines["crown surface"][0] == mesh.lines["root surface"][0]
    assert mesh.lines["crown surface"][-1] == mesh.lines["root surface"][-1]


@pytest.mark.parametrize("plane", list(SIDES))
def test_bracket_is_on_the_labial_surface_or_faced_along_its_middle(plane):
    shape = of_tooth(11, plane)
    mesh = slice_mesh(shape)
    x, z = mesh.nodes[:, mesh.lines["bracket"]]
    np.testing.assert_allclose([z[0], z[-1]], [8.0 - 1.5, 8.0 + 1.5], rtol=1e-12)
    assert np.isclose(z, 8.0, rtol=0, atol=1e-12).any()
    if plane == "labiolingual":
        np.testing.assert_allclose(x, shape.crown.half_width(z / 12.0), rtol=1e-12)
        assert SIDES[plane] == ("lingual", "labial")
    else:
        np.testing.assert_array_equal(x, 0.0)


def test_blocks_leave_no_crack_and_no_hole():
    """V - E + F = 1 of a plane without holes, and a boundary in one ring."""
    mesh = slice_mesh(of_tooth(26, "mesiodistal"))
    corners = len(np.unique(mesh.elements[:, :4]))
    edges = len(np.unique(mesh.elements[:, 4:8]))
    assert corners - edges + len(mesh.elements) == 1
    rim = boundary_edges(mesh.elements)
    assert len(np.unique(rim[:, 0])) == len(rim)
    assert np.array_equal(np.sort(rim[:, 0]), np.sort(rim[:, 2]))


@pytest.mark.parametrize("number", sorted(catalogue()))
@pytest.mark.parametrize("plane", list(SIDES))
def test_every_tooth_is_meshed_without_sharp_corners(number, plane):
    assert slice_mesh(of_tooth(number, plane), COARSE).scaled_jacobians.min() > 0.4


@pytest.mark.parametrize("exponent", [0.0, 0.05, 0.38, 0.5, 0.8, 1.0])
@pytest.mark.parametrize("length", [3.0, 6.0, 16.0])
@pytest.mark.parametrize("thickness", [0.03, 0.6])
def test_lost_bone_and_thin_or_thick_ligaments_are_meshed(exponent, length, thickness):
    root = RootProfile(3.0, length, exponent)
    mesh = slice_mesh(design(root, ThicknessProfile.uniform(thickness)))
    assert mesh.scaled_jacobians.min() > 0.1
    assert mesh.jacobians.min() > 0.0


def test_counts_reach_the_sizes_of_a_study():
    for unknowns in (5_000, 20_000, 80_000):
        mesh = slice_mesh(of_tooth(11, "labiolingual"), SliceCounts().near(unknowns))
        np.testing.assert_allclose(2 * mesh.nodes.shape[1], unknowns, rtol=0.1)


def test_layers_across_the_ligament_are_as_many_as_asked():
    counts = SliceCounts(along=10, ligament=3)
    mesh = slice_mesh(of_tooth(11, "labiolingual"), counts)
    assert len(mesh.regions["ligament"]) == 3 * 20
    assert len(mesh.regions["bone"]) == 5 * 20


def test_soft_tissue_is_optional_and_as_high_as_asked():
    root = RootProfile(3.0, 12.0, 0.4)
    assert "soft tissue" not in slice_mesh(design(root, soft_height=0.0)).regions
    mesh = slice_mesh(design(root, soft_height=2.0))
    soft = np.unique(mesh.elements[mesh.regions["soft tissue"]])
    beside = np.intersect1d(soft, mesh.lines["crown surface"])
    np.testing.assert_allclose(mesh.nodes[1, beside].max(), 2.0, rtol=1e-12)


def test_corners_of_the_root_get_a_rounded_wall():
    """A flat end turns by a right angle at its rim: the wall is an arc of radius t around it."""
    mesh = slice_mesh(design(RootProfile(3.0, 12.0, 0.0)), SliceCounts(along=40))
    x, z = mesh.nodes[:, mesh.lines["wall"]]
    around = (np.abs(x) > 3.0 + 1e-9) & (z < -12.0 - 1e-9)
    assert around.sum() == 2
    np.testing.assert_allclose(z[around] + 12, -0.2 * np.sqrt(0.5), rtol=1e-4)
    np.testing.assert_allclose(np.hypot(np.abs(x) - 3, z + 12)[around], 0.2, rtol=1e-9)


@pytest.mark.parametrize(
    ("counts", "message"),
    [
        ({"ligament": 0}, "slice mesh needs ligament >= 1"),
        ({"base": 5}, "slice mesh needs an even base"),
        ({"along": 3}, "slice mesh needs an even base and along > base / 2"),
        ({"grading": 0.5}, "slice mesh needs grading >= 1"),
    ],
)
def test_impossible_counts_are_refused(counts, message):
    with pytest.raises(ValueError, match=message):
        SliceCounts(**counts)


def test_a_core_wider_than_deep_is_refused_with_its_place():
    counts = SliceCounts(along=8, base=12, grading=1.0)
    with pytest.raises(ValueError, match=r"element \d+ at x = .* has a corner of 180 degrees"):
        slice_mesh(design(RootProfile(3.0, 12.0, 0.38)), counts)


def test_bone_layers_grow_away_from_the_wall():
    mesh = slice_mesh(design(RootProfile(3.0, 12.0, 0.4)))
    x, z = mesh.nodes[:, mesh.lines["crest right"][::2]]
    steps = np.hypot(np.diff(x), np.diff(z))
    np.testing.assert_allclose(steps[:2], 0.1, rtol=1e-9)
    np.testing.assert_allclose(steps[3:] / steps[2:-1], 1.5, rtol=1e-9)
    np.testing.assert_allclose(steps[2:].sum(), 6.0, rtol=1e-9)


def test_a_hollow_root_does_not_cross_the_spokes_of_its_bone():
    """A waist of radius 2.2 mm in 6 mm of bone: normals would meet outside it."""
    z = np.linspace(0, -12, 2001)
    half = 3.0 * np.sqrt(1 - (z / 12) ** 2) - 0.45 * np.exp(-(((z + 6) / 1.4) ** 2))
    right = np.stack([half, z])[:, ::-1]
    points = np.concatenate([right[:, ::-1] * [[-1], [1]], right[:, 1:]], axis=1)
    tangent = np.gradient(points, axis=1)
    tangent /= np.linalg.norm(tangent, axis=0)
    root = RootOutline(points, np.stack([tangent[1], -tangent[0]]), 2000)
    mesh = slice_mesh(SliceDesign(root, HOURGLASS, crown(points[0, -1])))
    assert mesh.scaled_jacobians.min() > 0.3


@pytest.mark.parametrize(
    ("number", "plane", "at_edge"),
    [
        (11, "labiolingual", 0.25),
        (11, "mesiodistal", 0.9),
        (13, "labiolingual", 0.3),
        (14, "labiolingual", 0.6),
    ],
)
def test_crown_passes_through_the_diameters_of_the_catalogue(number, plane, at_edge):
    anatomy = tooth(number)
    outline = of_tooth(number, plane).crown
    side = plane == "labiolingual"
    cervix = anatomy.cervix_labiolingual if side else anatomy.cervix_mesiodistal
    widest = anatomy.crown_labiolingual if side else anatomy.crown_mesiodistal
    heights = np.array([1.5, 1.5 + 0.5 * anatomy.crown_length, 1.5 + anatomy.crown_length])
    np.testing.assert_allclose(
        2 * outline.half_width(heights / outline.edge),
        [cervix, widest, at_edge * widest],
        rtol=1e-12,
    )
    np.testing.assert_allclose(outline.half_width(np.array(0.0)), anatomy.cervical_radius)


ROOT = RootOutline.of_profile(RootProfile(3.0, 12.0, 0.4))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"bone_width": 0.0}, "bone width must be > 0 mm, got 0"),
        ({"soft_height": 10.0}, "soft tissue height must be .* below the edge at 10 mm, got 10"),
        ({"crown": crown(2.5)}, "crown is 2.5 mm wide at the crest, root 3 mm"),
        (
            {"root": RootOutline(ROOT.points + np.array([[0.0], [1.0]]), ROOT.normals, ROOT.apex)},
            "middle of the crest must be the origin; .* x = -3, z = 1 and x = 3, z = 1 mm",
        ),
    ],
)
def test_impossible_designs_are_refused(change, message):
    parts = {"root": ROOT, "thickness": UNIFORM, "crown": crown(3.0)} | change
    with pytest.raises(ValueError, match=message):
        SliceDesign(**parts)


@pytest.mark.parametrize(
    ("heights", "widths", "slot", "message"),
    [
        ((0.5, 10.0), (3.0, 1.0), 5.0, "crown needs heights rising from 0 mm"),
        ((0.0, 10.0), (3.0, 0.0), 5.0, "crown half widths must be > 0 mm"),
        ((0.0, 10.0), (3.0, 1.0), 9.0, "bracket base from 7.5 to 10.5 mm .* edge at 10 mm"),
    ],
)
def test_impossible_crowns_are_refused(heights, widths, slot, message):
    with pytest.raises(ValueError, match=message):
        CrownOutline(heights, widths, slot)


def test_a_root_hollower_than_its_ligament_is_thick_is_refused():
    points = ROOT.points.copy()
    hollow = np.exp(-(((points[1] + 6.0) / 0.3) ** 2))
    points[0] -= np.sign(points[0]) * 0.5 * hollow
    tangent = np.gradient(points, axis=1)
    tangent /= np.linalg.norm(tangent, axis=0)
    normals = np.stack([tangent[1], -tangent[0]])
    root = RootOutline(points, normals, ROOT.apex)
    with pytest.raises(ValueError, match=r"socket wall folds at x = -?1\.\d+, z = -\d"):
        slice_mesh(SliceDesign(root, ThicknessProfile.uniform(1.0), crown(3.0)))


def moved(index, shift):
    points = ROOT.points.copy()
    points[:, index] += shift
    return points


@pytest.mark.parametrize(
    ("points", "message"),
    [
        (moved(500, (0.0, 0.5)), r"root surface climbs at x = -2\.\d+, z = -\d"),
        (moved(500, (4.0, 0.0)), r"long axis x = 0 leaves the root at x = 1\.\d+, z = -\d"),
    ],
)
def test_roots_that_turn_back_or_leave_their_axis_are_refused(points, message):
    with pytest.raises(ValueError, match=message):
        RootOutline(points, ROOT.normals, ROOT.apex)
