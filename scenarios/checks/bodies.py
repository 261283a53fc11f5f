"""The average teeth that the checks load, solved once."""

from dataclasses import replace
from functools import cache

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.bone.rates import Linear, RateLaw
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import Elastic, Support, SupportDesign, motion_at, support
from gomphosis.bone.teeth import tooth
from gomphosis.bone.wall import SocketWall
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import support_design
from gomphosis.scenarios.schema import Ligament

INCISOR = 11
STIFF = 0.68  # MPa: thirteen times the default ligament
THIN = 0.005  # thickness over radius of a layer that counts as thin
LINEAR = Linear(1.0)  # its constant cancels from every check that uses it


def design(number: int, *, young: float, poisson: float, rigid: bool = False) -> SupportDesign:
    """Return the support of an average tooth with another ligament, or between rigid bodies."""
    anatomy = tooth(number)
    embedded = anatomy.root_length - lookup("bone.crest_below_cervix").number
    found = support_design(anatomy, embedded, Ligament())
    changed = replace(found, ligament=Elastic(young, poisson))
    return replace(changed, dentine=None, bone=None) if rigid else changed


def default_young() -> float:
    """Return the default modulus of the ligament, MPa."""
    return Ligament().young


@cache
def solved(number: int, *, young: float, poisson: float, rigid: bool = False) -> Support:
    """Return the solved support of an average tooth."""
    return support(design(number, young=young, poisson=poisson, rigid=rigid))


@cache
def thin_wall(poisson: float, *, thin: float = THIN) -> SocketWall:
    """Return the wall of an incisor in a thin even layer between rigid bodies.

    Parameters
    ----------
    poisson
        Of the layer.
    thin
        Thickness over the root's radius at the crest.
    """
    root = RootProfile(3.24, 12.0, 0.35)
    # the wall is wider than the middle surface by t/2, which matters most where the root is
    # narrow: the rule holds to first order in t/R only (the tests show the difference halve)
    layer = ThicknessProfile.uniform(thin * root.radius)
    pair = Elastic(default_young(), poisson)
    return SocketWall(support(SupportDesign(root, layer, pair, None, None)))


def bracket_height(number: int) -> float:
    """Return the height of the slot's centre above the bone crest, mm."""
    above = tooth(number).crown_length + lookup("bone.crest_below_cervix").number
    return above - lookup("bracket.from_incisal_edge").number


def lateral(height: float, force: float = 1.0) -> Array:
    """Return the wrench about the crest of a labial force in N at a height in mm."""
    return motion_at(np.array([0.0, 0.0, height])).T @ np.array([force, 0, 0, 0, 0, 0])


def rotation_height(motion: Array) -> float:
    """Return the height of the centre of rotation above the crest, mm, in the labial plane."""
    return float(-motion[0] / motion[4])


def drift(wall: SocketWall, wrench: Array, law: RateLaw = LINEAR) -> Array:
    """Return the drift per day, shape (6,)."""
    return Remodelling(wall, law).drift(wrench)[0]


def centre_speed(wall: SocketWall, wrench: Array, law: RateLaw = LINEAR) -> float:
    """Return the labial speed of the centre of resistance, mm/day."""
    height = wall.support.planar.centre_of_resistance
    speed = drift(wall, wrench, law)
    return float(speed[0] + height * speed[4])
