"""What a wire touches in every slot: edges, forces, friction, and the play that is left."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from gomphosis.fem.rod_curve import VALUE, Curves
from gomphosis.fem.section import Array, Index
from gomphosis.fem.slot_system import Trial
from gomphosis.scenarios.play import tip_play, torsional_play
from gomphosis.scenarios.slot_walls import Pair, pairs
from gomphosis.scenarios.slotted_wire import ArchWire

SEEN = 1e-4  # N; pushes below are of the rounded corners of contact
SLIPS = 0.99  # share of friction from which an edge slips
OPPOSITE = {"occlusal": "gingival", "gingival": "occlusal", "lid": "floor", "floor": "lid"}
SECOND_ORDER, FIRST_ORDER = ("occlusal", "gingival"), ("lid", "floor")


@dataclass(frozen=True)
class Touching:
    """One edge of a slot that the wire touches.

    Attributes
    ----------
    wall
        "occlusal", "gingival", "floor" or "lid".
    end
        -1 at the end of the slot where the wire comes from, +1 where it goes.
    push
        Normal force, N.
    along, aside
        Friction on the wire along itself and along the edge, N.
    share
        Of the friction that the push allows, the larger of both directions, 0 to 1.
    slips
        Whether the edge slides on the wire; without friction it does.
    """

    wall: str
    end: float
    push: float
    along: float
    aside: float
    share: float
    slips: bool


@dataclass(frozen=True)
class SlotContact:
    """What a wire touches in one slot.

    Attributes
    ----------
    touching
        Edges that it touches.
    torsion_left, tip_left
        Play that is left from where the wire lies, in the direction in which it lies, rad;
        infinite where it turns freely.
    """

    touching: tuple[Touching, ...]
    torsion_left: float
    tip_left: float

    @property
    def state(self) -> str:
        """The state in words of the trade."""
        if not self.touching:
            return "open"
        words = [word for word, held in self._orders().items() if held]
        if any(touch.slips for touch in self.touching):
            return ", ".join([*words, "slips"])
        return ", ".join([*words, "sticks"])

    @property
    def binds(self) -> bool:
        """Whether two opposite walls hold the wire at opposite ends, second or first order."""
        return self._opposite(SECOND_ORDER, across=True) or self._opposite(FIRST_ORDER, across=True)

    def _orders(self) -> dict[str, bool]:
        return {
            "two-point in tip": self._opposite(SECOND_ORDER, across=True),
            "two-point in rotation": self._opposite(FIRST_ORDER, across=True),
            "edges in torque": self._opposite(SECOND_ORDER, across=False),
            "seated": self._opposite(FIRST_ORDER, across=False),
        }

    def _opposite(self, walls: tuple[str, str], *, across: bool) -> bool:
        """Return whether both walls touch, at opposite ends or at the same one."""
        first, second = ({t.end for t in self.touching if t.wall == wall} for wall in walls)
        if across:
            return bool(first & {-end for end in second}) and not first & second
        return bool(first & second)


def slot_contacts(wire: ArchWire, trial: Trial) -> tuple[SlotContact, ...]:
    """Return what a wire touches in every slot, in the order of the slots."""
    kinds = pairs(wire.section, len(wire.sizes))
    roll, tip = _lies(trial, len(wire.sizes))
    return tuple(
        SlotContact(
            _touching(slot, kinds, trial),
            _torsion_left(wire, slot, roll[slot], tip[slot]),
            _tip_left(wire, slot, roll[slot], tip[slot]),
        )
        for slot in range(len(wire.sizes))
    )


def contact_document(contact: SlotContact, place: float) -> dict[str, Any]:
    """Return what a wire touches in the slot of a tooth as plain data.

    Parameters
    ----------
    place
        Of the slot along the wire from the midline, mm: it tells the mesial end from the distal.
    """
    return {
        "state": contact.state,
        "binds": contact.binds,
        "play_left": {
            "torsion_deg": _degrees(contact.torsion_left),
            "tip_deg": _degrees(contact.tip_left),
        },
        "touches": [
            {
                "wall": touch.wall,
                "end": "distal" if touch.end * place > 0 else "mesial",
                "push_N": touch.push,
                "friction_along_N": abs(touch.along),
                "friction_aside_N": abs(touch.aside),
                "friction_used": touch.share,
                "slips": touch.slips,
            }
            for touch in contact.touching
        ],
    }


def _degrees(angle: float) -> float | None:
    return float(np.rad2deg(angle)) if np.isfinite(angle) else None


def _touching(slot: int, kinds: Sequence[Pair], trial: Trial) -> tuple[Touching, ...]:
    """Return the edges that touch; the curves of a wire at one edge together."""
    touches, friction = trial.contact.touches, trial.contact.law.friction
    found = []
    for end in (-1.0, 1.0):
        for wall in OPPOSITE:
            own = [
                k
                for k, pair in enumerate(kinds)
                if (pair.slot, pair.end, pair.wall) == (slot, end, wall) and touches.push[k] > SEEN
            ]
            if own:
                push = touches.push[own]
                drag = friction[own] * push * touches.share[:, own]
                share = min(1.0, float(np.abs(touches.share[:, own]).max()))
                slips = share >= SLIPS or not np.any(friction[own])
                along, aside = map(float, drag.sum(axis=1))
                pushed = float(push.sum())
                found.append(Touching(wall, end, pushed, along, aside, share, slips))
    return tuple(found)


def _lies(trial: Trial, slots: int) -> tuple[Array, Array]:
    """Return how far the wire is turned and tipped in every slot, rad, each (k,).

    A wire that is bent within a slot is tipped as the chord from one end of it to the other.
    """
    edges, touches = trial.contact.law.edges, trial.contact.touches
    count = np.bincount(edges.slot, minlength=slots)
    roll = np.bincount(edges.slot, weights=touches.lie.roll, minlength=slots) / count
    centre = Curves(trial.what.rod.shape, np.zeros((slots, 2)))
    back, ahead = (
        centre.at(trial.unknowns.place, _station(edges.slot, touches.station, own, slots))
        for own in (edges.along < 0, edges.along > 0)
    )
    chord = ahead.path[VALUE] - back.path[VALUE]
    own = np.einsum("kij,ki->kj", trial.frames.triads, chord)
    return roll, np.arctan2(own[:, 1], own[:, 0])


def _station(slot: Index, station: Array, which: npt.NDArray[np.bool_], slots: int) -> Array:
    """Return the mean station of some of the pairs of every slot, mm, shape (k,)."""
    own = slot[which]
    count = np.bincount(own, minlength=slots)
    return np.bincount(own, weights=station[which], minlength=slots) / count


def _torsion_left(wire: ArchWire, slot: int, roll: float, tip: float) -> float:
    size = wire.sizes[slot]
    play = torsional_play(wire.section, size.height, tip=tip, slot_width=size.width)
    return max(0.0, play - abs(roll))


def _tip_left(wire: ArchWire, slot: int, roll: float, tip: float) -> float:
    size = wire.sizes[slot]
    return max(0.0, tip_play(wire.section, size.height, size.width, torsion=roll) - abs(tip))
