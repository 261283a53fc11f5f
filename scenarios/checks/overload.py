"""Overloaded wall that stands still: area and lost movement of an even wall in closed form.

A cylinder in a thin even layer, translated: the pressure is p_0 cos(theta), so the wall within
plus and minus theta_0 stops, cos(theta_0) = limit / p_0, and moves again after the delay. The wall
that moves drives the tooth in proportion to its stiffness, M cos^2 + G sin^2.
"""

from collections.abc import Callable
from functools import cache

import numpy as np

from gomphosis.bone.loads import ConstantLoads
from gomphosis.bone.loop import Period, Track, simulate
from gomphosis.bone.overload import Lag
from gomphosis.bone.rates import Linear
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, support
from gomphosis.bone.wall import SocketWall
from gomphosis.scenarios.checks.bodies import default_young, lateral
from gomphosis.scenarios.checks.check import Check, Outcome

ROOT = RootProfile(3.0, 10.0, 0.0)  # mm
THICKNESS = 0.03  # mm
FORCE = 0.5  # N
RATE = Linear(20.0)  # mm/day per MPa
DELAY, DAYS, STEP = 3.3, 9.0, 0.5  # day
SHARE = 0.7  # limit over the largest pressure
ANGLE = float(np.arccos(SHARE))
SOURCE = "translated cylinder in a thin even layer (derived here)"
# the thickness is 1 % of the radius, and edges at bottom and crest are free
TOLERANCE = 0.01


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        _check("stopped-area", "area of overloaded wall that stops", "mm2", stopped_area),
        _check("stopped-days", "days for which overloaded wall stands still", "day", stopped_days),
        _check("stopped-loss", "movement lost to the wall that stopped", "um", lost_movement),
    ]


def _pair() -> Elastic:
    return Elastic(default_young(), 0.3)


@cache
def wall() -> SocketWall:
    """Return the wall of the cylinder in sectors of one degree."""
    layer = ThicknessProfile.uniform(THICKNESS)
    design = SupportDesign(ROOT, layer, _pair(), None, None)
    return SocketWall(support(design, Resolution(along=16)), 360)


def largest_pressure() -> float:
    """Return p_0 in MPa: bulk modulus times displacement over thickness."""
    pair = _pair()
    area = np.pi * ROOT.radius * ROOT.length
    displacement = FORCE * THICKNESS / (area * (pair.constrained + pair.shear))
    bulk = pair.young / (3 * (1 - 2 * pair.poisson))
    return bulk * displacement / THICKNESS


@cache
def follow(stops: bool) -> Track:
    """Follow the cylinder for nine days, with or without the lag."""
    lag = Lag(SHARE * largest_pressure(), DELAY) if stops else None
    model = Remodelling(wall(), RATE, lag=lag)
    loads = ConstantLoads(lateral(wall().support.planar.centre_of_resistance, FORCE)[None])
    return simulate([model], [Period(0.0, loads)], days=DAYS, step=STEP)


def stopped_area() -> Outcome:
    """Return the area that stops at the start, against 2 theta_0 r h."""
    stopped = follow(True).stopped
    ours = np.nan if stopped is None else stopped[0, 0]
    return Outcome(float(ours), 2 * ANGLE * (ROOT.radius + THICKNESS) * ROOT.length)


def _moved(stops: bool) -> float:
    """Return the movement of the centre of resistance, mm."""
    drift = follow(stops).drift[-1, 0]
    return float(drift[0] + wall().support.planar.centre_of_resistance * drift[4])


def _lost_share() -> float:
    """Return the share of the speed that the stopped wall takes away, in closed form."""
    M, G = _pair().constrained, _pair().shear
    sine = np.sin(ANGLE) * np.cos(ANGLE)
    return float((M * (ANGLE + sine) + G * (ANGLE - sine)) / (np.pi * (M + G)))


def stopped_days() -> Outcome:
    """Return the lost movement in days of the speed that the stopped wall takes away."""
    days, drift = follow(True).days, follow(True).drift[:, 0]
    height = wall().support.planar.centre_of_resistance
    moved = drift[:, 0] + height * drift[:, 4]
    slow, fast = moved[1] / days[1], (moved[-1] - moved[-2]) / (days[-1] - days[-2])
    return Outcome(float((fast * DAYS - moved[-1]) / (fast - slow)), DELAY)


def lost_movement() -> Outcome:
    """Return the movement less than without a lag, um, against share, speed and delay."""
    lost = _moved(False) - _moved(True)
    return Outcome(1e3 * lost, 1e3 * _lost_share() * DELAY * _moved(False) / DAYS)


def _check(name: str, quantity: str, unit: str, compute: Callable[[], Outcome]) -> Check:
    return Check(
        name=name,
        quantity=f"{quantity}, translated cylinder",
        unit=unit,
        kind="verification",
        source=SOURCE,
        status="closed form",
        tolerance=TOLERANCE,
        compute=compute,
    )
