"""Verification of what is reported about a wire's contact with its slots: states, sides, play."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.bone.rates import Linear
from gomphosis.bone.support import Resolution
from gomphosis.fem.slot_contact import OWN
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.contact_report import contact_document, slot_contacts
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.play import tip_play, torsional_play
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slots import Bracket, Slots
from gomphosis.scenarios.slotted_wire import ArchWire
from gomphosis.scenarios.stages import stages
from gomphosis.scenarios.tying import drawn_in
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireShape
from gomphosis.scenarios.wires_in_use import WiresInUse

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
PLACES = (-7.0, 0.0, 7.0)
SIZE = SlotSize(0.56, 0.7, 3.0)
FILLED = SlotSize(0.4001, 0.6001, 3.0)  # by the oblong wire
LID, TIE = Ligation(), Ligation(1.5)
OBLONG = WireSection(0.4, 0.6, round=False)
ROUND = WireSection(0.4, 0.4, round=True)
DEGREE = np.pi / 180
LABIAL, ALONG, UP, ABOUT_LABIAL, ABOUT_ALONG, ABOUT_UP = range(6)


def tied(poses=None, *, section=OBLONG, tie=LID, sizes=3 * (SIZE,), **options):
    arch_wire = ArchWire(
        section.elastic_section(5e4, 0.3),
        section,
        WireShape(StraightLine()),
        sizes=sizes,
        ties=3 * (tie,),
        **options,
    )
    brackets = [Bracket(place, np.zeros(3), np.zeros(6)) for place in PLACES]
    start = np.zeros((3, 6)) if poses is None else poses
    return drawn_in(arch_wire, Slots(brackets, arch_wire.shape), start, per_span=4)


def middle(axis, amount):
    poses = np.zeros((3, 6))
    poses[1, axis] = amount
    return poses


def contacts(slotted, poses=None):
    frames = slotted.frames if poses is None else slotted.slots.at(poses)
    return slot_contacts(slotted.wire, slotted.trial(frames))


def touched(contact):
    return {(touch.wall, touch.end) for touch in contact.touching}


# --- states ----------------------------------------------------------------------------------


def test_a_wire_that_touches_nothing_is_open_and_has_all_its_play():
    for contact in contacts(tied()):
        assert (contact.state, contact.binds, contact.touching) == ("open", False, ())
        np.testing.assert_allclose(
            [contact.torsion_left, contact.tip_left],
            [torsional_play(OBLONG, 0.56), tip_play(OBLONG, 0.56, 3.0)],
            rtol=1e-4,
        )


# a slot turned about its labial axis carries its end further along towards the edge
TIPPED = {("gingival", 1.0), ("occlusal", -1.0)}
# one turned about the occlusal axis carries it towards the tongue, so that the lid meets the wire
ROTATED = {("lid", 1.0), ("floor", -1.0)}


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("friction", [0.0, 0.2])
@pytest.mark.parametrize(
    ("axis", "turn", "word", "walls"),
    [(ABOUT_LABIAL, 0.15, "tip", TIPPED), (ABOUT_UP, 0.2, "rotation", ROTATED)],
    ids=["tip", "rotation"],
)
def test_two_point_contact_is_named_and_binds(way, friction, axis, turn, word, walls):
    found = contacts(tied(middle(axis, way * turn), friction=friction))[1]
    assert touched(found) == {(wall, way * end) for wall, end in walls}
    assert found.state == f"two-point in {word}, {'sticks' if friction else 'slips'}"
    assert found.binds


def test_a_wire_in_two_point_contact_has_next_to_no_tip_left():
    """The chord of a wire bent within its slot has turned by the play, its middle has not."""
    (_, found, _) = contacts(tied(middle(ABOUT_LABIAL, 0.15)))
    # the closed form is that of a straight wire
    assert found.tip_left < 0.01 * tip_play(OBLONG, 0.56, 3.0)


@pytest.mark.parametrize("way", [1, -1])
def test_edges_in_torque_do_not_bind(way):
    """Both walls at both ends hold a twisted wire."""
    found = contacts(tied(middle(ABOUT_ALONG, way * 1.0)))[1]
    assert {("occlusal", -1.0), ("occlusal", 1.0), ("gingival", -1.0), ("gingival", 1.0)} <= (
        touched(found)
    )
    assert found.state.startswith("edges in torque, ")
    assert not found.binds
    assert found.torsion_left < 0.05 * DEGREE


@pytest.mark.parametrize(("section", "curves"), [(OBLONG, 2), (ROUND, 1)], ids=["oblong", "round"])
def test_a_tie_seats_a_wire(section, curves):
    # each curve gives way by itself by a little as well: an edge gives by a little less under a
    # push that two of them share
    gives = (1.0 + (curves - 1) / (1.0 + OWN)) / curves
    for contact in contacts(tied(section=section, tie=TIE, friction=0.2)):
        assert touched(contact) == {(wall, end) for wall in ("lid", "floor") for end in (-1.0, 1.0)}
        assert (contact.state, contact.binds) == ("seated, sticks", False)
        # the curves of a wire at one edge together: half of the tie's force at either end
        pushes = [touch.push for touch in contact.touching]
        np.testing.assert_allclose(pushes, 0.75 / gives, rtol=1e-5)


def test_one_wall_alone_is_no_two_point_contact():
    low = contacts(tied(middle(UP, -0.5), friction=0.2))[1]
    assert {wall for wall, _ in touched(low)} == {"occlusal"}
    assert (low.state, low.binds) == ("sticks", False)


# --- friction --------------------------------------------------------------------------------


@pytest.mark.parametrize(("way", "slips"), [(1e-5, False), (0.1, True), (-0.1, True)])
def test_share_of_friction_and_slip(way, slips):
    """Coulomb: a wall that slides drags with the coefficient times its push."""
    begin = tied(middle(UP, -0.5), friction=0.2)
    poses = middle(UP, -0.5)
    poses[2, ALONG] = way
    found = contacts(begin, poses)[2]
    assert found.state.endswith("slips" if slips else "sticks")
    for touch in found.touching:
        assert touch.slips is slips
        assert 0.0 < touch.share <= 1.0
        if slips:
            assert touch.share == pytest.approx(1.0, abs=1e-2)
            # the slot draws the wire along with it
            assert touch.along == pytest.approx(np.sign(way) * 0.2 * touch.push, rel=1e-2)
        else:
            assert touch.share < 0.5
            assert abs(touch.along) < 0.1 * touch.push
    assert found.touching


def test_an_edge_without_friction_slides_and_uses_none():
    (_, found, _) = contacts(tied(middle(UP, -0.5)))
    assert found.state == "slips"
    assert [(t.share, t.slips, t.along, t.aside) for t in found.touching] == 2 * [(0, True, 0, 0)]


# --- play that is left -------------------------------------------------------------------------

SLACK = 0.005 * DEGREE  # what the outer slots leave: 0.1 um across the wire


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("turned", [0.0, 5.0, 12.0])
@pytest.mark.parametrize("tipped", [0.0, 0.5, 1.0])
def test_play_left_is_the_closed_form_less_the_turn(way, turned, tipped):
    """The middle slot is turned about a wire that fills its neighbours and hangs free in it."""
    torsion = turned * DEGREE
    poses = middle([ABOUT_LABIAL, ABOUT_ALONG], [tipped * DEGREE, way * torsion])
    turn = Rotation.from_rotvec(poses[1, 3:])
    # halfway between floor and lid, which a turned wire does not reach there
    poses[1, :3] = turn.apply([-0.05, 0.0, 0.0])
    (_, found, _) = contacts(tied(poses, sizes=(FILLED, SIZE, FILLED)))
    assert found.state == "open"
    # the wire seen from the slot
    seen = turn.inv().apply([0.0, 1.0, 0.0])
    tip = abs(np.arctan2(seen[UP], seen[ALONG]))
    left = torsional_play(OBLONG, 0.56, tip=tip, slot_width=3.0) - torsion
    # a torsional play that falls by seven degrees with every degree of tip
    np.testing.assert_allclose(found.torsion_left, left, rtol=0, atol=8 * SLACK)
    left = tip_play(OBLONG, 0.56, 3.0, torsion=torsion) - tip
    np.testing.assert_allclose(found.tip_left, left, rtol=0, atol=SLACK)
    assert min(found.torsion_left, found.tip_left) > 0.0


def test_a_round_wire_turns_freely():
    found = contacts(tied(middle(UP, -0.5), section=ROUND))
    assert [contact.torsion_left for contact in found] == 3 * [np.inf]
    document = contact_document(found[1], 1.0)
    assert document["play_left"]["torsion_deg"] is None
    np.testing.assert_allclose(
        document["play_left"]["tip_deg"], found[1].tip_left / DEGREE, rtol=1e-12
    )


# --- documents ---------------------------------------------------------------------------------


def test_a_document_is_plain_data_and_tells_mesial_from_distal():
    begin = tied(middle(ABOUT_LABIAL, 0.15), friction=0.2)
    (_, contact, _) = contacts(begin)
    for place, ends in ((5.0, ["mesial", "distal"]), (-5.0, ["distal", "mesial"])):
        document = contact_document(contact, place)
        assert json.loads(json.dumps(document, allow_nan=False)) == document
        assert list(document) == ["state", "binds", "play_left", "touches"]
        assert (document["state"], document["binds"]) == ("two-point in tip, sticks", True)
        assert [touch["end"] for touch in document["touches"]] == ends
        assert [touch["wall"] for touch in document["touches"]] == ["occlusal", "gingival"]
        for shown, touch in zip(document["touches"], contact.touching, strict=True):
            assert shown["push_N"] == touch.push > 1.0
            assert shown["friction_along_N"] == abs(touch.along)
            assert shown["friction_aside_N"] == abs(touch.aside)
            assert (shown["friction_used"], shown["slips"]) == (touch.share, False)


NEIGHBOURS = {11: (12, 11, 21), 21: (11, 21, 22), 31: (41, 31, 32), 41: (42, 41, 31)}


@pytest.mark.parametrize("number", NEIGHBOURS)
@pytest.mark.parametrize(
    ("turn", "expected"),
    [
        # the crown tipped mesially sinks mesially: there the wire meets the edge's wall
        ({"angulation": "10 deg"}, {("occlusal", "mesial"), ("gingival", "distal")}),
        ({"angulation": "-10 deg"}, {("gingival", "mesial"), ("occlusal", "distal")}),
        # rotated mesiolingually, the mesial end of the slot lies behind the wire, which its lid
        # holds
        ({"rotation": "15 deg"}, {("lid", "mesial"), ("floor", "distal")}),
        ({"vertical": "-1 mm"}, {("occlusal", "mesial"), ("occlusal", "distal")}),
        ({"labial": "1 mm"}, {("floor", "mesial"), ("floor", "distal")}),
    ],
    ids=["mesial tip", "distal tip", "mesiolingual", "short of the line", "labial"],
)
def test_walls_and_ends_have_the_right_names_in_all_quadrants(number, turn, expected):
    teeth = [{"number": n, **(turn if n == number else {})} for n in NEIGHBOURS[number]]
    wire = {"alloy": "nickel-titanium", "size": "0.016 in", "friction": 0}
    made = scenario_from({"schema": 1, "tooth": teeth, "wire": [wire]}, "test")
    models = tooth_models(made, Linear(1.0), resolution=COARSE)
    loads = WiresInUse(made, models).at(stages(made)[0])
    index = [tooth.number for tooth in models].index(number)
    contact = slot_contacts(loads.wire, loads.trial(np.zeros((3, 6))))[index]
    document = contact_document(contact, models[index].place)
    assert {(touch["wall"], touch["end"]) for touch in document["touches"]} == expected


def test_slots_may_differ_in_size():
    wide = replace(SIZE, width=4.0)
    found = contacts(tied(sizes=(SIZE, wide, SIZE)))
    np.testing.assert_allclose(found[1].tip_left, tip_play(OBLONG, 0.56, 4.0), rtol=1e-4)
    np.testing.assert_allclose(found[2].tip_left, tip_play(OBLONG, 0.56, 3.0), rtol=1e-4)
