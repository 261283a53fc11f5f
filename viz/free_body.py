"""The loads on one tooth in a plane of view, as its free-body diagram shows them."""

from dataclasses import dataclass

import numpy as np

from gomphosis.bone.directions import from_trade
from gomphosis.fem.section import Array
from gomphosis.scenarios.bend_tables import WireBend
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import RunResult
from gomphosis.viz.film_layout import FRONT, SIDE, most_loaded
from gomphosis.viz.film_views import Stage
from gomphosis.viz.wording import side_words, weeks_text, wire_text

MOST = 4  # diagrams side by side
ARM = 10.0  # mm; sets moments beside forces where a plane is chosen
LEAST_FORCE, LEAST_MOMENT = 0.002, 0.02  # N, N·mm; less is no load
TIP, TORQUE = 3, 4  # in trade words
LABIAL, MESIAL = 1, 2


@dataclass(frozen=True)
class System:
    """A force and a moment in the plane of view, right and up and counter-clockwise positive.

    Attributes
    ----------
    force
        N, shape (2,).
    moment
        N·mm.
    """

    force: Array
    moment: float

    @property
    def size(self) -> float:
        """Size of the force, N."""
        return float(np.linalg.norm(self.force))

    @property
    def loaded(self) -> bool:
        """Whether there is anything to draw."""
        return self.size >= LEAST_FORCE or abs(self.moment) >= LEAST_MOMENT


@dataclass(frozen=True)
class FreeBody:
    """One tooth at one record.

    Attributes
    ----------
    label
        Case or wire.
    tooth, side
        Whose loads, with its bracket where it is bonded at that time, and seen from where.
    bracket_width
        Length of the slot along the wire, mm.
    bracket, resistance
        What the appliance exerts, about the slot's centre and about the centre of resistance.
    words_bracket, words_resistance
        The same in trade words and all six components.
    """

    label: str
    tooth: ToothModel
    side: str
    bracket_width: float
    bracket: System
    resistance: System
    words_bracket: Array
    words_resistance: Array

    def flat(self, points: Array) -> Array:
        """Return places of the tooth's points in the plane of view, mm, up positive."""
        return Stage(self.side, 1).flat(self.tooth, points) * [1.0, -1.0]

    @property
    def slot(self) -> Array:
        """Centre of the slot in the plane of view, mm."""
        return self.flat(self.tooth.slot)

    @property
    def centre(self) -> Array:
        """Centre of resistance in the plane of view, mm."""
        return self.flat(np.array([0.0, 0.0, self.tooth.centre_of_resistance]))

    @property
    def lever(self) -> float:
        """Distance from the centre of resistance to the line of the force, mm."""
        return abs(self.resistance.moment - self.bracket.moment) / self.bracket.size

    @property
    def moment_index(self) -> int:
        """Place of the plane's moment among trade words."""
        return TORQUE if self.side == SIDE else TIP

    @property
    def senses(self) -> tuple[str, str]:
        """What a positive and a negative moment of this plane do to the crown."""
        outer, inner = side_words(self.tooth.anatomy)
        pair = (outer, inner) if self.side == SIDE else ("mesial", "distal")
        return f"crown {pair[0]}", f"crown {pair[1]}"


def free_bodies(result: RunResult) -> tuple[FreeBody, ...]:
    """Return the diagrams of a run: its first cases, or its wires as each is tied in."""
    index = chosen_tooth(result)
    first = result.cases[0]
    found: list[tuple[str, ToothHistory, int]] = []
    if len(result.cases) > 1:
        for case in result.cases[:MOST]:
            found.append((case.name, histories(result, case)[index], 0))
    else:
        history = histories(result, first)[index]
        found += [(label, history, record) for label, record in _tied_in(result)]
    side = _plane([(history, record) for _, history, record in found])
    width = result.scenario.slot.width
    bodies = []
    for label, history, record in found:
        tooth = result.teeth_at(first, record)[index]
        words = history.at_bracket[record], history.at_resistance[record]
        seen = [_seen(tooth, side, from_trade(tooth.number, part)) for part in words]
        bodies.append(FreeBody(label, tooth, side, width, seen[0], seen[1], words[0], words[1]))
    return tuple(bodies)


def chosen_tooth(result: RunResult) -> int:
    """Return the place of the tooth that a lesson names, or else of the most loaded one."""
    lesson = result.scenario.lesson
    if lesson is None or lesson.free_body is None:
        return most_loaded(result.cases[0])
    return [tooth.number for tooth in result.teeth].index(lesson.free_body)


def _tied_in(result: RunResult) -> list[tuple[str, int]]:
    """Return the first wires by name with the record at which each is tied in."""
    days = result.cases[0].median.days
    wires = list(result.scenario.wires)[:MOST]
    if not wires:
        return [(result.cases[0].name, 0)]
    found = []
    for wire in wires:
        start = wire.tied_in or 0.0
        record = int(np.flatnonzero(np.isclose(days, start))[-1])
        bent = "".join(f", {_bend_text(bend)}" for bend in wire.bends)
        found.append((f"week {weeks_text(start)}: {wire_text(wire)}{bent}", record))
    return found


def _bend_text(bend: WireBend) -> str:
    """Return what is bent into a wire, and where."""
    place = (
        "half-way" if bend.distance is None else f"{bend.distance:.1f} mm from {bend.between[0]}"
    )
    return f"{bend.kind} {place}"


def _plane(records: list[tuple[ToothHistory, int]]) -> str:
    """Return the view that shows the largest part of all loads."""
    loads = np.abs([history.at_bracket[record] for history, record in records])
    side = max(ARM * loads[:, LABIAL].max(), loads[:, TORQUE].max())
    front = max(ARM * loads[:, MESIAL].max(), loads[:, TIP].max())
    return SIDE if side >= front else FRONT


def _seen(tooth: ToothModel, side: str, wrench: Array) -> System:
    """Return the part of a wrench in the tooth's frame that lies in the plane of view."""
    stage = Stage(side, 1)
    # the view is square to the plane, so a turn counts as it is seen
    across, up = stage.flat(tooth, np.eye(3)[[0 if side == SIDE else 1, 2]]) * [1.0, -1.0]
    handed = np.sign(across[0] * up[1] - across[1] * up[0])
    force = np.asarray(stage.flat(tooth, wrench[:3]) * [1.0, -1.0], dtype=float)
    # about +x, y turns towards z; about +y, x turns away from z
    moment = handed * (wrench[3] if side == FRONT else -wrench[4])
    return System(force, float(moment))
