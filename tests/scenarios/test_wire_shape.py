"""Bends, steps, twists and loops of a wire: geometry, and what they do between slots."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import Rod
from gomphosis.scenarios.alloys import library_alloy, section_law
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.arch import ArchForm, PointsLine, StraightLine, axes
from gomphosis.scenarios.checks.tied import tied_wrenches
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slots import Bracket
from gomphosis.scenarios.slotted_wire import ArchWire
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import TAIL, TURN, Bend, Loop, WireShape, step

SLOTS = np.array([-7.0, 0.0, 7.0])
SECTION = WireSection(0.4, 0.4, round=True)
YOUNG, SPAN = 180000.0, 10.0
WIDTH = 1.5  # mm of a snug slot along the wire
U_LOOP = np.array([[0.0, 0, 0], [0, 6, 0], [2, 6, 0], [2, 0, 0]])


def meshed(*features, line=None, slots=SLOTS):
    return WireShape(line or StraightLine(), features).mesh(slots, per_span=4)


def at_slots(mesh):
    return mesh.shape.place.nodes[mesh.slots], mesh.shape.place.triads[mesh.slots]


def test_a_plain_wire_has_nodes_at_slots_and_tails_beyond():
    mesh = meshed()
    nodes, triads = at_slots(mesh)
    np.testing.assert_allclose(nodes, SLOTS[:, None] * [0, 1, 0], rtol=0, atol=1e-12)
    # along y, occlusal z, labial x
    np.testing.assert_allclose(triads[1], np.eye(3)[[1, 2, 0]].T, rtol=0, atol=1e-12)
    assert mesh.shape.kinks is None
    assert mesh.shape.stations[0] == SLOTS[0] - TAIL
    assert mesh.shape.stations[-1] == pytest.approx(SLOTS[-1] + TAIL)


@pytest.mark.parametrize(
    ("turn", "component"), [([0, 0, 0.2], 2), ([0, -0.2, 0], 0)], ids=["occlusal", "labial"]
)
def test_a_bend_lifts_what_lies_beyond(turn, component):
    nodes, triads = at_slots(meshed(Bend(3.0, np.array(turn))))
    expected = np.array([0.0, 3.0, 0.0])
    expected[1] += 4 * np.cos(0.2)
    expected[component] += 4 * np.sin(0.2)
    np.testing.assert_allclose(nodes[2], expected, rtol=0, atol=1e-12)
    np.testing.assert_allclose(triads[2][:, 0], (expected - [0, 3, 0]) / 4, rtol=0, atol=1e-12)
    np.testing.assert_allclose(nodes[:2], SLOTS[:2, None] * [0, 1, 0], rtol=0, atol=1e-12)


def test_a_step_displaces_without_turning():
    nodes, triads = at_slots(meshed(*step(3.5, (0.3, -0.4), 1.0)))
    np.testing.assert_allclose(triads[2], triads[0], rtol=0, atol=1e-12)
    np.testing.assert_allclose(nodes[2][[2, 0]], [0.3, -0.4], rtol=0, atol=1e-12)
    # a millimetre of wire slopes: its projection is shorter
    np.testing.assert_allclose(nodes[2][1], 6 + np.sqrt(1 - 0.25), rtol=1e-12)


def test_a_twist_turns_about_the_wire():
    _, triads = at_slots(meshed(Bend(3.5, np.array([0.3, 0, 0]))))
    turn = triads[2] @ triads[0].T
    np.testing.assert_allclose(
        Rotation.from_matrix(turn).as_rotvec(), [0, 0.3, 0], rtol=0, atol=1e-12
    )


def test_a_loop_adds_wire_and_replaces_its_width():
    mesh = meshed(Loop(2.0, U_LOOP))
    nodes, triads = at_slots(mesh)
    np.testing.assert_allclose(nodes, SLOTS[:, None] * [0, 1, 0], rtol=0, atol=1e-12)
    np.testing.assert_allclose(triads[2], triads[0], rtol=0, atol=1e-12)
    stations = mesh.shape.stations[mesh.slots]
    np.testing.assert_allclose(np.diff(stations), [7.0, 7.0 + 12.0], rtol=1e-12)
    assert mesh.shape.place.nodes[:, 2].max() == pytest.approx(6.0)


def test_beyond_a_loop_the_arch_goes_on_from_where_the_loop_ends():
    line = ArchForm(25.0, 30.0, 0.3)
    mesh = meshed(Loop(2.0, U_LOOP), line=line)
    nodes, _ = at_slots(mesh)
    here, there, beyond = line.point(np.array([2.0, 4.0, 7.0]))
    tangent = axes(float(line.direction(np.array([2.0]))[0]))[:, 1]
    # the loop's width is laid along the tangent where it begins
    np.testing.assert_allclose(nodes[2], here + 2 * tangent + beyond - there, rtol=0, atol=1e-12)
    assert np.linalg.norm(here + 2 * tangent - there) > 0.01


def test_a_loop_without_width_leaves_the_line_where_it_was():
    closed = np.array([[0.0, 0, 0], [-2, 4, 0], [2, 4, 0], [0, 0, 0]])
    nodes, _ = at_slots(meshed(Loop(2.0, closed)))
    np.testing.assert_allclose(nodes, SLOTS[:, None] * [0, 1, 0], rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    "features",
    [
        (Bend(3.0, np.array([0.1, 0.2, 0.3])),),
        (Loop(2.0, U_LOOP),),
        step(-3.5, (0.3, 0.2), 1.0),
        (Bend(-3.0, np.array([0, 0, 0.4])), Loop(2.0, U_LOOP), Bend(6.0, np.array([0, 0.2, 0]))),
    ],
    ids=["bend", "loop", "step", "all"],
)
@pytest.mark.parametrize("line", [StraightLine(), ArchForm(25.0, 30.0, 0.3)])
def test_every_shape_is_free_of_stress(features, line):
    mesh = meshed(*features, line=line)
    rod = Rod(mesh.shape, SECTION.elastic_section(YOUNG, 0.3))
    force = rod.respond(mesh.shape.place, rod.at_rest().history).force
    np.testing.assert_allclose(force, 0.0, rtol=0, atol=1e-9)
    # and no element is bent but by its share of the arch: bends and corners lie between elements
    ends = mesh.shape.elements(mesh.shape.place)
    chord = ends.end - ends.start
    chord /= np.linalg.norm(chord, axis=1)[:, None]
    most = 1e-7 if line == StraightLine() else TURN
    for triads in (ends.first, ends.last):
        sine = np.linalg.norm(np.cross(triads[:, :, 0], chord), axis=1)
        assert np.all(np.einsum("ni,ni->n", triads[:, :, 0], chord) > 0)
        assert sine.max() <= most


def test_slots_of_some_width_have_nodes_at_their_ends_too():
    shape = WireShape(ArchForm(25.0, 30.0, 0.3), (Bend(3.0, np.array([0, 0, 0.2])),))
    mesh = shape.mesh(SLOTS, per_span=4, width=3.0)
    stations = mesh.shape.stations
    for slot, node in zip(SLOTS, mesh.slots, strict=True):
        np.testing.assert_allclose(stations[node], slot, rtol=0, atol=1e-12)
        for end in (slot - 1.5, slot + 1.5):
            assert np.abs(stations - end).min() < 1e-12
    # as many elements in a slot as between two
    for start, end in ((-8.5, -5.5), (-5.5, -1.5), (-1.5, 1.5), (1.5, 5.5)):
        within = (stations > start - 1e-9) & (stations < end + 1e-9)
        assert np.count_nonzero(within) - 1 >= 4
    assert stations[0] == pytest.approx(-8.5 - TAIL)


def test_slots_may_come_from_either_end():
    ahead, back = meshed(slots=SLOTS), meshed(slots=SLOTS[::-1])
    np.testing.assert_array_equal(back.slots, ahead.slots[::-1])


def test_bends_that_meet_or_meet_a_slot_are_refused():
    bend = Bend(3.0, np.array([0, 0, 0.2]))
    with pytest.raises(ValueError, match=r"bends at 3 and 3\.01 mm from the midline meet"):
        WireShape(StraightLine(), (Bend(3.01, bend.turn), bend))
    with pytest.raises(
        ValueError, match=r"slot at 7 mm from the midline meets the bend at 7\.02 mm"
    ):
        meshed(Bend(7.02, bend.turn))
    with pytest.raises(ValueError, match="slot at 7 mm from the midline meets the bend at 6 mm"):
        meshed(Loop(6.0, U_LOOP))
    clear = WireShape(StraightLine(), (Bend(5.6, bend.turn),))
    assert len(clear.mesh(SLOTS, per_span=4, width=2.6).slots) == 3
    with pytest.raises(
        ValueError, match=r"slot at 7 mm from the midline meets the bend at 5\.6 mm"
    ):
        clear.mesh(SLOTS, per_span=4, width=2.8)
    with pytest.raises(ValueError, match=r"a step of 1 mm needs more than 0\.5 mm of wire"):
        step(0.0, (1.0, 0.0), 0.5)


def tied(features, law, *, cinched=False, apart=0.0):
    """Return the wrenches of a wire at two rigid ties, the second one moved along by some mm."""
    start = np.zeros(6)
    start[1] = apart
    brackets = [Bracket(0.0, np.zeros(3), np.zeros(6)), Bracket(SPAN, np.zeros(3), start)]
    return tied_wrenches(brackets, law, WireShape(StraightLine(), tuple(features)), cinched=cinched)


def snug(features, law, section=SECTION, *, room=1e-5):
    """Return the wrenches of a wire in two slots that leave it next to no play."""
    size = SlotSize(section.height + room, section.width + room, WIDTH)
    shape = WireShape(StraightLine(), tuple(features))
    wire = ArchWire(law, section, shape, sizes=(size, size), ties=(Ligation(), Ligation()))
    brackets = [Bracket(place, np.zeros(3), np.zeros(6)) for place in (0.0, SPAN)]
    return WireLoads(brackets, wire).evaluate(np.zeros((2, 6))).wrenches


def test_rate_of_a_loop_between_clamped_ends_is_castiglianos():
    """Verification: flexibility of the plane frame, its energy of bending and stretching."""
    law = SECTION.elastic_section(YOUNG, 0.3)
    pull = tied([Loop(4.0, U_LOOP)], law, cinched=True, apart=0.01)[:, 1]
    corners = np.array([[0, 0], [4, 0], [4, 6], [6, 6], [6, 0], [10, 0]], dtype=float)
    flexibility = np.zeros((3, 3))  # of the end: pull along, push across, moment
    place, weight = np.polynomial.legendre.leggauss(3)
    for start, end in pairwise(corners):
        length = float(np.linalg.norm(end - start))
        tangent = (end - start) / length
        stretch = np.array([tangent[0], tangent[1], 0.0])
        flexibility += length * np.outer(stretch, stretch) / law.stretching
        for t, w in zip(0.5 * (1 + place), 0.5 * weight, strict=True):
            lever = corners[-1] - (start + t * (end - start))
            bend = np.array([-lever[1], lever[0], 1.0])
            flexibility += w * length * np.outer(bend, bend) / law.bending_third
    exact = np.linalg.solve(flexibility, [0.01, 0.0, 0.0])[0]
    np.testing.assert_allclose(pull, [exact, -exact], rtol=1e-3)


def bent_by_hand(angle, over=1.0, axis=2):
    turn = np.zeros(3)
    turn[axis] = angle
    return Bend(5.0, turn, over)


def test_a_bend_by_hand_lasts_and_acts_like_one_without_stress():
    """Verification: M = E I theta / (L + 2 W / 3), L edge to edge, at either slot of a V-bend.

    A slot without play holds the wire at both its ends, and between them it bends as a beam with a
    moment at one end, by M W / (3 E I). It holds as long as the wire does not bend back
    plastically; a bend of 1 mm instead of a kink does not change it.
    """
    law = section_law(SECTION, library_alloy("steel"), temperature=37.0)
    angle = 0.05
    formed = snug([Bend(5.0, np.array([0, 0, angle]))], law)
    made = snug([bent_by_hand(angle)], law)
    rigidity = YOUNG * SECTION.second_order_inertia
    exact = rigidity * angle / (SPAN - WIDTH + 2 * WIDTH / 3)
    np.testing.assert_allclose(np.abs(formed[:, 3]), exact, rtol=0.005)
    np.testing.assert_allclose(made, formed, rtol=0, atol=0.01 * exact)


def test_a_bend_by_hand_carries_the_stresses_of_its_making():
    """Bent back, it yields before a formed one does (the springback has used up the range)."""
    law = section_law(SECTION, library_alloy("steel"), temperature=37.0)
    angle = 0.6
    formed = snug([Bend(5.0, np.array([0, 0, angle]))], law, room=1e-3)
    made = snug([bent_by_hand(angle)], law, room=1e-3)
    assert np.abs(made[:, 3]).max() < 0.99 * np.abs(formed[:, 3]).max()


def test_a_twist_by_hand_gives_torque():
    """Verification: G J theta / L, L edge to edge."""
    section = WireSection(0.4, 0.6, round=False, edge_radius=0.0)
    law = section_law(section, library_alloy("steel"), temperature=37.0)
    made = snug([bent_by_hand(0.1, axis=0)], law, section)
    torque = 0.1 * YOUNG / 2.6 * section.torsion_constant / (SPAN - WIDTH)
    # beyond the twist the wire is turned crown-labially, and carries the second bracket along
    np.testing.assert_allclose(made[:, 4], [-torque, torque], rtol=0.01)


def test_a_superelastic_wire_keeps_no_bend():
    law = section_law(SECTION, library_alloy("nickel-titanium"), temperature=37.0)
    with pytest.raises(ValueError, match="keeps no set"):
        snug([bent_by_hand(0.2)], law)


def test_line_through_points_follows_the_arch_they_lie_on():
    """Verification: points of a parabola-like arch, arc length by fine chords."""
    arch = ArchForm(25.0, 30.0, 0.3)
    along = np.linspace(-38.0, 38.0, 41)
    points = arch.point(along)
    line = PointsLine(tuple(points[:, 0]), tuple(points[:, 1]))
    place = np.linspace(-37.0, 37.0, 23)
    np.testing.assert_allclose(line.point(place), arch.point(place), rtol=0, atol=0.01)
    np.testing.assert_allclose(line.direction(place), arch.direction(place), rtol=0, atol=0.005)
    fine = np.linspace(-45.0, 45.0, 4001)
    chords = np.linalg.norm(np.diff(line.point(fine), axis=0), axis=1)
    np.testing.assert_allclose(chords, fine[1] - fine[0], rtol=1e-5)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([(0, -5), (0, 5)], "at least three"),
        ([(0, -5), (0, -4.95), (0, 5)], "at least 0.1 mm apart"),
        ([(0, -5), (1, -2), (0, -1)], "cross the midline once"),
        ([(0, 5), (1, 0.5), (0, -5)], "cross the midline once"),
        ([(0, -5), (1, 2), (2, -2), (3, 5)], "cross the midline once"),
    ],
)
def test_points_that_make_no_arch_are_refused(points, words):
    forward, sideways = zip(*points, strict=True)
    with pytest.raises(ValueError, match=words):
        PointsLine(forward, sideways)
