"""A user's outlines of root, bone and plates in a slice, from a table of points.

The table is CSV with the header ``part,x_mm,z_mm``; lines that start with # are skipped. Parts:

- ``root``: the root's outer surface; above the bone it may go on round the crown or be cut off;
- ``bone``: the outer surface of the alveolar bone, straight across the mouth of the socket;
- ``<side>_plate``, such as ``labial_plate``: dense bone, inside ``bone``; none is required.

x points to the labial (or mesial) side, z roughly from apex to crown; any origin. The points of a
part stand in order and the last repeats the first. The crest is where root and bone cross.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from gomphosis.bone.outline import checked_outline
from gomphosis.bone.slice_polygon import counter_clockwise, crossings, outside_by
from gomphosis.bone.slice_root import RootOutline
from gomphosis.fem.section import Array

COLUMNS = ("part", "x_mm", "z_mm")
PLATES = ("labial_plate", "lingual_plate", "mesial_plate", "distal_plate")
SAMPLES = 3001
MARGIN = 0.1  # a plate traced along the bone's surface may stand out by this much, mm
ROUNDING = 1e-9  # a crest at a point of the root may miss the bone by this much, mm


@dataclass(frozen=True)
class SliceOutline:
    """Hold checked outlines in the tooth frame: origin mid-crest, apex at x = 0.

    Attributes
    ----------
    surface
        Embedded root, a smooth curve through the given points.
    root, bone
        Closed outlines, counter-clockwise, mm, shape (2, n), the first point not repeated.
    plates
        Closed outlines by part.
    notes
        What was changed on the way, in words, to be told to the user.
    """

    surface: RootOutline
    root: Array
    bone: Array
    plates: Mapping[str, Array]
    notes: tuple[str, ...]

    @property
    def half_width(self) -> float:
        """Half width of the root at the crest along x, mm."""
        return float(self.surface.points[0, -1])


def read_slice_outline(path: Path) -> SliceOutline:
    """Read a table of outlines and check it.

    Raises
    ------
    ValueError
        If the header, a number or a part is wrong (naming the file and the line), or as
        `slice_outline` (naming the file, the point of the part and its place).
    """
    return slice_outline(_read_parts(path), path.name)


def slice_outline(parts: Mapping[str, Array], name: str = "outline") -> SliceOutline:
    """Check outlines, turn them into the tooth frame and smooth the embedded root.

    Parameters
    ----------
    parts
        Points (x, z) in mm, shape (2, n), of each part; the last repeats the first.
    name
        Of the file, for messages.

    Raises
    ------
    ValueError
        If root or bone is missing; an outline is open or crosses itself; root and bone do not
        cross at two crest points; the embedded root is not inside the bone; a plate is not; or
        the root is so bent that it leaves its own long axis.
    """
    missing = [part for part in ("root", "bone") if part not in parts]
    if missing:
        raise ValueError(f"{name}: no part {missing[0]}; it has {', '.join(parts) or 'none'}")
    turned = {part: _closed(points, f"{name}: {part}") for part, points in parts.items()}
    closed = {part: outline for part, (outline, _) in turned.items()}
    notes = [note for _, note in turned.values() if note]
    root, bone = closed["root"], closed["bone"]
    embedded = _embedded(root, bone, name)
    plates = {part: points for part, points in closed.items() if part in PLATES}
    for part, points in plates.items():
        _check_inside(points, bone, f"{name}: {part}", margin=MARGIN)
    frame = _Frame.of(embedded)
    notes += [f"{name}: {note}" for note in frame.notes()]
    return SliceOutline(
        frame.surface(name),
        frame.placed(root),
        frame.placed(bone),
        {part: frame.placed(points) for part, points in plates.items()},
        tuple(notes),
    )


def _read_parts(path: Path) -> dict[str, Array]:
    found: dict[str, list[tuple[float, float]]] = {}
    headed = False
    with path.open(newline="", encoding="utf-8-sig") as file:
        # a skipped line still counts in line numbers
        rows = csv.reader("\n" if line.startswith("#") else line for line in file)
        for row in rows:
            cells = [cell.strip() for cell in row]
            where = f"{path.name}: line {rows.line_num}"
            if any(cells) and headed:
                part, place = _read_row(cells, where)
                found.setdefault(part, []).append(place)
            elif any(cells):
                headed = True
                if tuple(cells) != COLUMNS:
                    raise ValueError(f"{where}: expected columns {','.join(COLUMNS)}, got {row}")
    return {part: np.array(places).T for part, places in found.items()}


def _read_row(cells: list[str], where: str) -> tuple[str, tuple[float, float]]:
    if len(cells) != len(COLUMNS):
        raise ValueError(f"{where}: expected 3 values, got {len(cells)}")
    known = ("root", "bone", *PLATES)
    if cells[0] not in known:
        raise ValueError(f"{where}: unknown part {cells[0]!r}, expected one of {', '.join(known)}")
    try:
        x, z = float(cells[1]), float(cells[2])
    except ValueError as error:
        raise ValueError(f"{where}: {cells[1]!r}, {cells[2]!r} are not numbers in mm") from error
    if not np.isfinite([x, z]).all():
        raise ValueError(f"{where}: {cells[1]}, {cells[2]} are not finite")
    return cells[0], (x, z)


def _closed(points: Array, name: str) -> tuple[Array, str | None]:
    """Return a closed outline, counter-clockwise, and what had to be done for that."""
    gap = float(np.linalg.norm(points[:, -1] - points[:, 0]))
    if points.shape[1] < 4 or gap > 1e-6:
        raise ValueError(
            f"{name}: the outline is open: point {points.shape[1]} at {_at(points[:, -1])} is "
            f"{gap:.3g} mm from point 1 at {_at(points[:, 0])}; end with the first point"
        )
    corners = checked_outline(points[:, :-1], name)
    outline, was_clockwise = counter_clockwise(corners)
    note = f"{name}: points ran clockwise and were reversed" if was_clockwise else None
    return outline, note


def _embedded(root: Array, bone: Array, name: str) -> Array:
    """Return the root from its left crossing with the bone round the apex to the right one."""
    where, places = crossings(root, bone)
    if len(where) < 2:
        state = "inside" if outside_by(root, bone).max() <= 0 else "outside"
        raise ValueError(
            f"{name}: no crest found: root and bone cross {len(where)} times, expected 2 (root "
            f"point 1 at {_at(root[:, 0])}, all {state} the bone)"
        )
    if len(where) > 2:
        found = "; ".join(_at(place) for place in places.T)
        raise ValueError(
            f"{name}: root leaves the bone below the crest: they cross {len(where)} times, "
            f"expected 2: {found}"
        )
    _check_mouth(root, bone, places, name)
    left, right = np.argsort(places[0])
    count = root.shape[1]
    first, last = int(where[left]) + 1, int(where[right]) + 1
    inside = root[:, (first + np.arange((last - first) % count)) % count]
    if inside.shape[1] < 3:
        raise ValueError(f"{name}: root has {inside.shape[1]} points in bone, expected 3 or more")
    _check_inside(inside, bone, f"{name}: embedded root", margin=ROUNDING)
    return np.concatenate([places[:, [left]], inside, places[:, [right]]], axis=1)


def _check_mouth(root: Array, bone: Array, crest: Array, name: str) -> None:
    mouth = crest[:, 1] - crest[:, 0]
    gap = bone - crest[:, [0]]
    width = float(np.linalg.norm(mouth))
    away = np.abs(mouth[0] * gap[1] - mouth[1] * gap[0]) / width
    wrong = (outside_by(bone, root) < 0.0) & (away > 0.5 * width)
    if wrong.any():
        bad = int(np.argmax(wrong * away))
        raise ValueError(
            f"{name}: bone: point {bad + 1} at {_at(bone[:, bad])} lies inside the root, "
            f"{away[bad]:.3g} mm from the line between the crest points; draw the bone straight "
            "across the mouth of the socket and outside the root"
        )


def _check_inside(points: Array, bone: Array, name: str, *, margin: float) -> None:
    excess = outside_by(points, bone)
    worst = int(np.argmax(excess))
    if excess[worst] > margin:
        raise ValueError(
            f"{name}: point {worst + 1} at {_at(points[:, worst])} lies {excess[worst]:.3g} mm "
            "outside the bone"
        )


@dataclass(frozen=True)
class _Frame:
    """Hold the embedded root as the file has it, and how that lies in the tooth frame."""

    points: Array
    normals: Array
    origin: Array  # mid-crest
    apex: int  # the sample farthest from the origin
    turn: Array  # rows: x and z of the tooth frame

    @classmethod
    def of(cls, embedded: Array) -> "_Frame":
        points, normals = _smooth(embedded)
        origin = 0.5 * (points[:, 0] + points[:, -1])
        away = np.linalg.norm(points - origin[:, None], axis=0)
        apex = int(np.argmax(away))
        down = (points[:, apex] - origin) / away[apex]
        turn = np.array([[-down[1], down[0]], [-down[0], -down[1]]])
        return cls(points, normals, origin, apex, turn)

    def placed(self, outline: Array) -> Array:
        return self.turn @ (outline - self.origin[:, None])

    def notes(self) -> list[str]:
        found = []
        angle = float(np.degrees(np.arctan2(self.turn[1, 0], self.turn[1, 1])))
        if abs(angle) > 1e-6:
            found.append(f"turned by {angle:.3g} degrees to stand the long axis upright")
        if np.abs(self.origin).max() > 1e-9:
            place = _at(np.round(self.origin, 9) + 0.0)
            found.append(f"moved the middle of the crest, {place}, to the origin")
        return found

    def surface(self, name: str) -> RootOutline:
        points = self.placed(self.points)
        # exact but for rounding
        points[0, self.apex] = 0.0
        points[:, 0] = -points[:, -1]
        try:
            return RootOutline(points, self.turn @ self.normals, self.apex)
        except ValueError as error:
            raise ValueError(f"{name}: {error} (tooth frame)") from error


def _smooth(points: Array) -> tuple[Array, Array]:
    """Return samples and outward normals of a cubic spline through points, in their order."""
    steps = np.linalg.norm(np.diff(points, axis=1), axis=0)
    keep = np.concatenate([[True], steps > 1e-9])
    # square roots of the steps keep the curve close to its polygon where spacing is uneven
    knots = np.concatenate([[0.0], np.cumsum(np.sqrt(steps[keep[1:]]))])
    curve = CubicSpline(knots, points[:, keep], axis=1, bc_type="natural")
    parameter = np.linspace(0.0, knots[-1], SAMPLES)
    tangent = curve(parameter, 1)
    tangent /= np.linalg.norm(tangent, axis=0)
    return curve(parameter), np.stack([tangent[1], -tangent[0]])


def _at(place: Array) -> str:
    return f"x = {place[0]:.4g}, z = {place[1]:.4g} mm"
