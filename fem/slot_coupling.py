"""A rod in slots that give way: rod, touches and slots in one system of equations.

To solve for the rod in slots that stand, and for the slots outside of that, fails where edges
begin or cease to touch: seen from outside the rod's answer has corners. Here the slots' places are
unknowns beside the pushes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Protocol

import numpy as np
from scipy.linalg import block_diag
from scipy.sparse import block_array, csc_array
from scipy.sparse.linalg import splu

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod_equilibrium import ARM, PER_GAP
from gomphosis.fem.section import Array
from gomphosis.fem.slot_contact import SHARP, Corner
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_equilibrium import (
    FAR,
    FORCE,
    ROUGH,
    SHARPENED,
    bound_of,
    goes_on,
    settled,
)
from gomphosis.fem.slot_state import SlottedRod, SlottedState, Unknowns
from gomphosis.fem.slot_system import Trial

REST = 1e-8  # mm, and rad times ARM; accepted error of a body's place
PARTS = (0.125, 0.5, 1.0)  # of the way that bodies give, where the whole at once fails
LEAST_PART = 1 / 64
WEIGHT = np.array([1.0, 1.0, 1.0, ARM, ARM, ARM])


class Given(NamedTuple):
    """Where k bodies go under loads on their slots.

    Attributes
    ----------
    poses
        Of the bodies, shape (k, 6).
    by_loads, by_poses
        Derivative by the loads on the slots and by the bodies' present poses, (6 k, 6 k).
    """

    poses: Array
    by_loads: Array
    by_poses: Array


class Bodies(Protocol):
    """Bodies that carry the slots."""

    def frames(self, poses: Array) -> SlotFrames:
        """Return the slots of bodies at poses, shape (k, 6)."""
        ...

    def follow(self, poses: Array) -> Array:
        """Return displacement and spin of the slots per pose, shape (k, 6, 6)."""
        ...

    def given(self, poses: Array, loads: Array) -> Given:
        """Return where bodies at poses go under loads on their slots about their origins."""
        ...


@dataclass(frozen=True)
class Coupled:
    """Rod and bodies at a trial.

    Attributes
    ----------
    trial
        Of the rod in the slots where the bodies are.
    bodies
        That carry the slots.
    poses
        Of the bodies, shape (k, 6).
    start, part
        Poses at the step's start, and the part of the way that bodies give in this step.
    """

    trial: Trial
    bodies: Bodies
    poses: Array
    start: Array
    part: float

    @cached_property
    def _given(self) -> Given:
        return self.bodies.given(self.poses, self.trial.on_slots)

    @cached_property
    def left(self) -> Array:
        """What bodies still have to go, mm and rad, shape (k, 6)."""
        aim = (1.0 - self.part) * self.start + self.part * self._given.poses
        return self.poses - aim

    @cached_property
    def size(self) -> float:
        """One number for all that is left, N."""
        return float(np.hypot(self.trial.size, PER_GAP * np.linalg.norm(WEIGHT * self.left)))

    @property
    def settled(self) -> bool:
        """Whether nothing is left."""
        return settled(self.trial) and bool(np.abs(WEIGHT * self.left).max() <= REST)

    def step(self) -> tuple[Array, Array]:
        """Return Newton's change of the rod's unknowns, and of the poses, shape (k, 6).

        Raises
        ------
        NotConvergedError
            If the system is singular.
        """
        trial, given, part = self.trial, self._given, self.part
        derivatives = trial.derivatives
        follow = csc_array(block_diag(*self.bodies.follow(self.poses)))
        by_loads = csc_array(-part * given.by_loads)
        own = csc_array(np.eye(self.poses.size) - part * given.by_poses)
        own = own + by_loads @ derivatives.loads_by_motion() @ follow
        matrix = block_array(
            [
                [derivatives.by_unknowns(), derivatives.by_motion() @ follow],
                [by_loads @ derivatives.loads_by_unknowns(), own],
            ],
            format="csc",
        )
        left = np.concatenate([trial.left, self.left.ravel()])
        try:
            change = splu(matrix).solve(-left)
        except RuntimeError as error:
            raise NotConvergedError([self.size], FORCE) from error
        return change[: len(trial.left)], change[len(trial.left) :].reshape(self.poses.shape)


class Start(NamedTuple):
    """From where the iteration starts."""

    unknowns: Unknowns
    poses: Array


def rest(
    what: SlottedRod,
    before: SlottedState,
    bodies: Bodies,
    poses: Array,
) -> Coupled:
    """Find where rod and bodies come to rest at the end of one step.

    Parameters
    ----------
    before
        State of the rod at the step's start.
    poses
        Of the bodies then, shape (k, 6).

    Raises
    ------
    NotConvergedError
        If forces do not balance to 1e-8 N or bodies do not rest to 1e-8 mm.
    """
    begin = Start(Unknowns.of(before), poses)
    problem = _Problem(what, before, bodies, poses)
    try:
        return problem.solved(begin, 1.0, SHARP)
    except NotConvergedError:
        pass  # gone in parts below, which raises if that fails too
    done, index = 0.0, 0
    parts = list(PARTS)
    while index < len(parts):
        try:
            found = problem.sharpened(begin, parts[index])
        except NotConvergedError:
            half = 0.5 * (done + parts[index])
            if parts[index] - half < LEAST_PART:
                raise
            parts.insert(index, half)
            continue
        begin, done, index = Start(found.trial.unknowns, found.poses), parts[index], index + 1
    return found


class _Problem:
    """One step of rod and bodies."""

    def __init__(
        self, what: SlottedRod, before: SlottedState, bodies: Bodies, poses: Array
    ) -> None:
        self._what, self._before, self._bodies, self._poses = what, before, bodies, poses

    def sharpened(self, start: Start, part: float) -> Coupled:
        """Solve with rounded corners first, sharper and sharper."""
        found = None
        for corner in SHARPENED:
            try:
                found = self.solved(start, part, corner, leap=found is None)
            except NotConvergedError:
                if found is None or found.trial.corner.rounding > ROUGH:
                    raise
                return found
            start = Start(found.trial.unknowns, found.poses)
        if found is None:
            raise RuntimeError("there are corners to try")
        return found

    def solved(self, start: Start, part: float, corner: Corner, *, leap: bool = True) -> Coupled:
        """Solve from a start."""

        def at(place: Start) -> Coupled:
            frames = self._bodies.frames(place.poses)
            trial = Trial.at(self._what, frames, place.unknowns, before=self._before, corner=corner)
            return Coupled(trial, self._bodies, place.poses, self._poses, part)

        found = at(start)
        sizes = [found.size]
        while not found.settled:
            if not goes_on(sizes):
                raise NotConvergedError(sizes, FORCE)
            found = _searched(found, at, bound_of(sizes, leap=leap))
            sizes.append(found.size)
        return found


def _searched(now: Coupled, at: Callable[[Start], Coupled], bound: float) -> Coupled:
    """Return the trial after a change, or a half, a quarter ... of it that is no worse."""
    change, motion = now.step()
    rod = now.trial.change(change)
    largest = max(float(np.abs(rod.motion).max()), float(np.abs(motion).max()))
    if not np.isfinite(largest):
        raise NotConvergedError([now.size], FORCE)
    part = min(1.0, FAR / max(FAR, largest))
    least = LEAST_PART * part
    while True:
        found = at(Start(now.trial.unknowns.moved(rod, part), now.poses + part * motion))
        if found.size <= bound or part <= least:
            return found
        part *= 0.5
