"""Where the panels of the arch film stand, and from where each looks at the arch.

Every panel looks straight along one direction, without perspective, and keeps its place and scale
over the whole film. The patient's right is on the viewer's left, and from above the crowns point
towards the viewer.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.arch import axes, places
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.surfaces import passive_line
from gomphosis.viz.film_curve import STEPS
from gomphosis.viz.film_layout import (
    CAPTION,
    FOOT,
    FRONT,
    HEAD,
    MARGIN,
    SIDE,
    Box,
    most_loaded,
    seen_from,
)
from gomphosis.viz.scene_bodies import ArrowScale, Bodies, State, arrow_rows, curl_rows
from gomphosis.viz.wall_map import screen_sense

WIDTH, HEIGHT = 1280, 720  # px
BODY = HEIGHT - HEAD - CAPTION - FOOT  # px, height between head and caption
CURVES = 296  # px, width of the curves beside the panels of a single case
GAP, EDGE = 12, 26.0  # px between panels; inside a panel, where labels stand
UNDER = 30.0  # px at the bottom of panels, for the scale bars
MOST_CASES = 6
HEADING, CURVE = 22, 132  # px, above and below the panel of one of several cases
LONGEST, FULL = 6.5, 1.5 * np.pi  # mm, rad: arrow of the largest force, of the largest moment
LEAST_FORCE, LEAST_MOMENT = 0.01, 0.1  # N, N·mm, least reach of the scales
LEAST_SHOWN = 0.05  # share of the largest moment below which none is drawn
ABOVE = "biting side"
OUTSIDE = "from outside"


@dataclass(frozen=True)
class Sight:
    """A direction of view.

    Attributes
    ----------
    name
        What it is called.
    right, up
        Unit vectors of the arch frame that point right and up on the screen, shape (3,).
    """

    name: str
    right: Array
    up: Array

    @property
    def toward(self) -> Array:
        """Unit vector towards the viewer, shape (3,)."""
        return np.cross(self.right, self.up)

    def flat(self, points: Array) -> Array:
        """Return screen places, x right and y down, mm, shape (..., 2)."""
        return np.stack([points @ self.right, -points @ self.up], axis=-1)


def sight(teeth: tuple[ToothModel, ...], case: CaseResult, name: str) -> Sight:
    """Return a direction of view by its name: front, side or from above.

    Teeth of one side of the arch are seen from outside it instead of from the front.
    """
    up = screen_sense(teeth[0].anatomy) * np.array([0.0, 0.0, 1.0])
    if name == SIDE:
        return Sight(SIDE, np.array([1.0, 0.0, 0.0]), up)
    across = screen_sense(teeth[0].anatomy) * np.array([0.0, 1.0, 0.0])
    if name == ABOVE:
        return Sight(ABOVE, across, np.cross([0.0, 0.0, 1.0], across))
    along = places([tooth.anatomy for tooth in teeth])
    if along.min() < 0 < along.max():
        return Sight(FRONT, across, up)
    angle = float(passive_line(case, 0).direction(np.array([along.mean()]))[0])
    if angle == 0.0:
        return Sight(FRONT, across, up)
    return Sight(OUTSIDE, np.cross(up, axes(angle)[:, 0]), up)


@dataclass(frozen=True)
class Panel:
    """One view of teeth of one case.

    Attributes
    ----------
    case
        Index of the case.
    teeth
        Indices of the teeth.
    sight
        From where.
    box
        In the frame.
    middle
        Screen place in the middle of the box, mm, shape (2,).
    """

    case: int
    teeth: tuple[int, ...]
    sight: Sight
    box: Box
    middle: Array

    def pixels(self, points: Array, scale: float) -> Array:
        """Return places in the frame, px, of points of the arch frame, shape (..., 2)."""
        centre = (
            self.box.left + 0.5 * self.box.width,
            self.box.top + 0.5 * (self.box.height - UNDER),
        )
        return np.array(centre) + scale * (self.sight.flat(points) - self.middle)


@dataclass(frozen=True)
class Stand:
    """Panels of a run and what is in them.

    Parameters
    ----------
    result
        A finished run.
    records
        Of the film, which the panels are framed on.
    """

    result: RunResult
    records: tuple[int, ...]

    @cached_property
    def cases(self) -> tuple[CaseResult, ...]:
        """Cases that are shown."""
        return self.result.cases[:MOST_CASES]

    @cached_property
    def loads(self) -> Array:
        """Force systems about the slots, N and N·mm, shape (cases, run's records, teeth, 6)."""
        return np.stack([self.result.at_slots(case) for case in self.cases])

    @cached_property
    def arrows(self) -> ArrowScale:
        """Scale of all arrows: that of the largest force and moment of the shown cases."""
        loads = self.loads
        force = max(LEAST_FORCE, float(np.linalg.norm(loads[..., :3], axis=-1).max()))
        moment = max(LEAST_MOMENT, float(np.linalg.norm(loads[..., 3:], axis=-1).max()))
        return ArrowScale(LONGEST / force, FULL / moment, LEAST_SHOWN * moment)

    @property
    def bar(self) -> float:
        """Force of the scale bar, N: 1, 2 or 5 times a power of ten, not above the largest."""
        largest = LONGEST / self.arrows.newton
        power = 10.0 ** np.floor(np.log10(largest) + 1e-9)
        return float(power * STEPS[np.searchsorted(STEPS, largest / power + 1e-9, "right") - 1])

    @cached_property
    def bodies(self) -> tuple[Bodies, ...]:
        """Shapes and states of the shown cases."""
        return tuple(Bodies(self.result, case, self.arrows) for case in self.cases)

    @cached_property
    def states(self) -> tuple[dict[int, State], ...]:
        """States of the shown cases at the film's records."""
        return tuple({r: bodies.state(r) for r in self.records} for bodies in self.bodies)

    @property
    def turning(self) -> bool:
        """Whether any moment is drawn."""
        return any(np.any(state.turns) for states in self.states for state in states.values())

    @cached_property
    def panels(self) -> tuple[Panel, ...]:
        """All panels, from left to right and down."""
        return self._framed[0]

    @property
    def scale(self) -> float:
        """Px to a mm, the same in every panel."""
        return self._framed[1]

    @cached_property
    def _framed(self) -> tuple[tuple[Panel, ...], float]:
        views = self._views()
        reaches = [self._reach(*view) for view in views]
        sizes = np.array([high - low for low, high in reaches])
        boxes, scale = self._placed(sizes)
        panels = tuple(
            Panel(*view, box, 0.5 * (low + high))
            for view, box, (low, high) in zip(views, boxes, reaches, strict=True)
        )
        return panels, scale

    def _views(self) -> list[tuple[int, tuple[int, ...], Sight]]:
        """Return case, teeth and direction of view of every panel."""
        teeth = self.result.teeth
        everyone = tuple(range(len(teeth)))
        if len(self.cases) == 1:
            case = self.cases[0]
            first = seen_from(self.result, case) if len(teeth) == 1 else FRONT
            return [(0, everyone, sight(teeth, case, name)) for name in (first, ABOVE)]
        found = []
        for k, case in enumerate(self.cases):
            name = seen_from(self.result, case)
            shown = (most_loaded(case),) if name == SIDE else everyone
            found.append((k, shown, sight(teeth, case, name)))
        return found

    def _reach(self, case: int, teeth: tuple[int, ...], seen: Sight) -> tuple[Array, Array]:
        """Return the least and the largest screen place of anything at any record, mm."""
        points = []
        for state in self.states[case].values():
            for k in teeth:
                solids = self.bodies[case].solids[k]
                for placed in (state.teeth[k], state.starts[k]):
                    for rows in (solids.crown_rows, solids.root_rows):
                        points.append(placed.points(rows[:, ::4]))
                points.append(arrow_rows(state.slots[k], state.forces[k]))
                points.append(curl_rows(state.slots[k], state.turns[k]))
            points.append(state.wire)
        flat = np.concatenate([seen.flat(p.reshape(-1, 3)) for p in points])
        return flat.min(axis=0), flat.max(axis=0)

    def _placed(self, sizes: Array) -> tuple[list[Box], float]:
        """Return boxes for views of sizes in mm, and the largest scale that suits all."""
        if len(self.cases) > 1:
            wide = (WIDTH - 2 * MARGIN + GAP) // len(sizes)
            tall = BODY - HEADING - CURVE
            boxes = [
                Box(MARGIN + k * wide, HEAD + HEADING, wide - GAP, tall) for k in range(len(sizes))
            ]
            return boxes, min(_scale(size, box) for size, box in zip(sizes, boxes, strict=True))
        beside, above = _beside(sizes), _stacked(sizes)
        return max(beside, above, key=lambda placed: placed[1])


def _scale(size: Array, box: Box) -> float:
    room = np.array([box.width - 2 * EDGE, box.height - 2 * EDGE - UNDER])
    return float(np.min(room / size))


def _beside(sizes: Array) -> tuple[list[Box], float]:
    room = WIDTH - 2 * MARGIN - CURVES - 2 * GAP
    share = (room - 4 * EDGE) * sizes[:, 0] / sizes[:, 0].sum() + 2 * EDGE
    first = round(float(np.clip(share[0], 0.3 * room, 0.7 * room)))
    boxes = [
        Box(MARGIN, HEAD, first, BODY),
        Box(MARGIN + first + GAP, HEAD, room - first, BODY),
    ]
    return boxes, min(_scale(size, box) for size, box in zip(sizes, boxes, strict=True))


def _stacked(sizes: Array) -> tuple[list[Box], float]:
    room, wide = BODY - GAP, WIDTH - 2 * MARGIN - CURVES - GAP
    share = (room - 4 * EDGE - 2 * UNDER) * sizes[:, 1] / sizes[:, 1].sum() + 2 * EDGE + UNDER
    first = round(float(share[0]))
    boxes = [
        Box(MARGIN, HEAD, wide, first),
        Box(MARGIN, HEAD + first + GAP, wide, room - first),
    ]
    return boxes, min(_scale(size, box) for size, box in zip(sizes, boxes, strict=True))
