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


# --- turned and tipped at once -------------------------------------------------------------------

INCH = 25.4
FULL = rectangle(0.019 * INCH, 0.025 * INCH)
TIPS = {0.0: 7.242, 0.5: 4.661, 1.0: 2.176, 1.452: 0.0}  # deg


@pytest.mark.parametrize(("tip", "torsion"), TIPS.items())
def test_torsional_play_of_a_tipped_wire(tip, torsion):
    """Verification: roots of w sin t + h cos t = H cos f - W sin f, by bisection.

    0.019 x 0.025 in in a slot of 0.022 in, 3 mm wide, sharp edges; the last one has no room left.
    """
    for way in (1, -1):
        found = torsional_play(FULL, SLOT, tip=way * np.deg2rad(tip), slot_width=3.0)
        np.testing.assert_allclose(np.rad2deg(found), torsion, rtol=0, atol=2e-3)


@pytest.mark.parametrize("radius", [0.0, 0.04])
@pytest.mark.parametrize("torsion", [0.0, 2.0, 5.0])
def test_tip_and_torsion_are_two_views_of_one_limit(radius, torsion):
    """Verification: both leave nothing of (w-2r) sin t + (h-2r) cos t + 2r = H cos f - W sin f."""
    section = rectangle(FULL.height, FULL.width, radius)
    turn = np.deg2rad(torsion)
    for way in (1, -1):
        tip = tip_play(section, SLOT, 3.0, torsion=way * turn)
        flat, wide = section.height - 2 * radius, section.width - 2 * radius
        reach = wide * np.sin(turn) + flat * np.cos(turn) + 2 * radius
        room = SLOT * np.cos(tip) - 3.0 * np.sin(tip)
        np.testing.assert_allclose(reach, room, rtol=1e-12)
        back = torsional_play(section, SLOT, tip=tip, slot_width=3.0)
        np.testing.assert_allclose(back, turn, rtol=0, atol=1e-12)


def test_no_play_is_left_beyond_the_limit_and_a_round_wire_is_free_within_it():
    assert torsional_play(FULL, SLOT, tip=np.deg2rad(1.5), slot_width=3.0) == 0.0
    assert tip_play(FULL, SLOT, 3.0, torsion=np.deg2rad(7.3)) == 0.0
    wire = WireSection(0.4, 0.4, round=True)
    limit = tip_play(wire, SLOT, 3.0)
    assert tip_play(wire, SLOT, 3.0, torsion=0.5) == limit
    assert torsional_play(wire, SLOT, tip=0.99 * limit, slot_width=3.0) == np.inf
    assert torsional_play(wire, SLOT, tip=1.01 * limit, slot_width=3.0) == 0.0
