"""Verification: field files of slices read back as written, in the units they name."""

import base64
import struct
import xml.etree.ElementTree as ElementTree
import zlib
from dataclasses import replace

import meshio
import numpy as np
import pytest

from gomphosis.bone.coverage import Raster
from gomphosis.bone.perforation import Opening
from gomphosis.bone.slice_response import unit_response
from gomphosis.bone.support import Resolution
from gomphosis.fem.plane import isotropic_moduli
from gomphosis.fem.plane_points import plane_points
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import parse_scenario
from gomphosis.scenarios.result import weekly
from gomphosis.scenarios.run import run
from gomphosis.scenarios.slice_change import bone_changes
from gomphosis.scenarios.slice_result import kept_days, lasting
from gomphosis.scenarios.slice_vtu import REGIONS, shown_frames, write_slice_fields
from gomphosis.scenarios.vti import write_image

TEXT = """
schema = 1
title = "a -- b --> c & <d>"
duration = "10 days"
step = "2 days"
rate = { max_speed = "60 um/day", half_stress = "8 kPa" }
[[tooth]]
number = 11
[[force]]
tooth = 11
force = "30 cN"
direction = "labial"
moment_to_force = "8 mm"
[slice]
teeth = [11]
front = { crest = "0.5 mm" }
"""
BILINEAR = TEXT.replace('"10 days"', '"4 days"').replace(
    "teeth = [11]", 'teeth = [11]\nlaw = "bilinear"'
)
SIZE = Resolution(along=16, root=2, ligament=2, bone=1, sectors=16)
WEEKS = ("week_000", "week_001", "week_001_day_3")
KINDS = ("mesh", "wall", "bone")


@pytest.fixture(scope="module")
def result():
    return run(parse_scenario(TEXT, "test"), resolution=SIZE)


@pytest.fixture(scope="module")
def opened(result):
    return result.cases[0].slices[0]


@pytest.fixture(scope="module")
def written(result, tmp_path_factory):
    folder = tmp_path_factory.mktemp("fields")
    return folder, write_slice_fields(result, folder)


def mesh_of(written, week, kind):
    return meshio.read(written[0] / "slice-11" / f"{WEEKS[week]}_{kind}.vtu")


def image_of(written, week):
    """Read an image by the format's description: shape, origin, spacing and fields by name."""
    root = ElementTree.parse(written[0] / "slice-11" / f"{WEEKS[week]}_bone.vti").getroot()
    assert root.attrib["compressor"] == "vtkZLibDataCompressor"
    image = root.find("ImageData")
    extent = [int(n) for n in image.attrib["WholeExtent"].split()]
    columns, _, rows = (extent[k + 1] - extent[k] for k in (0, 2, 4))
    fields = {}
    for array in image.find("Piece/CellData"):
        head, body = array.text[:24], array.text[24:]
        count, size, last, packed = struct.unpack("<4I", base64.b64decode(head))
        plain = zlib.decompress(base64.b64decode(body))
        assert (count, size, last) == (1, len(plain), 0)
        assert packed == len(base64.b64decode(body))
        kind = {"Float64": "<f8", "Int8": "<i1"}[array.attrib["type"]]
        fields[array.attrib["Name"]] = np.frombuffer(plain, kind).reshape(rows, columns)
    origin, spacing = (
        np.array([float(x) for x in image.attrib[name].split()]) for name in ("Origin", "Spacing")
    )
    return origin, spacing, fields


def turned(vectors, angle):
    """Rows (x, z) turned so that +z goes towards +x, by a rotation matrix of its own."""
    c, s = np.cos(angle), np.sin(angle)
    return vectors @ np.array([[c, -s], [s, c]])


def test_weeks_the_end_and_the_series_are_written(written):
    folder, files = written
    expected = [f"{w}_{k}.{'vti' if k == 'bone' else 'vtu'}" for w in WEEKS for k in KINDS]
    expected += [f"weeks_{k}.pvd" for k in KINDS]
    assert [f.name for f in files] == expected
    assert sorted((folder / "slice-11").iterdir()) == sorted(files)


def test_series_list_days_and_files(written):
    for kind in KINDS:
        root = ElementTree.parse(written[0] / "slice-11" / f"weeks_{kind}.pvd").getroot()
        rows = root.findall("Collection/DataSet")
        # day 7 has no record of its own
        assert [float(row.get("timestep")) for row in rows] == [0.0, 6.0, 10.0]
        assert [row.get("file").split(f"_{kind}.")[0] for row in rows] == list(WEEKS)


def test_points_stand_where_the_tooth_stands(written, opened):
    case = opened.model.case
    for week, day in ((0, 0.0), (2, 10.0)):
        drift = opened.frame_at(day).drift
        place = turned(case.body.mesh.nodes.T, drift[2]) + drift[:2]
        mesh = mesh_of(written, week, "mesh")
        assert mesh.points[:, [0, 2]] == pytest.approx(place, abs=1e-12)
        assert np.all(mesh.points[:, 1] == 0.0)
        assert mesh.cells[0].type == "quad9"
        assert np.array_equal(mesh.cells[0].data, case.body.mesh.elements)
    assert np.hypot(*drift[:2]) > 0.1


def test_displacement_of_the_bracket_is_the_motion(written, opened):
    frame = opened.frame_at(10.0)
    case = opened.model.case
    moved = mesh_of(written, 2, "mesh").point_data["displacement_mm"][:, [0, 2]]
    moved = turned(moved, -frame.drift[2])
    nodes = case.body.mesh.lines["bracket"]
    x, z = case.body.mesh.nodes[:, nodes]
    ux, uz, turn = frame.state.motion
    expected = np.stack([ux + turn * z, uz - turn * x], axis=1)
    # the crown is as good as rigid, not rigid
    assert moved[nodes] == pytest.approx(expected, rel=1e-3, abs=1e-6)


def test_regions_are_numbered(written, opened):
    region = mesh_of(written, 0, "mesh").cell_data["region"][0]
    for name, members in opened.model.case.body.mesh.regions.items():
        assert np.array_equal(np.flatnonzero(region == REGIONS[name]), np.sort(members))


def test_moduli_are_those_of_the_tissues(written, opened):
    body, life = opened.model.case.body, opened.model.case.life
    soft, full = life.density_law.modulus(np.array([0.0, 1.0]))
    for week in (0, 2):
        mesh = mesh_of(written, week, "mesh")
        young, region = mesh.cell_data["young_MPa"][0], mesh.cell_data["region"][0]
        root, ligament = body.tissue.dentine.young, body.tissue.ligament.young
        assert young[region == REGIONS["root"]] == pytest.approx(root, rel=1e-12)
        assert young[region == REGIONS["ligament"]] == pytest.approx(ligament, rel=1e-12)
        bone = young[region == REGIONS["bone"]]
        assert bone.min() >= soft * (1 - 1e-12)
        assert bone.max() <= full * (1 + 1e-12)
    # at the start there is hard bone beside the ligament at mid-root on both sides
    mesh = mesh_of(written, 0, "mesh")
    middle = mesh.points[mesh.cells[0].data[:, 8]]
    thin = (region == REGIONS["bone"]) & (np.abs(middle[:, 2] + 6.0) < 1.0)
    assert mesh.cell_data["young_MPa"][0][thin].max() > 0.2 * full


def test_pressure_is_the_bulk_modulus_times_the_loss_of_volume(written, opened):
    """The mean dilatation of a cell needs no projection: taken from the file's displacement."""
    body = opened.model.case.body
    for week in (0, 2):
        mesh = mesh_of(written, week, "mesh")
        points = plane_points(mesh.points[:, [0, 2]].T, mesh.cells[0].data)
        local = mesh.point_data["displacement_mm"][:, [0, 2]][mesh.cells[0].data]
        dilatation = np.einsum("epca,eac->ep", points.gradient, local)
        measure = body.elements.measure
        mean = (dilatation * measure).sum(axis=1) / measure.sum(axis=1)
        for name, pair in (("ligament", body.tissue.ligament), ("root", body.tissue.dentine)):
            chosen = mesh.cell_data["region"][0] == REGIONS[name]
            bulk = pair.young / (3 * (1 - 2 * pair.poisson))
            expected = -1000 * bulk * mean[chosen]
            pressure = mesh.cell_data["pressure_kPa"][0][chosen]
            scale = np.abs(expected).max()
            assert pressure == pytest.approx(expected, rel=1e-8, abs=1e-8 * scale)
            assert scale > 0.1


def soft_tissue_force(case, frame):
    """Force of tooth and ligament on the soft tissue above them, tooth frame, N."""
    body = case.body
    soft = body.mesh.regions["soft tissue"]
    young = frame.bone_young.reshape(len(body.bony), -1)[np.searchsorted(body.bony, soft)]
    moduli = isotropic_moduli(young, body.tissue.bone_poisson)
    strain = body.elements.strain(frame.state.displacement, elements=soft)
    stress = np.einsum("epij,epj->epi", moduli, strain)
    force = body.elements.force(stress, elements=soft).reshape(-1, 2)
    below = np.concatenate([body.mesh.regions[name] for name in ("crown", "root", "ligament")])
    # what the ligament does to the crest's own nodes is traction on the wall
    inner = np.setdiff1d(body.mesh.elements[below], body.mesh.lines["wall"])
    return force[inner].sum(axis=0)


def test_wall_walls_beside_the_plane_and_soft_tissue_carry_the_load(written, opened):
    side = opened.model.case.body.side
    for week, day in ((0, 0.0), (2, 10.0)):
        frame = opened.frame_at(day)
        wall = mesh_of(written, week, "wall")
        traction = wall.point_data["traction_kPa"][:, [0, 2]]
        carried = traction.T @ wall.point_data["wall_area_mm2"] / 1000
        beside = turned((side.stiffness * frame.state.side).sum(axis=0), frame.drift[2])
        above = turned(soft_tissue_force(opened.model.case, frame), frame.drift[2])
        load = turned(opened.track.load[0, :2], frame.drift[2])
        assert carried + beside + above == pytest.approx(load, rel=1e-5, abs=1e-6)
        assert np.linalg.norm(carried) > 0.3 * np.linalg.norm(load)


def test_state_is_in_balance_in_the_bone_that_is_kept_with_it(opened):
    """The bone of the frame itself is that at the end of the step."""
    case, frame = opened.model.case, opened.frame_at(10.0)
    load = opened.track.load[-1]
    motion = unit_response(case.body, case.body.body(frame.bone_young)).compliance @ load
    assert motion == pytest.approx(frame.state.motion, rel=1e-7, abs=1e-9)
    later = case.body.bone_moduli(frame.bones, case.life.density_law, frame.drift)
    other = unit_response(case.body, case.body.body(later)).compliance @ load
    assert np.abs(other - frame.state.motion).max() > 1e-5


def test_normal_traction_is_along_the_lines_normal_and_makes_the_zones(written, result):
    wall = mesh_of(written, 2, "wall")
    points, normal = wall.points[:, [0, 2]], wall.point_data["normal_traction_kPa"]
    along = np.gradient(points, axis=0)
    # from the left crest round the apex: the bone lies on the right of the way
    outward = np.stack([along[:, 1], -along[:, 0]], axis=1)
    outward /= np.linalg.norm(outward, axis=1)[:, None]
    pushed = np.einsum("nc,nc->n", wall.point_data["traction_kPa"][:, [0, 2]], outward)
    # compression pushes the wall outwards; straight pieces differ a little from the curve
    assert np.abs(pushed + normal).max() < 0.05 * np.abs(normal).max()
    mean = 0.5 * (normal[1:] + normal[:-1])
    zone = np.sign(mean) * (np.abs(mean) >= 1000 * result.scenario.neutral_below)
    assert np.array_equal(wall.cell_data["zone"][0], zone)
    assert set(zone) == {-1, 0, 1}


def test_image_lies_where_the_map_lies(written, opened):
    origin, spacing, fields = image_of(written, 2)
    bones = opened.frame_at(10.0).bones
    assert origin == pytest.approx([bones.raster.origin[0], 0.0, bones.raster.origin[1]])
    assert spacing == pytest.approx([bones.raster.spacing] * 3)
    for name in ("bone", "covered", "density", "kind"):
        assert np.array_equal(fields[name], getattr(bones, name).T)
    assert set(np.unique(fields["kind"])) == {0, 1, 2}
    # the middle of the file's own mesh of the root is under the tooth
    mesh = mesh_of(written, 2, "mesh")
    root = mesh.cells[0].data[mesh.cell_data["region"][0] == REGIONS["root"], 8]
    column, row = ((mesh.points[root][:, [0, 2]] - origin[[0, 2]]) / spacing[0]).astype(int).T
    assert np.all(fields["covered"][row, column] == pytest.approx(1.0))


def test_changes_in_the_image_are_those_of_the_books(written, opened):
    _, spacing, fields = image_of(written, 2)
    books = opened.frame_at(10.0).books
    cell = spacing[0] ** 2
    resorbed, laid_down = (cell * fields[name].sum() for name in ("resorbed", "laid_down"))
    # bone laid down and resorbed again is in the books twice and in the image not at all
    assert books.resorbed - resorbed == pytest.approx(books.deposited - laid_down, abs=1e-2)
    assert resorbed == pytest.approx(books.resorbed, rel=0.01)
    assert laid_down == pytest.approx(books.deposited, rel=0.01)
    assert resorbed > 1.0
    before = image_of(written, 0)[2]
    assert before["resorbed"].max() == before["laid_down"].max() == 0.0
    change = cell * (fields["bone"].sum() - before["bone"].sum())
    assert change == pytest.approx(books.deposited - books.resorbed, abs=1e-9)


def test_books_of_the_last_state_are_those_of_the_run(opened):
    assert opened.track.frames[-1].books == opened.track.books
    assert opened.track.frames[0].books.swept == 0.0


def test_bone_that_came_back_counts_as_laid_down(opened):
    """A tooth that went away and returned leaves no bone of its own time where it stands."""
    frames = opened.track.frames
    there_and_back = bone_changes((frames[0], frames[-1], frames[0]))
    assert there_and_back[2].resorbed.max() == 0.0
    gone = there_and_back[1].resorbed
    assert np.array_equal(there_and_back[2].laid_down > 0.5, gone > 0.5)
    assert bone_changes(()) == ()


def test_stiffening_ligament_shows_its_secant_modulus(tmp_path):
    result = run(parse_scenario(BILINEAR, "test"), resolution=SIZE)
    law = result.cases[0].slices[0].model.case.ligament
    write_slice_fields(result, tmp_path)
    mesh = meshio.read(tmp_path / "slice-11" / "week_000_mesh.vtu")
    young = mesh.cell_data["young_MPa"][0][mesh.cell_data["region"][0] == REGIONS["ligament"]]
    assert young.min() == pytest.approx(law.first, rel=1e-9)
    assert 1.05 * law.first < young.max() < law.second


def test_same_run_same_bytes(result, written, tmp_path):
    for old, new in zip(written[1], write_slice_fields(result, tmp_path), strict=True):
        assert old.read_bytes() == new.read_bytes()


def test_files_are_xml_with_the_caution_and_without_paths(written):
    folder, files = written
    for path in files:
        ElementTree.parse(path)
        data = path.read_bytes()
        assert NOTICE.encode() in data
        assert str(folder).encode() not in data


def with_slice(result, opened):
    return replace(result, cases=(replace(result.cases[0], slices=(opened,)),))


def test_slice_that_stopped_ends_with_its_last_state(result, opened, tmp_path):
    track = replace(opened.track, frames=opened.track.frames[:3], stopped="strained")
    stopped = replace(opened, track=track)
    assert shown_frames(stopped, weekly(result.cases[0].median)) == [(0.0, 0), (4.0, 2)]
    files = write_slice_fields(with_slice(result, stopped), tmp_path)
    assert [f.name for f in files if f.suffix == ".vti"] == [
        "week_000_bone.vti",
        "week_000_day_4_bone.vti",
    ]


def test_slice_that_stopped_at_once_has_no_file(result, opened, tmp_path):
    track = replace(opened.track, frames=(), stopped="strained")
    none = replace(opened, track=track)
    assert write_slice_fields(with_slice(result, none), tmp_path) == []
    with pytest.raises(LookupError, match="no state of tooth 11 was kept by day 3"):
        none.frame_at(3.0)


def test_every_case_has_its_slices(result, opened, tmp_path):
    case = result.cases[0]
    two = replace(result, cases=(case, replace(case, name="Two")))
    files = write_slice_fields(two, tmp_path)
    assert {str(f.parent.relative_to(tmp_path)) for f in files} == {
        "1-forces/slice-11",
        "2-two/slice-11",
    }


@pytest.mark.parametrize(
    ("values", "told"),
    [
        (np.zeros((3, 2)), r"image field f needs shape \(2, 3\) .* got \(3, 2\) and float64"),
        (np.zeros((2, 3), dtype=np.int64), "got .* and int64"),
    ],
)
def test_image_refuses_other_shapes_and_types(tmp_path, values, told):
    raster = Raster((0.0, 0.0), (2, 3), 0.1)
    with pytest.raises(ValueError, match=told):
        write_image(tmp_path / "image.vti", raster, {"f": values}, comment="<!-- c -->", day=0.0)


def test_states_are_kept_for_the_weeks_and_within_memory(result, opened):
    track, models = result.cases[0].median, (opened.model,)
    weeks = weekly(track)
    assert kept_days(track, weeks, models, 1).tolist() == [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    # so many cases that there is memory for none between the weeks
    assert kept_days(track, weeks, models, 10**6).tolist() == [0.0, 6.0, 10.0]
    long = replace(track, days=np.arange(0.0, 401.0))
    kept = kept_days(long, weekly(long), models, 1)
    assert set(weekly(long)) <= set(kept)
    assert len(kept) <= 44 + len(weekly(long))
    assert np.diff(kept).max() <= 10.0


def test_opening_is_dated_from_the_first_part_of_it_that_lay_open():
    small = Opening("fenestration", 1, -1.0, -0.5, 7.0, 7.0)
    large = Opening("dehiscence", 1, -6.0, 0.0, 8.0, 21.0)
    other = Opening("fenestration", -1, -1.0, -0.5, 3.0, 9.0)
    found = lasting((small, large, other))
    assert found == (replace(large, first_day=7.0), other)
