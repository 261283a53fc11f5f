"""A rod in slots: what it is, its state between steps, and what Newton's iteration moves."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import Rod, RodPlace, RodState
from gomphosis.fem.section import Array
from gomphosis.fem.slot_contact import EdgeContact
from gomphosis.fem.slot_edges import ALONG, SlotFrames
from gomphosis.fem.slot_holds import Holds
from gomphosis.fem.slot_touches import Touches


@dataclass(frozen=True)
class SlottedRod:
    """A rod and what can touch or hold it.

    Parameters
    ----------
    rod
        Itself.
    contact
        Edges of k slots.
    holds
        Of its nodes by slots.
    compliance
        Turn of each slot about its own direction per moment, rad/(N·mm), shape (k,).

    Raises
    ------
    ValueError
        If a compliance is below 0.
    """

    rod: Rod
    contact: EdgeContact
    holds: Holds
    compliance: Array

    def __post_init__(self) -> None:
        if np.any(self.compliance < 0.0):
            raise ValueError(f"a slot's compliance must be >= 0, got {self.compliance.min():.4g}")

    @property
    def gives(self) -> bool:
        """Whether any slot turns under its moment."""
        return bool(np.any(self.compliance))


@dataclass(frozen=True)
class SlottedState:
    """A rod in slots at the end of a step.

    Attributes
    ----------
    rod
        Place and history.
    touches
        Of edges and curves.
    held
        Forces of the holds, N or N·mm, shape (h,).
    turn
        How far each slot has given way about its own direction, rad, shape (k,).
    """

    rod: RodState
    touches: Touches
    held: Array
    turn: Array


class Change(NamedTuple):
    """Of the unknowns: motion of the nodes, shape (n, 6), and of the rest."""

    motion: Array
    push: Array
    share: Array
    held: Array
    turn: Array


@dataclass(frozen=True)
class Unknowns:
    """What Newton's iteration moves: place, pushes (m,), shares (2, m), holds (h,), turns (k,)."""

    place: RodPlace
    push: Array
    share: Array
    held: Array
    turn: Array

    @classmethod
    def of(cls, state: SlottedState) -> "Unknowns":
        """Return the unknowns at a state."""
        touches = state.touches
        return cls(state.rod.place, touches.push, touches.share, state.held, state.turn)

    def moved(self, change: Change, part: float) -> "Unknowns":
        """Return the unknowns after a part of a change."""
        return Unknowns(
            self.place.moved(part * change.motion),
            self.push + part * change.push,
            self.share + part * change.share,
            self.held + part * change.held,
            self.turn + part * change.turn,
        )


def turned(frames: SlotFrames, angle: Array) -> SlotFrames:
    """Return slots turned about their own direction by angles (k,), rad."""
    about = angle[:, None] * frames.triads[:, :, ALONG]
    return SlotFrames(frames.place, Rotation.from_rotvec(about).as_matrix() @ frames.triads)
