"""Bone lost at the crest and root lost at the apex: centre of resistance, M/F, and what follows."""

from collections.abc import Sequence
from functools import cache, partial

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import Elastic, Support, SupportDesign, motion_at, support
from gomphosis.bone.teeth import tooth
from gomphosis.bone.thin_layer import surface_integrals
from gomphosis.fem.section import Array
from gomphosis.scenarios.checks.bodies import (
    INCISOR,
    THIN,
    bracket_height,
    default_young,
    lateral,
    rotation_height,
)
from gomphosis.scenarios.checks.check import SHOWN, Check, Outcome
from gomphosis.scenarios.model import support_design
from gomphosis.scenarios.schema import Ligament

LOSSES = (0.0, 2.0, 4.0, 6.0, 8.0)
"""Bone lost at the crest, mm: the published range."""
SLENDER = RootProfile(radius=0.3, length=12.0, exponent=0.35)
"""A root so slender that only its width weighs each height: no springs along its walls turn it."""
LAYER = (
    "width ~ (1 - z/h)^n on uniform springs has its centre of resistance at h/(n + 2), and stays "
    "such a profile at any bone level (derived here)"
)


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_slender(*case) for case in (("crest", 0.35), ("crest", 0.5), ("apex", 0.35))),
        *(_bracket_distance(loss) for loss in LOSSES[1:]),
        _average_tooth(),
        *_directions(),
    ]


@cache
def slender_support(length: float, exponent: float, loss: float) -> Support:
    """Return a slender root in a thin even layer, its crest lowered by a loss in mm."""
    root = RootProfile(SLENDER.radius, length, exponent).below(loss)
    layer = ThicknessProfile.uniform(THIN * SLENDER.radius)
    pair = Elastic(default_young(), 0.3)
    return support(SupportDesign(root, layer, pair, None, None))


@cache
def incisor_support(loss: float) -> Support:
    """Return the average upper central incisor after a loss of bone at the crest in mm."""
    anatomy = tooth(INCISOR)
    embedded = anatomy.root_length - lookup("bone.crest_below_cervix").number - loss
    return support(support_design(anatomy, embedded, Ligament(), crest_loss=loss))


def translation_ratio(found: Support, height: float) -> float:
    """Return M/F that keeps a tooth upright, mm, for a bracket at a height over its crest in mm.

    From the answers to a force and to a couple at the bracket, not from the stiffness.
    """
    carry = motion_at(np.array([0.0, 0.0, height])).T
    force, couple = (found.displacement(carry @ unit) for unit in np.eye(6)[[0, 4]])
    return float(force[4] / couple[4])


def slender_growth(end: str, exponent: float, *, lost: float = 4.0) -> Outcome:
    """Return how M/F of translation grows per mm lost at one end, and the closed form."""
    height, length = bracket_height(INCISOR), SLENDER.length
    whole = translation_ratio(slender_support(length, exponent, 0.0), height)
    share = 1 / (exponent + 2)
    if end == "crest":
        less = translation_ratio(slender_support(length, exponent, lost), height + lost)
        return Outcome((less - whole) / lost, 1 - share)
    less = translation_ratio(slender_support(length - lost, exponent, 0.0), height)
    return Outcome((less - whole) / lost, -share)


def _slender(end: str, exponent: float) -> Check:
    return Check(
        name=f"bone-loss-ratio-per-mm-{end}-n-{exponent:g}",
        quantity=(
            f"growth of M/F of translation per mm lost at the {end}, slender root in a thin even "
            f"layer, n {exponent:g}"
        ),
        unit="1",
        kind="verification",
        source=(
            f"{LAYER}: the bracket comes away from it by 1 - 1/(n + 2) per mm of crest, and nearer "
            "by 1/(n + 2) per mm of apex"
        ),
        status="closed form",
        # asked in advance: what is left is the blunt apex, whose wall lies across the axis
        tolerance=0.01,
        compute=partial(slender_growth, end, exponent),
    )


def _bracket_distance(loss: float) -> Check:
    def compute() -> Outcome:
        found = incisor_support(loss)
        height = bracket_height(INCISOR) + loss
        layer = surface_integrals(
            found.design.root, found.design.thickness, young=default_young(), poisson=0.3
        )
        return Outcome(translation_ratio(found, height), height - layer.centre_of_resistance)

    return Check(
        name=f"bone-loss-ratio-{loss:g}-mm",
        quantity=f"M/F of translation of tooth {INCISOR}, {loss:g} mm of bone lost at the crest",
        unit="mm",
        kind="verification",
        source="springs M/t and G/t integrated over the ligament's middle surface (derived here)",
        status="closed form",
        # 0.010 of the root in bone, as for every centre of resistance
        tolerance=0.010 * incisor_length(loss),
        measure="absolute",
        compute=compute,
    )


def incisor_length(loss: float) -> float:
    """Return the root in bone of the average incisor after a loss at the crest, mm."""
    whole = tooth(INCISOR).root_length - lookup("bone.crest_below_cervix").number
    return whole - loss


def _average_tooth() -> Check:
    def compute() -> Outcome:
        height = bracket_height(INCISOR)
        whole, less = (
            translation_ratio(incisor_support(loss), height + loss) for loss in LOSSES[:2]
        )
        share = -incisor_support(0.0).planar.centre_of_resistance / incisor_length(0.0)
        return Outcome((less - whole) / LOSSES[1], 1 - share)

    cited = lookup("bone_loss.choy")
    return Check(
        name="bone-loss-ratio-per-mm-average-incisor",
        quantity=f"growth of M/F of translation of tooth {INCISOR} per mm of bone, 1 - CR/h",
        unit="1",
        kind="verification",
        source=cited.source,
        status=cited.status,
        expected=SHOWN,
        compute=compute,
        note=(
            "theirs takes the centre to keep its place in the root within bone, as in a plane "
            "model; a shorter root of about the same width is held more by shear along its walls, "
            "which moves the centre a little towards the crest"
        ),
    )


def _answers(loss: float) -> dict[str, float]:
    """Return what bone loss is said to change, of an incisor under 1 N at its bracket."""
    found, length = incisor_support(loss), incisor_length(loss)
    anatomy = tooth(INCISOR)
    height = bracket_height(INCISOR) + loss
    motion = found.displacement(lateral(height))
    edge = anatomy.crown_length + lookup("bone.crest_below_cervix").number + loss
    turns = -rotation_height(motion)
    depth = -found.planar.centre_of_resistance
    return {
        "ratio": translation_ratio(found, height),
        "centre-in-the-tooth": loss + depth,
        "centre-below-crest": -depth,
        "incisal-movement": abs(_across(motion, edge)),
        "apical-movement": abs(_across(motion, -length)),
        "rotation-centre-in-the-root": -turns / length,
        "rotation-centre-in-the-tooth": -(loss + turns),
    }


def _across(motion: Array, height: float) -> float:
    return float(motion[0] + height * motion[4])


def steps_along(values: Sequence[float]) -> float:
    """Return how many steps of a series rise."""
    return float(np.sum(np.diff(values) > 0))


DIRECTIONS = {
    "ratio": "M/F of translation rises",
    "centre-in-the-tooth": "the centre of resistance moves apically in the tooth",
    "centre-below-crest": "the centre of resistance comes nearer to the crest",
    "incisal-movement": "incisal movement under 1 N grows",
    "apical-movement": "apical movement under 1 N grows",
    "rotation-centre-in-the-root": (
        "the centre of rotation of a single force moves cervically in the root within bone"
    ),
}


def _directions() -> list[Check]:
    found = [_direction(key, words) for key, words in DIRECTIONS.items()]
    return [*found, _rotation_in_the_tooth()]


def _counted(key: str) -> Outcome:
    return Outcome(steps_along([_answers(loss)[key] for loss in LOSSES]), len(LOSSES) - 1.0)


def _direction(key: str, words: str) -> Check:
    cited = lookup("bone_loss.geramy")
    return Check(
        name=f"bone-loss-direction-{key}",
        quantity=f"steps of 2 mm from 0 to 8 mm of bone lost in which {words}",
        unit="1",
        kind="verification",
        source=cited.source,
        status=cited.status,
        # a count
        tolerance=0.5,
        measure="absolute",
        compute=partial(_counted, key),
        note=f"a direction only: {cited.note}",
    )


def _rotation_in_the_tooth() -> Check:
    cited = lookup("bone_loss.geramy")
    return Check(
        name="bone-loss-direction-rotation-centre-in-the-tooth",
        quantity="steps of 2 mm from 0 to 8 mm of bone lost in which the centre of rotation of a "
        "single force moves cervically in the tooth itself",
        unit="1",
        kind="verification",
        source=cited.source,
        status=cited.status,
        expected=SHOWN,
        measure="absolute",
        compute=partial(_counted, "rotation-centre-in-the-tooth"),
        note="the abstract does not say against what the centre shifts; here it comes nearer to "
        "the crest, but the crest sinks faster",
    )
