"""What contact remembers from step to step, and how sharp it is."""

from dataclasses import dataclass

from gomphosis.fem.section import Array
from gomphosis.fem.slot_aside import Lie


@dataclass(frozen=True)
class Touches:
    """State of m pairs at the end of a step.

    Attributes
    ----------
    station
        Of the rod's material nearest to the edge, mm, shape (m,).
    push
        Normal force, N, shape (m,).
    share
        Of friction along the rod, and across it along the edge: drag over its limit, -1 to 1,
        shape (2, m).
    lie
        How the material at the stations lies in the slots.
    """

    station: Array
    push: Array
    share: Array
    lie: Lie


@dataclass(frozen=True)
class Corner:
    """How sharp contact and friction set in.

    Parameters
    ----------
    rounding
        Of Fischer's corners, mm.
    softer
        Factor on the way over which friction builds up.
    """

    rounding: float = 0.0
    softer: float = 1.0


SHARP = Corner(1e-5)
