"""Outlines of teeth, sockets and wire for the film, in mm on the screen.

The arch is unrolled: every tooth is seen square to its own labial side, or from its own mesial
or distal side. The patient's right is on the viewer's left, and the upper jaw's crowns point down.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.bone.support import motion_at
from gomphosis.fem.section import Array
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult
from gomphosis.scenarios.schema import Section
from gomphosis.scenarios.surfaces import Placement, placement, wire_line
from gomphosis.scenarios.tooth_shape import ToothShape
from gomphosis.viz.film_layout import FRONT, SIDE
from gomphosis.viz.wall_map import screen_sense

LINE = StraightLine()  # unrolls the arch
BRACKET_BACK, BRACKET_FRONT = -1.4, 0.4  # mm labially of the middle of the slot
BRACKET_HALF = 1.3  # mm, half its height


@dataclass(frozen=True)
class Silhouette:
    """Outlines of one tooth in its own frame, for one direction of view.

    Parameters
    ----------
    tooth
        Whose outlines.
    side
        ``front`` or ``side``.
    bracket_width
        Length of the slot along the wire, mm.
    """

    tooth: ToothModel
    side: str
    bracket_width: float

    @cached_property
    def _half(self) -> tuple[Array, Array]:
        height, labial, mesial = ToothShape.of(self.tooth).half_widths()
        return height, labial if self.side == SIDE else mesial

    def _local(self, across: Array, height: Array) -> Array:
        """Place an outline in the plane of view."""
        level = np.zeros_like(across)
        parts = (across, level, height) if self.side == SIDE else (level, across, height)
        return np.stack(parts, axis=-1)

    @cached_property
    def body(self) -> Array:
        """Closed outline of the tooth, mm, shape (n, 3)."""
        height, half = self._half
        return self._local(
            np.concatenate([-half, half[::-1]]), np.concatenate([height, height[::-1]])
        )

    @cached_property
    def root(self) -> Array:
        """Closed outline of the part below the cervix, whose edge is curved, mm, shape (n, 3)."""
        height, half = self._half
        cervix = self.tooth.edge_height - self.tooth.anatomy.crown_length
        below = height <= cervix + 1e-9
        width = float(half[below][-1])
        arc = np.linspace(1.0, -1.0, 13)
        across = np.concatenate([-half[below][:-1], -width * arc, half[below][-2::-1]])
        up = cervix - 0.9 * (1 - arc**2)
        level = height[below]
        return self._local(across, np.concatenate([level[:-1], up, level[-2::-1]]))

    @cached_property
    def walls(self) -> tuple[Array, Array]:
        """The two sides of the socket, apex to crest, mm, shape (nodes, 3) each."""
        radius, height = self.tooth.support.wall.place.T
        return self._local(-radius, height), self._local(radius, height)

    @cached_property
    def wall_sectors(self) -> tuple[int, int]:
        """Sectors of the wall that the two sides stand for."""
        count = self.tooth.wall.sectors
        quarter = round(count / 4)
        return (count // 2, 0) if self.side == SIDE else (count - quarter, quarter)

    @cached_property
    def bracket(self) -> Array:
        """Outline of the bracket, mm, shape (4, 3)."""
        height = BRACKET_HALF * np.array([-1.0, -1.0, 1.0, 1.0])
        across = np.array([BRACKET_BACK, BRACKET_FRONT, BRACKET_FRONT, BRACKET_BACK])
        if self.side == FRONT:
            across = 0.5 * self.bracket_width * np.array([-1.0, 1.0, 1.0, -1.0])
        return self.tooth.on_slot(self._local(across, height))


@dataclass(frozen=True)
class Stage:
    """Turn tooth frames into the screen's mm, x to the right and y down.

    Parameters
    ----------
    side
        ``front`` or ``side``.
    factor
        By which movements are enlarged.
    """

    side: str
    factor: int

    def place(self, tooth: ToothModel, pose: Array) -> Placement:
        """Return where a tooth is drawn."""
        return placement(tooth, self.factor * pose, LINE)

    def flat(self, tooth: ToothModel, points: Array) -> Array:
        """Return screen places of points of the unrolled arch, mm, shape (n, 2)."""
        sense = screen_sense(tooth.anatomy)
        across = sense * points[..., 1] if self.side == FRONT else points[..., 0]
        return np.stack([across, -sense * points[..., 2]], axis=-1)


def unrolled_wire(teeth: tuple[ToothModel, ...], case: CaseResult, record: int) -> Array:
    """Return the wire on the unrolled arch, mm, shape (m, 3); m = 0 without a wire.

    Arc length along the wire is laid out between the places of the first and the last slot.

    Parameters
    ----------
    teeth
        With their brackets where they are bonded at the record.
    """
    line = wire_line(case, record)
    if not len(line):
        return line
    poses = case.median.pose[record]
    ends = [
        teeth[k].place + (teeth[k].start + motion_at(teeth[k].slot) @ poses[k])[1] for k in (0, -1)
    ]
    step = np.linalg.norm(np.diff(line[:, :2], axis=0), axis=1)
    arc = np.concatenate([[0.0], np.cumsum(step)])
    along = ends[0] + arc / arc[-1] * (ends[1] - ends[0])
    return np.stack([np.full_like(along, teeth[0].slot[0]), along, line[:, 2]], axis=1)


def even(line: Array, count: int) -> Array:
    """Return a line at a number of points, even in their count."""
    at = np.linspace(0, len(line) - 1, count)
    index = np.arange(len(line))
    return np.stack([np.interp(at, index, part) for part in line.T], axis=1)


def wire_cut(section: Section, tooth: ToothModel, wire: Array) -> Array:
    """Return the outline of a wire that is cut at a tooth, mm, shape (n, 3).

    It is drawn upright: what twist there is within the play of a slot would not be seen.

    Parameters
    ----------
    section
        Of the wire.
    wire
        On the unrolled arch, as `unrolled_wire` gives it.
    """
    x, y, _ = LINE.point(np.array([tooth.place]))[0]
    height = float(np.interp(y, wire[:, 1], wire[:, 2]))
    if section.width is None:
        angle = np.linspace(0.0, 2 * np.pi, 25)[:-1]
        shape = 0.5 * section.height * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    else:
        corners = np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
        shape = 0.5 * corners * (section.width, section.height)
    level = np.full(len(shape), y)
    return np.stack([x + shape[:, 0], level, height + shape[:, 1]], axis=1)
