"""Slices whose outlines or mesh come from a user's file, run through a scenario."""

import tomllib
from pathlib import Path

import meshio
import numpy as np
import pytest

from gomphosis.bone.outline import side_at
from gomphosis.bone.rates import Linear
from gomphosis.bone.slice_outline import read_slice_outline
from gomphosis.fem.plane_file import as_meshio
from gomphosis.scenarios.files import ScenarioError, case_text, scenario_from
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.plates import plates_of
from gomphosis.scenarios.run import run
from gomphosis.scenarios.slice_model import slice_case, slice_models


def scenario(**table: object):
    document = tomllib.loads(case_text("thin-plate"))
    document["duration"] = "3 days"
    document["slice"] = {**document["slice"], **table}
    if "outline" in table:
        del document["slice"]["front"]
    return scenario_from(document, "test")


def own_case():
    made = scenario()
    return slice_case(made, tooth_models(made, Linear(1.0))[0])


def pose(made) -> np.ndarray:
    return run(made).cases[0].slices[0].pose[-1]


def write_outline(path: Path, bone_top: float = 0.0) -> None:
    mesh = own_case().body.mesh
    surface = mesh.nodes[:, mesh.lines["root surface"]]
    root = np.concatenate([surface, [[surface[0, -1], surface[0, 0]], [3, 3]]], axis=1)
    rows = [("root", *place) for place in [*root.T, root[:, 0]]]
    bone = [(-11, bone_top), (-11, -20), (9, -20), (9, bone_top), (-11, bone_top)]
    plate = [(4, 0), (6, -19), (8.5, -19), (4.9, 0), (4, 0)]
    rows += [("bone", *place) for place in bone] + [("labial_plate", *place) for place in plate]
    lines = [f"{part},{x:.5f},{z:.5f}" for part, x, z in rows]
    path.write_text("\n".join(["part,x_mm,z_mm", *lines]))


def test_a_mesh_file_of_our_own_mesh_gives_our_own_answer(tmp_path: Path):
    path = tmp_path / "slice.msh"
    mesh = own_case().body.mesh
    meshio.write(path, as_meshio(mesh, ("outer", "axis", "bracket")), file_format="gmsh22")
    # what differs: root and thickness as measured on straight chords between its nodes
    np.testing.assert_allclose(pose(scenario(mesh=str(path))), pose(scenario()), rtol=1e-4)


def test_outlines_give_root_and_plates_of_their_own(tmp_path: Path):
    path = tmp_path / "outline.csv"
    write_outline(path)
    made = scenario(outline=str(path))
    case = slice_case(made, tooth_models(made, Linear(1.0))[0])
    own = own_case()
    assert case.body.design.root.depth == pytest.approx(own.body.design.root.depth, rel=1e-3)
    dense = case.bones.density_at(np.array([[5.5], [-8.0]]))
    loose = case.bones.density_at(np.array([[-8.0], [-8.0]]))
    assert dense[0] == pytest.approx(1.0)
    assert loose[0] == pytest.approx(made.slice.trabecular)
    assert np.abs(pose(made) / pose(scenario()) - 1)[0] < 0.3


def test_outlines_give_the_plates_that_a_root_is_previewed_against(tmp_path: Path):
    path = tmp_path / "outline.csv"
    write_outline(path)
    made = scenario(outline=str(path))
    tooth = tooth_models(made, Linear(1.0))[0]
    plates = plates_of(made, tooth, slice_models(made, [tooth])[0])
    # only the labial plate is drawn, from x 4 mm at the crest to 6 mm 19 mm below; bone to 9 mm
    assert [plate.side for plate in plates] == ["labial"]
    labial = plates[0]
    # no place on this machine
    assert (labial.source, labial.status) == ("scenario, slice.outline", "given by the user")
    rows = labial.height[(labial.height > -10) & (labial.height < -1)]
    inner, outer = (np.interp(rows, labial.height, face) for face in (labial.inner, labial.outer))
    # the drawing as read: turned a little, so that the root's long axis is upright
    drawn = read_slice_outline(path)
    # a cell of 0.1 mm that is plate by less than (0.75 - 0.29) / 0.71 of it counts as none; rows
    # are half a cell high on either side of a face that slopes by 2 in 19
    face = side_at(drawn.plates["labial_plate"], rows, -1)
    np.testing.assert_allclose(inner, face, rtol=0, atol=0.1 * 0.65 + 0.05 * 2 / 19)
    np.testing.assert_allclose(outer, side_at(drawn.bone, rows, 1), rtol=0, atol=0.02)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"outline": "nowhere.csv"}, "nowhere.csv: no such file or directory"),
        ({"mesh": "nowhere.msh"}, "slice of tooth 11: nowhere.msh"),
    ],
)
def test_a_missing_file_is_one_line(table: dict, words: str):
    with pytest.raises(ScenarioError) as caught:
        run(scenario(**table))
    assert str(caught.value).startswith(words)
    assert "\n" not in str(caught.value)


def test_a_file_that_does_not_fit_is_one_line(tmp_path: Path):
    path = tmp_path / "outline.csv"
    path.write_text("part,x_mm,z_mm\nroot,0,zero\n")
    with pytest.raises(ScenarioError, match=r"slice of tooth 11: outline.csv: line 2"):
        run(scenario(outline=str(path)))


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"outline": "a.csv", "mesh": "b.msh"}, "slice.mesh"),
        ({"teeth": [11, 11]}, "slice.teeth"),
        ({"teeth": [12]}, "slice.teeth[1] = 12 is not among the teeth of this scenario"),
    ],
)
def test_tables_that_do_not_go_together_are_refused(table: dict, words: str):
    with pytest.raises(ScenarioError) as caught:
        scenario(**table)
    assert words in str(caught.value)


def test_plates_beside_an_outline_are_refused():
    document = tomllib.loads(case_text("thin-plate"))
    document["slice"]["outline"] = "a.csv"
    with pytest.raises(ScenarioError, match=r"slice\.front .*stands beside outline"):
        scenario_from(document, "test")
