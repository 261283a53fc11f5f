"""A measured three-point bending curve: force over deflection, loading then unloading.

The file is CSV with the header ``deflection_mm,force_N``; lines that start with # are skipped.
Points stand in the order of the test. A table of ``gomphosis bend`` is read as well: of its two
kinds of contact, the one with the wire's surface.
"""

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios import messages
from gomphosis.scenarios.bend_trial import MODES
from gomphosis.scenarios.refusal import listed, shown

COLUMNS = ("deflection_mm", "force_N")
CONTACT, SURFACE = "contact", "surface"
LEAST_POINTS = 12
MOST_POINTS = 100_000
JITTER = 0.01
"""Steps back in deflection that pass as noise of the test, over the peak deflection."""


class CurveError(ValueError):
    """A measured curve that cannot be used; its text is one line."""


class Fault(NamedTuple):
    """What is wrong with one point: its index, the column and value, and what would be right."""

    index: int
    column: str
    value: float
    problem: str
    accepted: str


@dataclass(frozen=True)
class MeasuredCurve:
    """Hold points of a test in their order.

    Parameters
    ----------
    deflection
        Travel of the indenter, mm, shape (m,): rising to one peak and, if unloading was measured,
        falling from there.
    force
        Of the indenter, N, shape (m,), positive on loading.
    name
        Of the file, for messages.

    Raises
    ------
    CurveError
        If there are too few points, or a point is out of order or not finite.
    """

    deflection: Array
    force: Array
    name: str = "curve"

    def __post_init__(self) -> None:
        if self.deflection.ndim != 1 or self.deflection.shape != self.force.shape:
            shapes = f"{self.deflection.shape} and {self.force.shape}"
            raise _error(self.name, f"has shapes {shapes}", "two columns of one length")
        if not LEAST_POINTS <= self.deflection.size <= MOST_POINTS:
            accepted = f"at least {LEAST_POINTS}, at most {MOST_POINTS}"
            raise _error(self.name, f"has {self.deflection.size} points", accepted)
        fault = _fault(self.deflection, self.force)
        if fault is not None:
            raise _at(self.name, f"point {fault.index + 1}", fault)

    @property
    def top(self) -> int:
        """Index of the first point of the largest deflection."""
        return int(np.argmax(self.deflection))

    @property
    def peak(self) -> float:
        """Largest deflection, mm."""
        return float(self.deflection[self.top])

    @property
    def unloads(self) -> bool:
        """Whether points after the peak come back from it by more than noise."""
        return bool(self.deflection[-1] < (1 - JITTER) * self.peak)


def read_curve(path: Path) -> MeasuredCurve:
    """Read a measured curve.

    Raises
    ------
    CurveError
        If the file cannot be read, or its columns, a number or the order of the points are wrong;
        one line that names the file, the line, the column and what would be accepted.
    """
    rows, lines = _read(path)
    points = np.array(rows, dtype=float).reshape(-1, len(COLUMNS))
    fault = _fault(points[:, 0], points[:, 1]) if rows else None
    if fault is not None:
        raise _at(path.name, f"line {lines[fault.index]}", fault)
    return MeasuredCurve(points[:, 0], points[:, 1], path.name)


def _read(path: Path) -> tuple[list[tuple[float, ...]], list[int]]:
    accepted = f"a CSV file with columns {','.join(COLUMNS)}"
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise _error(path.name, f"is not UTF-8 text (byte {error.start + 1})", accepted) from None
    except OSError as error:
        problem = f"cannot be read: {error.strerror or type(error).__name__}"
        raise _error(str(path), problem, accepted) from None
    rows, lines, header = [], [], ()
    # a skipped line still counts in line numbers
    reader = csv.reader("" if line.startswith("#") else line for line in text.splitlines())
    for row in reader:
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        where = f"line {reader.line_num}"
        if header:
            point = _point(header, cells, path.name, where)
            if point is not None:
                rows.append(_numbers(point, path.name, where))
                lines.append(reader.line_num)
        elif tuple(cells) == COLUMNS or tuple(cells[:3]) == (CONTACT, *COLUMNS):
            header = tuple(cells)
        else:
            problem = f"{where}: columns {shown(','.join(cells))}"
            raise _error(path.name, f"{problem} are not those of a curve", ",".join(COLUMNS))
    if not header:
        raise _error(path.name, "has no header", ",".join(COLUMNS))
    return rows, lines


def _point(header: tuple[str, ...], cells: list[str], name: str, where: str) -> list[str] | None:
    """Return a row's deflection and force, None if it is of the other kind of contact."""
    if len(cells) != len(header):
        problem = f"{where}: has {len(cells)} values"
        raise _error(name, problem, f"{len(header)}, as {','.join(header)}")
    if header == COLUMNS:
        return cells
    contact, *point = cells[:3]
    if contact not in MODES:
        accepted = listed(tuple(map(shown, MODES)))
        raise _error(name, f"{where}: {CONTACT} = {shown(contact)} is no kind of contact", accepted)
    return point if contact == SURFACE else None


def _numbers(cells: list[str], name: str, where: str) -> tuple[float, ...]:
    found = []
    for column, cell in zip(COLUMNS, cells, strict=True):
        try:
            found.append(float(cell))
        except ValueError:
            problem = f"{where}: {column} = {shown(cell)} is not a number"
            raise _error(name, problem, f"a number in {column.split('_')[1]}") from None
    return tuple(found)


def _fault(deflection: Array, force: Array) -> Fault | None:
    for column, values in zip(COLUMNS, (deflection, force), strict=True):
        bad = ~np.isfinite(values)
        if bad.any():
            index = int(np.argmax(bad))
            return Fault(index, column, float(values[index]), "is not finite", "a finite number")
    top = int(np.argmax(deflection))
    if not deflection[top] > 0.0:
        return Fault(top, COLUMNS[0], float(deflection[top]), "is the largest", "above 0 mm")
    low = int(np.argmin(deflection))
    if deflection[low] < 0.0:
        return Fault(low, COLUMNS[0], float(deflection[low]), "is below zero", "at least 0 mm")
    if not force[top] > 0.0:
        problem = "is no push at the largest deflection"
        return Fault(top, COLUMNS[1], float(force[top]), problem, "above 0 N")
    return _out_of_order(deflection, top)


def _out_of_order(deflection: Array, top: int) -> Fault | None:
    """Return the first point that goes back on loading, or forth on unloading, beyond noise."""
    there = np.maximum.accumulate(deflection[: top + 1]) - deflection[: top + 1]
    back = deflection[top:] - np.minimum.accumulate(deflection[top:])
    amiss = np.concatenate([there, back[1:]]) > JITTER * deflection[top]
    if not amiss.any():
        return None
    index = int(np.argmax(amiss))
    verb = "falls before the peak" if index <= top else "rises after the peak"
    accepted = "deflections that rise to one peak and fall from it"
    return Fault(index, COLUMNS[0], float(deflection[index]), verb, accepted)


def _at(name: str, where: str, fault: Fault) -> CurveError:
    problem = f"{where}: {fault.column} = {fault.value:g} {fault.problem}"
    return _error(name, problem, fault.accepted)


def _error(name: str, problem: str, accepted: str) -> CurveError:
    return CurveError(messages.line(name, problem, accepted))
