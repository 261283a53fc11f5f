"""Verification of bends made by hand in a wire that has been in use."""

import numpy as np
import pytest

from gomphosis.fem.section_paths import overbend
from gomphosis.scenarios.alloys import library_alloy, section_law
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.hand_bends import bent_by_hand, freed
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slots import Bracket, Slots
from gomphosis.scenarios.slotted_wire import ArchWire
from gomphosis.scenarios.tying import Work, drawn_in, tied_again
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import Bend, WireError, WireShape

PLACES = (-7.0, 0.0, 7.0)
SIZE = SlotSize(0.42, 0.7, 3.0)  # little play, for twists
OBLONG = WireSection(0.4, 0.6, round=False)
REST = np.zeros((3, 6))
TURNS = {"bend": np.array([0.0, 0.0, 0.15]), "twist": np.array([0.2, 0.0, 0.0])}


def law(alloy="steel"):
    return section_law(OBLONG, library_alloy(alloy), temperature=37.0)


def tied(poses=REST, *, visit=1, turn=TURNS["bend"], alloy="steel"):
    """Return a wire of three slots that is bent between the first two at a visit."""
    shape = WireShape(StraightLine(), (Bend(-3.5, turn, 1.0, visit),))
    arch_wire = ArchWire(
        law(alloy), OBLONG, shape, sizes=3 * (SIZE,), ties=3 * (Ligation(),), friction=0.2
    )
    brackets = [Bracket(place, np.zeros(3), np.zeros(6)) for place in PLACES]
    return drawn_in(arch_wire, Slots(brackets, shape), poses, per_span=2)


def low(amount):
    poses = REST.copy()
    poses[1, 2] = -amount
    return poses


def bent_points(slotted):
    """Return a mask of the Gauss points of the bend."""
    (first, last, _), mesh = slotted.mesh.by_hand[0], slotted.mesh
    stations = slotted.what.rod.point_stations
    ends = mesh.shape.stations[[first, last]]
    np.testing.assert_allclose(ends, [-4.0, -3.0], rtol=0, atol=1e-9)
    return (stations > ends[0]) & (stations < ends[1])


# --- out of the slots ------------------------------------------------------------------------


def test_a_freed_wire_has_no_force_and_keeps_what_it_was_bent_to():
    slotted = tied(low(1.5))
    rod = slotted.what.rod
    held = rod.respond(slotted.place, slotted.state.rod.history).force
    assert np.abs(held[:, :3]).max() > 10.0
    free = freed(slotted)
    np.testing.assert_allclose(rod.respond(free.place, free.history).force, 0.0, rtol=0, atol=1e-6)
    # 1.5 mm over 7 mm is beyond steel's yield: the wire is no longer straight
    along, up = free.place.nodes[-1] - free.place.nodes[0], free.place.nodes
    off = np.linalg.norm(np.cross(up - up[0], along / np.linalg.norm(along)), axis=1)
    assert 0.05 < off.max() < 1.4


def test_an_elastic_deflection_springs_back_to_straight():
    free = freed(tied(low(0.3)))
    ends = free.place.nodes[[0, -1]]
    length = float(np.sum(np.linalg.norm(np.diff(free.place.nodes, axis=0), axis=1)))
    np.testing.assert_allclose(np.linalg.norm(ends[1] - ends[0]), length, rtol=1e-9)


# --- bends -----------------------------------------------------------------------------------


@pytest.mark.parametrize("turn", TURNS.values(), ids=TURNS)
def test_a_bend_in_an_unused_wire_is_the_bend_made_before_it_was_tied_in(turn):
    unused = tied(turn=turn)
    later = tied_again(unused, unused.wire, unused.slots, REST, work=Work(visit=1))
    before = tied(turn=turn, visit=0)
    scale = np.abs(before.load).max(axis=0)[None]
    assert scale.max() > 1.0
    np.testing.assert_allclose(later.load, before.load, rtol=1e-6, atol=1e-6 * scale.max())
    np.testing.assert_allclose(later.state.rod.history, before.state.rod.history, rtol=0, atol=1e-6)


def test_the_rest_of_a_used_wire_keeps_its_history_and_the_bend_forgets_it():
    slotted = tied(low(1.5))
    rod, free = slotted.what.rod, freed(slotted)
    bent = bent_by_hand(rod, free, slotted.mesh, visit=1)
    own = bent_points(slotted)
    np.testing.assert_array_equal(bent.history[:, ~own], free.history[:, ~own])
    assert np.abs(free.history[:, ~own] - rod.at_rest().history[:, ~own]).max() > 1e-4
    # one curvature all along the bend: 0.15 rad over 1 mm is left of what was bent
    _, left = overbend(rod.section, 0.15, axis=2)
    expected = np.broadcast_to(left, bent.history[:, own].shape)
    np.testing.assert_array_equal(bent.history[:, own], expected)
    assert np.abs(bent.history[:, own] - free.history[:, own]).max() > 1e-3


def test_a_bent_wire_is_free_and_turned_by_the_angle():
    slotted = tied()
    rod = slotted.what.rod
    bent = bent_by_hand(rod, rod.at_rest(), slotted.mesh, visit=1)
    np.testing.assert_allclose(rod.respond(bent.place, bent.history).force, 0.0, rtol=0, atol=1e-6)
    first, last = bent.place.triads[[0, -1], :, 0]
    np.testing.assert_allclose(np.arccos(first @ last), 0.15, rtol=1e-6)
    assert np.cross(first, last)[0] > 0.0


def test_a_wire_without_bends_at_a_visit_is_left_as_it_is():
    slotted = tied()
    rest = slotted.what.rod.at_rest()
    assert bent_by_hand(slotted.what.rod, rest, slotted.mesh, visit=2) is rest


def test_a_superelastic_wire_does_not_keep_a_bend_and_says_so_in_one_line():
    slotted = tied(alloy="nickel-titanium")
    with pytest.raises(WireError) as refused:
        tied_again(slotted, slotted.wire, slotted.slots, REST, work=Work(visit=1))
    text = str(refused.value)
    assert len(text.splitlines()) == 1
    assert "keep" in text
