"""Field files of a run: VTU files a week, one for each part, and a PVD file with their days.

Points and vectors are in the arch frame, mm. The parts are teeth, socket walls and wire; the PVD
file gives each its name, so that a viewer shows them as blocks that can be hidden or coloured each
by itself, and the cell field ``part`` tells them apart by number. The cell field ``tooth`` is the
ISO 3950 number (0 for the wire). Walls carry the stresses. Their cell field ``zone`` is -1
compression, 0 neutral, 1 tension, from the mean normal traction of the cell's corners, and -2
overload where their mean pressure exceeds the limit that the scenario sets, if it sets one.
``wall_area_mm2`` is the weight of a point in sums over the wall, by the quadratic shapes of the
solution: uneven from row to row, and below zero by a hair at the apex. The sum of ``traction_kPa``
times it over one tooth's wall is 1000 times the force on that tooth in N.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import meshio
import numpy as np
import numpy.typing as npt

from gomphosis.bone.wall import OVERLOAD, WallStress
from gomphosis.fem.section import Array
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult, RunResult, rows_at, weekly
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.surfaces import (
    body_points,
    closed_quads,
    start_placements,
    tooth_placements,
    wall_placements,
    wall_points,
    wall_vectors,
    wire_line,
)
from gomphosis.scenarios.vtk_head import insert_head, xml_comment

TEETH, WALLS, WIRE = "teeth", "walls", "wire"
PARTS = {TEETH: 0, WALLS: 1, WIRE: 2}
"""Values of the cell field ``part`` by the name of the part, which ends the name of its file."""
EXPLAINED = (
    "Points in mm in the arch frame of the jaw: x labial at the midline, z occlusal. part: "
    + ", ".join(f"{number} {name}" for name, number in PARTS.items())
    + ". tooth: ISO 3950 number. movement_mm: since the start. zone of the wall: -2 overload, "
    "-1 compression, 0 neutral, 1 tension. traction_kPa: of the ligament on the wall; "
    "normal_traction_kPa: tension positive; wall_area_mm2: weight of a point in sums over the wall "
    "(quadratic shapes: uneven, a hair below zero at the apex), so that tractions times areas, in "
    "mN, add up to the force on the tooth. "
)
KILO = 1e3  # kPa per MPa
SERIES = "weeks.pvd"


def write_fields(result: RunResult, folder: Path) -> list[Path]:
    """Write the fields of a run, weekly and at the end, for every case.

    Several cases go to one sub-folder each, numbered in their order.

    Parameters
    ----------
    folder
        Made if it is not there; files of the same names are overwritten.

    Returns
    -------
    The files written, in order: for each case its weeks, then its series.
    """
    written: list[Path] = []
    for index, case in enumerate(result.cases):
        place = case_folder(result, index, folder)
        place.mkdir(parents=True, exist_ok=True)
        written += _write_case(result, case, place)
    return written


def case_folder(result: RunResult, index: int, folder: Path) -> Path:
    """Return where the fields of a case go: the folder itself if there is one case only."""
    count = len(result.cases)
    if count == 1:
        return folder
    return folder / f"{index + 1:0{len(str(count))}d}-{slug(result.cases[index].name)}"


def slug(name: str) -> str:
    """Return a name in lower-case letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "case"


def _write_case(result: RunResult, case: CaseResult, folder: Path) -> list[Path]:
    days = weekly(case.median)
    comment = case_comment(result, case, EXPLAINED)
    files = []
    for day, record in zip(days, rows_at(case.median, days), strict=True):
        for name, mesh in field_meshes(result, case, int(record)).items():
            path = folder / f"{week_name(float(day))}_{name}.vtu"
            meshio.write(path, mesh, file_format="vtu")
            shown = float(case.median.days[record])
            insert_head(path, comment=comment, day=shown)
            files.append(Member(shown, path, name, PARTS[name]))
    series = folder / SERIES
    series.write_text(collection(files, comment), encoding="utf-8", newline="\n")
    return [*(member.path for member in files), series]


def case_comment(result: RunResult, case: CaseResult, explained: str = "") -> str:
    """Return the XML comment of a case's files: its title, what they hold, and the caution."""
    invented = "Invented data. " if result.scenario.invented else ""
    return xml_comment(f"{result.scenario.title}; case {case.name}. {explained}{invented}{NOTICE}")


def week_name(day: float) -> str:
    """Return the name of a file of a day: its whole weeks, and the days beyond."""
    week, rest = divmod(day, 7.0)
    return f"week_{int(week):03d}" + (f"_day_{rest:g}" if rest > 1e-9 else "")


@dataclass(frozen=True)
class Member:
    """A file of a series.

    Attributes
    ----------
    day
        Which it shows.
    path
        Beside the file that lists it.
    name, part
        Of the block that it becomes among others of its day.
    """

    day: float
    path: Path
    name: str
    part: int = 0


def collection(members: Sequence[Member], comment: str) -> str:
    """Return the text of a PVD file that lists files with their days and names."""
    rows = [
        f'    <DataSet timestep="{member.day:.12g}" group="" part="{member.part}" '
        f'name="{member.name}" file="{member.path.name}"/>'
        for member in members
    ]
    head = ['<?xml version="1.0"?>', comment, "<!-- timestep: day -->"]
    head += ['<VTKFile type="Collection" version="0.1">', "  <Collection>"]
    return "\n".join([*head, *rows, "  </Collection>", "</VTKFile>", ""])


def field_meshes(result: RunResult, case: CaseResult, record: int) -> dict[str, meshio.Mesh]:
    """Return the surfaces of each part that there is, with fields, at a record of the median run.

    Parameters
    ----------
    record
        Index into ``case.median.days``.
    """
    starts = start_placements(result.teeth, case, record)
    bodies = tooth_placements(result.teeth, case, record)
    walls = wall_placements(result.teeth, case, record)
    gathered = {TEETH: _Sheets(), WALLS: _Sheets()}
    for index, tooth in enumerate(result.teeth):
        surface = body_points(tooth)
        here = bodies[index].points(surface)
        moved = here - starts[index].points(surface)
        gathered[TEETH].add(tooth.number, here, {"movement_mm": moved})
        surface = wall_points(tooth)
        here = walls[index].points(surface)
        stress = tooth.wall.stress(case.median.wrench[record, index])
        fields = {
            "movement_mm": here - starts[index].points(surface),
            "traction_kPa": walls[index].vectors(KILO * wall_vectors(tooth, stress.traction)),
            "normal_traction_kPa": KILO * stress.normal,
            "pressure_kPa": KILO * stress.pressure,
            "wall_area_mm2": tooth.wall.area,
        }
        zone = _zone(tooth, stress, result.scenario)
        gathered[WALLS].add(tooth.number, here, fields, zone=zone)
    line = wire_line(case, record)
    meshes = {name: sheets.mesh(PARTS[name]) for name, sheets in gathered.items()}
    return meshes | ({WIRE: _wire_mesh(line)} if len(line) else {})


def _zone(tooth: ToothModel, stress: WallStress, scenario: Scenario) -> np.ndarray:
    """Return the zone of every cell of a wall."""
    corners = closed_quads(*stress.normal.shape)
    normal = stress.normal.ravel()[corners].mean(axis=1)
    zone = tooth.wall.zones(normal, neutral_below=scenario.neutral_below)
    if scenario.pressure_limit is None:
        return zone
    pressure = stress.pressure.ravel()[corners].mean(axis=1)
    return np.where(pressure > scenario.pressure_limit, OVERLOAD, zone)


@dataclass
class _Sheets:
    """Collect the grids of all teeth into one mesh."""

    points: list[Array] = field(default_factory=list)
    fields: list[Mapping[str, Array]] = field(default_factory=list)
    quads: list[np.ndarray] = field(default_factory=list)
    cells: list[dict[str, np.ndarray]] = field(default_factory=list)

    def add(
        self,
        number: int,
        points: Array,
        fields: Mapping[str, Array],
        *,
        zone: np.ndarray | None = None,
    ) -> None:
        """Add a tooth's grid, shape (rows, columns, 3), with fields by point and its zones."""
        quads = closed_quads(*points.shape[:2])
        self.quads.append(sum(len(p) for p in self.points) + quads)
        self.points.append(points.reshape(-1, 3))
        self.fields.append(fields)
        cells = {} if zone is None else {"zone": zone}
        self.cells.append(cells | {"tooth": np.full(len(quads), number)})

    def mesh(self, part: int) -> meshio.Mesh:
        """Return the mesh of all grids."""
        quads = np.concatenate(self.quads)
        point_data: dict[str, npt.ArrayLike] = {
            name: np.concatenate([f[name].reshape(-1, *f[name].shape[2:]) for f in self.fields])
            for name in self.fields[0]
        }
        cells = {
            name: np.concatenate([c[name] for c in self.cells]).astype(np.int32)
            for name in self.cells[0]
        } | {"part": np.full(len(quads), part, dtype=np.int32)}
        return meshio.Mesh(
            np.concatenate(self.points),
            [("quad", quads)],
            point_data=point_data,
            cell_data={name: [values] for name, values in cells.items()},
        )


def _wire_mesh(points: Array) -> meshio.Mesh:
    first = np.arange(len(points) - 1)
    cells = {"tooth": 0, "part": PARTS[WIRE]}
    return meshio.Mesh(
        points,
        [("line", np.stack([first, first + 1], axis=1))],
        cell_data={name: [np.full(len(first), n, dtype=np.int32)] for name, n in cells.items()},
    )
