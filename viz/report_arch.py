"""Teeth, sockets, wire and forces of a report: seen from the front and from above, mm.

From the front the arch is unrolled, as in the film; a single tooth that is pushed labially or
lingually is seen from its side instead, where that shows. From above the teeth stand in the arch,
the patient's right on the viewer's left.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

import numpy as np

from gomphosis.bone.wall import OVERLOAD
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.surfaces import (
    Placement,
    start_placements,
    tooth_placements,
    wire_line,
)
from gomphosis.scenarios.vtu import KILO
from gomphosis.viz.above import around, crown_points, from_above
from gomphosis.viz.film_layout import FRONT, seen_from
from gomphosis.viz.film_views import Silhouette, Stage, even, unrolled_wire
from gomphosis.viz.report_packing import Packing

PLACE, TRACTION, MOVED = 0.01, 0.01, 0.001  # mm, kPa, mm: last digit of each that is kept
SHARE, MOMENT = 0.001, 0.01  # of the largest force, N·mm
TOWARDS_APEX = np.array([0.0, 0.0, -1.0])  # tooth frame
WIRE_POINTS = 96


@dataclass(frozen=True)
class ArchScene:
    """Draw the teeth of one case at some records of its median run.

    Parameters
    ----------
    result, case
        A finished run and one of its cases.
    records
        Indices into its days, shape (S,).
    largest_force
        Length 1 of an arrow, N.
    """

    result: RunResult
    case: CaseResult
    records: np.ndarray
    largest_force: float

    def document(self, packing: Packing) -> dict[str, Any]:
        """Return all drawings of the case, arrays packed."""
        drawn = [self._tooth(packing, k, tooth) for k, tooth in enumerate(self.result.teeth)]
        found: dict[str, Any] = {"seen": self.seen, "teeth": drawn}
        if self.case.wires:
            front = [
                self._stage.flat(self.result.teeth[0], unrolled_wire(teeth, self.case, r))
                for r, teeth in zip(self.records, self._bonded, strict=True)
            ]
            above = [self._from_above(wire_line(self.case, int(r))) for r in self.records]
            for name, lines in (("wire_front", front), ("wire_above", above)):
                found[name] = packing.add(
                    np.stack([even(line, WIRE_POINTS) for line in lines]), step=PLACE
                )
        return found

    @cached_property
    def seen(self) -> str:
        """Whether the first view is from the ``front`` or from the ``side``."""
        # teeth seen from the side would hide each other
        return seen_from(self.result, self.case) if len(self.result.teeth) == 1 else FRONT

    @cached_property
    def _stage(self) -> Stage:
        return Stage(self.seen, 1)

    @cached_property
    def _bonded(self) -> list[tuple[ToothModel, ...]]:
        """Teeth with their brackets where they are bonded at every record."""
        return [self.result.teeth_at(self.case, int(r)) for r in self.records]

    @cached_property
    def _at_slots(self) -> Array:
        """Force systems about the slots, shape (S, teeth, 6)."""
        return self.result.at_slots(self.case)[self.records]

    @cached_property
    def _placements(self) -> list[tuple[Placement, ...]]:
        return [tooth_placements(self.result.teeth, self.case, int(r)) for r in self.records]

    @cached_property
    def _starts(self) -> list[tuple[Placement, ...]]:
        return [start_placements(self.result.teeth, self.case, int(r)) for r in self.records]

    def _from_above(self, points: Array) -> Array:
        """Return screen places, x right and y down, of points of the arch frame, (..., 2)."""
        return from_above(self.result.teeth[0].anatomy, points)

    def _tooth(self, packing: Packing, k: int, tooth: ToothModel) -> dict[str, Any]:
        width = self.result.scenario.slot.width
        shape = Silhouette(tooth, self.seen, width)
        brackets = [Silhouette(teeth[k], self.seen, width).bracket for teeth in self._bonded]
        track, stage = self.case.median, self._stage
        poses = track.pose[self.records, k]
        placed = [stage.place(tooth, pose) for pose in poses]
        outlines = {
            name: np.stack(
                [stage.flat(tooth, p.points(own)) for p, own in zip(placed, local, strict=True)]
            )
            for name, local in (
                ("body", len(placed) * [shape.body]),
                ("root", len(placed) * [shape.root]),
                ("bracket", brackets),
            )
        }
        document: dict[str, Any] = {
            name: packing.add(outline, step=PLACE) for name, outline in outlines.items()
        }
        start = stage.place(tooth, np.zeros(6))
        document["start"] = packing.add(stage.flat(tooth, start.points(shape.body)), step=PLACE)
        moved = np.stack([p.points(shape.body) - start.points(shape.body) for p in placed])
        document["moved"] = packing.add(np.linalg.norm(moved, axis=-1), step=MOVED)
        document |= self._walls(packing, k, tooth, shape)
        document |= self._above(packing, k, tooth)
        document |= self._loads(packing, k, tooth, placed)
        document["axis"] = packing.add(self._axis(tooth, placed), step=SHARE)
        return document

    def _walls(
        self, packing: Packing, k: int, tooth: ToothModel, shape: Silhouette
    ) -> dict[str, Any]:
        track, stage = self.case.median, self._stage
        sockets = [stage.place(tooth, drift) for drift in track.drift[self.records, k]]
        places = [
            np.stack([stage.flat(tooth, s.points(wall)) for s in sockets]) for wall in shape.walls
        ]
        stress = tooth.wall.stress(track.wrench[self.records, k])
        sides = list(shape.wall_sectors)
        normal = np.moveaxis(stress.normal[:, :, sides], 2, 1)
        pressure = np.moveaxis(stress.pressure[:, :, sides], 2, 1)
        zone = tooth.wall.zones(normal, neutral_below=self.result.scenario.neutral_below)
        if self.result.scenario.pressure_limit is not None:
            zone = np.where(pressure > self.result.scenario.pressure_limit, OVERLOAD, zone)
        return {
            "wall": packing.add(np.stack(places, axis=1), step=PLACE),
            "normal": packing.add(KILO * normal, step=TRACTION),
            "zone": packing.add(zone),
        }

    def _above(self, packing: Packing, k: int, tooth: ToothModel) -> dict[str, Any]:
        crown = crown_points(tooth)
        placed, starts = self._placements, self._starts
        hulls = [around(self._from_above(p[k].points(crown))) for p in placed]
        moved = [
            np.linalg.norm(p[k].points(crown) - s[k].points(crown), axis=-1)
            for p, s in zip(placed, starts, strict=True)
        ]
        chosen = [h for _, h in hulls]
        return {
            "above": packing.add(np.stack([points for points, _ in hulls]), step=PLACE),
            "above_start": packing.add(
                np.stack([around(self._from_above(s[k].points(crown)))[0] for s in starts]),
                step=PLACE,
            ),
            "above_moved": packing.add(
                np.stack([m[index] for m, index in zip(moved, chosen, strict=True)]), step=MOVED
            ),
        }

    def _axis(self, tooth: ToothModel, placed: list[Placement]) -> Array:
        """Return the crest's place on the long axis and the step of 1 mm to the apex, (S, 2, 2)."""
        ends = np.stack([np.zeros(3), TOWARDS_APEX])
        seen = np.stack([self._stage.flat(tooth, p.points(ends)) for p in placed])
        return np.stack([seen[:, 0], seen[:, 1] - seen[:, 0]], axis=1)

    def _loads(
        self, packing: Packing, k: int, tooth: ToothModel, placed: list[Placement]
    ) -> dict[str, Any]:
        """Return force and moment at the slot as each picture shows them."""
        slots = [teeth[k].slot for teeth in self._bonded]
        found: dict[str, Any] = {}
        for name, places, flat in (
            ("front", placed, partial(self._stage.flat, tooth)),
            ("above", [p[k] for p in self._placements], self._from_above),
        ):
            arrows, moments = [], []
            for here, own, load in zip(places, slots, self._at_slots[:, k], strict=True):
                slot = here.points(own)
                force = here.vectors(load[:3]) / self.largest_force
                ends = flat(np.stack([slot, slot + force]))
                arrows.append([ends[0], ends[1] - ends[0]])
                moments.append([here.vectors(load[3:]) @ _into_screen(flat)])
            found[f"force_{name}"] = packing.add(np.array(arrows), step=SHARE)
            found[f"moment_{name}"] = packing.add(np.array(moments), step=MOMENT)
        return found


def _into_screen(flat: Callable[[Array], Array]) -> Array:
    """Return the axis about which things turn clockwise in a picture, shape (3,)."""
    right, down = flat(np.eye(3)).T
    return np.cross(right, down)
