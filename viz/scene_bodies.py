"""Shapes of the arch film in three dimensions, mm: crowns, roots, brackets, wire and arrows.

Whoever draws them, rendered or flat, takes them from here.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.surfaces import (
    Placement,
    body_points,
    closed_quads,
    start_placements,
    tooth_placements,
    wire_line,
)
from gomphosis.viz.elastic_coils import POINTS, THICKNESS, Coils, coil
from gomphosis.viz.film_views import BRACKET_BACK, BRACKET_FRONT, BRACKET_HALF, even

WIRE_POINTS = 96
SECTORS, THIN_SECTORS = 40, 14  # around a tooth; around wire and arrows
SHAFT, HEAD, HEAD_RADIUS = 0.26, 1.5, 0.66  # mm, of an arrow
CURL_RADIUS, CURL_POINTS = 2.9, 40  # mm; along the arc of a moment
BASE = 0.3  # mm, thickness of a bracket below its slot
# corners of a unit box, and its faces
CORNERS = np.stack(np.meshgrid([0, 1], [0, 1], [0, 1], indexing="ij"), axis=-1).reshape(-1, 3)
FACES = np.array(
    [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
)


@dataclass(frozen=True)
class Solid:
    """A surface of quadrilaterals.

    Attributes
    ----------
    points
        mm, shape (n, 3).
    cells
        Indices of corners, shape (m, 4).
    """

    points: Array
    cells: np.ndarray


@dataclass(frozen=True)
class ToothSolids:
    """Crown and root of one tooth in its frame.

    Attributes
    ----------
    crown_rows, root_rows
        As grids from the apex towards the edge, mm, shape (rows, sectors, 3).
    """

    crown_rows: Array
    root_rows: Array

    @classmethod
    def of(cls, tooth: ToothModel) -> "ToothSolids":
        """Return the shapes of a tooth."""
        surface = body_points(tooth, sectors=SECTORS)
        cervix = tooth.edge_height - tooth.anatomy.crown_length
        first = int(np.argmax(surface[:, 0, 2] >= cervix - 1e-9))
        return cls(surface[first:], surface[: first + 1])

    @property
    def crown(self) -> Solid:
        """Crown as a surface."""
        return closed(self.crown_rows)

    @property
    def root(self) -> Solid:
        """Root, and the neck above the bone, as a surface."""
        return closed(self.root_rows)


def closed(rows: Array) -> Solid:
    """Return the surface of rings of points, shape (rows, sectors, 3)."""
    return Solid(rows.reshape(-1, 3), closed_quads(*rows.shape[:2]))


def bracket(tooth: ToothModel, slot: tuple[float, float]) -> Solid:
    """Return a bracket in the tooth's frame: two bars beside the slot on a base.

    Parameters
    ----------
    slot
        Its height and width, mm.
    """
    gap, half = 0.5 * slot[0], 0.5 * slot[1]
    boxes = [
        ((BRACKET_BACK, -BRACKET_HALF), (-BASE, BRACKET_HALF)),
        ((-BASE, gap), (BRACKET_FRONT, BRACKET_HALF)),
        ((-BASE, -BRACKET_HALF), (BRACKET_FRONT, -gap)),
    ]
    points = []
    for (back, low), (front, high) in boxes:
        least, most = np.array([back, -half, low]), np.array([front, half, high])
        points.append(least + CORNERS * (most - least))
    cells = np.concatenate([FACES + 8 * k for k in range(len(boxes))])
    return Solid(tooth.on_slot(np.concatenate(points)), cells)


@dataclass(frozen=True)
class ArrowScale:
    """How forces and moments become arrows, the same over a whole film.

    Parameters
    ----------
    newton
        Length of an arrow, mm to a N.
    moment
        Angle of a curved arrow, rad to a N·mm.
    least
        Moment below which none is drawn, N·mm.
    """

    newton: float
    moment: float
    least: float


@dataclass(frozen=True)
class State:
    """Where everything stands at a record, in the arch frame.

    Attributes
    ----------
    teeth, starts
        Places of the teeth, now and at their unloaded start.
    brackets
        In the frames of their teeth, as they are bonded.
    slots
        mm, shape (teeth, 3).
    forces
        Arrows from the slots, mm, shape (teeth, 3).
    turns
        Axes of the curved arrows, as long as their angle in rad, shape (teeth, 3).
    wire
        Centre line, mm, shape (WIRE_POINTS, 3), or (0, 3) without a wire.
    coils
        Of every link of the elastics, mm, shape (links, POINTS, 3); a point where none is on.
    """

    teeth: tuple[Placement, ...]
    starts: tuple[Placement, ...]
    brackets: tuple[Solid, ...]
    slots: Array
    forces: Array
    turns: Array
    wire: Array
    coils: Array


@dataclass(frozen=True)
class Bodies:
    """Shapes and states of one case.

    Parameters
    ----------
    result, case
        A finished run and one of its cases.
    scale
        Of the arrows.
    """

    result: RunResult
    case: CaseResult
    scale: ArrowScale

    @cached_property
    def solids(self) -> tuple[ToothSolids, ...]:
        """Shapes of the teeth, in order."""
        return tuple(ToothSolids.of(tooth) for tooth in self.result.teeth)

    @cached_property
    def _brackets(self) -> tuple[tuple[Solid, ...], ...]:
        """Brackets of the teeth in every period."""
        slot = self.result.scenario.slot
        size = slot.height, slot.width
        return tuple(tuple(bracket(t, size) for t in teeth) for teeth in self.result.bonded)

    @cached_property
    def _loads(self) -> Array:
        """Force systems about the slots, shape (T, teeth, 6)."""
        return self.result.at_slots(self.case)

    def wire_radius(self, record: int) -> float:
        """Return half the mean of the acting wire's sides, mm; zero without a wire."""
        if not self.case.wires:
            return 0.0
        section = self.case.wires[int(self.case.median.period[record])].wire.section
        return 0.25 * (section.height + section.width)

    def state(self, record: int) -> State:
        """Return what stands where at a record of the median run."""
        teeth, period = self.result.teeth, int(self.case.median.period[record])
        slots = [tooth.slot for tooth in self.result.bonded[period]]
        here = tooth_placements(teeth, self.case, record)
        loads = self._loads[record]
        arrows = [p.vectors(load.reshape(2, 3)) for p, load in zip(here, loads, strict=True)]
        line = wire_line(self.case, record)
        size = np.linalg.norm(loads[:, 3:], axis=1)
        shown = (size >= self.scale.least)[:, None]
        return State(
            here,
            start_placements(teeth, self.case, record),
            self._brackets[period],
            np.stack([p.points(slot) for p, slot in zip(here, slots, strict=True)]),
            self.scale.newton * np.stack([force for force, _ in arrows]),
            self.scale.moment * shown * np.stack([moment for _, moment in arrows]),
            even(line, WIRE_POINTS) if len(line) else line,
            self._coils(here, period),
        )

    @cached_property
    def coils(self) -> Coils:
        """Links of the elastics."""
        return Coils(self.result)

    def _coils(self, here: tuple[Placement, ...], period: int) -> Array:
        if not self.coils.links:
            return np.zeros((0, POINTS, 3))
        hooks = [p.points(hook) for p, hook in zip(here, self.coils.hooks(period), strict=True)]
        ends = zip(self.coils.links, self.coils.acting(period), strict=True)
        return np.stack([coil(hooks[a], hooks[b if on else a]) for (_, a, b), on in ends])


def swept(path: Array, along: Array, radii: Array, side: Array) -> Array:
    """Return rings of points about a path, shape (n, THIN_SECTORS, 3).

    Parameters
    ----------
    path, along
        Points and unit tangents, shape (n, 3).
    radii
        Of the rings, mm, shape (n,).
    side
        A direction that no tangent has, shape (3,).
    """
    across = np.cross(side, along)
    across /= np.linalg.norm(across, axis=1)[:, None]
    other = np.cross(along, across)
    angle = 2 * np.pi * np.arange(THIN_SECTORS) / THIN_SECTORS
    spoke = across[:, None] * np.cos(angle)[:, None] + other[:, None] * np.sin(angle)[:, None]
    return path[:, None] + radii[:, None, None] * spoke


def aside(direction: Array) -> Array:
    """Return the coordinate axis farthest from a direction, shape (3,)."""
    return np.eye(3)[int(np.argmin(np.abs(direction)))]


def arrow_rows(tail: Array, vector: Array) -> Array:
    """Return a straight arrow as rings of points, the first at its tail and the last at its tip.

    Short arrows are thinner and smaller in every part; one of no length is a point.
    """
    length = float(np.linalg.norm(vector))
    if length < 1e-9:
        return np.broadcast_to(tail, (5, THIN_SECTORS, 3)).copy()
    unit = vector / length
    size = min(1.0, length / (2 * HEAD))
    reach = np.array([0.0, 0.0, length - size * HEAD, length - size * HEAD, length])
    radii = size * np.array([0.0, SHAFT, SHAFT, HEAD_RADIUS, 0.0])
    path = tail + reach[:, None] * unit
    return swept(path, np.broadcast_to(unit, (5, 3)), radii, aside(unit))


def curl_path(centre: Array, turn: Array) -> tuple[Array, Array]:
    """Return points and unit tangents along a curved arrow, its tip last, shape (n, 3) each.

    Parameters
    ----------
    turn
        Its axis, as long as its angle in rad; not zero.
    """
    angle = float(np.linalg.norm(turn))
    axis = turn / angle
    # from the side of the root or the crown, or, about the long axis, from the labial side
    towards = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    first = towards - (towards @ axis) * axis
    first /= np.linalg.norm(first)
    neck = angle - min(HEAD / CURL_RADIUS, 0.5 * angle)
    t = np.concatenate([np.linspace(0.0, neck, CURL_POINTS - 2), [neck, angle]])[:, None]
    second = np.cross(axis, first)
    path = centre + CURL_RADIUS * (np.cos(t) * first + np.sin(t) * second)
    return path, -np.sin(t) * first + np.cos(t) * second


def curl_rows(centre: Array, turn: Array) -> Array:
    """Return a curved arrow as rings of points, its tip last; a point where nothing turns."""
    angle = float(np.linalg.norm(turn))
    if angle < 1e-9:
        return np.broadcast_to(centre, (CURL_POINTS, THIN_SECTORS, 3)).copy()
    path, along = curl_path(centre, turn)
    size = min(1.0, angle * CURL_RADIUS / (2 * HEAD))
    radii = np.full(CURL_POINTS, size * 0.8 * SHAFT)
    radii[-2:] = size * HEAD_RADIUS, 0.0
    return swept(path, along, radii, turn / angle)


def coil_rows(line: Array) -> Array:
    """Return a coil as rings of points about its line; a point where none is on."""
    if not np.any(line[-1] - line[0]):
        return np.broadcast_to(line[0], (len(line), THIN_SECTORS, 3)).copy()
    return wire_rows(line, THICKNESS)


def wire_rows(line: Array, radius: float) -> Array:
    """Return a wire as rings of points about its centre line."""
    along = np.gradient(line, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    return swept(line, along, np.full(len(line), radius), np.array([0.0, 0.0, 1.0]))
