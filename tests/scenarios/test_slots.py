"""Verification of where slots are as teeth move, and of their rotations."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.scenarios.arch import ArchForm, StraightLine, axes
from gomphosis.scenarios.slots import Bracket, Slots, left_jacobian
from gomphosis.scenarios.wire_shape import WireShape

PLACES = (-14.0, -7.0, 0.0, 7.0)
ARCH = WireShape(ArchForm(25.0, 30.0, 0.3))


def random_slots(rng, shape=ARCH):
    brackets = [Bracket(p, rng.normal(size=3), 0.1 * rng.normal(size=6)) for p in PLACES]
    return Slots(brackets, shape), brackets


def test_aligned_slots_stand_on_the_line_with_axes_along_occlusal_labial():
    slots = Slots([Bracket(place, np.ones(3), np.zeros(6)) for place in PLACES], ARCH)
    frames = slots.at(np.zeros((4, 6)))
    np.testing.assert_allclose(frames.place, ARCH.line.point(np.array(PLACES)), rtol=0, atol=1e-14)
    for triad, place in zip(frames.triads, PLACES, strict=True):
        labial, along, occlusal = axes(float(ARCH.line.direction(np.array([place]))[0])).T
        np.testing.assert_allclose(triad.T, np.stack([along, occlusal, labial]), rtol=0, atol=1e-14)


def test_a_tooth_that_turns_carries_its_slot_round_the_crest():
    """A turn of the tooth moves the slot by the turn's cross product with its place."""
    bracket = Bracket(0.0, np.array([4.0, 0.0, 6.0]), np.zeros(6))
    slots = Slots([bracket, bracket], WireShape(StraightLine()))
    poses = np.zeros((2, 6))
    poses[0, 4] = 0.01  # about the line, crown labially
    place = slots.at(poses).place
    np.testing.assert_allclose(place[0] - place[1], [0.06, 0.0, -0.04], rtol=0, atol=1e-12)


def test_places_along_the_line_follow_starts_and_poses():
    starts = [np.array([0.0, along, 0.0, 0.0, 0.0, 0.0]) for along in (0.2, 0.0, -0.3, 0.0)]
    brackets = [
        Bracket(place, np.array([4.0, 0.0, 6.0]), start)
        for place, start in zip(PLACES, starts, strict=True)
    ]
    poses = np.zeros((4, 6))
    poses[1, 1], poses[3, 3] = 0.5, 0.01
    # a turn about the labial axis carries a slot 6 mm above the crest backwards
    expected = np.add(PLACES, [0.2, 0.5, -0.3, -0.06])
    found = Slots(brackets, WireShape(StraightLine())).along(poses)
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-12)


def test_loads_carried_to_the_crest_do_the_same_work():
    """Loads at the slots times the slots' motion are wrenches times the poses, at first order."""
    rng = np.random.default_rng(4)
    _, brackets = random_slots(rng)
    slots = Slots([Bracket(b.place, b.slot, np.zeros(6)) for b in brackets], ARCH)
    load, change = rng.normal(size=(4, 6)), rng.normal(size=(4, 6))
    wrenches = np.einsum("nij,nj->ni", slots.to_crest, load)
    motion = np.einsum("nij,nj->ni", slots.follow(np.zeros((4, 6))), change)
    np.testing.assert_allclose(
        np.sum(wrenches * change, axis=1), np.sum(load * motion, axis=1), rtol=1e-12
    )


@pytest.mark.parametrize("size", [1e-9, 5e-5, 1e-3, 0.4, 2.5])
def test_left_jacobian_is_that_of_differences(size):
    """Spin in space of a rotation vector's change, central differences."""
    vector = size * np.array([[0.5, -0.7, 0.5]])
    step = 1e-6
    for k, unit in enumerate(step * np.eye(3)):
        ahead, behind = (Rotation.from_rotvec(vector[0] + sign * unit) for sign in (1, -1))
        spin = (ahead * behind.inv()).as_rotvec() / (2 * step)
        np.testing.assert_allclose(left_jacobian(vector)[0][:, k], spin, rtol=0, atol=1e-8)


def test_motion_of_the_slots_follows_the_poses():
    """Central differences of places and triads."""
    rng = np.random.default_rng(2)
    slots, _ = random_slots(rng)
    poses, step = 0.1 * rng.normal(size=(4, 6)), 1e-6
    follow = slots.follow(poses)
    for k in range(6):
        change = np.zeros((4, 6))
        change[:, k] = step
        one, other = (slots.at(poses + sign * change) for sign in (1, -1))
        shift = (one.place - other.place) / (2 * step)
        turn = one.triads @ np.swapaxes(other.triads, 1, 2)
        spin = Rotation.from_matrix(turn).as_rotvec() / (2 * step)
        np.testing.assert_allclose(follow[:, :3, k], shift, rtol=0, atol=1e-8)
        np.testing.assert_allclose(follow[:, 3:, k], spin, rtol=0, atol=1e-8)
