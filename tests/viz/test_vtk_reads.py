"""Verification: another program's readers find in the field files what the run computed.

VTU and VTI files are read by VTK itself, of which ParaView is made; the series by pyvista, which
reads it without our code. VTK and pyvista are the outside; the run is what they are held against.
"""

import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest

from gomphosis.scenarios.history import histories
from gomphosis.scenarios.result import rows_at, weekly
from gomphosis.scenarios.slice_change import bone_changes
from gomphosis.scenarios.slice_vtu import shown_frames, write_slice_fields
from gomphosis.scenarios.surfaces import body_points
from gomphosis.scenarios.vtu import PARTS, SERIES, write_fields

pyvista = pytest.importorskip("pyvista", reason="needs pyvista, an outside reader of field files")

UNITS = {
    "teeth": {"movement_mm", "tooth", "part"},
    "walls": {
        *("movement_mm", "traction_kPa", "normal_traction_kPa", "pressure_kPa", "wall_area_mm2"),
        *("zone", "tooth", "part"),
    },
    "wire": {"tooth", "part"},
}
BIQUADRATIC_QUAD = 28  # VTK's number of a quadrilateral of nine nodes


@pytest.fixture(scope="module")
def wires_folder(wires, tmp_path_factory):
    folder = tmp_path_factory.mktemp("wires")
    write_fields(wires, folder)
    return folder


@pytest.fixture(scope="module")
def wires_read(wires_folder):
    return series_of(wires_folder / SERIES)


@pytest.fixture(scope="module")
def slice_folder(slices, tmp_path_factory):
    folder = tmp_path_factory.mktemp("slices")
    write_slice_fields(slices, folder)
    return folder / "slice-11"


def series_of(path):
    """Days and blocks of every day that a series lists, as pyvista reads it."""
    reader = pyvista.get_reader(str(path))
    found = []
    for day in reader.time_values:
        reader.set_active_time_value(day)
        found.append((day, list(reader.read())))
    return found


def parts_of(blocks):
    """Blocks of a day by the name of their part."""
    names = {number: name for name, number in PARTS.items()}
    return {names[int(block.cell_data["part"][0])]: block for block in blocks}


def test_every_week_is_listed_in_days(wires, wires_read):
    assert [day for day, _ in wires_read] == [0.0, 7.0, 14.0, 21.0, 28.0]
    assert [day for day, _ in wires_read] == pytest.approx(weekly(wires.cases[0].median))


def test_files_opened_as_a_group_have_their_days(wires_folder, slice_folder):
    """As a viewer opens `week_..._teeth.vtu`, without the series: else it counts 0, 1, 2."""
    listed = []
    for path in (wires_folder / SERIES, *sorted(slice_folder.glob("weeks_*.pvd"))):
        rows = ElementTree.parse(path).getroot().iter("DataSet")
        listed += [(path.with_name(row.get("file")), float(row.get("timestep"))) for row in rows]
    assert len(listed) == len(list(wires_folder.glob("week_*"))) + len(
        list(slice_folder.glob("week_*"))
    )
    assert [day_of(path) for path, _ in listed] == [day for _, day in listed]


def day_of(path):
    """The only time that VTK finds in a file."""
    from vtkmodules.vtkCommonExecutionModel import vtkStreamingDemandDrivenPipeline

    reader = pyvista.get_reader(str(path)).reader
    reader.UpdateInformation()
    found = reader.GetOutputInformation(0)
    (day,) = found.Get(vtkStreamingDemandDrivenPipeline.TIME_STEPS())
    return day


def test_every_part_is_a_block_whose_fields_name_their_units(wires_read):
    for day, blocks in wires_read:
        parts = parts_of(blocks)
        assert list(parts) == list(PARTS)
        for name, block in parts.items():
            assert {*block.point_data, *block.cell_data} == UNITS[name]
            assert block.field_data["TimeValue"] == [day]
            assert block.n_cells > 0


def test_stress_of_the_wall_is_that_of_the_run(wires, wires_read):
    case = wires.cases[0]
    for day, blocks in wires_read:
        walls = parts_of(blocks)["walls"]
        row = int(rows_at(case.median, np.array([day]))[0])
        for k, (tooth, history) in enumerate(zip(wires.teeth, histories(wires, case), strict=True)):
            wall = walls.extract_cells(walls.cell_data["tooth"] == tooth.number)
            stress = tooth.wall.stress(case.median.wrench[row, k])
            for name, values in (
                ("pressure_kPa", stress.pressure),
                ("normal_traction_kPa", stress.normal),
            ):
                kilo = 1e3 * values.ravel()
                np.testing.assert_allclose(wall[name], kilo, rtol=1e-12, atol=1e-12)
            peak = tooth.wall.peak(
                np.maximum(wall["pressure_kPa"], 0).reshape(stress.pressure.shape)
            )
            assert peak == pytest.approx(1e3 * history.peak_pressure[row], rel=1e-12)
            # kPa mm^2 = mN; the arch frame turns the force and keeps its size
            force = 1e-3 * wall["traction_kPa"].T @ wall["wall_area_mm2"]
            size = np.linalg.norm(history.at_bracket[row, :3])
            assert np.linalg.norm(force) == pytest.approx(size, rel=1e-6, abs=1e-7)


def test_movement_of_the_edge_is_that_of_the_run(wires, wires_read):
    day, blocks = wires_read[-1]
    teeth = parts_of(blocks)["teeth"]
    row = int(rows_at(wires.cases[0].median, np.array([day]))[0])
    columns = body_points(wires.teeth[0]).shape[1]
    for history in histories(wires, wires.cases[0]):
        tooth = teeth.extract_cells(teeth.cell_data["tooth"] == history.number)
        # rows run from the apex to the edge
        found = np.linalg.norm(tooth["movement_mm"][-columns:].mean(axis=0))
        # finite rotation in the file, a small one in the table: second order of up to 2 degrees
        expected = np.linalg.norm(history.crown[row])
        assert found == pytest.approx(expected, rel=0.03, abs=1e-4)


def test_walls_can_be_coloured_by_zone(wires, wires_read):
    walls = parts_of(wires_read[0][1])["walls"]
    walls.set_active_scalars("zone", preference="cell")
    assert walls.active_scalars_info.association == pyvista.FieldAssociation.CELL
    assert set(walls.active_scalars) == {-1, 0, 1}
    # areas by VTK of what is coloured as pressed, against the table's, which is by points
    areas = walls.compute_cell_sizes(length=False, volume=False).cell_data["Area"]
    history = histories(wires, wires.cases[0])[1]
    pressed = (walls.cell_data["zone"] == -1) & (walls.cell_data["tooth"] == history.number)
    assert areas[pressed].sum() == pytest.approx(history.zone_area[0, 0], rel=0.1)


def test_a_slice_is_read_at_all_its_days(slices, slice_folder):
    opened = slices.cases[0].slices[0]
    shown = shown_frames(opened, weekly(slices.cases[0].median))
    changes = bone_changes(opened.track.frames)
    series = {
        kind: series_of(slice_folder / f"weeks_{kind}.pvd") for kind in ("mesh", "wall", "bone")
    }
    for kind, read in series.items():
        days = [opened.track.frames[index].day for _, index in shown]
        assert [day for day, _ in read] == days, kind
    for k, (_, index) in enumerate(shown):
        frame = opened.track.frames[index]
        (mesh,), (wall,), (bone,) = (series[kind][k][1] for kind in ("mesh", "wall", "bone"))
        displacement = frame.state.displacement.reshape(-1, 2)
        size = np.linalg.norm(mesh.point_data["displacement_mm"], axis=1)
        np.testing.assert_allclose(
            size, np.linalg.norm(displacement, axis=1), rtol=1e-9, atol=1e-15
        )
        normal = wall.point_data["normal_traction_kPa"]
        np.testing.assert_allclose(normal, 1e3 * frame.state.normal, rtol=1e-12, atol=1e-12)
        # VTK counts x fastest, then z
        for name, values in (
            ("density", frame.bones.density),
            ("resorbed", changes[index].resorbed),
        ):
            np.testing.assert_array_equal(bone.cell_data[name], values.T.ravel())


def test_an_image_lies_where_the_raster_does(slices, slice_folder):
    raster = slices.cases[0].slices[0].track.frames[0].bones.raster
    image = pyvista.get_reader(str(slice_folder / "week_000_bone.vti")).read()
    (columns, rows), (x, z) = raster.shape, raster.origin
    assert image.dimensions == (columns + 1, 1, rows + 1)
    assert image.spacing == pytest.approx(3 * (raster.spacing,))
    assert image.origin == pytest.approx((x, 0.0, z))


def test_nine_nodes_stand_in_the_order_of_the_format(slice_folder):
    mesh = pyvista.get_reader(str(slice_folder / "week_000_mesh.vtu")).read()
    assert set(mesh.celltypes) == {BIQUADRATIC_QUAD}
    nodes = mesh.points[mesh.cells_dict[BIQUADRATIC_QUAD]][..., [0, 2]]
    x, z = np.moveaxis(nodes[:, [0, 4, 1, 5, 2, 6, 3, 7]], -1, 0)
    rim = 0.5 * (x * np.roll(z, -1, axis=1) - z * np.roll(x, -1, axis=1)).sum(axis=1)
    areas = mesh.compute_cell_sizes(length=False, volume=False).cell_data["Area"]
    # VTK cuts a cell along its nodes into flat pieces, so that its rim has straight halves
    np.testing.assert_allclose(areas, np.abs(rim), rtol=1e-5)
