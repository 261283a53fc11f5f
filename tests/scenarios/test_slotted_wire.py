"""Verification of a wire in slots as it is kept from step to step: holds, ages, ends."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.scenarios.arch import ArchForm, StraightLine
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slots import Bracket, Slots
from gomphosis.scenarios.slotted_wire import ArchWire, Stop
from gomphosis.scenarios.tying import drawn_in
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import Bend, WireError, WireShape

PLACES = (-14.0, -7.0, 0.0, 7.0)
REST = np.zeros((4, 6))
SIZE = SlotSize(0.56, 0.7, 3.0)
TIE = Ligation(1.5, lasting=0.5, fading=2.0, lost=30.0)
ROUND = WireSection(0.4, 0.4, round=True)
OBLONG = WireSection(0.4, 0.6, round=False)
BOTH = (Stop(0, -1), Stop(3, 1))


def wire(section=ROUND, line=None, features=(), **options):
    return ArchWire(
        section.elastic_section(5e4, 0.3),
        section,
        WireShape(line or StraightLine(), features),
        sizes=4 * (SIZE,),
        ties=4 * (TIE,),
        **options,
    )


def tied(arch_wire):
    brackets = [Bracket(place, np.zeros(3), np.zeros(6)) for place in PLACES]
    return drawn_in(arch_wire, Slots(brackets, arch_wire.shape), REST, per_span=4)


def held(slotted):
    """Return what holds the wire: slot, and which way, or both; about the wire or along it."""
    holds = slotted.what.holds
    kinds = {
        (True, 0.0): "about", (False, 0.0): "along", (False, 1.0): "ahead", (False, -1.0): "back"
    }  # fmt: skip
    return {
        (int(slot), kinds[bool(about), float(side)])
        for slot, about, side in zip(holds.slot, holds.about, holds.side, strict=True)
    }


def test_every_slot_needs_something_that_closes_it():
    with pytest.raises(ValueError, match="4 slots are closed by 3 ties"):
        replace(wire(), ties=3 * (TIE,))


def test_mesh_leaves_room_for_the_longest_slot():
    longer = (SIZE, replace(SIZE, width=4.0), SIZE, SIZE)
    assert replace(wire(), sizes=longer).width == 4.0


@pytest.mark.parametrize("section", [ROUND, OBLONG], ids=["round", "oblong"])
@pytest.mark.parametrize(
    ("options", "expected"),
    [
        # nothing else keeps a wire without friction from sliding: the middle slot does
        ({}, {(1, "along")}),
        ({"friction": 0.2}, set()),
        # a crimp before a slot keeps the wire from going ahead, one beyond it from going back
        ({"stops": BOTH}, {(0, "ahead"), (3, "back")}),
        ({"stops": BOTH[:1]}, {(0, "ahead"), (1, "along")}),
        ({"stops": BOTH[:1], "friction": 0.2}, {(0, "ahead")}),
    ],
    ids=["free", "friction", "both ends", "one end", "one end and friction"],
)
def test_a_wire_is_held_along_by_what_it_needs(section, options, expected):
    # no contact keeps a round wire from rolling
    rolling = {(1, "about")} if section.round else set()
    assert held(tied(wire(section, **options))) == expected | rolling


def test_crimps_sit_where_their_slots_end():
    slotted = tied(wire(OBLONG, stops=BOTH))
    stations = slotted.what.rod.shape.stations[slotted.what.holds.node]
    np.testing.assert_allclose(sorted(stations), [-15.5, 8.5], rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("line", "features"),
    [
        (StraightLine(), ()),
        (ArchForm(25.0, 30.0, 0.3), ()),
        (StraightLine(), (Bend(3.5, np.array([0.0, 0.0, 0.1])),)),
    ],
    ids=["straight", "arch", "bent"],
)
def test_a_round_wire_in_its_plane_rolls_without_torque(line, features):
    """What keeps it from rolling needs no moment, by symmetry."""
    slotted = tied(wire(ROUND, line, features))
    about = slotted.what.holds.about
    assert np.count_nonzero(about) == 1
    assert abs(slotted.state.held[about][0]) <= 1e-7


def test_walls_age_with_the_day_and_nothing_else_changes():
    slotted = tied(wire())
    new, old = slotted.aged(0.0), slotted.aged(2.0)
    assert new is slotted.what
    fresh, faded = new.contact.edges.height, old.contact.edges.height
    moved = ~np.isclose(fresh, faded, rtol=0, atol=1e-12)
    # a tie of 5 N/mm that lost half of its fading half
    np.testing.assert_allclose(
        faded[moved] - fresh[moved], 1.5 * 0.5 * (1 - np.exp(-1)) / 5.0, rtol=1e-12
    )
    assert np.count_nonzero(moved) == 8
    assert old.rod is new.rod


def test_a_trial_from_here_to_here_changes_nothing():
    slotted = tied(wire(OBLONG, friction=0.2))
    trial = slotted.trial(slotted.frames)
    kept = slotted.kept(trial)
    np.testing.assert_allclose(kept.place.nodes, slotted.place.nodes, rtol=0, atol=1e-9)
    np.testing.assert_allclose(
        kept.state.touches.push, slotted.state.touches.push, rtol=0, atol=1e-7
    )


@pytest.mark.parametrize("released", [0.0, 0.4])
def test_a_share_of_friction_is_released_when_a_step_is_kept(released):
    slotted = tied(wire(friction=0.2, released=released))
    frames = replace_place(slotted.frames, 3, along=0.05)
    trial = slotted.trial(frames)
    share = trial.contact.touches.share
    assert np.abs(share).max() > 0.99
    kept = slotted.kept(trial)
    np.testing.assert_allclose(kept.state.touches.share, (1 - released) * share, rtol=0, atol=1e-12)


def replace_place(frames, slot, along):
    place = frames.place.copy()
    place[slot, 1] += along
    return replace(frames, place=place)


def test_an_end_that_is_pressed_and_slides_out_is_refused():
    slotted = tied(wire())
    near = slotted.trial(replace_place(slotted.frames, 3, along=2.9))
    assert slotted.kept(near).frames is near.frames
    beyond = slotted.trial(replace_place(slotted.frames, 3, along=3.1))
    with pytest.raises(WireError, match="an end of the wire has slid out of its last slot"):
        slotted.kept(beyond)
