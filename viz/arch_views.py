"""Teeth, wire and loads of one moment, projected onto a plane of view, mm.

Three views: from the front, with the arch unrolled; from the side, one tooth beside the other; and
from the biting side, with the teeth in the arch.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.bone.directions import from_trade
from gomphosis.fem.section import Array
from gomphosis.scenarios.history import ToothHistory
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.surfaces import Placement, tooth_placements, wire_line
from gomphosis.viz import palette
from gomphosis.viz.above import around, crown_points, from_above
from gomphosis.viz.film_layout import SIDE
from gomphosis.viz.film_views import Silhouette, Stage, unrolled_wire

ABOVE = "above"
PITCH = 17.0  # mm from tooth to tooth, seen from the side
Outline = tuple[Array, str]


@dataclass(frozen=True)
class ArchView:
    """Project one record of a case's median run.

    Parameters
    ----------
    result, case, record
        What, and when.
    kind
        ``front``, ``side`` or ``above``.
    teeth
        Indices of those shown.
    """

    result: RunResult
    case: CaseResult
    record: int
    kind: str
    teeth: tuple[int, ...]

    @cached_property
    def _placed(self) -> tuple[Placement, ...]:
        if self.kind == ABOVE:
            return tooth_placements(self.result.teeth, self.case, self.record)
        poses = self.case.median.pose[self.record]
        stage = Stage(self.kind, 1)
        return tuple(stage.place(t, p) for t, p in zip(self.result.teeth, poses, strict=True))

    @cached_property
    def _bonded(self) -> tuple[ToothModel, ...]:
        """The teeth with their brackets where they are bonded at the record."""
        return self.result.teeth_at(self.case, self.record)

    def _flat(self, k: int, points: Array) -> Array:
        """Return screen directions, x right and y up, of vectors of the arch frame, (..., 2)."""
        tooth = self.result.teeth[k]
        if self.kind == ABOVE:
            flat = from_above(tooth.anatomy, points)
        else:
            flat = Stage(self.kind, 1).flat(tooth, points)
        return flat * (1.0, -1.0)

    def _shown(self, k: int, points: Array) -> Array:
        apart = PITCH * self.teeth.index(k) if self.kind == SIDE else 0.0
        return self._flat(k, points) + np.array([apart, 0.0])

    def points(self, k: int, local: Array) -> Array:
        """Return screen places of points of a tooth's frame, x right and y up, mm, (..., 2)."""
        return self._shown(k, self._placed[k].points(local))

    def slot(self, k: int) -> Array:
        """Return the screen place of the centre of a tooth's slot, mm, shape (2,)."""
        return self.points(k, self._bonded[k].slot)

    def load(self, k: int, history: ToothHistory) -> tuple[Array, float]:
        """Return the force on a bracket in the plane of view, N, and the moment, N·mm.

        Returns
        -------
        Force to the right and up, shape (2,), and moment about the line of sight,
        anticlockwise positive.
        """
        local = from_trade(history.number, history.at_bracket[self.record])
        placed = self._placed[k]
        right, up = self._flat(k, np.eye(3)).T
        moment = placed.vectors(local[3:]) @ np.cross(right, up)
        return self._flat(k, placed.vectors(local[:3])), float(moment)

    def outlines(self, k: int) -> list[Outline]:
        """Return closed outlines of a tooth, mm, shape (n, 2) each, with their fill."""
        tooth = self._bonded[k]
        if self.kind == ABOVE:
            crown, _ = around(self.points(k, crown_points(tooth)))
            return [(crown, palette.TOOTH)]
        shape = Silhouette(tooth, self.kind, self.result.scenario.slot.width)
        parts = (
            (shape.body, palette.TOOTH),
            (shape.root, palette.ROOT),
            (shape.bracket, palette.RULE),
        )
        return [(self.points(k, local), fill) for local, fill in parts]

    @cached_property
    def wire(self) -> Array:
        """The wire, mm, shape (m, 2); m = 0 without one, and from the side, where it is a dot."""
        if not self.case.wires or self.kind == SIDE:
            return np.zeros((0, 2))
        if self.kind == ABOVE:
            return self._flat(0, wire_line(self.case, self.record))
        return self._flat(0, unrolled_wire(self._bonded, self.case, self.record))

    def extent(self) -> tuple[Array, Array]:
        """Return the lowest and highest place of teeth and wire, mm, shape (2,) each."""
        every = [points for k in self.teeth for points, _ in self.outlines(k)]
        every = np.concatenate([*every, self.wire])
        return every.min(axis=0), every.max(axis=0)
