"""Meshes from files (verification): a round trip, and every refusal by group, element or place."""

from dataclasses import replace

import meshio
import numpy as np
import pytest

from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.slice_counts import SliceCounts
from gomphosis.bone.slice_crown import CrownOutline
from gomphosis.bone.slice_import import LINE_GROUPS, imported_slice, read_slice_mesh
from gomphosis.bone.slice_mesh import SliceDesign, slice_mesh
from gomphosis.bone.slice_root import RootOutline
from gomphosis.fem.plane_file import as_meshio, plane_file

DESIGN = SliceDesign(
    RootOutline.of_profile(RootProfile(3.0, 12.0, 0.4)),
    ThicknessProfile(0.22, 0.16, 0.22),
    CrownOutline((0.0, 10.0), (3.0, 1.0), 5.0),
)
COARSE = SliceCounts(along=6, base=4, bone=2, crown=3)
FOUND = ("root surface", "wall", "outer", "crest left", "crest right", "axis")


@pytest.fixture(scope="module")
def mesh():
    return slice_mesh(DESIGN, COARSE)


def without_lines(source):
    """Return a mesh from meshio without its line elements, so that lines must be found."""
    kept = [k for k, block in enumerate(source.cells) if block.type != "line3"]
    data = {name: [parts[k] for k in kept] for name, parts in source.cell_data.items()}
    cells = [(source.cells[k].type, source.cells[k].data) for k in kept]
    return meshio.Mesh(source.points, cells, cell_data=data, field_data=source.field_data)


def as_cell_sets(source, kind="quad9"):
    """Return a mesh from meshio with one block of quads and its groups as cell sets."""
    source = without_lines(source)
    stack = np.concatenate([block.data for block in source.cells])[:, : int(kind[-1])]
    ends = np.cumsum([0] + [len(block.data) for block in source.cells])
    names = list(source.field_data)[: len(source.cells)]
    sets = {n.upper().replace(" ", "_"): [np.arange(*ends[k : k + 2])] for k, n in enumerate(names)}
    return meshio.Mesh(source.points, [(kind, stack)], cell_sets=sets)


def assert_same(found, mesh, lines):
    for region in mesh.regions:
        np.testing.assert_allclose(found.area(region), mesh.area(region), rtol=1e-12)
    for name in lines:
        np.testing.assert_allclose(
            found.nodes[:, found.lines[name]],
            mesh.nodes[:, mesh.lines[name]],
            rtol=0,
            atol=1e-12,
            err_msg=name,
        )


def test_round_trip_through_a_file(tmp_path, mesh):
    path = tmp_path / "tooth.msh"
    as_meshio(mesh, LINE_GROUPS).write(path, file_format="gmsh22")
    found = read_slice_mesh(path)
    assert found.notes == ()
    assert_same(found.mesh, mesh, (*FOUND, "bracket"))


def test_lines_are_found_where_no_group_names_them(mesh):
    found = imported_slice(plane_file(without_lines(as_meshio(mesh, LINE_GROUPS)))).mesh
    assert_same(found, mesh, FOUND)
    assert set(found.lines) == set(FOUND)


def test_cell_sets_and_eight_node_elements_are_read(mesh):
    """The ninth node of an eight-node element moves to where the eight put it: areas to 1e-4."""
    found = imported_slice(plane_file(as_cell_sets(as_meshio(mesh, LINE_GROUPS), "quad8"))).mesh
    for name in FOUND:
        np.testing.assert_array_equal(
            found.nodes[:, found.lines[name]], mesh.nodes[:, mesh.lines[name]]
        )
    for region in mesh.regions:
        np.testing.assert_allclose(found.area(region), mesh.area(region), rtol=1e-4)


def test_elements_that_run_clockwise_are_turned_and_told(mesh):
    source = as_cell_sets(as_meshio(mesh, LINE_GROUPS))
    block = source.cells[0].data
    block[:7] = block[:7, [0, 3, 2, 1, 7, 6, 5, 4, 8]]
    found = imported_slice(plane_file(source, "t.msh"))
    assert found.notes == ("t.msh: 7 elements ran clockwise and were turned",)
    assert_same(found.mesh, mesh, FOUND)


def test_one_number_may_name_a_group_of_elements_and_one_of_lines(mesh):
    source = as_meshio(mesh, ["outer"])
    tag, _ = source.field_data["bone"]
    k = list(source.field_data).index("outer")
    source.cell_data["gmsh:physical"][k][:] = tag
    source.field_data["outer"] = np.array([tag, 1])
    assert_same(imported_slice(plane_file(source)).mesh, mesh, FOUND)
    assert set(plane_file(source).lines) == {"outer"}


def test_the_plane_may_be_that_of_the_first_and_third_axis(mesh):
    source = as_meshio(mesh, LINE_GROUPS)
    source.points = source.points[:, [0, 2, 1]]
    assert_same(imported_slice(plane_file(source)).mesh, mesh, FOUND)


def test_a_group_of_line_elements_says_where_bone_is_held(mesh):
    """Outer line shortened by hand to its middle edges: the crests grow by what it lost."""
    held = mesh.lines["outer"][4:-4]
    shorter = replace(mesh, lines={"outer": held})
    found = imported_slice(plane_file(as_meshio(shorter, ["outer"]))).mesh
    assert_same(found, replace(mesh, lines={"outer": held}), ["outer"])
    assert len(found.lines["crest left"]) == len(mesh.lines["crest left"]) + 4


def renamed(source, old, new):
    source.field_data[new] = source.field_data.pop(old)
    return source


def lifted(source):
    source.points[5, 2] = 1.0
    return source


def twisted(source):
    source.cells[1].data[3, [4, 6]] = source.cells[1].data[3, [6, 4]]
    return source


def ungrouped(source):
    tags = source.cell_data["gmsh:physical"]
    tags[2] = tags[2].copy()
    tags[2][4] = 99
    return source


def twice(source):
    source = as_cell_sets(source)
    source.cell_sets["BONE"][0] = np.append(source.cell_sets["BONE"][0], 3)
    return source


def linear(source):
    source = without_lines(source)
    cells = [("quad", block.data[:, :4]) for block in source.cells]
    return meshio.Mesh(source.points, cells, cell_data=source.cell_data)


def cracked(source):
    """Give the root nodes of its own."""
    count = len(source.points)
    source.points = np.concatenate([source.points, source.points])
    source.cells[1].data[:] += count
    return without_lines(source)


def shifted(source):
    source = without_lines(source)
    source.points[:, 0] += 0.5
    return source


def broken_bracket(source):
    names = list(source.field_data)
    block = source.cells[names.index("bracket")].data
    block[0] = source.cells[names.index("outer")].data[0]
    return source


def upside_down(source):
    source.points[:, 1] *= -1
    return without_lines(source)


def short_axis(source):
    """Take the last edge, at the apex, from the axis."""
    k = list(source.field_data).index("axis")
    for tags in source.cell_data.values():
        tags[k] = tags[k][:-1]
    source.cells[k].data = source.cells[k].data[:-1]
    return source


def loose_bracket(source):
    source.cells[list(source.field_data).index("bracket")].data[0, 0] = len(source.points)
    source.points = np.concatenate([source.points, [[9.0, 9.0, 0.0]]])
    return source


def capped_ligament(source):
    """Give the ligament's two highest elements on the left to the bone."""
    source = as_cell_sets(source)
    (members,) = source.cell_sets["LIGAMENT"]
    centre = source.points[source.cells[0].data[members, 8]]
    height = np.where(centre[:, 0] < 0, centre[:, 1], -np.inf)
    chosen = members[np.argsort(height)[-2:]]
    source.cell_sets["LIGAMENT"] = [np.setdiff1d(members, chosen)]
    source.cell_sets["BONE"] = [np.append(source.cell_sets["BONE"][0], chosen)]
    return source


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (upside_down, "t: the root surface runs from x = 3 to x = -3 mm, expected from one side"),
        (short_axis, r"t: the axis ends at x = 0, z = -\d.* mm, not on the root surface"),
        (loose_bracket, "t: line group bracket has a node that no quadrilateral uses"),
        (capped_ligament, "t: ligament does not reach the crest on both sides of the root"),
        (lambda m: renamed(m, "ligament", "pdl"), "t: no elements in group ligament; .*root, bone"),
        (lifted, r"t: the mesh is not plane: node 5 is at \[.* 1\. *\] mm"),
        (linear, r"t: \d+ elements of type quad, expected quadratic"),
        (twisted, r"t: element \d+ at x = .* mm is turned inside out"),
        (ungrouped, r"t: element \d+ at x = .* mm is in 0 regions, expected 1"),
        (twice, r"t: element 3 at x = .* mm is in 2 regions, expected 1"),
        (cracked, "t: groups root and ligament share no edge of elements"),
        (shifted, "t: root has no edge of an element on the long axis x = 0"),
        (broken_bracket, "t: line group bracket: edges fall into 2 pieces"),
        (lambda m: meshio.Mesh(m.points, []), "t: no quadrilaterals"),
    ],
)
def test_bad_meshes_are_refused(mesh, change, message):
    with pytest.raises(ValueError, match=message):
        imported_slice(plane_file(change(as_meshio(mesh, LINE_GROUPS)), "t"))


def test_bone_without_corners_asks_for_a_line_group(mesh, monkeypatch):
    """No corner of the outline reaches a limit of 2 rad, as none would of a round one."""
    monkeypatch.setattr("gomphosis.bone.slice_lines.CORNER", 2.0)
    source = as_meshio(replace(mesh, lines={}))
    with pytest.raises(ValueError, match="has 0 corners, expected one at the end of each crest"):
        imported_slice(plane_file(source))


@pytest.mark.parametrize("name", ["tooth.msh", "tooth.nothing"])
def test_unreadable_files_are_named(tmp_path, name, capsys):
    path = tmp_path / name
    path.write_text("not a mesh\n")
    with pytest.raises(ValueError, match=f"{name}: cannot be read as a mesh: .+"):
        read_slice_mesh(path)
    with pytest.raises(ValueError, match=r"missing.msh: cannot be read as a mesh: .*not found"):
        read_slice_mesh(tmp_path / "missing.msh")
    assert capsys.readouterr() == ("", "")
