"""Where a tooth turns about: centre of rotation, M/F, and the drift that follows from both."""

from functools import partial
from itertools import product

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.bone.support import motion_at
from gomphosis.bone.teeth import tooth
from gomphosis.bone.wall import SocketWall
from gomphosis.fem.section import Array
from gomphosis.scenarios.checks.bodies import (
    INCISOR,
    STIFF,
    bracket_height,
    centre_speed,
    default_young,
    drift,
    lateral,
    rotation_height,
    solved,
    thin_wall,
)
from gomphosis.scenarios.checks.check import SHOWN, Check, Outcome

LAYER = "a linear rate law moves a thin layer's wall in proportion to its own displacement"
POISSONS = (0.3, 0.45)


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_long_term(*case) for case in product((False, True), POISSONS)),
        *(_equal_speed(*case) for case in product((True, False), POISSONS)),
        _translation(),
        _constant(),
        *_gaps(),
        _tipping_type(),
    ]


def _wall(stiff: bool, poisson: float) -> SocketWall:
    young = STIFF if stiff else default_young()
    return SocketWall(solved(INCISOR, young=young, poisson=poisson, rigid=stiff))


def _long_term(stiff: bool, poisson: float) -> Check:
    words = f"{STIFF} MPa, rigid root and bone" if stiff else "default modulus"

    def compute() -> Outcome:
        wall = _wall(stiff, poisson)
        load = lateral(bracket_height(INCISOR))
        return Outcome(
            rotation_height(drift(wall, load)),
            rotation_height(wall.support.displacement(load)),
        )

    return Check(
        name=f"long-term-rotation-{'stiff' if stiff else 'default'}-nu-{poisson:g}",
        quantity=(
            f"height of the centre of rotation over the crest in tipping, drift against elastic, "
            f"{words}, nu {poisson:g}"
        ),
        unit="mm",
        kind="verification",
        source=f"{LAYER}: both centres coincide",
        status="closed form",
        # the ligament is no thin layer of even thickness: 2 % covers its hourglass shape
        tolerance=0.02,
        compute=compute,
    )


def speed_ratio(wall: SocketWall) -> float:
    """Return the speed of the centre of resistance in tipping over that in translation."""
    centre = wall.support.planar.centre_of_resistance
    tipping = centre_speed(wall, lateral(bracket_height(INCISOR)))
    return tipping / centre_speed(wall, lateral(centre))


def _equal_speed(thin: bool, poisson: float) -> Check:
    words = "thin even layer" if thin else "default ligament"

    def compute() -> Outcome:
        wall = thin_wall(poisson) if thin else _wall(stiff=False, poisson=poisson)
        return Outcome(speed_ratio(wall), 1.0)

    return Check(
        name=f"equal-speed-{'thin' if thin else 'default'}-nu-{poisson:g}",
        quantity=(
            "speed of the centre of resistance, tipping over translation at equal force, linear "
            f"rate law, {words}, nu {poisson:g}"
        ),
        unit="1",
        kind="verification",
        source=LAYER,
        status="closed form",
        # uneven thickness and elastic bone weigh the wall differently in both movements
        tolerance=0.02 if thin else 0.10,
        measure="absolute",
        compute=compute,
    )


def ratio_for(height: float) -> float:
    """Return M/F at the bracket, mm, for which an incisor turns about a height in mm.

    Infinity asks for translation. The moment that holds the crown back counts positive.
    """
    support = solved(INCISOR, young=default_young(), poisson=0.3)
    carry = motion_at(np.array([0.0, 0.0, bracket_height(INCISOR)])).T
    force, moment = (support.displacement(carry @ unit) for unit in np.eye(6)[[0, 4]])
    # displacement at the height, or the rotation, vanishes: linear in the moment
    row = np.eye(6)[4] if np.isinf(height) else motion_at(np.array([0, 0, height]))[0]
    return float((row @ force) / (row @ moment))


def _translation() -> Check:
    def compute() -> Outcome:
        centre = solved(INCISOR, young=default_young(), poisson=0.3).planar.centre_of_resistance
        return Outcome(ratio_for(np.inf), bracket_height(INCISOR) - centre)

    return Check(
        name="translation-ratio",
        quantity="M/F at the bracket that translates, against the distance to the centre",
        unit="mm",
        kind="verification",
        source="definition of the centre of resistance",
        status="closed form",
        # exact but for round-off
        tolerance=1e-9,
        compute=compute,
    )


def rotation_constants(heights: Array) -> Array:
    """Return a*b, mm^2, for labial forces at heights above the crest in mm."""
    support = solved(INCISOR, young=default_young(), poisson=0.3)
    centre = support.planar.centre_of_resistance
    turned = [rotation_height(support.displacement(lateral(height))) for height in heights]
    return (heights - centre) * (centre - np.array(turned))


def _constant() -> Check:
    cited = lookup("rotation_constant.constancy")

    def compute() -> Outcome:
        found = rotation_constants(np.array([-11.0, -2.0, 1.0, 6.0, 15.0]))
        return Outcome(float(np.ptp(found) / found.mean()), 0.0)

    return Check(
        name="rotation-constant-spread",
        quantity="spread of a*b over five lines of force, relative",
        unit="1",
        kind="verification",
        source=cited.source,
        status=cited.status,
        # exact in a linear body; round-off where the line passes near the centre
        tolerance=1e-8,
        measure="absolute",
        compute=compute,
    )


def _gaps() -> list[Check]:
    anatomy = tooth(INCISOR)
    below = lookup("bone.crest_below_cervix").number
    apex, edge = below - anatomy.root_length, below + anatomy.crown_length
    rows = (
        ("apex-to-translation", "translation less rotation about the apex", apex, 1),
        ("translation-to-edge", "rotation about the incisal edge less translation", edge, -1),
    )
    found = []
    for name, words, height, sign in rows:
        cited = lookup(f"moment_to_force.gap_{name.replace('-', '_')}")
        check = Check(
            name=f"ratio-gap-{name}",
            quantity=f"gap of M/F at the bracket: {words}",
            unit="mm",
            kind="verification",
            source=cited.source,
            status=cited.status,
            expected=SHOWN,
            measure="absolute",
            compute=partial(_gap, height, sign, cited.number),
            note=cited.note,
        )
        found.append(check)
    return found


def _gap(height: float, sign: int, theirs: float) -> Outcome:
    return Outcome(sign * (ratio_for(np.inf) - ratio_for(height)), theirs)


def _tipping_type() -> Check:
    cited = lookup("movement_type.uncontrolled_tipping")

    def compute() -> Outcome:
        found = solved(INCISOR, young=default_young(), poisson=0.3)
        turn = rotation_height(found.displacement(lateral(bracket_height(INCISOR))))
        edge = tooth(INCISOR).crown_length + lookup("bone.crest_below_cervix").number
        return Outcome(
            (-found.design.root.length - turn) / (edge - turn), float(np.mean(cited.numbers))
        )

    return Check(
        name="single-force-tips",
        quantity="apex over edge displacement of an incisor under a single force at the bracket",
        unit="1",
        kind="validation",
        source=cited.source,
        status=cited.status,
        expected=SHOWN,
        measure="band half-width",
        compute=compute,
        note=(
            f"uncontrolled tipping lies between {cited.numbers[0]:g} and {cited.numbers[1]:g}: a "
            "classification, not a measurement"
        ),
    )
