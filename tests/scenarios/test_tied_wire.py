"""What ties hold of a wire, and rotations of slots."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.scenarios.arch import ArchForm, StraightLine
from gomphosis.scenarios.tied_wire import ArchWire, Bracket, Slots, laid, left_jacobian
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import Bend, WireShape

PLACES = (-14.0, -7.0, 0.0, 7.0)
BEND = Bend(3.0, np.array([0.0, 0.0, 0.1]))


def tied(shape, *, rectangular=False, cinched=False):
    section = WireSection(0.4, 0.6 if rectangular else 0.4, round=not rectangular)
    wire = ArchWire(section.elastic_section(5e4, 0.3), shape, rectangular, cinched)
    brackets = [Bracket(place, np.zeros(3), np.zeros(6)) for place in PLACES]
    slots = Slots(brackets, shape)
    return laid(wire, slots, np.zeros((4, 6)), per_span=4)


@pytest.mark.parametrize(
    ("shape", "rectangular", "holding"),
    [
        (WireShape(StraightLine()), False, [1]),
        (WireShape(StraightLine(), (BEND,)), False, [1]),
        (WireShape(ArchForm(25.0, 30.0, 0.3)), False, []),
        (WireShape(StraightLine()), True, [0, 1, 2, 3]),
    ],
    ids=["straight round", "bent round", "arch round", "rectangular"],
)
def test_only_a_round_wire_along_a_straight_line_needs_its_roll_held(shape, rectangular, holding):
    held = tied(shape, rectangular=rectangular).equilibrium.grips.held
    assert np.flatnonzero(held[:, 3]).tolist() == holding
    # across, and about both axes across, every tie holds
    assert held[:, [1, 2, 4, 5]].all()


def test_a_cinched_wire_is_held_along_at_both_ends_and_a_free_one_at_the_anchor():
    shape = WireShape(StraightLine())
    assert np.flatnonzero(tied(shape).equilibrium.grips.held[:, 0]).tolist() == [1]
    cinched = tied(shape, cinched=True).equilibrium.grips.held
    assert np.flatnonzero(cinched[:, 0]).tolist() == [0, 3]


@pytest.mark.parametrize("size", [1e-9, 1e-3, 0.4, 2.5])
def test_left_jacobian_is_that_of_differences(size):
    """Verification: spin in space of a rotation vector's change, central differences."""
    vector = size * np.array([[0.5, -0.7, 0.5]])
    step = 1e-6
    for k, unit in enumerate(step * np.eye(3)):
        ahead, behind = (Rotation.from_rotvec(vector[0] + sign * unit) for sign in (1, -1))
        spin = (ahead * behind.inv()).as_rotvec() / (2 * step)
        np.testing.assert_allclose(left_jacobian(vector)[0][:, k], spin, rtol=0, atol=1e-8)


def test_motion_of_the_slots_follows_the_poses():
    """Verification: central differences of places and triads."""
    rng = np.random.default_rng(2)
    shape = WireShape(ArchForm(25.0, 30.0, 0.3))
    brackets = [Bracket(p, rng.normal(size=3), 0.1 * rng.normal(size=6)) for p in PLACES]
    slots, poses, step = Slots(brackets, shape), 0.1 * rng.normal(size=(4, 6)), 1e-6
    follow = slots.follow(poses)
    for k in range(6):
        change = np.zeros((4, 6))
        change[:, k] = step
        (place, triads), (before, turned) = (slots.at(poses + s * change) for s in (1, -1))
        shift = (place - before) / (2 * step)
        spin = Rotation.from_matrix(triads @ np.swapaxes(turned, 1, 2)).as_rotvec() / (2 * step)
        np.testing.assert_allclose(follow[:, :3, k], shift, rtol=0, atol=1e-8)
        np.testing.assert_allclose(follow[:, 3:, k], spin, rtol=0, atol=1e-8)
