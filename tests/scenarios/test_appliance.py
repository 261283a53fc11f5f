"""Wires in slots beyond what the checks show: frames, sliding, play of freedoms, refusals."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.scenarios import appliance
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.arch import ArchForm, StraightLine, axes
from gomphosis.scenarios.checks.wire import many_brackets
from gomphosis.scenarios.tied_wire import ArchWire, Bracket
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireShape

ROUND = WireSection(0.4, 0.4, round=True)
SQUARE = WireSection(0.4, 0.6, round=False)
YOUNG, POISSON = 5e4, 0.3
ARCH = ArchForm(25.0, 30.0, 0.3)
REST = np.zeros(6)


def wire(section=SQUARE, line=None, **options):
    law = section.elastic_section(YOUNG, POISSON)
    shape = WireShape(line or StraightLine())
    return ArchWire(law, shape, twist_held=not section.round, **options)


def moved(**components):
    names = ("labial", "along", "up", "about_labial", "about_along", "about_up")
    return np.array([components.get(name, 0.0) for name in names])


def row(starts, arch_wire, spacing=7.0, slot=(0.0, 0.0, 0.0)):
    brackets = [Bracket(spacing * k, np.array(slot), start) for k, start in enumerate(starts)]
    return WireLoads(brackets, arch_wire)


def at_rest(loads):
    return loads.evaluate(np.zeros((len(loads.brackets), 6))).wrenches


def test_middle_bracket_out_of_line_between_two_spans():
    """Verification: 24 E I d / L^3 on a bracket that moves without turning between two others."""
    for name, index, inertia in (
        ("up", 2, SQUARE.second_order_inertia),
        ("labial", 0, SQUARE.first_order_inertia),
    ):
        # small against the span, so that the nonlinear rod answers as linear theory does
        wrenches = at_rest(row([REST, moved(**{name: 0.01}), REST], wire()))
        exact = 24 * YOUNG * inertia * 0.01 / 7.0**3
        np.testing.assert_allclose(wrenches[1, index], -exact, rtol=1e-5)
        np.testing.assert_allclose(wrenches[[0, 2], index], exact / 2, rtol=1e-5)


def test_twisted_bracket_between_two_spans():
    """Verification: G J (1/L_1 + 1/L_2) per rad against rigid neighbours."""
    wrenches = at_rest(row([REST, moved(about_along=0.1), REST], wire()))
    rigidity = YOUNG / (2 * (1 + POISSON)) * SQUARE.torsion_constant
    np.testing.assert_allclose(wrenches[1, 4], -0.1 * rigidity * 2 / 7.0, rtol=1e-5)
    np.testing.assert_allclose(wrenches[[0, 2], 4], 0.1 * rigidity / 7.0, rtol=1e-5)


def test_a_round_wire_gives_no_torque_and_a_rectangular_one_does():
    twist = [REST, moved(about_along=0.1)]
    np.testing.assert_allclose(at_rest(row(twist, wire(ROUND))), 0.0, rtol=0, atol=1e-6)
    assert np.abs(at_rest(row(twist, wire(SQUARE)))).max() > 0.1


def test_wrenches_are_about_the_crest_of_each_tooth():
    """Verification: force at the slot times the slot's place."""
    slot = np.array([4.0, 0.5, 6.0])
    starts = [REST, moved(up=0.3)]
    at_slot, at_crest = at_rest(row(starts, wire())), at_rest(row(starts, wire(), slot=slot))
    np.testing.assert_allclose(at_crest[:, :3], at_slot[:, :3], rtol=1e-12)
    np.testing.assert_allclose(
        at_crest[:, 3:], at_slot[:, 3:] + np.cross(slot, at_slot[:, :3]), rtol=1e-10
    )


def test_a_pose_acts_as_the_same_displacement_at_the_start():
    slot = np.array([4.0, 0.5, 6.0])
    pose = np.array([0.1, 0.0, 0.2, 0.02, -0.01, 0.05])
    at_slot = np.concatenate([pose[:3] + np.cross(pose[3:], slot), pose[3:]])
    by_pose = row([REST, REST, REST], wire(), slot=slot)
    poses = np.stack([REST, pose, REST])
    by_start = row([REST, at_slot, REST], wire(), slot=slot)
    assert abs(at_slot[1]) > 1e-3
    by_pose.commit(poses)
    np.testing.assert_allclose(
        by_pose.evaluate(poses).wrenches, at_rest(by_start), rtol=1e-6, atol=1e-6
    )


def test_a_commit_moves_the_slots_and_so_the_spans():
    """Verification: 12 E I d / L^3 at the span the teeth have after sliding by 1 mm."""
    loads = row([REST, moved(up=0.01)], wire())
    poses = np.stack([REST, moved(along=1.0)])
    before = at_rest(loads)[1, 2]
    loads.commit(poses)
    after = loads.evaluate(poses).wrenches[1, 2]
    np.testing.assert_allclose(after / before, (7 / 8) ** 3, rtol=1e-5)
    loads.rollback()
    np.testing.assert_array_equal(loads.evaluate(poses).wrenches[1, 2], after)


def test_teeth_out_of_line_along_the_arch_change_the_span_from_the_start():
    """Verification: 12 E I d / L^3 at 8 mm for brackets that should stand 7 mm apart."""
    aligned = at_rest(row([REST, moved(up=0.01)], wire()))[1, 2]
    loads = row([REST, moved(up=0.01, along=1.0)], wire())
    for _ in range(2):
        np.testing.assert_allclose(at_rest(loads)[1, 2] / aligned, (7 / 8) ** 3, rtol=1e-5)
        loads.commit(np.zeros((2, 6)))


def test_a_cinched_wire_pulls_and_a_free_one_slides():
    """Verification: E A / L times the distance by which the ends moved apart."""
    poses = np.stack([moved(along=-0.01), REST, moved(along=0.02)])
    free = row([REST] * 3, wire()).evaluate(poses).wrenches
    np.testing.assert_allclose(free, 0.0, rtol=0, atol=1e-7)
    tied = row([REST] * 3, wire(cinched=True)).evaluate(poses).wrenches
    pull = YOUNG * SQUARE.area * 0.03 / 14.0
    np.testing.assert_allclose(tied[:, 1], [pull, 0, -pull], rtol=1e-6, atol=1e-7)


def test_an_aligned_arch_is_passive():
    brackets = [Bracket(p, np.array([3.0, 0, 5.0]), REST) for p in (-20.0, -8.0, 4.0, 15.0)]
    loads = WireLoads(brackets, wire(line=ARCH))
    np.testing.assert_allclose(at_rest(loads), 0.0, rtol=0, atol=1e-7)


def carried_arch(six):
    """Return an aligned arch's loads, and the poses of a common rigid motion in the arch frame."""
    slot, places = np.array([3.0, 0, 5.0]), np.array([-20.0, -8.0, 4.0, 15.0])
    frames = [axes(angle) for angle in ARCH.direction(places)]
    turn = Rotation.from_rotvec(six[3:]).as_matrix()
    poses = []
    for frame, point in zip(frames, ARCH.point(places), strict=True):
        spin = frame.T @ six[3:]
        at_slot = frame.T @ (six[:3] + turn @ point - point)
        poses.append([*(at_slot - np.cross(spin, slot)), *spin])
    loads = WireLoads([Bracket(place, slot, REST) for place in places], wire(line=ARCH))
    return loads, np.array(poses)


SIX = np.array([0.5, -1.0, 0.7, 0.05, 0.1, -0.08])


def test_an_arch_carried_along_with_its_teeth_is_passive():
    """Verification: objectivity; a finite rigid motion of wire and teeth costs nothing."""
    loads, poses = carried_arch(SIX)
    np.testing.assert_allclose(loads.evaluate(poses).wrenches, 0.0, rtol=0, atol=1e-6)


def test_centre_line_of_a_carried_arch_is_carried_too():
    loads, poses = carried_arch(SIX)
    lines = []
    for p in (0 * poses, poses):
        loads.commit(p)
        lines.append(loads.centre_line(p))
    before, after = lines
    expected = SIX[:3] + before @ Rotation.from_rotvec(SIX[3:]).as_matrix().T
    np.testing.assert_allclose(after, expected, rtol=0, atol=1e-7)
    assert len(before) > 100


def test_a_place_where_the_wire_never_was_has_no_centre_line():
    loads = row([REST, REST], wire())
    with pytest.raises(KeyError):
        loads.centre_line(np.zeros((2, 6)))


def test_a_bracket_that_slides_to_another_place_of_a_passive_arch_feels_nothing():
    """Verification: it stands on the arch again and is turned with it."""
    slot, places = np.array([3.0, 0, 5.0]), np.array([-20.0, -8.0, 4.0, 15.0])
    here, there = ARCH.direction(np.array([15.0, 15.2]))
    begin, end = ARCH.point(np.array([15.0, 15.2]))
    turn = np.array([0, 0, here - there])
    poses = np.zeros((4, 6))
    poses[3] = [*(axes(here).T @ (end - begin) - np.cross(turn, slot)), *turn]
    loads = WireLoads([Bracket(place, slot, REST) for place in places], wire(line=ARCH))
    before = np.abs(loads.evaluate(poses).wrenches).max()
    loads.commit(poses)
    # the arch is tabulated to some 1e-6 mm; before the slots moved the bend was felt in full
    assert np.abs(loads.evaluate(poses).wrenches).max() < 1e-4 < 0.1 < before


def test_mirror_arches_answer_with_mirror_loads():
    """Reflection in the midline: forces keep x and z and change y; moments the other way round."""
    mirror = np.array([1, -1, 1, -1, 1, -1])
    here = [Bracket(p, np.array([3.0, 0.2, 5.0]), 0.02 * s) for p, s in _random_row()]
    there = [Bracket(-b.place, b.slot * [1, -1, 1], b.start * mirror) for b in reversed(here)]
    one, two = (at_rest(WireLoads(b, wire(line=ARCH, cinched=True))) for b in (here, there))
    np.testing.assert_allclose(two[::-1], one * mirror, rtol=1e-7, atol=1e-8)


def _random_row():
    rng = np.random.default_rng(3)
    return [(place, rng.normal(size=6)) for place in (-17.0, -9.0, 0.5, 8.0, 19.0)]


def test_direction_of_the_row_does_not_matter():
    starts = [moved(up=0.2), moved(about_labial=0.1), moved(labial=-0.3, about_up=0.05)]
    places = (0.0, 6.0, 14.0)
    brackets = [Bracket(p, np.zeros(3), s) for p, s in zip(places, starts, strict=True)]
    one, two = (at_rest(WireLoads(b, wire())) for b in (brackets, brackets[::-1]))
    np.testing.assert_allclose(two[::-1], one, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("line", [StraightLine(), ARCH], ids=["straight", "arch"])
@pytest.mark.parametrize("section", [ROUND, SQUARE], ids=["round", "square"])
def test_a_wire_without_load_resists_every_motion(line, section):
    """Without load its derivative is symmetric, and minus it is never negative."""
    places = (-25.0, -15.0, -7.0, 1.0, 9.0, 18.0)
    brackets = [Bracket(place, np.array([4.0, 0.3, 5.0]), REST) for place in places]
    loads = WireLoads(brackets, wire(section, line=line))
    derivative = loads.evaluate(np.zeros((6, 6))).derivative
    scale = np.abs(derivative).max()
    np.testing.assert_allclose(derivative, derivative.T, rtol=0, atol=1e-8 * scale)
    assert np.linalg.eigvalsh(0.5 * (derivative + derivative.T)).max() < 1e-8 * scale


def test_derivative_of_displaced_slots_is_that_of_differences():
    """Verification: central differences; slots off their teeth, turned, and slid along the wire."""
    rng = np.random.default_rng(8)
    slot = np.array([4.0, 0.5, 6.0])
    loads = WireLoads(
        [Bracket(place, slot, 0.1 * rng.normal(size=6)) for place in (-7.0, 1.0, 9.0)],
        wire(line=ARCH),
    )
    poses = rng.normal(size=(3, 6)) * [0.2, 0.2, 0.2, 0.1, 0.1, 0.1]
    loads.evaluate(np.zeros((3, 6)))
    here, step = loads.evaluate(poses), 1e-5
    found = np.zeros((18, 18))
    for k in range(18):
        unit = step * np.eye(18)[k].reshape(3, 6)
        ahead, back = (loads.evaluate(poses + sign * unit).wrenches for sign in (1, -1))
        found[:, k] = (ahead - back).ravel() / (2 * step)
    scale = np.abs(found).max()
    np.testing.assert_allclose(here.derivative, found, rtol=0, atol=1e-6 * scale)


def test_centre_line_passes_through_displaced_slots():
    starts = [moved(up=0.2), moved(labial=0.3), moved(up=-0.1, about_labial=0.1)]
    loads = row(starts, wire())
    loads.commit(np.zeros((3, 6)))
    line = loads.centre_line(np.zeros((3, 6)))
    for index, start in enumerate(starts):
        slot = start[:3] + np.array([0.0, 7.0 * index, 0.0])
        assert np.linalg.norm(line - slot, axis=1).min() < 1e-6


@pytest.mark.parametrize("count", [0, 1])
def test_fewer_than_two_brackets_are_refused(count):
    with pytest.raises(ValueError, match=f"at least 2 brackets, got {count}"):
        row([REST] * count, wire())


def test_brackets_that_meet_or_pass_each_other_are_refused():
    with pytest.raises(ValueError, match=r"closer than 0.5 mm"):
        row([REST, REST, REST], wire(), spacing=0.4)
    loads = row([REST, REST], wire())
    with pytest.raises(ValueError, match=r"closer than 0.5 mm"):
        loads.commit(np.stack([REST, moved(along=-6.8)]))


@pytest.mark.parametrize("line", [StraightLine(), ARCH], ids=["straight", "arch"])
def test_the_number_of_elements_keeps_the_error_that_it_claims(line, monkeypatch):
    """Against a mesh four times as fine."""
    chosen = many_brackets(line, rectangular=True)
    count, claimed = chosen.discretisation
    monkeypatch.setattr(appliance, "FEWEST", 4 * count)
    fine = many_brackets(line, rectangular=True)
    assert fine.discretisation[0] == 4 * count
    poses = np.zeros((7, 6))
    one, other = (loads.evaluate(poses).wrenches for loads in (chosen, fine))
    # about the crests, at some 6 mm from the slots, forces carry over into moments
    np.testing.assert_allclose(one, other, rtol=0, atol=0.01 * np.abs(other).max())
    assert 0 < claimed <= appliance.ACCURACY


def test_more_accuracy_takes_more_elements(monkeypatch):
    usual = many_brackets(ARCH, rectangular=True).discretisation
    monkeypatch.setattr(appliance, "ACCURACY", 0.7 * usual[1])
    count, change = many_brackets(ARCH, rectangular=True).discretisation
    assert count > usual[0]
    assert change <= 0.7 * usual[1]
    monkeypatch.setattr(appliance, "ACCURACY", 0.0)
    monkeypatch.setattr(appliance, "MOST", 4 * usual[0])
    # at the most that is allowed it stops, and says how far off it may be
    count, change = many_brackets(ARCH, rectangular=True).discretisation
    assert 2 * count == appliance.MOST
    assert change > 0.0


def test_balance_is_not_blind():
    loads = many_brackets(ARCH, rectangular=True)
    poses = np.zeros((7, 6))
    wrenches = at_rest(loads).copy()
    np.testing.assert_allclose(loads.balance(poses, wrenches), 0.0, rtol=0, atol=1e-5)
    wrenches[2, 0] += 0.1
    assert np.linalg.norm(loads.balance(poses, wrenches)[:3]) > 0.09
