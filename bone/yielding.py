r"""How teeth give way to force systems over a step, and where they come to rest under loads.

A step of length Δt ends at the poses :math:`q = g^+ + C\,W(q)` with
:math:`g^+ = g + \Delta t\,V(W(q))`: g the drift (place of the load-free tooth), C the support's
compliance, V the drift speed, W the force systems of the loads.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np

from gomphosis.bone.joint_loads import parts
from gomphosis.bone.loads import Loads
from gomphosis.bone.remodelling import Remodelling
from gomphosis.fem.newton import newton
from gomphosis.fem.section import Array

TOLERANCE = 1e-8  # mm, and rad times ARM: a wire is in balance to about 1e-8 N
ARM = 10.0  # mm; makes rotations comparable to displacements in a residual


@dataclass(frozen=True)
class Yielding:
    """Teeth that give way within one step.

    Parameters
    ----------
    teeth
        Support, wall and rate law of each.
    drift
        Place of each load-free tooth at the step's start, mm and rad, shape (n, 6).
    length
        Of the step, day; 0 for teeth that give way elastically only.
    rate_factor
        Multiplies every wall speed.
    moving
        Share of the step during which each sample of each wall moves; None for all of it.
    """

    teeth: Sequence[Remodelling]
    drift: Array
    length: float = 0.0
    rate_factor: float = 1.0
    moving: Sequence[Array | None] = ()

    def poses(self, wrenches: Array) -> tuple[Array, Array]:
        """Return poses under wrenches (n, 6) at the end, (n, 6), and derivative, (n, 6, 6)."""
        poses, slope = self.drift.copy(), np.zeros((len(self.teeth), 6, 6))
        for i, (tooth, wrench) in enumerate(zip(self.teeth, wrenches, strict=True)):
            slope[i] = tooth.wall.support.compliance
            poses[i] += slope[i] @ wrench
            if self.length > 0:
                speed, change = tooth.drift(wrench, self.moving[i] if self.moving else None)
                poses[i] += self.rate_factor * self.length * speed
                slope[i] += self.rate_factor * self.length * change
        return poses, slope

    def drifted(self, poses: Array, wrenches: Array) -> Array:
        """Return the places of the load-free teeth once they stand at poses under wrenches."""
        give = [
            tooth.wall.support.displacement(wrench)
            for tooth, wrench in zip(self.teeth, wrenches, strict=True)
        ]
        return poses - np.stack(give)


@runtime_checkable
class Meeting(Protocol):
    """Loads that find the poses of yielding teeth themselves, together with what is inside."""

    def meet(self, yielding: Yielding, guess: Array, others: Sequence[Loads]) -> Array:
        """Return the poses at which teeth come to rest under these and other loads, (n, 6)."""
        ...


def rest(loads: Loads, yielding: Yielding, guess: Array) -> Array:
    """Return the poses at which teeth come to rest at the end of a step, shape (n, 6).

    Raises
    ------
    NotConvergedError
        If they are not found.
    """
    acting = list(parts(loads))
    meeting = [load for load in acting if isinstance(load, Meeting)]
    if len(meeting) == 1:
        others = [load for load in acting if load is not meeting[0]]
        return meeting[0].meet(yielding, guess, others)
    return _nested(loads, yielding, guess)


def _nested(loads: Loads, yielding: Yielding, guess: Array) -> Array:
    count = len(yielding.teeth)
    arm = np.tile([1.0, 1.0, 1.0, ARM, ARM, ARM], count)

    def system(flat: Array) -> tuple[Array, Array]:
        response = loads.evaluate(flat.reshape(-1, 6))
        poses, slope = yielding.poses(response.wrenches)
        follow = slope @ response.derivative.reshape(count, 6, 6 * count)
        jacobian = np.eye(flat.size) - follow.reshape(flat.size, flat.size)
        return arm * (flat - poses.ravel()), arm[:, None] * jacobian

    return newton(system, guess.ravel(), tolerance=TOLERANCE).reshape(-1, 6)
