"""Play of a wire in a slot: limits of the formulas; their values are in the checks."""

import numpy as np
import pytest

from gomphosis.scenarios.play import Play, play, tip_play, torsional_play
from gomphosis.scenarios.wire import WireSection

SLOT = 0.5588


def rectangle(height, width, radius=0.0):
    return WireSection(height, width, round=False, edge_radius=radius)


def test_a_wire_that_fills_the_slot_has_no_play():
    assert play(rectangle(SLOT, 0.7), slot_height=SLOT, slot_width=3.0) == Play(0.0, 0.0)
    thick = WireSection(0.6, 0.6, round=True)
    assert play(thick, slot_height=SLOT, slot_width=3.0) == Play(0.0, 0.0)


def test_a_round_wire_and_one_with_a_short_diagonal_turn_freely():
    assert torsional_play(WireSection(0.4, 0.4, round=True), SLOT) == np.inf
    assert torsional_play(rectangle(0.38, 0.38), SLOT) == np.inf
    # a little larger than the slot over the square root of two
    assert torsional_play(rectangle(0.40, 0.40), SLOT) < np.pi / 4


def test_rounded_edges_add_play_and_a_wider_slot_takes_tip_away():
    sharp, rounded = (torsional_play(rectangle(0.48, 0.64, r), SLOT) for r in (0.0, 0.05))
    assert rounded > sharp + np.deg2rad(1.0)
    wire = WireSection(0.4, 0.4, round=True)
    assert tip_play(wire, SLOT, 4.0) < 0.6 * tip_play(wire, SLOT, 2.0)


@pytest.mark.parametrize("width", [1.5, 3.0, 4.0])
def test_tip_play_is_near_its_linear_form(width):
    """Verification: 57.32 (1 - d/H) H/W degrees, Kusy and Whitley, J Biomed Mater Res
    2000;52:797-811; the exact root is at most 2.2 % below it."""
    wire = WireSection(0.4064, 0.4064, round=True)
    linear = 57.32 * (1 - wire.height / SLOT) * SLOT / width
    ratio = np.rad2deg(tip_play(wire, SLOT, width)) / linear
    assert 0.978 <= ratio <= 1.0
