"""Rigs of the checks of slots: closed forms against printed angles, and that they can fail."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.library import lookup
from gomphosis.scenarios.checks import slot_torque
from gomphosis.scenarios.checks.slot_binding import FRICTION, TIP, edge_force, tipped
from gomphosis.scenarios.checks.slot_play import (
    critical_angle,
    prism_angle,
    prism_onset,
    tip_onset,
    torsional_onset,
)
from gomphosis.scenarios.checks.slot_rig import (
    ABOUT_ALONG,
    ALONG,
    INCH,
    WIDE,
    anchored,
    at,
    circle,
    motions,
    off_the_floor,
    onset,
    rectangle,
    row,
    rubbing,
    slot,
    turn,
)
from gomphosis.scenarios.checks.slot_rows import levelling_force
from gomphosis.scenarios.checks.slot_tooth import held_back, lever, tooth, turned_by
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.play import tip_play, torsional_play

SLOT_18, SLOT_22 = 18 * INCH, 22 * INCH


@pytest.mark.parametrize(
    ("size", "radius", "height", "printed"),
    [
        ((16, 16), 0.0, SLOT_18, 7.70),
        ((16, 22), 0.03, SLOT_18, 6.07),
        ((16, 22), 0.05, SLOT_22, 22.53),
        ((18, 18), 0.07, SLOT_22, 24.00),
        ((19, 25), 0.0, SLOT_22, 7.24),
        ((19, 25), 0.05, SLOT_22 + 0.01, 9.89),
        ((21, 28), 0.05, SLOT_22 + 0.02, 4.38),
    ],
)
def test_closed_form_of_the_play_is_that_of_another_table(size, radius, height, printed):
    """Verification: angles computed apart from this code, printed to two decimals."""
    section = rectangle(size[0], size[1], radius)
    angle = prism_angle(section, height, 0.0)
    np.testing.assert_allclose(angle, printed, rtol=0, atol=0.0051)
    np.testing.assert_allclose(angle, np.rad2deg(torsional_play(section, height)), atol=1e-9)


@pytest.mark.parametrize(
    ("wire", "height", "width", "printed"),
    [(14, SLOT_18, 1.5, 3.84), (16, SLOT_22, 3.0, 2.90), (21, SLOT_22, 4.0, 0.36)],
)
def test_closed_form_of_the_tip_is_that_of_another_table(wire, height, width, printed):
    """Verification: angles computed apart from this code, printed to two decimals."""
    angle = critical_angle(wire * INCH, height, width)
    np.testing.assert_allclose(angle, printed, rtol=0, atol=0.0051)
    np.testing.assert_allclose(angle, np.rad2deg(tip_play(circle(wire), height, width)), atol=1e-9)


@pytest.mark.parametrize(("tip", "printed"), [(0.0, 7.242), (0.5, 4.661), (1.0, 2.176)])
def test_closed_form_of_both_together(tip, printed):
    """Verification: angles computed apart from this code, printed to three decimals."""
    angle = prism_angle(rectangle(19, 25), SLOT_22, tip)
    np.testing.assert_allclose(angle, printed, rtol=0, atol=0.00051)


def test_beyond_the_critical_tip_no_turn_is_left():
    assert prism_angle(rectangle(19, 25), SLOT_22, 1.46) == 0.0


def test_contact_shows_ten_micrometres_more_slot():
    """The tolerance of 0.01 degrees sees a slot that is one micrometre too high."""
    section = rectangle(19, 25)
    more = prism_onset(section, SLOT_22 + 0.01, 0.5) - prism_onset(section, SLOT_22, 0.5)
    expected = prism_angle(section, SLOT_22 + 0.01, 0.5) - prism_angle(section, SLOT_22, 0.5)
    np.testing.assert_allclose(more, expected, rtol=0.02)
    assert expected > 0.5


@pytest.mark.slow
def test_contact_shows_the_play_of_a_square_and_of_a_round_wire():
    section = rectangle(18, 18, 0.05)
    found = torsional_onset(section, SLOT_22)
    np.testing.assert_allclose(found, prism_angle(section, SLOT_22, 0.0), rtol=0, atol=0.002)
    found = tip_onset(circle(16), SLOT_22, WIDE)
    np.testing.assert_allclose(found, 2.90, rtol=0, atol=0.0052)


def test_onset_of_a_kinked_line():
    found = onset(lambda angle: max(0.0, 3.0 * (angle - 2.0)), far=10.0, near=0.1)
    np.testing.assert_allclose(found, 2.0, rtol=0, atol=1e-12)


def test_onset_of_a_concave_load_that_a_line_would_miss():
    found = onset(lambda angle: np.sqrt(max(0.0, angle - 2.0) + 1.0) - 1.0, far=10.0, near=0.01)
    np.testing.assert_allclose(found, 2.0, rtol=0, atol=1e-4)


@pytest.mark.parametrize("load", [lambda _: 0.0, lambda angle: 5.0 - angle])
def test_a_load_that_does_not_grow_has_no_onset(load):
    with pytest.raises(ValueError, match="no load that grows"):
        onset(load, far=10.0, near=0.1)


def test_turn_composes_a_tip_and_a_torque():
    np.testing.assert_allclose(turn(2.0, 0.0), [np.deg2rad(2.0), 0, 0], atol=1e-15)
    np.testing.assert_allclose(turn(0.0, 3.0), [0, np.deg2rad(3.0), 0], atol=1e-15)
    poses = off_the_floor(np.array([turn(0.0, 90.0)]), 0.3)
    np.testing.assert_allclose(poses[0, :3], [0.0, 0.0, 0.3], atol=1e-15)


def test_motions_name_slots():
    assert motions(3, s1=(ABOUT_ALONG, 0.5))[1, ABOUT_ALONG] == 0.5
    assert np.count_nonzero(motions(3, s1=(ABOUT_ALONG, 0.5))) == 1


def test_friction_in_one_slot_and_hold_at_another():
    wire = row(circle(16), 3 * [slot(SLOT_22)], (-8.0, 0.0, 8.0))
    assert set(wire.what.holds.slot[~wire.what.holds.about]) == {1}
    moved = anchored(rubbing(wire, 2, 0.3), 0)
    assert set(moved.what.holds.slot[~moved.what.holds.about]) == {0}
    contact = moved.what.contact
    np.testing.assert_array_equal(contact.friction > 0, contact.edges.slot == 2)


def test_a_slot_in_line_does_not_load_a_wire():
    wire = row(rectangle(19, 25, 0.05), 3 * [slot(SLOT_22)], (-8.0, 0.0, 8.0))
    np.testing.assert_allclose(at(wire, np.zeros((3, 6))).on_slots, 0.0, atol=1e-4)


def test_binding_is_linear_in_friction_and_none_without():
    assert abs(tipped(0.0)[1]) < 1e-3
    np.testing.assert_allclose(tipped(FRICTION)[1], 2 * FRICTION * tipped(FRICTION)[0], rtol=2e-3)
    assert edge_force(2 * TIP) == pytest.approx(2 * edge_force(TIP))


def test_a_seating_moment_grows_with_the_tie():
    tie = Ligation(seating=1.5)
    twice = replace(tie, seating=3.0)
    light, heavy = (slot_torque.seated_moment(0.5, each) for each in (tie, twice))
    assert light == pytest.approx(0.558, abs=0.001)
    assert 1.8 * light < heavy < 2.0 * light


def test_a_tooth_that_is_turned_bears_the_couple_of_its_force():
    wire, poses = tooth(0.8)
    trial, _ = turned_by(wire, poses, force=2.0, lever=lever(0.8))
    edges = trial.what.contact.edges
    push = trial.unknowns.push[edges.slot == 1].sum()
    np.testing.assert_allclose(push, 2 * 2.0 * lever(0.8) / WIDE, rtol=0.01)
    assert abs(trial.on_slots[1, ALONG]) < 2.0


@pytest.mark.slow
def test_a_tooth_below_the_lock_slides():
    wire, poses = tooth(0.8)
    with pytest.raises(ValueError, match="different signs"):
        held_back(wire, poses, force=1.0, lever=lever(0.8))


def test_a_levelling_wire_in_wider_gaps_is_lighter():
    cited = lookup("levelling.prototype.centre_to_centre_8_mm").number
    assert levelling_force(9.0) < 0.9 * cited
