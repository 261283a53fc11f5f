"""Ways from one place of frames to another, gone in parts where the whole at once fails."""

from collections.abc import Callable
from typing import TypeVar

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array

HALVINGS = 10
State = TypeVar("State")
Found = TypeVar("Found")


def followed(
    settle: Callable[[State, float], Found],
    kept: Callable[[Found], State],
    state: State,
    *,
    steps: int,
) -> Found:
    """Go from share 0 of a way to share 1, in halves where a step fails.

    Parameters
    ----------
    settle
        From the state at a step's start to what is found at a share of the way.
    kept
        The state that what was found leaves.
    state
        At share 0.
    steps
        Equal steps to begin with, at least two: the whole way at once is for the caller to try.

    Raises
    ------
    NotConvergedError
        If a step of 1/1024 of the way fails as well.
    """
    done, length = 0.0, 1.0 / max(steps, 2)
    while True:
        share = min(1.0, done + length)
        try:
            found = settle(state, share)
        except NotConvergedError:
            length *= 0.5
            if length < 0.5**HALVINGS:
                raise
            continue
        state, done = kept(found), share
        if done == 1.0:
            return found


def part_way(
    start: tuple[Array, Array], end: tuple[Array, Array], share: float
) -> tuple[Array, Array]:
    """Return places, mm, (k, 3), and triads, (k, 3, 3), on the straight way between two of them.

    Triads turn by the least angle; at share 1 they are those of the end to the last bit.
    """
    if share == 1.0:
        return end
    turn = Rotation.from_matrix(end[1] @ np.swapaxes(start[1], 1, 2)).as_rotvec()
    triads = Rotation.from_rotvec(share * turn).as_matrix() @ start[1]
    return (1.0 - share) * start[0] + share * end[0], triads
