"""How a slice moves: centre of rotation, drift behind its walls, size of the time step."""

from dataclasses import replace
from functools import partial
from itertools import product

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.bone.rates import Linear, RateLaw, Saturating
from gomphosis.bone.slice_response import linear_state, wall_motion
from gomphosis.bone.slice_run import Place, balance, follow_slice
from gomphosis.fem.section import Array
from gomphosis.scenarios.checks.bodies import INCISOR, bracket_height, default_young, design
from gomphosis.scenarios.checks.check import SHOWN, Check, Outcome
from gomphosis.scenarios.checks.slice import THIN
from gomphosis.scenarios.checks.slice_bodies import (
    RIGID_BONE,
    even_bone,
    one_branch,
    opened,
    plated,
    thin,
)

AXES = ("across", "along")
LIGHT = np.array([0.1, 0.2, 0.3, 0.5])  # N


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_translation(*case) for case in product(AXES, ("linear", "saturating"))),
        _carried(),
        _rotation_linear(),
        *(_rotation_stiffening(ratio) for ratio in (0.0, 5.0)),
        _halved_step(),
    ]


def translated(axis: str, law: str) -> Outcome:
    """Return speed of a tooth shifted by 1 um in a thin layer, and R(k_n d), mm/day."""
    body = thin(0.35, slender=0.27, thickness=THIN)
    response = even_bone(body, RIGID_BONE)
    pair = body.tissue.ligament
    shift = 1e-3
    stimulus = pair.constrained / float(body.design.thickness.at(np.zeros(1))[0]) * shift
    rate: RateLaw = Linear(0.02) if law == "linear" else Saturating(0.06, stimulus)
    index = AXES.index(axis)
    state = linear_state(response, response.stiffness @ (shift * np.eye(3)[index]))
    motion = wall_motion(response, state, rate, shear_weight=pair.constrained / pair.shear)
    return Outcome(float(motion.drift[index]), float(rate.speed(np.array(stimulus))))


def _translation(axis: str, law: str) -> Check:
    return Check(
        name=f"slice-translation-{axis}-{law}",
        quantity=f"speed of a tooth translated {axis} its axis in a thin layer, {law} rate law",
        unit="mm/day",
        kind="verification",
        source=(
            "in a thin layer the weighted traction is k_n times the jump on every wall, so an "
            "even shift d moves all walls alike, by R(k_n d) (derived here)"
        ),
        status="closed form",
        # asked of the slice in advance; what is left is the layer's edge at the crest
        tolerance=0.005,
        compute=partial(translated, axis, law),
    )


def root_length() -> float:
    """Return h of the average incisor, mm."""
    return design(INCISOR, young=default_young(), poisson=0.3).root.length


def _carried() -> Check:
    def compute() -> Outcome:
        along = opened(young=default_young(), poisson=0.45).along
        size = np.array([1.0, 1.0, root_length()])
        return Outcome(float(np.abs((along - np.eye(3)) * size[:, None] / size).max()), 0.0)

    return Check(
        name="slice-rigid-walls",
        quantity="departure of the tooth from walls that move rigidly, over their motion",
        unit="1",
        kind="verification",
        source="a ligament moved rigidly strains nothing, so the tooth goes along",
        status="closed form",
        # as for the balance, of which it is the transpose
        tolerance=1e-6,
        measure="absolute",
        compute=compute,
    )


def rotation_heights(forces: Array, *, stiffening: bool, ratio: float = 0.0) -> Array:
    """Return heights of the centre of rotation over the crest, mm, of forces in N.

    The moment at the bracket over the force is ``ratio``, mm, counter-tipping positive. A
    linear ligament is solved by Newton's iteration as well, force by force.
    """
    case = plated(stiffening=True, plate=1.0)
    pair = case.body.tissue.ligament
    law = case.ligament if stiffening else one_branch(pair.young, pair.poisson)
    case = replace(case, ligament=law)
    place = Place(np.zeros(3), case.bones, case.outline)
    lever = np.array([1.0, 0.0, bracket_height(INCISOR) - ratio])
    moved = [balance(case, place, force * lever)[1].motion for force in forces]
    return np.array([-motion[0] / motion[2] for motion in moved])


def _rotation_linear() -> Check:
    def compute() -> Outcome:
        heights = rotation_heights(np.array([0.1, 0.3, 5.0]), stiffening=False)
        return Outcome(float(np.ptp(heights)) / root_length(), 0.0)

    return Check(
        name="slice-rotation-linear",
        quantity="travel of the centre of rotation over h from 0.1 to 5 N, linear ligament",
        unit="1",
        kind="verification",
        source="a linear body answers in proportion to its load",
        status="closed form",
        # asked of the slice in advance; forces in the rigid crown are rounded to 1e-7 of the load
        tolerance=1e-8,
        measure="absolute",
        compute=compute,
    )


def _rotation_stiffening(ratio: float) -> Check:
    cited = lookup("force_and_rate.nonlinear_ligament")

    def compute() -> Outcome:
        heights = rotation_heights(LIGHT, stiffening=True, ratio=ratio)
        return Outcome(float(np.ptp(heights)) / root_length(), 0.0)

    return Check(
        name=f"slice-rotation-stiffening-{ratio:g}-mm",
        quantity=(
            "travel of the centre of rotation over h as the force goes from 0.1 to 0.5 N, "
            f"bilinear ligament, M/F {ratio:g} mm"
        ),
        unit="1",
        kind="validation",
        source=cited.source,
        status=cited.status,
        expected=SHOWN,
        measure="absolute",
        compute=compute,
        note=(
            f"{cited.value}; theirs is the linear ligament's travel. It goes there and part of the "
            "way back: at M/F 0 its ends are 0.003 apart"
        ),
    )


def path_change(step: float, *, decay: float = np.inf, days: float = 8.0) -> float:
    """Return how far halving a step in days moves the path of bracket or apex, over the path.

    Parameters
    ----------
    decay
        Days in which the force of 0.3 N falls by 1/e.
    """
    case = plated(rate=Saturating(0.06, 0.0014))
    lever = np.array([1.0, 0.0, bracket_height(INCISOR)])
    paths = []
    for size in (step, step / 2):
        at = size * np.arange(round(days / size) + 1, dtype=np.float64)
        load = 0.3 * np.exp(-at / decay)[:, None] * lever
        drift = follow_slice(case, at, load).drift[:: round(step / size)]
        ends = [drift[:, 0] + z * drift[:, 2] for z in (bracket_height(INCISOR), -root_length())]
        paths.append(np.stack([*ends, drift[:, 1]], axis=1))
    coarse, fine = paths
    return float(np.abs(coarse - fine).max() / np.abs(fine).max())


def _halved_step() -> Check:
    return Check(
        name="slice-step-halved",
        quantity="change of the path of a tipped tooth on the second halving of a one-day step",
        unit="1",
        kind="verification",
        source="a consistent time step settles as it shrinks",
        status="closed form",
        # asked of the slice in advance
        tolerance=0.01,
        measure="absolute",
        compute=lambda: Outcome(path_change(0.5), 0.0),
    )
