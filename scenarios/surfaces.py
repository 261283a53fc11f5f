"""Surfaces and lines of a run in the arch frame: teeth, socket walls, wire. For pictures only.

A tooth is placed by the slot: its aligned slot lies on the passive line of the acting wire (a
straight line where forces are prescribed), the start and the pose displace it, and the tooth
turns about it. The models add small rotations; here their sum is one rotation vector and the
rotation is finite, so that shapes stay undistorted. Displayed places of edge and apex therefore
differ from the tabulated ones by the second order in the rotation.

The slot that places a tooth is that of the start, so no tooth jumps where its bracket is bonded
anew; from then on the slot stands off the drawn wire by the second order in the rotation.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.bone.support import motion_at
from gomphosis.fem.section import Array
from gomphosis.scenarios.arch import PassiveLine, StraightLine, axes
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult
from gomphosis.scenarios.tooth_shape import ToothShape


@dataclass(frozen=True)
class Placement:
    """Carry points of one tooth's frame to the arch frame.

    Attributes
    ----------
    turn
        Rotation, shape (3, 3).
    shift
        Arch-frame place of the tooth frame's origin, mm, shape (3,).
    """

    turn: Array
    shift: Array

    def points(self, local: Array) -> Array:
        """Return points in the arch frame, mm, shape (..., 3)."""
        return local @ self.turn.T + self.shift

    def vectors(self, local: Array) -> Array:
        """Return turned vectors, shape (..., 3)."""
        return local @ self.turn.T


def placement(tooth: ToothModel, pose: Array, line: PassiveLine) -> Placement:
    """Return where a tooth stands.

    Parameters
    ----------
    pose
        From the start, about the crest, tooth frame, mm and rad, shape (6,).
    line
        On which the aligned slot lies.
    """
    place = np.array([tooth.place])
    frame = axes(float(line.direction(place)[0]))
    motion = tooth.start + motion_at(tooth.slot) @ pose
    turn = Rotation.from_rotvec(motion[3:]).as_matrix()
    at_slot = line.point(place)[0] + frame @ motion[:3]
    return Placement(frame @ turn, at_slot - frame @ turn @ tooth.slot)


def passive_line(case: CaseResult, record: int) -> PassiveLine:
    """Return the passive line of the wire that acts at a record of the median run."""
    if not case.wires:
        return StraightLine()
    return case.wires[int(case.median.period[record])].wire.shape.line


def tooth_placements(
    teeth: Sequence[ToothModel], case: CaseResult, record: int
) -> tuple[Placement, ...]:
    """Return where every loaded tooth stands at a record of the median run."""
    line = passive_line(case, record)
    poses = case.median.pose[record]
    return tuple(placement(t, p, line) for t, p in zip(teeth, poses, strict=True))


def wall_placements(
    teeth: Sequence[ToothModel], case: CaseResult, record: int
) -> tuple[Placement, ...]:
    """Return where every socket stands at a record of the median run: it follows the drift."""
    line = passive_line(case, record)
    drifts = case.median.drift[record]
    return tuple(placement(t, d, line) for t, d in zip(teeth, drifts, strict=True))


def start_placements(
    teeth: Sequence[ToothModel], case: CaseResult, record: int
) -> tuple[Placement, ...]:
    """Return the unloaded starts, on the passive line of the wire that acts at a record."""
    line = passive_line(case, record)
    return tuple(placement(tooth, np.zeros(6), line) for tooth in teeth)


def wire_line(case: CaseResult, record: int) -> Array:
    """Return the wire's centre line through the slots at a record of the median run.

    Returns
    -------
    Points in the arch frame, mm, shape (m, 3); m = 0 where forces are prescribed.
    """
    if not case.wires:
        return np.zeros((0, 3))
    return case.wires[int(case.median.period[record])].centre_line(case.median.pose[record])


def wall_points(tooth: ToothModel) -> Array:
    """Return the socket wall's samples in the tooth frame, mm, shape (nodes, sectors, 3)."""
    radius, height = tooth.support.wall.place.T
    angle = tooth.wall.angles
    return np.stack(
        [
            radius[:, None] * np.cos(angle),
            radius[:, None] * np.sin(angle),
            np.repeat(height[:, None], len(angle), axis=1),
        ],
        axis=-1,
    )


def wall_vectors(tooth: ToothModel, polar: Array) -> Array:
    """Turn (r, z, theta) components at the wall's samples into the tooth frame's x, y, z.

    Parameters
    ----------
    polar
        Shape (..., nodes, sectors, 3), any unit.
    """
    c, s = np.cos(tooth.wall.angles), np.sin(tooth.wall.angles)
    radial, axial, around = np.moveaxis(polar, -1, 0)
    return np.stack([radial * c - around * s, radial * s + around * c, axial], axis=-1)


def body_points(tooth: ToothModel, *, sectors: int = 32) -> Array:
    """Return a tooth's surface in its frame, apex to edge, mm, shape (rows, sectors, 3)."""
    return ToothShape.of(tooth).points(sectors)


def closed_quads(rows: int, columns: int) -> np.ndarray:
    """Return the cells of a grid that closes around its columns, shape (cells, 4).

    Points are counted along the columns first; cells run row by row.
    """
    row, column = np.meshgrid(np.arange(rows - 1), np.arange(columns), indexing="ij")
    following = (column + 1) % columns
    corners = [
        row * columns + column,
        row * columns + following,
        (row + 1) * columns + following,
        (row + 1) * columns + column,
    ]
    return np.stack([corner.ravel() for corner in corners], axis=1)
