"""Torque of a slot on a rectangular wire: none within the play, then torsion; and a tie's couple.

The slot stands between two that fix the wire's twist at their near edges, all with lids out of
reach: the walls alone turn the wire.
"""

from functools import cache

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.slot_system import Trial
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.checks.slot_rig import (
    ABOUT_ALONG,
    INCH,
    LID,
    WIDE,
    at,
    off_the_floor,
    rectangle,
    row,
    slot,
    turn,
)
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.play import torsional_play
from gomphosis.scenarios.slot_walls import OCCLUSAL

SECTION = rectangle(19, 25, 0.05)
HEIGHT = 22 * INCH
FREE = 5.0, 7.0  # mm of wire from the slot's edges to the edges of its neighbours
DEEP, LIFTED = 1.3, 0.3  # mm; the wire off the floor and the lid
SNUG = 1e-4  # mm of play of the neighbours
WITHIN, BEYOND = 0.5, (1.5, 2.5)  # of the play
SEATED = 0.5  # of the play: a wire turned by this is loaded by its tie alone
TORSION = "St-Venant torsion of two spans, G J (1/L1 + 1/L2) (derived here)"


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [_within(), _slope(), _couple(), _seated()]


@cache
def turned(share: float, tie: Ligation | None = None) -> Trial:
    """Return a wire whose middle slot is turned about it by a share of the play.

    Parameters
    ----------
    tie
        Of the middle slot; None: a lid out of reach, and the wire off the floor.
    """
    tight, wide = slot(SECTION.height + SNUG, depth=DEEP), slot(HEIGHT, depth=DEEP)
    places = (-FREE[0] - WIDE, 0.0, FREE[1] + WIDE)
    wire = row(SECTION, [tight, wide, tight], places, ties=(LID, tie or LID, LID))
    turns = np.zeros((3, 3))
    turns[1] = turn(0.0, np.rad2deg(share * torsional_play(SECTION, HEIGHT)))
    poses = off_the_floor(turns, 0.0 if tie else LIFTED)
    return at(wire, poses)


def moment(share: float, tie: Ligation | None = None) -> float:
    """Return the moment of the slot against its turn, N·mm."""
    return -float(turned(share, tie).on_slots[1, ABOUT_ALONG])


def _within() -> Check:
    return Check(
        name="slot-torque-within-play",
        quantity=f"moment about the wire of a slot turned by {WITHIN:g} of the play",
        unit="N·mm",
        kind="verification",
        source="a wire that touches neither wall is not turned",
        status="closed form",
        # what balance to 1e-8 N and contact that is rounded by 10 nm leave
        tolerance=1e-6,
        measure="absolute",
        compute=lambda: Outcome(moment(WITHIN), 0.0),
    )


def _slope() -> Check:
    def compute() -> Outcome:
        law = SECTION.elastic_section(180e3, 0.3)
        per_turn = law.twisting * sum(1.0 / span for span in FREE)
        turn = (BEYOND[1] - BEYOND[0]) * torsional_play(SECTION, HEIGHT)
        ours = (moment(BEYOND[1]) - moment(BEYOND[0])) / turn
        return Outcome(np.deg2rad(ours), np.deg2rad(per_turn))

    return Check(
        name="slot-torque-beyond-play",
        quantity="moment about a steel 0.019 x 0.025 in wire per turn beyond the play, neighbours "
        f"{FREE[0]:g} and {FREE[1]:g} mm from edge to edge",
        unit="N·mm/deg",
        kind="verification",
        source=TORSION,
        status="closed form",
        tolerance=0.01,
        compute=compute,
    )


def walls(trial: Trial) -> tuple[float, float]:
    """Return the sums of the normal forces on the middle slot's two walls, N."""
    edges, push = trial.what.contact.edges, trial.unknowns.push
    across = (edges.slot == 1) & (edges.axis == OCCLUSAL)
    occlusal, gingival = (float(push[across & (edges.side == side)].sum()) for side in (1, -1))
    return occlusal, gingival


def _couple() -> Check:
    return Check(
        name="slot-torque-couple",
        quantity="force on the gingival wall of a slot that turns a wire; theirs: on the occlusal",
        unit="N",
        kind="verification",
        source="a pure moment is a couple",
        status="closed form",
        tolerance=1e-6,
        compute=lambda: Outcome(*walls(turned(BEYOND[1], None))[::-1]),
    )


def seated_moment(share: float, tie: Ligation) -> float:
    """Return the closed-form moment of a tie on a wire turned by a share of the play, N·mm."""
    radius, angle = SECTION.rounding, share * torsional_play(SECTION, HEIGHT)
    flat, wide = SECTION.height - 2 * radius, SECTION.width - 2 * radius
    sine, cosine = np.sin(angle), np.cos(angle)
    # opposite edges touch the floor and the tie, which is lifted by what the turned wire is wider
    lifted = wide * cosine + flat * sine + 2 * radius - SECTION.width
    arm = flat * cosine - wide * sine
    return float((tie.force(0.0) + tie.stiffness * lifted) * arm)


def _seated() -> Check:
    force = lookup("ligation.normal_force")
    tie = Ligation(seating=force.number)
    return Check(
        name="slot-torque-of-a-tie",
        quantity=f"moment of a {force.number:g} N tie that seats a wire turned by {SEATED:g} of "
        "its play",
        unit="N·mm",
        kind="verification",
        source="couple of the tie and the floor on opposite edges of the wire (derived here); "
        f"force of the tie: {force.source}",
        status="closed form",
        # the wire's own bending and twist between the neighbours are left out
        tolerance=0.01,
        compute=lambda: Outcome(moment(SEATED, tie), seated_moment(SEATED, tie)),
    )
