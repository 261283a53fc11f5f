"""Wires in slots beyond what the checks show: play, frames, friction, ties, stops, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.fem.slot_contact import OWN
from gomphosis.scenarios import appliance
from gomphosis.scenarios.alloys import library_alloy, section_law
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.arch import ArchForm, StraightLine, axes
from gomphosis.scenarios.checks.wire import MOVED, STEP, many_brackets
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.play import tip_play, torsional_play
from gomphosis.scenarios.slot_walls import SlotSize, pairs
from gomphosis.scenarios.slots import Bracket
from gomphosis.scenarios.slotted_wire import ArchWire, Stop
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import TAIL, Bend, WireError, WireShape

ROUND = WireSection(0.4, 0.4, round=True)
OBLONG = WireSection(0.4, 0.6, round=False)
YOUNG, POISSON = 2e5, 0.3
SIZE = SlotSize(0.56, 0.7, 3.0)
SEATING = 1.5  # N
LID, TIE = Ligation(), Ligation(SEATING, stiffness=5.0)
MU = 0.2
SPAN = 7.0
# corners of contact are rounded by 10 nm: over a gap of 1 um a force of 2e-6 N is felt
FAINT = 1e-5  # N
ARCH = ArchForm(25.0, 30.0, 0.3)
REST = np.zeros(6)
SLOT = np.array([4.0, 0.5, 6.0])
LABIAL, ALONG, UP = range(3)


def moved(**components):
    names = ("labial", "along", "up", "about_labial", "about_along", "about_up")
    return np.array([components.get(name, 0.0) for name in names])


def wire(section=OBLONG, count=3, *, line=None, features=(), size=SIZE, tie=LID, **options):
    return ArchWire(
        section.elastic_section(YOUNG, POISSON),
        section,
        WireShape(line or StraightLine(), features),
        sizes=count * (size,),
        ties=count * (tie,),
        **options,
    )


def row(starts, arch_wire=None, *, spacing=SPAN, slot=(0.0, 0.0, 0.0)):
    brackets = [Bracket(spacing * k, np.array(slot), start) for k, start in enumerate(starts)]
    return WireLoads(brackets, arch_wire or wire(count=len(starts)))


def at_rest(loads):
    return loads.evaluate(np.zeros((len(loads.brackets), 6))).wrenches


def middle(count=3, **components):
    poses = np.zeros((count, 6))
    poses[(count - 1) // 2] = moved(**components)
    return poses


def pushes(loads, poses):
    """Return the sum of pushes on each wall of each slot, N."""
    trial = loads.trial(poses)
    found = {}
    for pair, push in zip(
        pairs(loads.wire.section, len(loads.brackets)), trial.unknowns.push, strict=True
    ):
        key = (pair.slot, pair.wall)
        found[key] = found.get(key, 0.0) + float(push)
    return found


# --- play ------------------------------------------------------------------------------------

# a straight wire tips in the middle slot, and in the outer two as in one long slot
TIP = sum(tip_play(OBLONG, SIZE.height, length) for length in (SIZE.width, 2 * SPAN + SIZE.width))


@pytest.mark.parametrize(
    ("name", "free"),
    [
        # the wire may lie low in one slot and high in the others
        ("up", SIZE.height - OBLONG.height),
        # seated against the floor in one slot, against the lids in the others
        ("labial", SIZE.depth - OBLONG.width),
        ("about_labial", TIP),
    ],
)
@pytest.mark.parametrize("share", [0.95, 1.01, -0.95, -1.01])
def test_there_is_no_force_inside_play_and_one_beyond_it(name, free, share):
    """Verification: sums of gaps; play in tip by `scenarios.play`."""
    found = at_rest(row([REST, moved(**{name: share * free}), REST]))
    if abs(share) < 1.0:
        np.testing.assert_allclose(found, 0.0, rtol=0, atol=FAINT)
    else:
        assert np.abs(found).max() > 0.01


@pytest.mark.parametrize(
    ("section", "share", "turns"),
    [(OBLONG, 0.5, True), (OBLONG, -1.1, False), (ROUND, 1.1, True)],
    ids=["within play", "beyond", "round"],
)
def test_a_wire_turns_in_its_slots_and_an_oblong_one_gives_torque_beyond_its_play(
    section, share, turns
):
    """Verification: twice the play, one slot each way, is the least turn that twists the wire."""
    size = replace(SIZE, height=0.45)
    turn = share * 2 * torsional_play(OBLONG, size.height)
    found = at_rest(row([REST, moved(about_along=turn), REST], wire(section, size=size)))
    if turns:
        np.testing.assert_allclose(found, 0.0, rtol=0, atol=FAINT)
    else:
        assert np.sign(turn) * found[1, 4] < -1.0


@pytest.mark.parametrize(("tie", "held"), [(LID, True), (Ligation(lost=0.0), False)])
def test_without_a_lid_a_bracket_leaves_its_wire(tie, held):
    """Verification: nothing pulls a bracket that goes lingually when its slot is open."""
    found = at_rest(row([REST, moved(labial=-0.5), REST], wire(tie=tie)))
    assert bool(found[1, LABIAL] > 1.0) is held
    if not held:
        np.testing.assert_allclose(found, 0.0, rtol=0, atol=FAINT)


# --- frames ----------------------------------------------------------------------------------


def test_wrenches_are_about_the_crest_of_each_tooth():
    """Verification: force at the slot times the slot's place."""
    starts = [REST, moved(up=0.5), REST]
    at_slot, at_crest = at_rest(row(starts)), at_rest(row(starts, slot=SLOT))
    assert np.abs(at_slot).max() > 1.0
    np.testing.assert_allclose(at_crest[:, :3], at_slot[:, :3], rtol=0, atol=1e-9)
    np.testing.assert_allclose(
        at_crest[:, 3:], at_slot[:, 3:] + np.cross(SLOT, at_slot[:, :3]), rtol=0, atol=1e-8
    )


def test_a_pose_acts_as_the_same_displacement_at_the_start():
    pose = np.array([0.1, 0.0, 0.4, 0.02, -0.01, 0.05])
    at_slot = np.concatenate([pose[:3] + np.cross(pose[3:], SLOT), pose[3:]])
    assert abs(at_slot[1]) > 1e-3
    poses = np.stack([REST, pose, REST])
    by_pose = row([REST, REST, REST], slot=SLOT).evaluate(poses).wrenches
    by_start = at_rest(row([REST, at_slot, REST], slot=SLOT))
    assert np.abs(by_pose).max() > 1.0
    np.testing.assert_allclose(by_pose, by_start, rtol=0, atol=1e-6)


SIX = np.array([0.5, -1.0, 0.7, 0.05, 0.1, -0.08])
PLACES = np.array([-20.0, -8.0, 4.0, 15.0])


def carried_poses(six):
    """Return the poses of a common rigid motion in the arch frame."""
    turn = Rotation.from_rotvec(six[3:]).as_matrix()
    poses = []
    for place in PLACES:
        frame = axes(float(ARCH.direction(np.array([place]))[0]))
        point = ARCH.point(np.array([place]))[0]
        spin = frame.T @ six[3:]
        at_slot = frame.T @ (six[:3] + turn @ point - point)
        poses.append([*(at_slot - np.cross(spin, SLOT)), *spin])
    return np.array(poses)


def test_an_arch_carried_along_with_its_teeth_acts_as_before():
    """Verification: objectivity; loads and the centre line turn with the wire and its teeth."""
    # across the slots and beyond their play: no slot lets the wire float
    starts = np.array([moved(labial=d, up=-d) for d in (0.3, -0.3, 0.3, -0.3)])
    brackets = [Bracket(p, SLOT, start) for p, start in zip(PLACES, starts, strict=True)]
    loads = WireLoads(brackets, wire(count=4, line=ARCH, tie=TIE))
    turn = Rotation.from_rotvec(SIX[3:]).as_matrix()
    poses = carried_poses(SIX)
    for k, place in enumerate(PLACES):
        # a pose does not turn the slot's start: it is turned here
        frame = axes(float(ARCH.direction(np.array([place]))[0]))
        poses[k, :3] += frame.T @ (turn - np.eye(3)) @ frame @ starts[k, :3]
    found, lines = [], []
    for p in (np.zeros((4, 6)), poses):
        found.append(loads.trial(p).on_slots.reshape(4, 2, 3))
        loads.commit(p)
        lines.append(loads.centre_line(p))
    assert np.abs(found[0]).max() > 1.0
    np.testing.assert_allclose(found[1], found[0] @ turn.T, rtol=0, atol=1e-5)
    np.testing.assert_allclose(lines[1], SIX[:3] + lines[0] @ turn.T, rtol=0, atol=1e-6)
    assert len(lines[0]) > 100


def test_a_place_where_the_wire_never_was_has_no_centre_line():
    with pytest.raises(KeyError):
        row([REST, REST]).centre_line(np.zeros((2, 6)))


def test_centre_line_passes_displaced_slots_within_their_play():
    starts = [moved(up=0.4), moved(labial=0.5), moved(up=-0.3, about_labial=0.1)]
    loads = row(starts)
    loads.commit(np.zeros((3, 6)))
    line = loads.centre_line(np.zeros((3, 6)))
    for index, start in enumerate(starts):
        off = line[np.argmin(np.abs(line[:, ALONG] - SPAN * index))] - start[:3]
        assert abs(off[UP]) < 0.5 * (SIZE.height - OBLONG.height) + 0.03
        assert -0.03 < off[LABIAL] < SIZE.depth - OBLONG.width + 0.03


def test_mirror_arches_answer_with_mirror_loads():
    """Reflection in the midline: forces keep x and z and change y; moments the other way round."""
    mirror = np.array([1, -1, 1, -1, 1, -1])
    rng = np.random.default_rng(3)
    row_of = [(place, rng.normal(size=6)) for place in (-17.0, -9.0, 0.5, 8.0, 19.0)]
    here = [Bracket(p, np.array([3.0, 0.2, 5.0]), 0.03 * s) for p, s in row_of]
    there = [Bracket(-b.place, b.slot * [1, -1, 1], b.start * mirror) for b in reversed(here)]
    tied = wire(count=5, line=ARCH, tie=TIE, stops=(Stop(0, -1), Stop(4, 1)))
    one, two = (at_rest(WireLoads(brackets, tied)) for brackets in (here, there))
    assert np.abs(one).max() > 1.0
    np.testing.assert_allclose(two[::-1], one * mirror, rtol=0, atol=1e-6)


def test_brackets_may_come_from_either_end():
    starts = [moved(up=0.4), moved(about_labial=0.1), moved(labial=-0.6, about_up=0.05)]
    brackets = [Bracket(p, SLOT, start) for p, start in zip((0.0, 6.0, 14.0), starts, strict=True)]
    one, two = (at_rest(WireLoads(some, wire(tie=TIE))) for some in (brackets, brackets[::-1]))
    assert np.abs(one).max() > 1.0
    np.testing.assert_allclose(two[::-1], one, rtol=0, atol=1e-6)


# --- derivative ------------------------------------------------------------------------------


def test_derivative_with_give_stops_and_friction_is_that_of_differences():
    """Verification: central differences."""
    soft = replace(SIZE, give=np.deg2rad(0.2))
    stops = (Stop(0, -1), Stop(2, 1))
    tied = wire(line=ARCH, size=soft, tie=TIE, friction=MU, stops=stops)
    rng = np.random.default_rng(8)
    places = (-8.0, 1.0, 9.5)
    loads = WireLoads([Bracket(p, SLOT, 0.1 * rng.normal(size=6)) for p in places], tied)
    loads.engage(np.zeros((3, 6)))
    poses, step = 0.004 * rng.normal(size=(3, 6)), 5e-7
    columns = []
    for unit in step * np.eye(18):
        ahead, back = (loads.evaluate(poses + s * unit.reshape(3, 6)).wrenches for s in (1, -1))
        columns.append((ahead - back).ravel() / (2 * step))
    found = np.stack(columns, axis=1)
    given = loads.evaluate(poses).derivative
    # loads balance to 1e-8 N, 1e-5 of the largest entry; the step is a twentieth of the rounding
    np.testing.assert_allclose(given, found, rtol=0, atol=1e-4 * np.abs(found).max())


@pytest.mark.parametrize("section", [ROUND, OBLONG], ids=["round", "oblong"])
def test_a_seated_wire_resists_every_motion(section):
    """Without net loads its derivative is symmetric, and minus it is never negative."""
    loads = row([REST] * 4, wire(section, 4, tie=TIE), slot=SLOT)
    derivative = loads.evaluate(np.zeros((4, 6))).derivative
    scale = np.abs(derivative).max()
    assert scale > 10.0
    np.testing.assert_allclose(derivative, derivative.T, rtol=0, atol=1e-8 * scale)
    assert np.linalg.eigvalsh(0.5 * (derivative + derivative.T)).max() < 1e-8 * scale


@pytest.mark.parametrize("friction", [0.0, MU])
def test_trials_leave_no_trace(friction):
    """Where a trial is looked for from does not change what is found, nor does a rollback."""
    loads = many_brackets(ARCH, OBLONG, friction=friction)
    first = loads.evaluate(MOVED + 0.5 * STEP)
    loads.evaluate(MOVED - STEP)
    again = loads.evaluate(MOVED + 0.5 * STEP)
    loads.evaluate(MOVED + STEP)
    loads.rollback()
    fresh = loads.evaluate(MOVED + 0.5 * STEP)
    scale = np.abs(first.wrenches).max()
    np.testing.assert_allclose(again.wrenches, first.wrenches, rtol=0, atol=1e-7 * scale)
    np.testing.assert_allclose(fresh.wrenches, first.wrenches, rtol=0, atol=1e-7 * scale)


# --- sliding and friction --------------------------------------------------------------------


def test_friction_acts_only_after_a_wire_has_been_drawn_in():
    starts = [moved(up=0.4), moved(about_labial=0.1), moved(labial=-0.6)]
    free, rubbing = (
        at_rest(row(starts, wire(tie=TIE, friction=friction))) for friction in (0.0, MU)
    )
    scale = np.abs(free).max()
    assert scale > 1.0
    # friction takes over, by way of a little sliding, what the anchor has held along the wire
    np.testing.assert_allclose(rubbing, free, rtol=0, atol=1e-4 * scale)


@pytest.mark.parametrize("section", [ROUND, OBLONG], ids=["round", "oblong"])
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_bracket_that_slides_is_held_back_by_the_coefficient_times_what_presses(section, way):
    """Verification: Coulomb's law; the floor presses as much as the tie."""
    loads = row([REST] * 3, wire(section, tie=TIE, friction=MU))
    poses = np.stack([REST, REST, moved(along=0.1 * way)])
    found = way * loads.evaluate(poses).wrenches[:, ALONG]
    pressing = sum(push for (slot, _), push in pushes(loads, poses).items() if slot == 2)
    np.testing.assert_allclose(found[2], -MU * pressing, rtol=1e-5)
    # drags at the surface bend the wire a little, so the floor presses a little more or less
    np.testing.assert_allclose(pressing, 2 * SEATING, rtol=1e-3)
    # the others hold the wire, neither beyond its own limit
    np.testing.assert_allclose(found.sum(), 0.0, rtol=0, atol=1e-7)
    assert 0 < found[0] <= found[1] < -found[2]


def test_friction_remembers_from_step_to_step():
    """What was dragged stays dragged while nothing moves, and turns round when it goes back."""
    loads = row([REST] * 3, wire(tie=TIE, friction=MU))
    poses = np.stack([REST, REST, moved(along=0.1)])
    loads.commit(poses)
    limit = MU * 2 * SEATING
    for _ in range(2):
        # corners of friction are rounded: an idle drag fades by some 0.1 % a step
        np.testing.assert_allclose(loads.evaluate(poses).wrenches[2, ALONG], -limit, rtol=5e-3)
        loads.commit(poses)
    back = np.stack([REST, REST, moved(along=0.05)])
    np.testing.assert_allclose(loads.evaluate(back).wrenches[2, ALONG], limit, rtol=1e-3)


@pytest.mark.parametrize("released", [0.0, 0.25, 1.0])
def test_chewing_releases_a_share_of_friction(released):
    """The wire springs back as it is let go, which gives a little of the drag back or takes it."""
    loads = row([REST] * 3, wire(tie=TIE, friction=MU, released=released))
    poses = np.stack([REST, REST, moved(along=0.1)])
    before = loads.evaluate(poses).wrenches[2, ALONG]
    loads.commit(poses)
    after = loads.evaluate(poses).wrenches[2, ALONG]
    np.testing.assert_allclose(after, (1 - released) * before, rtol=0, atol=0.05 * abs(before))


def test_slots_slide_over_the_material():
    """The mesh stays, and so does what its sections have been through, where it was bent."""
    steel = section_law(ROUND, library_alloy("steel"), temperature=37.0)
    loads = row([REST] * 3, replace(wire(ROUND, tie=TIE), law=steel))
    loads.commit(middle(up=2.0))
    loads.commit(np.zeros((3, 6)))
    held = loads.held
    loads.commit(np.stack([REST, REST, moved(along=1.0)]))
    slid = loads.held
    assert slid.what.rod is held.what.rod
    slot = slid.what.contact.edges.slot
    moved_by = slid.state.touches.station - held.state.touches.station
    np.testing.assert_allclose(moved_by[slot == 2], 1.0, rtol=0, atol=0.1)
    np.testing.assert_allclose(moved_by[slot < 2], 0.0, rtol=0, atol=0.01)
    # what the last slot passes over it bends back; the rest has what it had
    station = held.what.rod.point_stations
    kept = station < 2 * SPAN - 0.5 * SIZE.width - 1.0
    before, after = (wire.state.rod.history[:, kept] for wire in (held, slid))
    assert np.abs(before).max() > 1e-3
    np.testing.assert_allclose(after, before, rtol=0, atol=0.02 * np.abs(before).max())


# --- stops -----------------------------------------------------------------------------------


def test_a_cinched_wire_holds_its_ends_together_and_lets_them_come_closer():
    """Verification: E A / L times the distance by which the ends moved apart, L between crimps."""
    cinched = wire(stops=(Stop(0, -1), Stop(2, 1)))
    apart = np.stack([moved(along=-0.01), REST, moved(along=0.02)])
    np.testing.assert_allclose(row([REST] * 3).evaluate(apart).wrenches, 0.0, rtol=0, atol=1e-7)
    pull = YOUNG * OBLONG.area * 0.03 / (2 * SPAN + SIZE.width)
    found = row([REST] * 3, cinched).evaluate(apart).wrenches
    np.testing.assert_allclose(found[:, ALONG], [pull, 0, -pull], rtol=1e-6, atol=FAINT)
    closer = row([REST] * 3, cinched).evaluate(-apart).wrenches
    np.testing.assert_allclose(closer, 0.0, rtol=0, atol=FAINT)


@pytest.mark.parametrize("side", [1, -1])
def test_a_crimp_holds_one_way_only(side):
    """Verification: the middle slot anchors the wire; E A / L from there to the crimp."""
    crimped = wire(stops=(Stop(0, side),))
    free = SPAN - 0.5 * side * SIZE.width
    force = side * YOUNG * OBLONG.area * 0.001 / free
    for way in (1, -1):
        poses = np.stack([moved(along=0.001 * way), REST, REST])
        found = row([REST] * 3, crimped).evaluate(poses).wrenches[:, ALONG]
        # a crimp beyond the slot is pushed by a slot that moves towards it
        expected = [-force, force, 0.0] if way == side else 3 * [0.0]
        np.testing.assert_allclose(found, expected, rtol=1e-6, atol=FAINT)


# --- ties ------------------------------------------------------------------------------------


@pytest.mark.parametrize("section", [ROUND, OBLONG], ids=["round", "oblong"])
def test_a_tie_presses_the_wire_onto_the_floor_and_not_the_bracket_anywhere(section):
    """Verification: the wire is seated by the tie's force; tie and floor are one bracket."""
    loads = row([REST] * 3, wire(section, tie=TIE))
    np.testing.assert_allclose(at_rest(loads), 0.0, rtol=0, atol=1e-7)
    found = pushes(loads, np.zeros((3, 6)))
    for slot in range(3):
        for wall, force in (("lid", 1.5), ("floor", 1.5), ("occlusal", 0.0), ("gingival", 0.0)):
            # each curve of a wire on a tie gives way a little by itself
            np.testing.assert_allclose(found[slot, wall], force, rtol=OWN, atol=FAINT)


def test_ties_fade_and_one_is_lost():
    """Verification: the force of each tie at its age, which counts from when it was tied."""
    fading = Ligation(1.5, lasting=0.4, fading=2.0)
    ties = (fading, replace(fading, lost=5.0), fading)
    loads = row([REST] * 3, replace(wire(), ties=ties))
    rest = np.zeros((3, 6))
    loads.at_day(28.0)
    loads.engage(rest)
    for age in (0.0, 2.0, 4.9, 5.0):
        loads.at_day(28.0 + age)
        found = pushes(loads, rest)
        for slot, tie in enumerate(ties):
            for wall in ("lid", "floor"):
                # where nothing presses any more, rounded corners lift the wire a little
                atol = FAINT if age < 5.0 else 2e-3
                np.testing.assert_allclose(found[slot, wall], tie.force(age), rtol=OWN, atol=atol)
        loads.commit(rest)


def test_a_tie_pulls_harder_as_the_wire_is_lifted_off_the_floor():
    """Verification: a stiff wire lifted by h: force of the tie, and its stiffness times h."""
    stiff = replace(wire(tie=LID), law=OBLONG.elastic_section(1e9, POISSON))
    ties = (LID, TIE, LID)
    # lids: outer slots, moved labially beyond their gap, press the wire out with their floors
    loads = row([REST] * 3, replace(stiff, ties=ties))
    poses = np.stack([moved(labial=0.05), REST, moved(labial=0.05)])
    force = loads.evaluate(poses).wrenches[:, LABIAL]
    expected = SEATING + TIE.stiffness * 0.05
    np.testing.assert_allclose(force, [-expected / 2, expected, -expected / 2], rtol=OWN)


# --- mesh ------------------------------------------------------------------------------------


@pytest.mark.parametrize("line", [StraightLine(), ARCH], ids=["straight", "arch"])
def test_the_number_of_elements_keeps_the_error_that_it_claims(line, monkeypatch):
    """Against a mesh four times as fine."""
    chosen = many_brackets(line, OBLONG)
    count, claimed = chosen.discretisation
    monkeypatch.setattr(appliance, "FEWEST", 4 * count)
    fine = many_brackets(line, OBLONG)
    assert fine.discretisation[0] == 4 * count
    one, other = (loads.evaluate(MOVED).wrenches for loads in (chosen, fine))
    # about the crests, at some 6 mm from the slots, forces carry over into moments
    np.testing.assert_allclose(one, other, rtol=0, atol=0.01 * np.abs(other).max())
    assert 0 < claimed <= appliance.ACCURACY


def test_more_accuracy_takes_more_elements(monkeypatch):
    usual = many_brackets(ARCH, ROUND).discretisation
    monkeypatch.setattr(appliance, "ACCURACY", 0.7 * usual[1])
    count, change = many_brackets(ARCH, ROUND).discretisation
    assert count > usual[0]
    assert change <= 0.7 * usual[1]
    monkeypatch.setattr(appliance, "ACCURACY", 0.0)
    monkeypatch.setattr(appliance, "MOST", 4 * usual[0])
    # at the most that is allowed it stops, and says how far off it may be
    count, change = many_brackets(ARCH, ROUND).discretisation
    assert count == appliance.MOST
    assert change > 0.0


def test_balance_is_not_blind():
    loads = many_brackets(ARCH, OBLONG)
    wrenches = loads.evaluate(MOVED).wrenches.copy()
    np.testing.assert_allclose(loads.balance(MOVED, wrenches), 0.0, rtol=0, atol=1e-5)
    wrenches[2, 0] += 0.1
    assert np.linalg.norm(loads.balance(MOVED, wrenches)[:3]) > 0.09


# --- refusals --------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [0, 1])
def test_fewer_than_two_brackets_are_refused(count):
    with pytest.raises(ValueError, match=f"at least 2 brackets, got {count}"):
        row([REST] * count, wire(count=count))


def test_slots_without_brackets_are_refused():
    with pytest.raises(ValueError, match="a wire for 3 slots got 2 brackets"):
        row([REST] * 2, wire(count=3))


def test_brackets_that_leave_no_wire_between_them_are_refused():
    words = r"two brackets leave 0\.4 mm of wire between them, less than 0\.5 mm"
    with pytest.raises(WireError, match=words):
        row([REST] * 3, spacing=3.4)
    assert row([REST] * 3, spacing=3.6).brackets[1].place == 3.6
    loads = row([REST] * 2)
    with pytest.raises(WireError, match=words):
        loads.engage(np.stack([REST, moved(along=-3.6)]))


def test_brackets_that_come_too_close_on_the_way_are_refused():
    loads = row([REST] * 2)
    for along in (-0.5, -1.0, -2.0, -3.0, -3.4):
        loads.commit(np.stack([REST, moved(along=along)]))
    with pytest.raises(WireError, match="two brackets leave"):
        loads.commit(np.stack([REST, moved(along=-3.6)]))


def test_a_wire_too_high_for_its_slots_is_refused():
    tall = wire(WireSection(0.6, 0.6, round=True))
    with pytest.raises(WireError, match=r"a wire 0\.6 mm high does not go into slot 1"):
        at_rest(row([REST] * 3, tall))
    # only the last slot is too low
    sizes = (replace(SIZE, height=0.7), replace(SIZE, height=0.7), SIZE)
    with pytest.raises(WireError, match=r"into slot 3, which is 0\.56 mm high"):
        at_rest(row([REST] * 3, replace(tall, sizes=sizes)))


def test_a_wire_too_wide_for_a_lid_is_refused_but_can_be_tied():
    wide = WireSection(0.4, 0.75, round=False)
    words = r"a wire 0\.75 mm wide cannot be closed into slot 1, which is 0\.7 mm deep"
    with pytest.raises(WireError, match=words):
        at_rest(row([REST] * 3, wire(wide)))
    np.testing.assert_allclose(at_rest(row([REST] * 3, wire(wide, tie=TIE))), 0, rtol=0, atol=1e-7)


def test_a_slot_that_slides_off_the_end_is_refused():
    loads = row([REST] * 3, wire(tie=TIE))
    for along in (1.0, 2.0, TAIL - 0.1):
        loads.commit(np.stack([REST, REST, moved(along=along)]))
    with pytest.raises(WireError, match="an end of the wire has slid out of its last slot"):
        loads.commit(np.stack([REST, REST, moved(along=TAIL + 0.1)]))


def test_a_slot_on_a_bend_is_refused():
    bend = Bend(SPAN + 1.0, np.array([0.0, 0.0, 0.1]))
    with pytest.raises(WireError, match="a slot at 7 mm from the midline meets the bend at 8 mm"):
        at_rest(row([REST] * 3, wire(features=(bend,))))


def test_a_slot_that_slides_onto_a_bend_is_refused():
    bend = Bend(2 * SPAN - 2.5, np.array([0.0, 0.0, 0.02]))
    loads = row([REST] * 3, wire(features=(bend,)))
    # the middle slot carries the wire along, the last one slides on it
    loads.commit(np.stack([REST, REST, moved(along=-0.8)]))
    with pytest.raises(WireError, match=r"slot 3 has slid onto the bend at 11\.5 mm"):
        loads.commit(np.stack([REST, REST, moved(along=-1.2)]))
