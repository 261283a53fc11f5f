"""A rod in slots as one system: its derivatives against differences. Verification."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import RodState
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_holds import Holds
from gomphosis.fem.slot_matrix import LOOSE, LOOSER, Derivatives
from gomphosis.fem.slot_state import Change, SlottedRod, SlottedState, Unknowns
from gomphosis.fem.slot_system import Trial
from gomphosis.fem.slot_touches import Corner, Touches

MU = 0.25


class Setting:
    """A rod far from equilibrium: bent, pushed, dragged, held and given way to at random."""

    def __init__(self, made, shifted, holds, corner):
        rng = np.random.default_rng(21)
        what = made.what
        self.what = SlottedRod(what.rod, what.contact, holds, what.compliance)
        count, nodes = len(made.frames.place), len(what.rod.shape.stations)
        self.frames = shifted(made.frames, 0.05 * rng.normal(size=(count, 6)))
        self.before = replace(made.state, held=np.zeros(len(holds.node)))
        pairs = len(what.contact.friction)
        self.unknowns = Unknowns(
            what.rod.shape.place.moved(0.03 * rng.normal(size=(nodes, 6))),
            rng.uniform(0.5, 2.0, pairs),
            rng.uniform(-0.9, 0.9, (2, pairs)),
            rng.uniform(0.5, 1.0, len(holds.node)),
            0.03 * rng.normal(size=count) if what.compliance.any() else np.zeros(count),
        )
        self.corner, self.shifted = corner, shifted

    def at(self, *, change=None, frames=None):
        """Return the system after a change of the unknowns in their order."""
        frames = self.frames if frames is None else frames
        now = self.unknowns
        if change is not None:
            now = now.moved(self.parts(change), 1.0)
        return Trial.at(self.what, frames, now, before=self.before, corner=self.corner)

    def parts(self, change):
        """All pairs are near and rub here: the order is that of the unknowns."""
        now = self.unknowns
        kinds = (now.place.nodes.size * 2, now.push.size, now.share.size, now.held.size)
        motion, push, share, held, turn = np.split(change, np.cumsum(kinds))
        return Change(motion.reshape(-1, 6), push, share.reshape(2, -1), held, turn)


@pytest.fixture(scope="module", params=["round", "flat", "rounded corner"])
def setting(request, row, shifted, one_hold):
    flat = request.param == "flat"
    compliance = 0.0 if request.param == "round" else 2e-3
    made = row(count=2, per=1, flat=flat, friction=MU, lids=0.01, compliance=compliance)
    holds = (
        one_hold(2, 0, at=0.01)
        + one_hold(4, 0, side=1.0, at=0.7)
        + one_hold(6, 1, side=-1.0, at=-1.2)
        + one_hold(3, 0, about=True)
    )
    corner = Corner(0.02, 5.0) if request.param == "rounded corner" else Corner()
    found = Setting(made, shifted, holds, corner)
    trial = found.at()
    assert len(trial.contact.near) == len(trial.contact.rubs) == len(found.unknowns.push)
    return found


def close(exact, ours, worst=1e-6):
    np.testing.assert_allclose(ours, exact, rtol=0, atol=worst * max(1.0, np.abs(exact).max()))


def moving(trial):
    """Unknowns that move: slots that do not give way never turn, and have no columns."""
    starts = trial.starts
    return starts.size if trial.what.gives else starts.turn


def loose(trial):
    """What keeps an untouched rod where it is on the way, on the diagonal of the nodes."""
    diagonal = np.zeros(trial.starts.size)
    diagonal[: trial.starts.push] = LOOSE + LOOSER * min(1.0, trial.size)
    return np.diag(diagonal)


def test_the_derivatives_by_the_unknowns_are_those_of_differences(setting, differences):
    """Of what is left, kind by kind, and of the loads on the slots."""
    trial = setting.at()

    def at(change):
        there = setting.at(change=change)
        return np.concatenate([there.left, there.on_slots.ravel()])

    starts, derivatives = trial.starts, Derivatives(trial)
    both = differences(at, starts.size)
    exact, ours = both[: starts.size], derivatives.by_unknowns().toarray() - loose(trial)
    bounds = [0, starts.push, starts.share, starts.hold, starts.turn, starts.size]
    kinds = [slice(*pair) for pair in pairwise(bounds)]
    for rows in kinds:
        for columns in kinds:
            if columns.stop <= moving(trial) or rows == columns:
                close(exact[rows, columns], ours[rows, columns])
    loads = derivatives.loads_by_unknowns().toarray()
    close(both[starts.size :, : moving(trial)], loads[:, : moving(trial)])


def test_the_derivatives_by_the_slots_motions_are_those_of_differences(setting, differences):
    trial, slots = setting.at(), len(setting.frames.place)

    def at(motion):
        moved = setting.at(frames=setting.shifted(setting.frames, motion.reshape(slots, 6)))
        return np.concatenate([moved.left, moved.on_slots.ravel()])

    exact, size = differences(at, 6 * slots), trial.starts.size
    close(exact[:size], Derivatives(trial).by_motion().toarray())
    close(exact[size:], Derivatives(trial).loads_by_motion().toarray())


def test_a_step_solves_the_linearised_system(setting):
    trial = setting.at()
    step = trial.step()
    change = np.concatenate([part.ravel() for part in step])
    left = Derivatives(trial).by_unknowns() @ change + trial.left
    np.testing.assert_allclose(left, 0.0, rtol=0, atol=1e-9 * np.abs(trial.left).max())
    assert np.abs(trial.left).max() > 0.1


def test_pairs_out_of_reach_lose_their_forces_in_a_step(row):
    """They are no unknowns: their shares and (negative) pushes go to zero at once."""
    made = row(count=2, friction=MU)
    now = Unknowns.of(made.state)
    far = np.flatnonzero(made.what.contact.edges.axis == 2)
    push, share = now.push.copy(), now.share.copy()
    push[far], share[:, far] = -0.2, 0.6
    up = now.place.moved(np.tile([0, 0, 0.1, 0, 0, 0], (len(now.place.nodes), 1)))
    now = replace(now, place=up, push=push, share=share)
    trial = Trial.at(made.what, made.frames, now, before=made.state)
    out = np.setdiff1d(far, trial.contact.near)
    assert len(out) == 4
    after = now.moved(trial.step(), 1.0)
    np.testing.assert_allclose(after.push[out], 0.0, atol=1e-15)
    np.testing.assert_allclose(after.share[:, out], 0.0, atol=1e-15)
    np.testing.assert_array_equal(trial.kept().touches.share[:, out], 0.0)


def test_a_rigid_motion_of_all_turns_loads_and_changes_nothing_else(setting, carried):
    """Objectivity, to 1e-10, of everything that is left and of the loads."""
    place = setting.unknowns.place
    rod, holds = setting.what.rod, setting.what.holds
    turn = setting.shifted(setting.frames, np.full((2, 6), 0.6)).triads[0]
    turn = turn @ setting.frames.triads[0].T
    shift = np.array([-2.0, 6.0, 1.0])
    touches = setting.what.contact.found(rod, place, setting.frames, setting.before.touches.station)
    before = replace(setting.before, touches=touches)

    def trial(frames, place):
        now = replace(setting.unknowns, place=place)
        return Trial.at(setting.what, frames, now, before=before, corner=setting.corner)

    away = SlotFrames(setting.frames.place @ turn.T + shift, turn @ setting.frames.triads)
    one, other = trial(setting.frames, place), trial(away, carried(place, turn, shift))
    for before_turn, after in ((one.out, other.out), (one.on_slots, other.on_slots)):
        expected = (before_turn.reshape(-1, 2, 3) @ turn.T).reshape(-1, 6)
        scale = np.abs(expected).max()
        np.testing.assert_allclose(after, expected, rtol=0, atol=1e-10 * max(1.0, scale))
    nodes = one.starts.push
    np.testing.assert_allclose(other.left[nodes:], one.left[nodes:], rtol=0, atol=1e-10)
    assert len(holds.node) == 4


def test_a_singular_system_is_told(row, monkeypatch):
    made = row(count=2)
    trial = Trial.at(made.what, made.frames, Unknowns.of(made.state), before=made.state)
    plain = Derivatives.by_unknowns
    monkeypatch.setattr(Derivatives, "by_unknowns", lambda self: 0.0 * plain(self))
    with pytest.raises(NotConvergedError):
        trial.step()
    with pytest.raises(NotConvergedError):
        trial.by_slots()


def test_a_state_is_kept_as_it_is(setting):
    trial = setting.at()
    kept = trial.kept()
    assert isinstance(kept, SlottedState) and isinstance(kept.rod, RodState)
    assert isinstance(kept.touches, Touches)
    again = Unknowns.of(kept)
    np.testing.assert_array_equal(again.place.nodes, setting.unknowns.place.nodes)
    np.testing.assert_array_equal(again.push, setting.unknowns.push)
    np.testing.assert_array_equal(again.share, setting.unknowns.share)
    np.testing.assert_array_equal(again.turn, setting.unknowns.turn)
    np.testing.assert_array_equal(kept.touches.station, trial.contact.touches.station)


def test_a_compliance_below_nothing_is_refused(row):
    made = row(count=2)
    with pytest.raises(ValueError, match=r"compliance must be >= 0, got -0\.1"):
        SlottedRod(made.what.rod, made.what.contact, Holds.none(), np.array([0.0, -0.1]))
