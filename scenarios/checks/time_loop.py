"""The time loop against steps whose answer is known in closed form."""

from functools import cache

import numpy as np

from gomphosis.bone.loads import ConstantLoads, Loads, SpringLoads
from gomphosis.bone.loop import Period, Track, simulate
from gomphosis.bone.rates import Linear
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.wall import SocketWall
from gomphosis.scenarios.checks.bodies import INCISOR, default_young, lateral, solved
from gomphosis.scenarios.checks.check import Check, Outcome

RATE = Linear(100.0)  # mm/day per MPa
DAYS = 12.0
SPRING = 0.4  # N·mm/rad
MOMENT = 0.2  # N·mm
TORSION = 5  # the freedom about the long axis: nothing else moves with it


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [_linear(), _decay(), _order()]


@cache
def tooth_model() -> Remodelling:
    """Return the incisor with a linear rate law."""
    wall = SocketWall(solved(INCISOR, young=default_young(), poisson=0.3))
    return Remodelling(wall, RATE)


def follow(loads: Loads, step: float) -> Track:
    """Follow the incisor for 12 days."""
    return simulate([tooth_model()], [Period(0.0, loads)], days=DAYS, step=step)


def linear_error() -> Outcome:
    """Return the largest departure from a straight line in time under a constant force."""
    wrench = lateral(5.0, 0.3)
    track = follow(ConstantLoads(wrench[None]), 1.0)
    speed = tooth_model().drift(wrench)[0]
    elastic = tooth_model().wall.support.displacement(wrench)
    exact = track.days[:, None] * speed
    errors = (track.drift[:, 0] - exact, track.pose[:, 0] - elastic - exact)
    scale = np.abs(exact).max()
    return Outcome(float(max(np.abs(error).max() for error in errors) / scale), 0.0)


def _spring() -> SpringLoads:
    start, stiffness = np.zeros((1, 6)), np.zeros((6, 6))
    start[0, TORSION], stiffness[TORSION, TORSION] = MOMENT, SPRING
    return SpringLoads(start, stiffness)


def decayed(step: float) -> float:
    """Return the moment left of the spring after 12 days, N·mm, in steps of a length in days."""
    return float(follow(_spring(), step).wrench[-1, 0, TORSION])


def decay() -> float:
    """Return the moment left after 12 days in closed form, N·mm.

    With drift g' = v M, pose q = g + c M and M = M_0 - a q: M' = -(a v / (1 + a c)) M.
    """
    unit = np.eye(6)[TORSION]
    speed = tooth_model().drift(unit)[0][TORSION]
    compliance = tooth_model().wall.support.compliance[TORSION, TORSION]
    stiff = 1 + SPRING * compliance
    return float(MOMENT / stiff * np.exp(-SPRING * speed / stiff * DAYS))


def _linear() -> Check:
    return Check(
        name="constant-force-drift",
        quantity="departure of pose and drift from a straight line in time, relative",
        unit="1",
        kind="verification",
        source="constant speed integrated",
        status="closed form",
        # the loop's Newton tolerance of 1e-12 mm in twelve steps over 0.1 mm
        tolerance=1e-9,
        measure="absolute",
        compute=linear_error,
    )


def _decay() -> Check:
    return Check(
        name="spring-decay",
        quantity="moment left of a spring after 12 days in steps of 0.02 day",
        unit="N·mm",
        kind="verification",
        source="one freedom: exponential decay (derived here)",
        status="closed form",
        # implicit Euler: half the step over the time constant, times the time constants passed
        tolerance=0.005,
        compute=lambda: Outcome(decayed(0.02), decay()),
    )


def observed_order() -> Outcome:
    """Return the observed order of convergence in the step, against one."""
    coarse, fine = (abs(decayed(step) - decay()) for step in (0.5, 0.25))
    return Outcome(float(np.log2(coarse / fine)), 1.0)


def _order() -> Check:
    return Check(
        name="step-order",
        quantity="order of convergence of the time step",
        unit="1",
        kind="verification",
        source="implicit Euler steps are of first order",
        status="closed form",
        # as for the orders of the element
        tolerance=0.1,
        measure="absolute",
        compute=observed_order,
    )
