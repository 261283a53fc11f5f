"""Equilibria of rods in slots: against an independent prototype, statics, friction, holds.

The three-slot case is validation against a prototype written before and apart from this code
(pushes by a penalty, its own rod); the rest is verification.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from gomphosis.fem import slot_equilibrium
from gomphosis.fem.fibre_laws import SuperelasticFibre
from gomphosis.fem.fibre_section import round_section
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod_equilibrium import GAP
from gomphosis.fem.section_response import FibrewiseSection
from gomphosis.fem.slot_balance import PER_PUSH
from gomphosis.fem.slot_contact import RUBBED, SLIDE
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_equilibrium import between, goes_on, reach, settle
from gomphosis.fem.slot_friction import PER_SHARE
from gomphosis.fem.slot_state import SlottedRod
from gomphosis.fem.slot_system import Trial
from gomphosis.fem.slot_touches import SHARP, Corner

MU = 0.2
# set B of the library at 37 degrees Celsius
SUPERELASTIC = FibrewiseSection(
    round_section(0.3556),
    SuperelasticFibre(
        5e4, 5e4 / 2.66, 400.0, 450.0, 200.0, 150.0, 0.05,
        slope=6.5, reference_temperature=37.0, temperature=37.0, ratio=np.sqrt(3.0),
    ),
)  # fmt: skip
MIDDLE = np.array([[0, 0, 0, 0, 0, 0], [0, 1.0, 0, 0, 0, 0], [0, 0, 0, 0, 0, 0]])
RANDOM = np.random.default_rng(8).uniform(-1, 1, (3, 6)) * [0.1, 1.0, 0.8, 0.2, 0.1, 0.1]


def gone(made, shifted, motion, **options):
    """The rod after its slots have gone a way."""
    path = between(made.frames, shifted(made.frames, motion))
    return reach(made.what, made.state, path, **options)


def balance(trial):
    """Net force and moment about the origin of the loads on the slots."""
    force, place = trial.on_slots, trial.frames.place
    moment = force[:, 3:] + np.cross(place, force[:, :3])
    return np.concatenate([force[:, :3].sum(axis=0), moment.sum(axis=0)])


@pytest.mark.parametrize(("spacing", "force"), [(8.0, 2.215), (11.0, 0.996)])
def test_three_slots_with_the_middle_one_out(spacing, force, row, shifted):
    """Validation: force in N on the middle slot 1.6 mm out, 3 mm wide; independent prototype."""
    made = row(spacing=spacing, law=SUPERELASTIC, per=8)
    found = gone(made, shifted, 1.6 * MIDDLE)
    np.testing.assert_allclose(-found.on_slots[1, 1], force, rtol=0.01)
    # mirror images: the outer slots share it
    np.testing.assert_allclose(found.on_slots[[0, 2], 1], -found.on_slots[1, 1] / 2, rtol=1e-6)


def test_within_their_play_slots_feel_nothing(row, shifted):
    """0.1 mm out where the slots leave 0.2032 mm; and a rod that is free stays where it is."""
    made = row()
    found = gone(made, shifted, 0.1 * MIDDLE)
    # rounded corners are felt up to 1 um only
    assert found.contact.gap.min() > 1.5e-3
    np.testing.assert_allclose(found.contact.touches.push, 0.0, rtol=0, atol=2 * GAP / PER_PUSH)
    assert np.abs(found.on_slots[:, :3]).max() < 1e-7


def test_small_deflections_are_those_of_a_beam(row, shifted):
    """Closed form: three slots whose inner edges touch, beyond the play.

    The outer slots' edges hold the rod at w = 1.5 mm from their centres, the middle slot's own two
    edges push it: by symmetry of each half a clamp-like pair. Solved as a beam on six points by
    the theorem of three moments; only those that push count.
    """
    made = row(per=8)
    lift, play = 0.25, 0.5588 - 2 * 0.1778
    found = gone(made, shifted, lift * MIDDLE)
    push = found.contact.touches.push
    edges = made.what.contact.edges
    active = push > 1e-6
    # the rod bears on the middle slot's lower edges and on the inner upper edges outside
    assert set(zip(edges.slot[active], edges.along[active], edges.side[active], strict=True)) == {
        (1, -1.5, -1.0),
        (1, 1.5, -1.0),
        (0, 1.5, 1.0),
        (2, -1.5, 1.0),
    }
    # four-point bending: outer supports at ±6.5, inner ones at ±1.5 mm, lift less play
    a, inner = 5.0, 3.0
    rigidity = 90.0
    exact = (lift - play) * 6 * rigidity / (a**2 * (2 * a + 3 * inner))
    # the play's share that the slopes take up is of the second order
    np.testing.assert_allclose(push[active], exact, rtol=0.01)


@pytest.mark.parametrize("flat", [False, True])
@pytest.mark.parametrize("friction", [0.0, MU])
@pytest.mark.parametrize("compliance", [0.0, 2e-3])
def test_loads_on_the_slots_add_up_to_nothing(flat, friction, compliance, row, shifted):
    """Statics: the rod passes on what it gets."""
    made = row(flat=flat, friction=friction, compliance=compliance)
    found = gone(made, shifted, RANDOM, steps=2)
    assert np.abs(found.on_slots[:, :3]).max() > 1.0
    np.testing.assert_allclose(balance(found), 0.0, rtol=0, atol=1e-6)


@pytest.mark.parametrize("flat", [False, True])
def test_one_step_and_many_agree_where_nothing_has_a_history(flat, row, shifted):
    """An elastic rod without friction: the way does not matter, to 1e-6."""
    made = row(flat=flat, compliance=1e-3)
    once = gone(made, shifted, RANDOM).on_slots
    ramped = gone(made, shifted, RANDOM, steps=6).on_slots
    np.testing.assert_allclose(ramped, once, rtol=0, atol=1e-6 * np.abs(once).max())


def smooth(what, before, frames, start):
    """The equilibrium with corners rounded by 10 um, which differences can see: Newton's steps."""
    for _ in range(25):
        trial = Trial.at(what, frames, start, before=before, corner=Corner(1e-2))
        if trial.size < 1e-10:
            break
        start = start.moved(trial.step(), 1.0)
    return trial


@pytest.mark.parametrize("flat", [False, True])
@pytest.mark.parametrize("friction", [0.0, MU])
def test_the_stiffness_seen_from_the_slots_is_that_of_differences(
    flat, friction, row, shifted, differences
):
    """Of whole equilibria, with slots that give way."""
    made = row(flat=flat, friction=friction, compliance=2e-3)
    state = gone(made, shifted, RANDOM, steps=3).kept()
    further = shifted(shifted(made.frames, RANDOM), 0.002 * RANDOM[::-1])
    found = settle(made.what, state, further)
    here = smooth(made.what, state, further, found.unknowns)
    assert here.size < 1e-8

    def at(motion):
        there = shifted(further, motion.reshape(3, 6))
        return smooth(made.what, state, there, here.unknowns).on_slots.ravel()

    exact = differences(at, 18)
    ours = here.by_slots().reshape(18, 18)
    np.testing.assert_allclose(ours, exact, rtol=0, atol=2e-6 * np.abs(exact).max())


def test_a_rigid_motion_of_all_changes_no_equilibrium(row, shifted, carried):
    """Objectivity, on a way with friction; forces to what they are balanced to."""
    made = row(flat=True, friction=MU)
    here = gone(made, shifted, RANDOM)
    turn = shifted(made.frames, np.full((3, 6), 0.5)).triads[0]
    shift = np.array([4.0, -3.0, 7.0])

    def away(frames):
        return SlotFrames(frames.place @ turn.T + shift, turn @ frames.triads)

    rod = replace(made.state.rod, place=carried(made.state.rod.place, turn, shift))
    path = between(away(made.frames), away(shifted(made.frames, RANDOM)))
    there = reach(made.what, replace(made.state, rod=rod), path)
    expected = (here.on_slots.reshape(-1, 2, 3) @ turn.T).reshape(-1, 6)
    np.testing.assert_allclose(there.on_slots, expected, rtol=0, atol=1e-6)


# --- friction --------------------------------------------------------------------------------


def test_slots_that_slide_along_are_dragged_by_coulombs_friction(row, shifted):
    """The outer slots go 0.1 mm along the rod on and back, the middle one holds it.

    Closed form: each edge that pushes by N drags by mu N its own way, and the middle slot takes
    it all up; the rod leans by a tenth at the edges.
    """
    made = row(friction=MU, holds=("along",))
    out = gone(made, shifted, MIDDLE)
    passed, drags = [], []
    for way in (1.0, -1.0):
        motion = MIDDLE.copy()
        motion[[0, 2], 0] = 0.1 * way
        path = between(out.frames, shifted(made.frames, motion))
        slid = reach(made.what, out.kept(), path, steps=2)
        contact, slot = slid.contact, made.what.contact.edges.slot
        outer = (contact.touches.push > 1e-6) & (slot != 1)
        np.testing.assert_allclose(contact.touches.share[0, outer], way, rtol=0, atol=1e-6)
        near = outer[contact.near]
        np.testing.assert_allclose(
            contact.drag[0, near], way * MU * contact.push[near], rtol=0, atol=1e-6
        )
        passed.append(slid.on_slots[1, 0])
        drags.append(contact.drag[0, near].sum())
    assert drags[0] > 0.1
    np.testing.assert_allclose(passed[0] - passed[1], drags[0] - drags[1], rtol=0.02)


def test_without_motion_drags_do_not_fade(row, shifted):
    """Ten steps on the spot: shares keep, to what rounded corners let them creep.

    Closed form of that creep at the limit: each step adds a = e^2 / (PER_SHARE elastic) over the
    distance from it, so after n steps the distance is the root of 2 n a. A law that returns from
    the last drag would be at 0.29 of its limit by then.
    """
    made = row(friction=MU, holds=("along",))
    found = gone(made, shifted, RANDOM, steps=4)
    # friction aside acts where the step began: the first step on the spot moves it up
    here = settle(made.what, found.kept(), found.frames)
    first, state = here, here.kept()
    for _ in range(10):
        again = settle(made.what, state, found.frames)
        state = again.kept()
    creep = np.sqrt(2 * 11 * (RUBBED * SHARP.rounding) ** 2 / (PER_SHARE * SLIDE))
    push = first.contact.touches.push > 1e-6
    change = np.abs(again.contact.touches.share - first.contact.touches.share)[:, push]
    assert np.abs(first.contact.touches.share[:, push]).max() > 0.99
    assert change.max() < creep < 0.0011
    np.testing.assert_allclose(
        again.on_slots, first.on_slots, rtol=0, atol=creep * np.abs(first.on_slots).max()
    )


def test_friction_takes_more_to_load_and_gives_less_back(row, shifted):
    """The middle slot out by 1.5 and back to 1 mm: force at 1 mm on, without friction, and back."""
    forces = []
    for friction in (MU, 0.0):
        made = row(friction=friction, holds=("along", "about"))
        state, frames, there = made.state, made.frames, []
        for out in (1.0, 1.5, 1.0):
            path = between(frames, shifted(made.frames, out * MIDDLE))
            found = reach(made.what, state, path, steps=4)
            state, frames = found.kept(), found.frames
            there.append(-found.on_slots[1, 1])
        forces.append(there)
    (on, _, back), (plain, _, plain_back) = forces
    assert plain_back == pytest.approx(plain, rel=1e-6)
    assert on > 1.02 * plain
    assert back < 0.98 * plain


# --- holds and give --------------------------------------------------------------------------


def test_a_hold_about_a_round_elastic_rod_has_no_moment(row, shifted):
    """Nothing else turns it about itself: less than 1e-9 N·mm, however the slots lie."""
    made = row()
    for seed in range(3):
        motion = np.random.default_rng(seed).uniform(-0.3, 0.3, (3, 6))
        found = gone(made, shifted, motion)
        about = made.what.holds.about
        assert np.abs(found.on_slots).max() > 1.0
        np.testing.assert_allclose(found.unknowns.held[about], 0.0, rtol=0, atol=1e-9)


def test_a_stop_holds_one_way_and_a_hold_both(row, shifted, one_hold):
    """The rod is dragged along by outer slots with stops there; a stop lets go what it can."""
    made = row(holds=("about",))
    stations = made.what.rod.shape.stations
    nodes = [int(np.argmin(np.abs(stations - s))) for s in (0.0, 16.0)]
    results = {}
    for kind, (first, last) in {
        "against": (-1.0, 1.0), "apart": (1.0, -1.0), "both": (0.0, 0.0)
    }.items():  # fmt: skip
        holds = made.what.holds + one_hold(nodes[0], 0, side=first)
        holds = holds + one_hold(nodes[1], 2, side=last)
        what = SlottedRod(made.what.rod, made.what.contact, holds, made.what.compliance)
        state = replace(made.state, held=np.zeros(3))
        motion = np.zeros((3, 6))
        motion[2, 0] = 0.01
        path = between(made.frames, shifted(made.frames, motion))
        trial = reach(what, state, path)
        results[kind] = trial.unknowns.held[1:], trial.on_slots[[0, 2], 0]
    # held both ways the wire is stretched: E A over the length between the nodes, 2e4 / 16 N/mm
    tension = 2e4 * 0.01 / 16.0
    np.testing.assert_allclose(results["both"][1], [tension, -tension], rtol=1e-3)
    # a stop that keeps the first node from going back and the last from going on: no tension
    np.testing.assert_allclose(results["against"][0], 0.0, rtol=0, atol=2 * GAP / PER_PUSH)
    np.testing.assert_allclose(results["apart"][1], [tension, -tension], rtol=1e-3)
    assert np.all(results["apart"][0] > 0.0)


def test_a_slot_turns_by_its_give_times_its_moment(row, shifted):
    """turn = compliance x moment about the slot; a softer slot feels less."""
    motion = np.zeros((3, 6))
    motion[1, 3] = 0.5
    moments = []
    for compliance in (0.0, 5e-3, 2e-2):
        made = row(flat=True, compliance=compliance)
        found = gone(made, shifted, motion)
        moment = np.sum(found.frames.triads[:, :, 0] * found.on_slots[:, 3:], axis=1)
        np.testing.assert_allclose(found.unknowns.turn, compliance * moment, rtol=0, atol=1e-10)
        moments.append(-moment[1])
    assert moments[0] > 1.0
    assert all(less < more for more, less in pairwise(moments))


# --- failures --------------------------------------------------------------------------------


def test_no_way_raises_with_its_history(row):
    made = row()
    nowhere = SlotFrames(made.frames.place * np.nan, made.frames.triads)
    with pytest.raises((NotConvergedError, ValueError)) as error:
        reach(made.what, made.state, lambda share: nowhere)
    assert error.type is NotConvergedError
    assert len(error.value.history) >= 1


def test_a_failed_step_is_gone_in_halves(row, shifted, monkeypatch):
    """Steps above a third of the way fail: a quarter each is what is taken."""
    made = row()
    plain, shares = slot_equilibrium.settle, []

    def brittle(what, before, frames, **options):
        at = frames.place[1, 1]
        done = shares[-1] if shares else 0.0
        if at - done > 0.33:
            raise NotConvergedError([1.0], 1e-8)
        shares.append(at)
        return plain(what, before, frames, **options)

    monkeypatch.setattr(slot_equilibrium, "settle", brittle)
    found = gone(made, shifted, MIDDLE)
    np.testing.assert_allclose(shares, [0.25, 0.5, 0.75, 1.0], rtol=1e-12)
    monkeypatch.undo()
    exact = gone(made, shifted, MIDDLE)
    np.testing.assert_allclose(found.on_slots, exact.on_slots, rtol=0, atol=1e-6)


def test_every_step_starts_from_the_state_that_the_last_one_left(row, shifted):
    """The middle slot 1.5 mm out and back to 1 mm: two equilibria, the second with drags turned."""
    made = row(friction=MU)

    def path(share):
        return shifted(made.frames, (1.5 if share < 1.0 else 1.0) * MIDDLE)

    out = settle(made.what, made.state, path(0.5))
    back = settle(made.what, out.kept(), path(1.0))
    found = reach(made.what, made.state, path, steps=2)
    np.testing.assert_allclose(found.on_slots, back.on_slots, rtol=0, atol=1e-9)
    at_once = settle(made.what, made.state, path(1.0))
    assert np.abs(at_once.on_slots - found.on_slots).max() > 0.1


def test_steps_that_fail_however_small_are_told(row, shifted, monkeypatch):
    made, taken = row(), []

    def never(what, before, frames, **options):
        taken.append(frames.place[1, 1])
        raise NotConvergedError([2.0, 1.0], 1e-8)

    monkeypatch.setattr(slot_equilibrium, "settle", never)
    with pytest.raises(NotConvergedError, match="in 1 iterations"):
        gone(made, shifted, MIDDLE)
    assert min(taken) == pytest.approx(1 / 1024)


def test_where_sharp_corners_fail_rounded_ones_lead_on(row, shifted, monkeypatch):
    """The first, sharp iteration is made to fail: the rest goes through all the roundings."""
    made = row(friction=MU)
    exact = gone(made, shifted, 0.5 * MIDDLE)
    plain, corners = slot_equilibrium._iterated, []

    def first_fails(*args, corner, **options):
        corners.append(corner)
        if len(corners) == 1:
            raise NotConvergedError([1.0], 1e-8)
        return plain(*args, corner=corner, **options)

    monkeypatch.setattr(slot_equilibrium, "_iterated", first_fails)
    found = gone(made, shifted, 0.5 * MIDDLE)
    assert corners[1:] == list(slot_equilibrium.SHARPENED)
    np.testing.assert_allclose(found.on_slots, exact.on_slots, rtol=0, atol=1e-6)


@pytest.mark.parametrize(
    ("sizes", "goes"),
    [
        ([1.0] * 40, True),
        # forty steps, and the last ten no better than those before
        ([1.0] * 41, False),
        ([1.0] * 31 + [0.6] * 10, False),
        ([1.0] * 31 + [0.6] * 9 + [0.4], True),
        # better before than now
        ([0.1] + [1.0] * 30 + [0.4] * 10, False),
        ([2.0**-k for k in range(120)], True),
        ([2.0**-k for k in range(121)], False),
    ],
)
def test_a_search_goes_on_beyond_forty_steps_only_while_it_gains(sizes, goes):
    assert goes_on(sizes) is goes
