"""Binding: a slot tipped on a wire beyond its play, and the force that then slides it.

Closed form (derived here): the neighbours support the wire simply at a free span L from the slot's
edges. The wire's deflection is odd about the slot's centre, so half of it is a beam on two
supports, a = W/2 + L long, loaded at W/2 from one end by the edge's force N and deflected there by
W/2 times the tip p beyond the play: N (W/2)^2 L^2 / (3 E I a) = (W/2) p. Both edges resist by
their friction: 2 mu N.
"""

from functools import cache

import numpy as np

from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.checks.slot_rig import (
    ABOUT_LABIAL,
    ALONG,
    INCH,
    LID,
    OPEN,
    STEEL,
    WIDE,
    anchored,
    at,
    circle,
    motions,
    row,
    rubbing,
    slot,
)
from gomphosis.scenarios.play import tip_play

SECTION = circle(16)
HEIGHT = 22 * INCH
FREE = 8.0  # mm from the slot's edges to the supports
POINT, SNUG = 1e-3, 2e-5  # mm: width and play of a slot that supports the wire simply
FRICTION = 0.15
TIP = np.deg2rad(0.5)  # beyond the play
SLID = 0.02  # mm: ten times the elastic slide of friction
PER_SPAN = 8


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [_normal(), _binding()]


def edge_force(tip: float) -> float:
    """Return the closed-form force of either edge on the wire, N, at a tip beyond the play, rad."""
    rigidity = STEEL[0] * SECTION.second_order_inertia
    return 6 * rigidity * tip / (FREE * WIDE) * (1 + WIDE / (2 * FREE))


@cache
def tipped(friction: float) -> tuple[float, float]:
    """Return the mean force of the edges and the resistance along the wire to sliding, N."""
    support = slot(SECTION.height + SNUG, width=POINT)
    reach = FREE + 0.5 * WIDE
    wire = row(
        SECTION,
        [support, slot(HEIGHT), support],
        (-reach, 0.0, reach),
        ties=(OPEN, LID, OPEN),
        per_span=PER_SPAN,
    )
    wire = rubbing(anchored(wire, 0), 1, friction)
    tip = tip_play(SECTION, HEIGHT, WIDE) + TIP
    poses = motions(3, s1=(ABOUT_LABIAL, tip))
    there = wire.kept(at(wire, poses))
    poses[1, ALONG] = SLID
    trial = at(there, poses)
    middle = trial.what.contact.edges.slot == 1
    push = float(trial.unknowns.push[middle].sum())
    return 0.5 * push, -float(trial.on_slots[1, ALONG])


def _normal() -> Check:
    return Check(
        name="slot-binding-force-of-edges",
        quantity="force of either edge of a 0.022 in slot, 3 mm wide, tipped 0.5 deg beyond its "
        f"play on a steel 0.016 in wire, simply supported {FREE:g} mm from either edge",
        unit="N",
        kind="verification",
        source="6 E I p / (L W) (1 + W / 2 L): a beam on simple supports (derived here)",
        status="closed form",
        # linear theory; the play of the supports, and a tip of 3.4 deg
        tolerance=0.02,
        compute=lambda: Outcome(tipped(0.0)[0], edge_force(TIP)),
    )


def _binding() -> Check:
    return Check(
        name="slot-binding-resistance",
        quantity=f"force that slides this slot along the wire, coefficient {FRICTION:g}",
        unit="N",
        kind="verification",
        source="2 mu N of the edges' force N (derived here)",
        status="closed form",
        tolerance=0.02,
        compute=lambda: Outcome(tipped(FRICTION)[1], 2 * FRICTION * edge_force(TIP)),
    )
