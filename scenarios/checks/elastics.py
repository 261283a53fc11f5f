"""Elastics between teeth against closed forms: spring, lever, balance, loss of force, drift."""

from collections.abc import Callable
from functools import cache

import numpy as np

from gomphosis.bone.loop import Period, settle, simulate
from gomphosis.bone.rates import Linear
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.support import motion_at
from gomphosis.bone.wall import SocketWall
from gomphosis.fem.section import Array
from gomphosis.scenarios.arch import ArchForm, StraightLine, axes
from gomphosis.scenarios.checks.bodies import INCISOR, default_young, solved
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.elastics import Attachments, ElasticLaw, ElasticLoads
from gomphosis.scenarios.slots import Bracket
from gomphosis.scenarios.wire_shape import WireShape

ARCH = ArchForm(25.0, 30.0, 0.3)
SLOTS = np.array([[4.0, 0.5, 5.0], [4.5, -0.3, 4.0], [5.0, 0.0, 3.0]])
PLACES = (-18.0, -9.0, 2.0)
MOVED = np.array(
    [
        [1.0, -0.8, 0.6, 0.05, -0.1, 0.15],
        [-0.7, 1.5, -0.4, -0.2, 0.1, 0.05],
        [0.3, 0.9, 1.1, 0.1, 0.12, -0.2],
    ]
)
LAW = ElasticLaw(1.5, 0.4, lost_share=0.5, time_constant=2.0)
DAY = 3.0
TINY = 1e-3  # N: teeth move so little that the line of pull stays as it is
DAYS, STEP, SPEED = 12.0, 0.05, Linear(20.0)


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [_spring(), _lever(), _balance(), _loss(), _derivative(), _series(), _drift()]


@cache
def chain() -> ElasticLoads:
    """Return a chain over three teeth of an arch, put on at rest and three days old."""
    brackets = [
        Bracket(place, slot, np.zeros(6)) for place, slot in zip(PLACES, SLOTS, strict=True)
    ]
    loads = ElasticLoads(LAW, Attachments((0, 1, 2), tuple(brackets), 3), shape=WireShape(ARCH))
    loads.engage(np.zeros((3, 6)))
    loads.at_day(DAY)
    return loads


def attachments(poses: Array) -> Array:
    """Return the places of the attachments in the arch frame, mm, (3, 3), by hand."""
    found = []
    for place, slot, pose in zip(PLACES, SLOTS, poses, strict=True):
        frame = axes(float(ARCH.direction(np.array([place]))[0]))
        moved = pose[:3] + np.cross(pose[3:], slot)
        found.append(ARCH.point(np.array([place]))[0] + frame @ moved)
    return np.array(found)


def in_arch(wrenches: Array) -> tuple[Array, Array]:
    """Return forces and moments about the crests in the arch frame, each (3, 3)."""
    frames = [axes(float(ARCH.direction(np.array([place]))[0])) for place in PLACES]
    turned = [(frame @ w[:3], frame @ w[3:]) for frame, w in zip(frames, wrenches, strict=True)]
    return np.array([force for force, _ in turned]), np.array([moment for _, moment in turned])


def _spring() -> Check:
    def compute() -> Outcome:
        first = attachments(MOVED)[:2]
        rest = attachments(np.zeros((3, 6)))[:2]
        longer = np.linalg.norm(first[1] - first[0]) - np.linalg.norm(rest[1] - rest[0])
        pull = float(np.linalg.norm(chain().evaluate(MOVED).wrenches[0, :3]))
        left = 0.5 + 0.5 * np.exp(-DAY / 2.0)
        return Outcome(pull, float((1.5 + 0.4 * longer) * left))

    return _check(
        "elastic-spring",
        "pull of a link between two teeth that moved by millimetres",
        "N",
        "two points and a spring: k (l - l0), less what time took (derived here)",
        compute,
        tolerance=1e-12,
    )


def _lever() -> Check:
    def compute() -> Outcome:
        wrench = chain().evaluate(MOVED).wrenches[0]
        about = np.cross(SLOTS[0], wrench[:3])
        return Outcome(float(np.linalg.norm(wrench[3:] - about)), 0.0)

    return _check(
        "elastic-moment-about-crest",
        "moment about the crest less lever times force",
        "N·mm",
        "statics: M = r x F, r from crest to attachment",
        compute,
        tolerance=1e-12,
        measure="absolute",
    )


def net(poses: Array) -> float:
    """Return the largest part of the net force (N) or moment (N·mm) of the chain on all teeth."""
    force, moment = in_arch(chain().evaluate(poses).wrenches)
    frames = [axes(float(ARCH.direction(np.array([place]))[0])) for place in PLACES]
    arms = np.array([frame @ slot for frame, slot in zip(frames, SLOTS, strict=True)])
    at_attachment = moment - np.cross(arms, force)
    about = at_attachment + np.cross(attachments(poses), force)
    return float(max(np.abs(force.sum(axis=0)).max(), np.abs(about.sum(axis=0)).max()))


def _balance() -> Check:
    return _check(
        "elastic-balance",
        "net force (N) and moment (N·mm) of a chain about the arch's origin, largest part",
        "1",
        "what pulls one tooth pulls the next the other way along one line",
        lambda: Outcome(net(MOVED), 0.0),
        tolerance=1e-12,
        measure="absolute",
    )


def _loss() -> Check:
    def compute() -> Outcome:
        rest = np.zeros((3, 6))
        return Outcome(float(chain().tensions(rest, 1.0)[0]), 1.5 * (0.5 + 0.5 * np.exp(-0.5)))

    return _check(
        "elastic-loss",
        "pull of a link one day after it was put on, teeth unmoved",
        "N",
        "F0 (r + (1 - r) exp(-t / tau)), r the share that stays",
        compute,
        tolerance=1e-12,
    )


def derivative_error(poses: Array, step: float = 1e-4) -> float:
    """Return the largest error of the derivative by central differences over its largest part."""
    exact = chain().evaluate(poses).derivative
    found = np.empty_like(exact)
    for column in range(exact.shape[1]):
        change = np.zeros(poses.size)
        change[column] = step
        ends = [
            chain().evaluate(poses + sign * change.reshape(poses.shape)).wrenches.ravel()
            for sign in (1, -1)
        ]
        found[:, column] = (ends[0] - ends[1]) / (2 * step)
    return float(np.abs(found - exact).max() / np.abs(exact).max())


def _derivative() -> Check:
    return _check(
        "elastic-derivative",
        "derivative of all force systems by all poses against differences, relative",
        "1",
        "central differences over 1e-4 mm and rad",
        lambda: Outcome(derivative_error(MOVED), 0.0),
        # the square of the step over the length of a link, and round-off over the step
        tolerance=1e-6,
        measure="absolute",
    )


@cache
def _pair() -> tuple[Remodelling, tuple[Bracket, ...]]:
    wall = SocketWall(solved(INCISOR, young=default_young(), poisson=0.3))
    slot = np.array([0.0, 0.0, 5.0])
    brackets = tuple(Bracket(place, slot, np.zeros(6)) for place in (0.0, 8.0))
    return Remodelling(wall, SPEED), brackets


def _joined(law: ElasticLaw) -> ElasticLoads:
    attached = Attachments((0, 1), _pair()[1], 2)
    return ElasticLoads(law, attached, shape=WireShape(StraightLine()))


def _series() -> Check:
    stiffness = 2.0

    def compute() -> Outcome:
        tooth, brackets = _pair()
        _, wrenches = settle([tooth, tooth], _joined(ElasticLaw(TINY, stiffness)))
        at_slot = motion_at(brackets[0].slot)[1]
        give = float(at_slot @ tooth.wall.support.compliance @ at_slot)
        return Outcome(float(wrenches[0, 1]), TINY / (1 + 2 * give * stiffness))

    return _check(
        "elastic-and-ligaments",
        "pull of a spring of 2 N/mm once both teeth gave way in their sockets",
        "N",
        "three springs in a row (derived here)",
        compute,
        # that the teeth turn is left out, by some 1e-5 rad: of second order
        tolerance=1e-8,
    )


def _drift() -> Check:
    def compute() -> Outcome:
        tooth, _ = _pair()
        law = ElasticLaw(TINY, 0.0, lost_share=0.5, time_constant=2.0)
        track = simulate([tooth, tooth], [Period(0.0, _joined(law))], days=DAYS, step=STEP)
        unit = motion_at(_pair()[1][0].slot).T @ np.eye(6)[1]
        impulse = TINY * (0.5 * DAYS + 0.5 * 2.0 * (1 - np.exp(-DAYS / 2.0)))
        return Outcome(float(track.drift[-1, 0, 1]), float(tooth.drift(unit)[0][1] * impulse))

    return _check(
        "elastic-tiring-drift",
        "drift of a tooth in 12 days under an elastic that loses half of its force",
        "mm",
        "speed per force times the integral of the force (linear law, derived here)",
        compute,
        # implicit Euler: half the step times the force lost, over the integral: 0.18 %
        tolerance=0.0025,
    )


def _check(
    name: str,
    quantity: str,
    unit: str,
    source: str,
    compute: Callable[[], Outcome],
    *,
    tolerance: float,
    measure: str = "relative",
) -> Check:
    return Check(
        name=name,
        quantity=quantity,
        unit=unit,
        kind="verification",
        source=source,
        status="closed form",
        compute=compute,
        tolerance=tolerance,
        measure=measure,
    )
