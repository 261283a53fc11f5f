"""Verification of visits to a wire in use: religation, re-bonding, activation, slots on bends."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.fem.slot_contact import OWN
from gomphosis.scenarios.alloys import library_alloy, section_law
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize, pairs
from gomphosis.scenarios.slots import Bracket, Slots
from gomphosis.scenarios.slotted_wire import ArchWire, Stop
from gomphosis.scenarios.tying import Work, about_wire, drawn_in, tied_again
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_holds import crimps
from gomphosis.scenarios.wire_shape import Bend, WireError, WireShape

PLACES = (-7.0, 0.0, 7.0)
REST = np.zeros((3, 6))
SIZE = SlotSize(0.56, 0.7, 3.0)
LID, TIE = Ligation(), Ligation(1.5, lasting=0.5, fading=2.0)
OBLONG = WireSection(0.4, 0.6, round=False)
ROUND = WireSection(0.4, 0.4, round=True)
YOUNG = 5e4
STEEL = section_law(OBLONG, library_alloy("steel"), temperature=37.0)
BOTH = (Stop(0, -1), Stop(2, 1))
BEND = Bend(-3.5, np.array([0.0, 0.0, 0.15]), 1.0, visit=1)
PLAIN = Work(visit=1)
# how much firmer two curves of an oblong wire lie at one edge of a tie than one curve does: each
# gives way by itself by a little as well
BOTH_CURVES = 2.0 / (1.0 + 1.0 / (1.0 + OWN))


def wire(*, law=None, section=OBLONG, tie=LID, features=(), **options):
    return ArchWire(
        law or section.elastic_section(YOUNG, 0.3),
        section,
        WireShape(StraightLine(), features),
        sizes=3 * (SIZE,),
        ties=3 * (tie,),
        **options,
    )


def slots(arch_wire):
    brackets = [Bracket(place, np.zeros(3), np.zeros(6)) for place in PLACES]
    return Slots(brackets, arch_wire.shape)


def displaced(*, along=0.0, up=0.0, slot=1):
    poses = REST.copy()
    poses[slot, [1, 2]] = along, up
    return poses


def tied(arch_wire, poses=REST):
    return drawn_in(arch_wire, slots(arch_wire), poses, per_span=4)


def stepped(slotted, poses, *, day=0.0):
    return slotted.kept(slotted.trial(slotted.slots.at(poses), day=day))


def visited(slotted, poses, *, work=PLAIN, arch_wire=None):
    after = arch_wire or slotted.wire
    return tied_again(slotted, after, slots(after), poses, work=work)


def lid_push(slotted):
    """Return what lids or ties press with in every slot, N."""
    found = np.zeros(3)
    for pair, push in zip(pairs(slotted.wire.section, 3), slotted.state.touches.push, strict=True):
        found[pair.slot] += push if pair.wall == "lid" else 0.0
    return found


# --- religation ------------------------------------------------------------------------------


@pytest.mark.parametrize("law", [None, STEEL], ids=["elastic", "bent beyond yield"])
def test_religation_leaves_a_wire_where_it_is_and_its_fibres_as_they_were(law):
    # less than it was once: one who looks at it now cannot tell how far it has been
    now = displaced(up=-1.2)
    before = stepped(tied(wire(law=law), displaced(up=-1.6)), now)
    after = visited(before, now)
    np.testing.assert_allclose(after.place.nodes, before.place.nodes, rtol=0, atol=1e-9)
    np.testing.assert_allclose(after.place.triads, before.place.triads, rtol=0, atol=1e-9)
    history = before.state.rod.history
    np.testing.assert_allclose(after.state.rod.history, history, rtol=0, atol=1e-9)
    new = after.what.rod.at_rest().history
    assert bool(np.abs(history - new).max(initial=0.0) > 1e-3) is (law is not None)


def test_religation_starts_friction_afresh_and_it_acts_again():
    slid = stepped(tied(wire(friction=0.2), displaced(up=-0.8)), displaced(along=0.05, up=-0.8))
    assert np.abs(slid.state.touches.share).max() > 0.99
    after = visited(slid, displaced(along=0.05, up=-0.8))
    np.testing.assert_array_equal(after.state.touches.share, 0.0)
    np.testing.assert_array_equal(after.what.contact.friction, 0.2)
    again = stepped(after, displaced(along=0.1, up=-0.8))
    assert np.abs(again.state.touches.share).max() > 0.99


@pytest.mark.parametrize(
    ("section", "more"), [(OBLONG, BOTH_CURVES), (ROUND, 1.0)], ids=["oblong", "round"]
)
def test_religated_ties_are_as_strong_as_new_and_others_keep_their_age(section, more):
    """A seated wire is pressed by a tie's force, 1.5 N x (1 + exp(-day/2)) / 2."""
    new = tied(wire(tie=TIE, section=section))
    np.testing.assert_allclose(lid_push(new), more * 1.5, rtol=1e-6)
    old = stepped(new, REST, day=3.0)
    np.testing.assert_allclose(lid_push(old), more * TIE.force(3.0), rtol=1e-6)
    np.testing.assert_allclose(lid_push(visited(old, REST)), more * 1.5, rtol=1e-6)
    kept = visited(old, REST, arch_wire=replace(old.wire, tied_before=3.0))
    np.testing.assert_allclose(lid_push(kept), more * 0.75 * (1 + np.exp(-1.5)), rtol=1e-6)
    # two days on, they are five days old
    np.testing.assert_allclose(
        lid_push(stepped(kept, REST, day=2.0)), more * 0.75 * (1 + np.exp(-2.5)), rtol=1e-6
    )


def test_movement_goes_on_after_religation_as_without_it():
    """A lid and no friction have nothing that religation could make new."""
    before = tied(wire(law=STEEL), displaced(up=-1.5))
    after = visited(before, displaced(up=-1.5))
    further = before.slots.at(displaced(up=-1.3))
    # nothing holds the wire between floor and lid, so it may lie there anywhere a micrometre off:
    # only its loads about itself are determined
    loads = [about_wire(w.trial(further)) for w in (before, after)]
    # a contact's corner of 10 nm under a wire of some tens of newtons per millimetre
    np.testing.assert_allclose(loads[1], loads[0], rtol=0, atol=1e-5)
    assert np.abs(loads[0][:, 2]).max() > 1.0
    fresh = tied(wire(law=STEEL), displaced(up=-1.3))
    # it kept a bend, so a new wire would push otherwise
    assert np.abs(fresh.load - loads[0])[:, :3].max() > 0.5


# --- re-bonding ------------------------------------------------------------------------------


@pytest.mark.parametrize("section", [OBLONG, ROUND], ids=["oblong", "round"])
def test_a_wire_eased_to_a_bracket_bonded_anew_is_as_one_drawn_in_there(section):
    """An elastic wire keeps nothing of where it was."""
    begin, end = displaced(up=-0.4), displaced(up=-1.2)
    arch_wire = wire(section=section, friction=0.2)
    eased = visited(stepped(tied(arch_wire, REST), begin), end)
    drawn = tied(arch_wire, end)
    # friction had kept the wire some micrometres along, so that its mesh lies otherwise
    most = np.abs(drawn.load).max()
    np.testing.assert_allclose(eased.load, drawn.load, rtol=0, atol=1e-4 * most)
    assert np.abs(drawn.load[:, 2]).max() > 1.0
    np.testing.assert_array_equal(eased.frames.place, drawn.frames.place)


# --- activation ------------------------------------------------------------------------------


def pulled(slotted, *ways, poses=REST):
    return visited(slotted, poses, work=Work(1, ways))


@pytest.mark.parametrize("section", [OBLONG, ROUND], ids=["oblong", "round"])
@pytest.mark.parametrize("friction", [0.0, 0.2])
@pytest.mark.parametrize("stop", BOTH, ids=["before", "beyond"])
def test_a_cinched_end_that_is_moved_stretches_the_wire(section, friction, stop):
    """Verification: N = EA x / L over the 17 mm between the crimps."""
    way = 0.02
    found = pulled(tied(wire(section=section, stops=BOTH, friction=friction)), (stop, way))
    # four corners rounded by 0.05 mm
    area = np.pi * 0.2**2 if section.round else 0.24 - (4 - np.pi) * 0.05**2
    tension = YOUNG * area * way / 17.0
    expected = [tension, 0.0, -tension]
    np.testing.assert_allclose(found.load[:, 1], expected, rtol=1e-4, atol=1e-6)


def test_a_crimp_moved_twice_at_a_visit_goes_both_ways_on():
    begin = tied(wire(stops=BOTH))
    once = pulled(begin, (BOTH[1], 0.03))
    twice = pulled(begin, (BOTH[1], 0.01), (BOTH[1], 0.02))
    np.testing.assert_allclose(twice.load, once.load, rtol=1e-6, atol=1e-6)
    other = pulled(pulled(begin, (BOTH[1], 0.01)), (BOTH[1], 0.02))
    np.testing.assert_allclose(other.load, once.load, rtol=1e-6, atol=1e-6)
    assert once.load[0, 1] > 10.0


def test_a_crimp_moved_pulls_as_a_stop_that_stands_further():
    """Not moved by the way, but with its slot closer by it."""
    far = 0.3
    begin = wire(stops=BOTH)
    active = pulled(tied(begin), (BOTH[1], far))
    moved = crimps(active.what.holds).at - crimps(tied(begin).what.holds).at
    np.testing.assert_allclose(moved, [0.0, far], rtol=0, atol=1e-12)
    closer = active.trial(active.slots.at(displaced(slot=2, along=-far + 0.02))).on_slots
    same = tied(begin)
    reference = same.trial(same.slots.at(displaced(slot=2, along=0.02))).on_slots
    np.testing.assert_allclose(closer[:, 1], reference[:, 1], rtol=1e-4, atol=1e-6)
    assert reference[0, 1] > 10.0
    # a crimp pulls and does not push
    slack = active.trial(active.slots.at(displaced(slot=2, along=-far - 0.05))).on_slots
    np.testing.assert_allclose(slack, 0.0, rtol=0, atol=1e-5)


@pytest.mark.parametrize("section", [OBLONG, ROUND], ids=["oblong", "round"])
def test_a_wire_pulled_at_one_end_only_slides_along_its_slots(section):
    """Nothing holds it at its other end."""
    begin = tied(wire(section=section, stops=BOTH[1:], friction=0.2))
    after = pulled(begin, (BOTH[1], 0.3))
    np.testing.assert_allclose(after.slot_stations, begin.slot_stations - 0.3, rtol=0, atol=1e-4)
    np.testing.assert_allclose(after.load, 0.0, rtol=0, atol=0.02)
    # its slot goes 0.2 mm away from the crimp, which pulls the last 0.1 mm only
    loose = displaced(slot=2, along=-0.2)
    begin = tied(wire(section=section, stops=BOTH[1:]))
    slack = stepped(begin, loose)
    np.testing.assert_allclose(slack.slot_stations[0], -7.0, rtol=0, atol=1e-4)
    none = pulled(slack, (BOTH[1], 0.1), poses=loose)
    np.testing.assert_allclose(none.slot_stations[0], -7.0, rtol=0, atol=1e-4)
    after = pulled(slack, (BOTH[1], 0.3), poses=loose)
    np.testing.assert_allclose(after.slot_stations[0], -7.1, rtol=0, atol=1e-4)


# --- bends -----------------------------------------------------------------------------------


def test_a_bend_where_a_slot_has_slid_to_is_refused():
    """The bend takes -4 to -3 mm of the wire; the first slot reaches to -5.5 mm."""
    other = replace(BEND, place=3.5, visit=2)
    before = tied(wire(law=STEEL, features=(BEND, other)))
    short, over = (stepped(before, displaced(slot=0, along=way)) for way in (1.45, 1.55))
    # rested against the middle slot, which does not slide
    assert visited(short, displaced(slot=0, along=1.45)).load[0, 2] != 0.0
    with pytest.raises(WireError) as refused:
        visited(over, displaced(slot=0, along=1.55))
    assert str(refused.value) == (
        "slot 1 has slid to -5.45 mm along the wire, where a bend is to be made between -4 and "
        "-3 mm"
    )
    # the bend of another visit has room
    assert visited(over, displaced(slot=0, along=1.55), work=Work(visit=2)).load[2, 2] != 0.0


def test_a_bend_at_a_visit_turns_what_lies_beyond():
    """Verification: a wire of 0.15 rad lifts the slots on either side of the bend as a lever.

    The middle one is between the bend and the last one, which carries no bend: their forces sum
    to nothing, and so do their moments.
    """
    before = tied(wire(law=STEEL, features=(BEND,)))
    np.testing.assert_allclose(before.load, 0.0, rtol=0, atol=1e-5)
    load = visited(before, REST).load
    # down in the middle slot, towards which the wire leans up from the first one
    assert load[0, 2] > 0.5 > -0.5 > load[1, 2]
    np.testing.assert_allclose(load[:, :3].sum(axis=0), 0.0, atol=1e-6)
    about_labial = load[:, 3] + np.array(PLACES) * load[:, 2]
    np.testing.assert_allclose(about_labial.sum(), 0.0, atol=0.1)
