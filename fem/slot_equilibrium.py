"""Equilibrium of a rod in slots whose edges it touches or not; pushes are unknowns.

Every pair of an edge and a curve is open or pushes. Newton's iteration on balance and Fischer's
functions together takes full steps where they do not make things worse than they were a few
iterations ago, and parts of them otherwise. Where it fails, Fischer's corner is rounded first and
sharpened step by step; where that fails too, the slots go their way in halves.
"""

from collections.abc import Callable

import numpy as np

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import RodState
from gomphosis.fem.rod_equilibrium import GAP, ROUND_OFF
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_state import Change, SlottedRod, SlottedState, Unknowns
from gomphosis.fem.slot_system import Trial
from gomphosis.fem.slot_touches import SHARP, Corner
from gomphosis.fem.ways import followed, part_way

FORCE = 1e-8  # N
ITERATIONS, MOST_ITERATIONS = 40, 120
FAR = 1.0  # mm, and rad, in one iteration
PATIENT = 20  # iterations after which nothing worse is taken: no more cycles
MEMORY, LEAST_PART = 4, 1 / 64
SHARPENED = (
    Corner(0.03, 100.0),
    Corner(0.01, 30.0),
    Corner(0.003, 10.0),
    Corner(0.001, 3.0),
    Corner(1e-4),
    SHARP,
)
ROUGH = 1e-4  # mm; rounding that is good enough: at 1 um from an edge it makes 2e-4 N


def untouched(what: SlottedRod, state: RodState, frames: SlotFrames) -> SlottedState:
    """Return a rod that touches nothing, in slots where they are."""
    apart = what.contact.edges.place(frames)[:, None] - state.place.nodes[None]
    start = what.rod.shape.stations[np.argmin(np.sum(apart**2, axis=2), axis=1)]
    touches = what.contact.found(what.rod, state.place, frames, start)
    held = np.zeros(len(what.holds.node))
    return SlottedState(state, touches, held, np.zeros(len(frames.place)))


def settle(
    what: SlottedRod,
    before: SlottedState,
    frames: SlotFrames,
    *,
    guess: Unknowns | None = None,
) -> Trial:
    """Find the equilibrium at the end of one step from a state.

    Parameters
    ----------
    frames
        Of the slots at the end of the step.
    guess
        Where the iteration starts; default: the state.

    Raises
    ------
    NotConvergedError
        If forces do not balance to 1e-8 N.
    """
    start = guess or Unknowns.of(before)
    try:
        return _iterated(what, before, frames, start, corner=SHARP)
    except NotConvergedError:
        start = Unknowns.of(before)
    found = None
    for corner in SHARPENED:
        try:
            found = _iterated(what, before, frames, start, corner=corner, leap=found is None)
        except NotConvergedError:
            if found is None or found.corner.rounding > ROUGH:
                raise
            return found
        start = found.unknowns
    if found is None:
        raise RuntimeError("there are corners to try")
    return found


def _iterated(
    what: SlottedRod,
    before: SlottedState,
    frames: SlotFrames,
    start: Unknowns,
    *,
    corner: Corner,
    leap: bool = True,
) -> Trial:
    def at(unknowns: Unknowns) -> Trial:
        return Trial.at(what, frames, unknowns, before=before, corner=corner)

    trial = at(start)
    sizes = [trial.size]
    while not settled(trial):
        change = trial.step()
        largest = float(np.abs(change.motion).max())
        if not np.isfinite(largest) or not goes_on(sizes):
            raise NotConvergedError(sizes, FORCE)
        part = min(1.0, FAR / max(FAR, largest))
        trial = _searched(trial, change, part, at, bound_of(sizes, leap=leap))
        sizes.append(trial.size)
    return trial


def goes_on(sizes: list[float]) -> bool:
    """Return whether another step is worth its time, after the sizes of the trials so far.

    Beyond 40 steps only where the last ten came well below all before them: long wires take in
    slack slot by slot, and settle at once when the last one has found its place.
    """
    steps = len(sizes) - 1
    if steps < ITERATIONS:
        return True
    return steps < MOST_ITERATIONS and min(sizes[-10:]) < 0.5 * min(sizes[:-10])


def bound_of(sizes: list[float], *, leap: bool) -> float:
    """Return what the next trial's size may be, after those of the trials so far.

    A first step that carries the slots' motion over may leap: on its way forces rise and fall.
    """
    if leap and len(sizes) == 1:
        return np.inf
    return max(sizes[-(MEMORY if len(sizes) < PATIENT else 1) :])


def _searched(
    trial: Trial,
    change: Change,
    part: float,
    at: Callable[[Unknowns], Trial],
    bound: float,
) -> Trial:
    """Return the trial after a part of a change, or a half, a quarter ... of it, no worse."""
    least = LEAST_PART * part
    while True:
        found = at(trial.unknowns.moved(change, part))
        if found.size <= bound or part <= least:
            return found
        part *= 0.5


def settled(trial: Trial) -> bool:
    """Return whether forces balance and nothing is left of gaps."""
    force, gap = trial.worst
    if not gap <= GAP:  # nor where it is no number
        return False
    # what stretching makes of the coordinates' round-off counts as balance
    least = ROUND_OFF * float(np.abs(trial.response.stiffness.diagonal[:, :3, :3]).max())
    return force <= max(FORCE, least * float(np.abs(trial.unknowns.place.nodes).max()))


def reach(
    what: SlottedRod,
    before: SlottedState,
    path: Callable[[float], SlotFrames],
    *,
    guess: Unknowns | None = None,
    steps: int = 1,
) -> Trial:
    """Follow slots along a path from 0 to 1, in halves where a step fails.

    Raises
    ------
    NotConvergedError
        If a step of 1/1024 of the way fails as well.
    """
    if steps == 1:
        try:
            return settle(what, before, path(1.0), guess=guess)
        except NotConvergedError:
            pass  # gone in halves below, which raises if that fails too
    return followed(
        lambda state, share: settle(what, state, path(share)),
        Trial.kept,
        before,
        steps=steps,
    )


def between(start: SlotFrames, end: SlotFrames) -> Callable[[float], SlotFrames]:
    """Return the straight way between two places of the same slots, turns by least angle."""

    def at(share: float) -> SlotFrames:
        ends = (start.place, start.triads), (end.place, end.triads)
        return SlotFrames(*part_way(*ends, share))

    return at
