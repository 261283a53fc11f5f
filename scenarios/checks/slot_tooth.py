"""A tooth that is pulled along a wire at a lever: it slides against friction, or locks.

Closed form (derived here): a force F along the wire at a distance h from it turns the tooth until
both edges of its slot, W apart, push N = F h / W. Sliding, they resist by P = 2 mu N, which does
not depend on where along the slot the friction acts. Where 2 mu h / W >= 1 no force slides the
tooth: friction takes up F with the share W / (2 mu h) of its limit.
"""

from functools import cache

import numpy as np
from scipy.optimize import root_scalar

from gomphosis.fem.section import Array
from gomphosis.fem.slot_system import Trial
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.checks.slot_rig import (
    ABOUT_LABIAL,
    ALONG,
    INCH,
    OCCLUSAL,
    WIDE,
    anchored,
    at,
    rectangle,
    row,
    rubbing,
    slot,
)
from gomphosis.scenarios.play import tip_play
from gomphosis.scenarios.slotted_wire import SlottedWire

SECTION = rectangle(21, 25)
HEIGHT = 22 * INCH
RIGID = 1e4 * 180e3  # MPa
FRICTION = 0.2
SNUG = 1e-5  # mm of play of the slots that hold the wire
APART = 10.0  # mm
FORCE = 1.0  # N
PULLS = (1.0, 10.0, 100.0)  # N
STEPS, SLIDE = 4, 0.005  # of the tooth along the wire, mm each
SLIDING, LOCKED = (0.4, 0.8), (1.25, 2.0)  # 2 mu h / W
FREE = [OCCLUSAL, ABOUT_LABIAL]
ITERATIONS, LEFT = 30, 1e-6  # N and N·mm of a force of 1 N


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [*(_sliding(ratio) for ratio in SLIDING), *(_locked(ratio) for ratio in LOCKED)]


@cache
def tooth(ratio: float) -> tuple[SlottedWire, Array]:
    """Return a near-rigid wire in three slots, and their poses: the middle one binds.

    It has been turned without friction, so that what acts from then on has no history.
    """
    tight = slot(SECTION.height + SNUG, depth=SECTION.width + SNUG)
    law = SECTION.elastic_section(RIGID, 0.3)
    free = row(SECTION, [tight, slot(HEIGHT), tight], (-APART, 0.0, APART), law=law)
    poses = np.zeros((3, 6))
    poses[1, ABOUT_LABIAL] = 1.001 * tip_play(SECTION, HEIGHT, WIDE)
    free = anchored(free, 0)
    trial, poses = turned_by(free, poses, force=FORCE, lever=lever(ratio))
    return rubbing(free.kept(trial), 1, FRICTION), poses


def turned_by(
    wire: SlottedWire, poses: Array, *, force: float, lever: float
) -> tuple[Trial, Array]:
    """Return a tooth turned and lifted as a force along the wire at a lever asks, and its pose.

    Parameters
    ----------
    wire, poses
        Where it starts; it stays where it is along the wire.
    force, lever
        N and mm.

    Raises
    ------
    RuntimeError
        If the tooth finds no equilibrium.
    """
    applied = np.array([0.0, force * lever])
    poses = poses.copy()
    for _ in range(ITERATIONS):
        trial = at(wire, poses)
        left = trial.on_slots[1, FREE] + applied
        if np.abs(left).max() < LEFT * force:
            return trial, poses
        slope = trial.by_slots()[1][np.ix_(FREE, [1], FREE)][:, 0]
        poses[1, FREE] -= np.linalg.solve(slope, left)
    raise RuntimeError(f"no equilibrium of a tooth turned by {force:g} N at {lever:g} mm")


def lever(ratio: float) -> float:
    """Return the lever of a force, mm, whose friction would be a ratio of it."""
    return ratio * WIDE / (2 * FRICTION)


def resistance(ratio: float) -> float:
    """Return the resistance of a sliding tooth over the force that pulls it at a lever."""
    wire, poses = tooth(ratio)
    trial, poses = turned_by(wire, poses, force=FORCE, lever=lever(ratio))
    for _ in range(STEPS):
        wire = wire.kept(trial)
        poses[1, ALONG] += SLIDE
        trial, poses = turned_by(wire, poses, force=FORCE, lever=lever(ratio))
    return -float(trial.on_slots[1, ALONG]) / FORCE


def held_back(
    wire: SlottedWire, poses: Array, *, force: float, lever: float
) -> tuple[Trial, Array]:
    """Return the equilibrium of a tooth that friction keeps from sliding, and its pose.

    Parameters
    ----------
    wire, poses
        Where it starts.
    force, lever
        N and mm.

    Raises
    ------
    ValueError
        If the tooth slides: friction does not take up the force within 0.02 mm.
    """

    def moved(along: float) -> tuple[Trial, Array]:
        there = poses.copy()
        there[1, ALONG] = along
        return turned_by(wire, there, force=force, lever=lever)

    def left(along: float) -> float:
        return float(moved(along)[0].on_slots[1, ALONG]) + force

    start = float(poses[1, ALONG])
    found = root_scalar(left, bracket=(start - SLIDE, start + STEPS * SLIDE), xtol=1e-7)
    return moved(found.root)


def locked_shares(ratio: float) -> list[float]:
    """Return the largest share of its limit that friction takes up in each pull of a tooth."""
    wire, poses = tooth(ratio)
    shares = []
    for force in PULLS:
        trial, poses = held_back(wire, poses, force=force, lever=lever(ratio))
        wire = wire.kept(trial)
        touching = trial.unknowns.push > 0.0
        shares.append(float(np.abs(trial.unknowns.share[:, touching]).max()))
    return shares


def _sliding(ratio: float) -> Check:
    return Check(
        name=f"slot-tooth-resistance-{ratio:g}",
        quantity=f"friction over the force that pulls a tooth {lever(ratio):g} mm from a "
        "near-rigid wire, while it slides",
        unit="1",
        kind="verification",
        source="2 mu h / W: couple of the slot's edges (derived here)",
        status="closed form",
        # a slot tipped by half a degree
        tolerance=0.02,
        compute=lambda: Outcome(resistance(ratio), ratio),
        slow=ratio != SLIDING[-1],
    )


def _locked(ratio: float) -> Check:
    return Check(
        name=f"slot-tooth-locked-{ratio:g}",
        quantity=f"share of its limit that friction takes up on a tooth pulled {lever(ratio):g} mm "
        f"from the wire, the largest at {', '.join(f'{p:g}' for p in PULLS)} N: below 1, locked",
        unit="1",
        kind="verification",
        source="W / (2 mu h) (derived here)",
        status="closed form",
        tolerance=0.02,
        compute=lambda: Outcome(max(locked_shares(ratio)), 1 / ratio),
        slow=True,
    )
