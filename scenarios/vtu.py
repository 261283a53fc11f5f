"""Field files of a run: one VTU file a week, and a PVD file that lists them with their days.

Points and vectors are in the arch frame, mm. Three parts, told apart by the cell field ``part``:
0 tooth, 1 socket wall, 2 wire. The cell field ``tooth`` is the ISO 3950 number (0 for the wire).
The cell field ``zone`` is -1 compression, 0 neutral, 1 tension, from the mean normal traction of
the cell's corners, and -2 overload where their mean pressure exceeds the limit that the scenario
sets, if it sets one; it has a meaning on the wall only and is 0 elsewhere. Stresses are known on
the wall only and are nan elsewhere. ``wall_area_mm2`` is the wall that belongs to a point: the sum
of ``traction_kPa`` times it over one tooth's wall is 1000 times the force on that tooth in N.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import meshio
import numpy as np

from gomphosis.bone.wall import OVERLOAD
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

TOOTH, WALL, WIRE = 0, 1, 2
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
    comment = case_comment(result, case)
    files = []
    for day, record in zip(days, rows_at(case.median, days), strict=True):
        path = folder / f"{week_name(float(day))}.vtu"
        meshio.write(path, field_mesh(result, case, int(record)), file_format="vtu")
        insert_comment(path, comment)
        files.append((float(case.median.days[record]), path))
    series = folder / SERIES
    series.write_text(collection(files, comment), encoding="utf-8", newline="\n")
    return [*(path for _, path in files), series]


def case_comment(result: RunResult, case: CaseResult, explained: str = "") -> str:
    """Return the XML comment of a case's files: its title, what they hold, and the caution."""
    invented = "Invented data. " if result.scenario.invented else ""
    return xml_comment(f"{result.scenario.title}; case {case.name}. {explained}{invented}{NOTICE}")


def week_name(day: float) -> str:
    """Return the name of a file of a day: its whole weeks, and the days beyond."""
    week, rest = divmod(day, 7.0)
    return f"week_{int(week):03d}" + (f"_day_{rest:g}" if rest > 1e-9 else "")


def xml_comment(text: str) -> str:
    """Return an XML comment; two hyphens in a row, which may not stand in one, are spaced."""
    plain = re.sub(r"-(?=-)", "- ", text)
    return f"<!-- {plain} -->"


def insert_comment(path: Path, comment: str) -> None:
    """Put an XML comment below the first line of a file."""
    head, newline, rest = path.read_bytes().partition(b"\n")
    path.write_bytes(head + newline + comment.encode() + b"\n" + rest)


def collection(files: Sequence[tuple[float, Path]], comment: str) -> str:
    """Return the text of a PVD file that lists files with their days."""
    rows = [
        f'    <DataSet timestep="{day:.12g}" group="" part="0" file="{path.name}"/>'
        for day, path in files
    ]
    head = ['<?xml version="1.0"?>', comment, "<!-- timestep: day -->"]
    head += ['<VTKFile type="Collection" version="0.1">', "  <Collection>"]
    return "\n".join([*head, *rows, "  </Collection>", "</VTKFile>", ""])


def field_mesh(result: RunResult, case: CaseResult, record: int) -> meshio.Mesh:
    """Return surfaces, wire and fields at one record of the median run.

    Parameters
    ----------
    record
        Index into ``case.median.days``.
    """
    gathered = _Gathered()
    starts = start_placements(result.teeth, case, record)
    bodies = tooth_placements(result.teeth, case, record)
    walls = wall_placements(result.teeth, case, record)
    for index, tooth in enumerate(result.teeth):
        surface = body_points(tooth)
        here = bodies[index].points(surface)
        gathered.sheet(here, _Sheet.plain(here - starts[index].points(surface), tooth))
        local = wall_points(tooth)
        here = walls[index].points(local)
        moved = here - starts[index].points(local)
        wrench = case.median.wrench[record, index]
        sheet = _wall_sheet(tooth, wrench, moved, result.scenario)
        traction = walls[index].vectors(sheet.point["traction_kPa"])
        gathered.sheet(here, sheet.turned(traction))
    gathered.wire(wire_line(case, record))
    return gathered.mesh()


@dataclass(frozen=True)
class _Sheet:
    """Fields of one grid: by point, shape (rows, columns, ...); and by cell."""

    point: dict[str, Array]
    zone: np.ndarray
    tooth: int
    part: int

    @classmethod
    def plain(cls, moved: Array, tooth: ToothModel) -> "_Sheet":
        rows, columns = moved.shape[:2]
        zone = np.zeros((rows - 1) * columns, dtype=np.int32)
        return cls(_unknown(moved), zone, tooth.number, TOOTH)

    def turned(self, traction: Array) -> "_Sheet":
        point = self.point | {"traction_kPa": traction}
        return _Sheet(point, self.zone, self.tooth, self.part)


def _unknown(moved: Array) -> dict[str, Array]:
    """Return point fields where there is no stress."""
    scalar = np.full(moved.shape[:-1], np.nan)
    return {
        "movement_mm": moved,
        "traction_kPa": np.full(moved.shape, np.nan),
        "normal_traction_kPa": scalar,
        "pressure_kPa": scalar,
        "wall_area_mm2": 0.0 * moved[..., 0],
    }


def _wall_sheet(tooth: ToothModel, wrench: Array, moved: Array, scenario: Scenario) -> _Sheet:
    stress = tooth.wall.stress(wrench)
    corners = stress.normal.ravel()[closed_quads(*stress.normal.shape)]
    point = {
        "movement_mm": moved,
        "traction_kPa": KILO * wall_vectors(tooth, stress.traction),
        "normal_traction_kPa": KILO * stress.normal,
        "pressure_kPa": KILO * stress.pressure,
        "wall_area_mm2": tooth.wall.area,
    }
    zone = tooth.wall.zones(corners.mean(axis=1), neutral_below=scenario.neutral_below)
    if scenario.pressure_limit is not None:
        pressure = stress.pressure.ravel()[closed_quads(*stress.pressure.shape)].mean(axis=1)
        zone = np.where(pressure > scenario.pressure_limit, OVERLOAD, zone)
    return _Sheet(point, zone.astype(np.int32), tooth.number, WALL)


@dataclass
class _Gathered:
    """Collect grids and a line into one mesh."""

    points: list[Array] = field(default_factory=list)
    fields: list[dict[str, Array]] = field(default_factory=list)
    quads: list[np.ndarray] = field(default_factory=list)
    lines: np.ndarray = field(default_factory=lambda: np.zeros((0, 2), dtype=int))
    cells: list[tuple[np.ndarray, int, int]] = field(default_factory=list)
    count: int = 0

    def sheet(self, points: Array, sheet: _Sheet) -> None:
        rows, columns = points.shape[:2]
        self.quads.append(self.count + closed_quads(rows, columns))
        self.cells.append((sheet.zone, sheet.tooth, sheet.part))
        self._add(points, sheet.point)

    def wire(self, points: Array) -> None:
        if len(points):
            first = self.count + np.arange(len(points) - 1)
            self.lines = np.stack([first, first + 1], axis=1)
            self._add(points, _unknown(np.full(points.shape, np.nan)))

    def _add(self, points: Array, values: dict[str, Array]) -> None:
        self.points.append(points.reshape(-1, 3))
        self.fields.append(values)
        self.count += points.size // 3

    def mesh(self) -> meshio.Mesh:
        names = self.fields[0]
        point_data = {
            name: np.concatenate(
                [f[name].reshape(len(p), -1) for f, p in zip(self.fields, self.points, strict=True)]
            ).squeeze()
            for name in names
        }
        blocks = [meshio.CellBlock("quad", np.concatenate(self.quads))]
        if len(self.lines):
            blocks.append(meshio.CellBlock("line", self.lines))
        mesh = meshio.Mesh(np.concatenate(self.points), list(blocks))
        mesh.point_data.update(point_data)
        for name in ("zone", "tooth", "part"):
            mesh.cell_data[name] = list(self._cell_field(name))
        return mesh

    def _cell_field(self, name: str) -> list[np.ndarray]:
        column = {
            "zone": lambda zone, tooth, part: zone,
            "tooth": lambda zone, tooth, part: np.full(len(zone), tooth),
            "part": lambda zone, tooth, part: np.full(len(zone), part),
        }[name]
        quads = np.concatenate([column(*cell) for cell in self.cells]).astype(np.int32)
        if not len(self.lines):
            return [quads]
        last = WIRE if name == "part" else 0
        return [quads, np.full(len(self.lines), last, dtype=np.int32)]
