"""Verification of the edges of slots: which there are, where their walls stand, and give way."""

import numpy as np
import pytest

from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import NOWHERE, SlotSize, edge_contact, pairs, wall_heights
from gomphosis.scenarios.wire import WireSection

ROUND = WireSection(0.4, 0.4, round=True)
OBLONG = WireSection(0.4, 0.6, round=False, edge_radius=0.05)
SIZE = SlotSize(0.56, 0.7, 3.0)
TIE = Ligation(1.5, stiffness=5.0, lasting=0.4, fading=2.0, lost=20.0)


def by_wall(section, tie, age=0.0):
    """Return the place of each wall of one slot, mm."""
    heights = wall_heights(section, [SIZE], [tie], ages=np.array([age]))
    found = {}
    for pair, height in zip(pairs(section, 1), heights, strict=True):
        assert found.setdefault(pair.wall, height) == height
    return found


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ((0.0, 0.7, 3.0), r"sizes > 0 mm and a give >= 0, got 0\.0 x 0\.7 x 3\.0 mm"),
        ((0.56, -0.7, 3.0), r"got 0\.56 x -0\.7"),
        ((0.56, 0.7, 0.0), r"got 0\.56 x 0\.7 x 0\.0"),
        ((0.56, 0.7, 3.0, -1e-3), r"mm and -0\.001"),
    ],
)
def test_sizes_that_make_no_slot_are_refused(sizes, words):
    with pytest.raises(ValueError, match=words):
        SlotSize(*sizes)


def test_round_wires_touch_by_their_line_and_oblong_ones_by_their_rounded_edges():
    # two ends, four walls, one or four curves
    assert len(pairs(ROUND, 2)) == 2 * 8
    assert {pair.offset for pair in pairs(ROUND, 2)} == {(0.0, 0.0)}
    assert len(pairs(OBLONG, 2)) == 2 * 32
    offsets = {pair.offset for pair in pairs(OBLONG, 2)}
    expected = {(up, out) for up in (-0.15, 0.15) for out in (-0.25, 0.25)}
    np.testing.assert_allclose(sorted(offsets), sorted(expected), rtol=0, atol=1e-15)


@pytest.mark.parametrize(("section", "half"), [(ROUND, 0.2), (OBLONG, 0.3)])
def test_walls_leave_a_seated_wire_its_play(section, half):
    """A wire on the floor lies with its centre on the slot's point, walls half a slot away."""
    expected = {"occlusal": 0.28, "gingival": -0.28, "floor": -half, "lid": 0.7 - half}
    found = by_wall(section, Ligation())
    assert found == pytest.approx(expected, rel=0, abs=1e-14)


def test_a_tie_presses_as_far_as_its_force_goes():
    """Top of a seated wire less force over stiffness; the force fades to 40 % in 2 days."""
    assert by_wall(OBLONG, TIE)["lid"] == pytest.approx(0.3 - 1.5 / 5.0)
    left = 0.4 + 0.6 * np.exp(-1)
    assert by_wall(OBLONG, TIE, age=2.0)["lid"] == pytest.approx(0.3 - 1.5 * left / 5.0)


@pytest.mark.parametrize("tie", [TIE, Ligation(lost=20.0)], ids=["tie", "lid"])
def test_what_is_lost_closes_nothing(tie):
    assert by_wall(OBLONG, tie, age=19.99)["lid"] < 1.0
    gone = by_wall(OBLONG, tie, age=20.0)
    assert gone["lid"] == NOWHERE
    assert gone["floor"] == -0.3


def test_ages_are_those_of_each_slot():
    heights = wall_heights(ROUND, [SIZE, SIZE], [TIE, TIE], ages=np.array([20.0, 0.0]))
    lids = {
        pair.slot: height
        for pair, height in zip(pairs(ROUND, 2), heights, strict=True)
        if pair.wall == "lid"
    }
    assert lids == {0: NOWHERE, 1: pytest.approx(0.2 - 1.5 / 5.0)}


def test_only_ties_give_way_each_end_by_itself():
    contact = edge_contact(OBLONG, [SIZE, SIZE], [Ligation(), TIE], friction=0.2, ages=np.zeros(2))
    ends = {-1.0: set(), 1.0: set()}
    for pair, group in zip(pairs(OBLONG, 2), contact.group, strict=True):
        tied = pair.wall == "lid" and pair.slot == 1
        assert (group >= 0) == tied
        if tied:
            ends[pair.end].add(group)
    assert ends[-1.0] and ends[1.0] and not ends[-1.0] & ends[1.0]
    np.testing.assert_array_equal(contact.friction, 0.2)


def test_edges_stand_at_the_ends_of_their_slot_and_touch_rounded_curves():
    longer = SlotSize(0.56, 0.7, 4.0)
    for section, radius in ((ROUND, 0.2), (OBLONG, 0.05)):
        contact = edge_contact(
            section, [SIZE, longer], 2 * [Ligation()], friction=0.0, ages=np.zeros(2)
        )
        half = np.where(contact.edges.slot == 0, 1.5, 2.0)
        np.testing.assert_allclose(np.abs(contact.edges.along), half, rtol=1e-15)
        np.testing.assert_array_equal(contact.edges.radius, radius)
        ends = [pair.end for pair in pairs(section, 2)]
        np.testing.assert_array_equal(np.sign(contact.edges.along), ends)
