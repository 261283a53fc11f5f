"""A round wire in slots: contact does not turn it about itself, but for what friction does."""

from functools import cache

import numpy as np

from gomphosis.fem.rod_curve import SLOPE, VALUE, CurvePoints, Curves
from gomphosis.fem.section import Array
from gomphosis.fem.slot_applied import Applied
from gomphosis.fem.slot_system import Trial
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.checks.slot_rig import (
    ABOUT_ALONG,
    ALONG,
    INCH,
    at,
    circle,
    row,
    slot,
)

SECTION = circle(16)
PLACES = (-19.0, -9.0, 0.0, 8.0, 17.0)  # mm
SPREAD = np.array([0.2, 0.1, 0.3, 0.15, 0.3, 0.15])  # mm and rad
SLID = 0.05  # mm
FRICTION = 0.3
TORQUE = np.deg2rad([30.0, -30.0, 30.0, -30.0, 30.0])


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [_without_friction(), _with_friction(), _turned_brackets()]


@cache
def displaced(friction: float) -> Trial:
    """Return a round wire in five slots out of line at random, always alike, that then slide."""
    wire = row(SECTION, 5 * [slot(22 * INCH)], PLACES, friction=friction)
    poses = SPREAD * np.random.default_rng(3).uniform(-1, 1, size=(5, 6))
    there = wire.kept(at(wire, poses))
    poses[:, ALONG] += SLID * np.array([1, -1, 1, -1, 1])
    return at(there, poses)


def torque_per_push(trial: Trial) -> Array:
    """Return moments of all contact forces about the wire's centre line over their sum, mm, (n,).

    Forces of a pair act on the two nodes of an element; their moment about the tangent at the
    pair's point is that of the contact force.
    """
    contact, count = trial.contact, len(trial.frames.place)
    axis = Curves(trial.what.rod.shape, np.zeros((len(contact.near), 2)))
    centre = axis.at(trial.unknowns.place, contact.flat.station[contact.near])
    turning = _about(trial, contact.along, centre)
    turning += _about(trial, contact.aside, contact.gone.points)
    push = np.zeros(count)
    np.add.at(push, contact.slot, contact.push)
    return np.abs(turning) / push


def _about(trial: Trial, applied: Applied, points: CurvePoints) -> Array:
    """Return moments of forces about the tangents at their points, summed by slot, N·mm, (n,)."""
    nodes = trial.unknowns.place.nodes
    point, slope = points.path[VALUE], points.path[SLOPE]
    moment = np.zeros_like(point)
    for end in (0, 1):
        force, couple = (applied.force[:, 6 * end + k : 6 * end + k + 3] for k in (0, 3))
        moment += np.cross(nodes[applied.element + end] - point, force) + couple
    about = np.einsum("pi,pi->p", moment, slope) / np.linalg.norm(slope, axis=1)
    total = np.zeros(len(trial.frames.place))
    np.add.at(total, applied.slot, about)
    return total


def _without_friction() -> Check:
    return Check(
        name="slot-round-moment",
        quantity="moment of all contact forces at a slot about a round wire's centre line, over "
        "their sum and its diameter, no friction: the largest of five slots",
        unit="1",
        kind="verification",
        source="normal forces on a round wire pass through its centre line",
        status="closed form",
        # round-off of arms
        tolerance=1e-9,
        measure="absolute",
        compute=lambda: Outcome(torque_per_push(displaced(0.0)).max() / SECTION.height, 0.0),
    )


def _with_friction() -> Check:
    return Check(
        name="slot-round-moment-of-friction",
        quantity=f"the same with friction of {FRICTION:g}, over what friction can do: half the "
        "diameter times its coefficient times the normal forces",
        unit="1",
        kind="verification",
        source="friction acts at the surface and is at most Coulomb's limit",
        status="closed form",
        # the limit itself
        tolerance=1.0,
        measure="absolute",
        compute=lambda: Outcome(
            torque_per_push(displaced(FRICTION)).max() / (0.5 * SECTION.height * FRICTION), 0.0
        ),
    )


def turned_brackets() -> float:
    """Return the largest force of a straight round wire on slots in line, turned about it, N."""
    wire = row(SECTION, 5 * [slot(22 * INCH)], PLACES)
    poses = np.zeros((5, 6))
    poses[:, ABOUT_ALONG] = TORQUE
    return float(np.abs(at(wire, poses).on_slots).max())


def _turned_brackets() -> Check:
    return Check(
        name="slot-round-turned-brackets",
        quantity="largest force, N, or moment, N·mm, of a straight round wire on slots in line "
        "that are turned about it by 30 deg to either side",
        unit="N, N·mm",
        kind="verification",
        source="a straight round wire lies in turned slots without stress",
        status="closed form",
        tolerance=1e-6,
        measure="absolute",
        compute=lambda: Outcome(turned_brackets(), 0.0),
    )
