"""Field files of a run's slices: mesh, socket wall and bone density map, a file of each a week.

Points are (x, 0, z) in mm in the frame of the jaw, which is that of the tooth at the start: x to
the labial or mesial side, z from the apex to the crown, origin on the long axis at the bone crest.
Mesh and wall stand where the load-free tooth stands; ``displacement_mm`` is what the load adds.
The mesh travels with the tooth; its bone takes its modulus from the density map, which does not.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import meshio
import numpy as np

from gomphosis.bone.coverage import moved
from gomphosis.bone.ligament_laws import mean_stress
from gomphosis.bone.slice_body import RIGID
from gomphosis.bone.slice_mesh import BONE, CROWN, LIGAMENT, ROOT, SOFT
from gomphosis.bone.slice_run import Frame, SliceCase
from gomphosis.fem.plane import isotropic_moduli
from gomphosis.fem.section import Array
from gomphosis.scenarios.result import CaseResult, RunResult, weekly
from gomphosis.scenarios.slice_change import BoneChange, bone_changes
from gomphosis.scenarios.slice_result import SAME_DAY, SliceResult
from gomphosis.scenarios.vti import write_image
from gomphosis.scenarios.vtk_head import insert_head
from gomphosis.scenarios.vtu import (
    KILO,
    Member,
    case_comment,
    case_folder,
    collection,
    week_name,
)

REGIONS = {CROWN: 0, ROOT: 1, LIGAMENT: 2, BONE: 3, SOFT: 4}
"""Values of the cell field ``region``."""

FRAME = (
    "Points (x, 0, z) in mm in the frame of the jaw: x to the side at +x, z from apex to crown, "
    "origin on the long axis at the bone crest at the start. "
)
MESH = (
    "Slice mesh; displacement and stresses were found at the start of the step that ends on this "
    "day. region: "
    + ", ".join(f"{number} {name}" for name, number in REGIONS.items())
    + ". displacement_mm: elastic, on top of the points. young_MPa: secant modulus, mean of the "
    "cell. pressure_kPa: minus the mean normal stress, mean of the cell. "
)
WALL = (
    "Socket wall. traction_kPa: of the ligament on the wall; normal_traction_kPa: tension "
    "positive; wall_area_mm2: weight of a point in sums over the wall (quadratic shapes: uneven), "
    "so that tractions times areas, in mN, add up to what the wall in the plane carries of the "
    "load; the walls beside it and the soft tissue carry the rest. zone: "
    "-1 compression, 0 neutral, 1 tension, from the mean of the cell's ends. "
)
IMAGE = (
    "Bone density map. density: of the bone in a cell, 0 to 1 of full cortical bone; kind: 0 no "
    "bone, 1 trabecular, 2 cortical, by what it matures to; bone, covered: shares of the cell "
    "that are bone, and under tooth and ligament; resorbed: bone of the start that is missing; "
    "laid_down: bone where tooth or ligament have been since the start. "
)


def write_slice_fields(result: RunResult, folder: Path) -> list[Path]:
    """Write the fields of a run's slices, weekly and at the end, for every case.

    A slice goes to a sub-folder named by its tooth, beside the fields of its case.

    Returns
    -------
    The files written, in order: for each slice its weeks, then the series of mesh, wall and bone.
    """
    written: list[Path] = []
    for index, case in enumerate(result.cases):
        for opened in case.slices:
            place = case_folder(result, index, folder) / f"slice-{opened.model.number}"
            place.mkdir(parents=True, exist_ok=True)
            written += _write_slice(result, case, opened, place)
    return written


def _write_slice(
    result: RunResult, case: CaseResult, opened: SliceResult, folder: Path
) -> list[Path]:
    if not opened.track.frames:
        return []
    explained = f"Tooth {opened.model.number}, {opened.model.plane} plane. {FRAME}"
    comments = {
        kind: case_comment(result, case, explained + text)
        for kind, text in (("mesh", MESH), ("wall", WALL), ("bone", IMAGE))
    }
    changes = bone_changes(opened.track.frames)
    files: dict[str, list[Member]] = {kind: [] for kind in comments}
    for day, index in shown_frames(opened, weekly(case.median)):
        frame = opened.track.frames[index]
        stem = folder / week_name(day)
        for kind, write in _writers(opened, frame, changes[index]).items():
            path = stem.with_name(f"{stem.name}_{kind}.{'vti' if kind == 'bone' else 'vtu'}")
            write(path, comments[kind], result.scenario.neutral_below)
            files[kind].append(Member(frame.day, path, kind))
    series = []
    for kind, listed in files.items():
        series.append(folder / f"weeks_{kind}.pvd")
        series[-1].write_text(collection(listed, comments[kind]), encoding="utf-8", newline="\n")
    return [*(file.path for week in zip(*files.values(), strict=True) for file in week), *series]


def shown_frames(opened: SliceResult, days: Array) -> list[tuple[float, int]]:
    """Return days, and the frame that was last at each; a slice that stopped ends with its last.

    No frame is returned twice.
    """
    kept = np.array([frame.day for frame in opened.track.frames])
    end = kept[-1] if opened.track.stopped else np.inf
    wanted = np.unique(np.minimum(days, end))
    rows = np.searchsorted(kept, wanted + SAME_DAY, side="right") - 1
    first = np.unique(rows, return_index=True)[1]
    return [(float(wanted[k]), int(rows[k])) for k in first]


Writer = Callable[[Path, str, float], None]


def _writers(opened: SliceResult, frame: Frame, change: BoneChange) -> dict[str, Writer]:
    case = opened.model.case

    def mesh(path: Path, comment: str, neutral_below: float) -> None:
        _write_mesh(slice_mesh_fields(case, frame), path, comment=comment, day=frame.day)

    def wall(path: Path, comment: str, neutral_below: float) -> None:
        fields = slice_wall_fields(case, frame, neutral_below=neutral_below)
        _write_mesh(fields, path, comment=comment, day=frame.day)

    def bone(path: Path, comment: str, neutral_below: float) -> None:
        bones = frame.bones
        cells = {
            "density": bones.density,
            "kind": bones.kind,
            "bone": bones.bone,
            "covered": bones.covered,
            "resorbed": change.resorbed,
            "laid_down": change.laid_down,
        }
        write_image(path, bones.raster, cells, comment=comment, day=frame.day)

    return {"mesh": mesh, "wall": wall, "bone": bone}


def _write_mesh(mesh: meshio.Mesh, path: Path, *, comment: str, day: float) -> None:
    meshio.write(path, mesh, file_format="vtu")
    insert_head(path, comment=comment, day=day)


def slice_mesh_fields(case: SliceCase, frame: Frame) -> meshio.Mesh:
    """Return the nine-node mesh of a slice at one frame, with its fields."""
    mesh, cells = case.body.mesh, SliceCells(case, frame)
    region = np.zeros(len(mesh.elements), dtype=np.int32)
    for name, members in mesh.regions.items():
        region[members] = REGIONS[name]
    return meshio.Mesh(
        _in_space(moved(mesh.nodes, frame.drift)),
        [("quad9", mesh.elements)],
        point_data={
            "displacement_mm": _turned(frame.state.displacement.reshape(-1, 2), frame.drift)
        },
        cell_data={
            "region": [region],
            "young_MPa": [cells.mean(cells.young)],
            "pressure_kPa": [cells.mean(cells.pressure)],
        },
    )


def slice_wall_fields(case: SliceCase, frame: Frame, *, neutral_below: float) -> meshio.Mesh:
    """Return the socket wall of a slice at one frame, from the left crest to the right.

    Parameters
    ----------
    neutral_below
        Normal traction below which the wall is neutral, MPa.
    """
    nodes = case.body.mesh.lines["wall"]
    normal = frame.state.normal
    first = np.arange(len(nodes) - 1)
    mean = 0.5 * (normal[1:] + normal[:-1])
    zone = np.sign(mean) * (np.abs(mean) >= neutral_below)
    return meshio.Mesh(
        _in_space(moved(case.body.mesh.nodes[:, nodes], frame.drift)),
        [("line", np.stack([first, first + 1], axis=1))],
        point_data={
            "normal_traction_kPa": KILO * normal,
            "traction_kPa": KILO * _turned(frame.state.push, frame.drift),
            "wall_area_mm2": case.body.wall.area,
        },
        cell_data={"zone": [zone.astype(np.int32)]},
    )


@dataclass(frozen=True)
class SliceCells:
    """Modulus and pressure at every integration point of a slice at one frame."""

    case: SliceCase
    frame: Frame

    def mean(self, values: Array) -> Array:
        """Return the mean over each element's volume of values, shape (elements, points)."""
        measure = self.case.body.elements.measure
        return (values * measure).sum(axis=1) / measure.sum(axis=1)

    @cached_property
    def _strain(self) -> Array:
        return self.case.body.elements.strain(self.frame.state.displacement)

    @cached_property
    def young(self) -> Array:
        """Secant modulus, MPa, shape (elements, points)."""
        body, law = self.case.body, self.case.ligament
        dentine, ligament = body.tissue.dentine.young, body.tissue.ligament.young
        young = np.empty(body.elements.measure.shape)
        for name, modulus in ((CROWN, RIGID * dentine), (ROOT, dentine), (LIGAMENT, ligament)):
            if name in body.mesh.regions:
                young[body.mesh.regions[name]] = modulus
        if law is not None:
            young[body.ligament] = law.secant(law.equivalent(self._strain[body.ligament]))
        young[body.bony] = self.frame.bone_young.reshape(len(body.bony), -1)
        return young

    @cached_property
    def pressure(self) -> Array:
        """Minus the mean of the three normal stresses, kPa, shape (elements, points)."""
        tissue, regions = self.case.body.tissue, self.case.body.mesh.regions
        pressure = np.empty(self.young.shape)
        for name, members in regions.items():
            poisson = {
                CROWN: tissue.dentine.poisson,
                ROOT: tissue.dentine.poisson,
                LIGAMENT: tissue.ligament.poisson,
            }.get(name, tissue.bone_poisson)
            unit = self._strain[members] @ isotropic_moduli(1.0, poisson)
            pressure[members] = -KILO * self.young[members] * mean_stress(unit, poisson)
        return pressure


def _in_space(plane: Array) -> Array:
    """Return points (x, z), shape (2, n), as (x, 0, z), shape (n, 3)."""
    return np.stack([plane[0], np.zeros_like(plane[0]), plane[1]], axis=1)


def _turned(vectors: Array, drift: Array) -> Array:
    """Return vectors of the tooth's frame, shape (n, 2), in the jaw's, (n, 3)."""
    return _in_space(moved(vectors.T, drift * np.array([0.0, 0.0, 1.0])))
