"""Holds of a rod's nodes by slots. Verification: central differences, statics."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import RodPlace
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_holds import Holds


def setting(one_hold):
    """Holds of every kind, of nodes and slots that stand askew."""
    rng = np.random.default_rng(6)
    place = RodPlace(
        rng.normal(size=(4, 3)), Rotation.from_rotvec(0.4 * rng.normal(size=(4, 3))).as_matrix()
    )
    frames = SlotFrames(
        rng.normal(size=(2, 3)), Rotation.from_rotvec(0.4 * rng.normal(size=(2, 3))).as_matrix()
    )
    holds = Holds.none()
    for node, slot, options in (
        (0, 0, {"at": 0.2}),
        (2, 1, {"side": 1.0, "at": -0.3}),
        (3, 1, {"side": -1.0}),
        (1, 0, {"about": True, "at": 0.1}),
    ):
        holds = holds + one_hold(node, slot, **options)
    return holds, place, frames


def test_derivatives_by_the_nodes_are_those_of_differences(one_hold, differences):
    holds, place, frames = setting(one_hold)
    here = holds.seen(place, frames)

    def by_node(quantity):
        def at(motion):
            nodal = np.zeros((4, 6))
            nodal[holds.node] = motion
            return quantity(holds.seen(place.moved(nodal), frames))

        return differences(at, 6)

    np.testing.assert_allclose(here.pull, by_node(lambda held: held.gap), atol=1e-9)
    np.testing.assert_allclose(here.pull_by_node, by_node(lambda held: held.pull), atol=1e-9)
    exact = by_node(lambda held: held.on_slot)
    np.testing.assert_allclose(here.on_slot_by_node, exact, rtol=0, atol=1e-9)


def test_derivatives_by_the_slots_are_those_of_differences(one_hold, shifted, differences):
    holds, place, frames = setting(one_hold)
    here = holds.seen(place, frames)

    def by_slot(quantity):
        def at(motion):
            return quantity(holds.seen(place, shifted(frames, np.tile(motion, (2, 1)))))

        return differences(at, 6)

    np.testing.assert_allclose(here.gap_by_slot, by_slot(lambda held: held.gap), atol=1e-9)
    np.testing.assert_allclose(here.pull_by_slot, by_slot(lambda held: held.pull), atol=1e-9)
    exact = by_slot(lambda held: held.on_slot)
    np.testing.assert_allclose(here.on_slot_by_slot, exact, rtol=0, atol=1e-9)


def test_a_hold_pulls_node_and_slot_the_opposite_way(one_hold):
    """Statics: force and moment about any point add up to nothing."""
    holds, place, frames = setting(one_hold)
    here = holds.seen(place, frames)
    np.testing.assert_allclose(here.pull[:, :3] + here.on_slot[:, :3], 0.0, atol=1e-15)
    moment = here.pull[:, 3:] + np.cross(place.nodes[holds.node], here.pull[:, :3])
    reaction = here.on_slot[:, 3:] + np.cross(frames.place[holds.slot], here.on_slot[:, :3])
    np.testing.assert_allclose(moment + reaction, 0.0, atol=1e-14)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_stop_leaves_room_on_its_own_side(side, one_hold):
    """A node 0.3 mm short of a stop at 0.5: room of 0.3, and a push back along the slot."""
    frames = SlotFrames(np.array([[1.0, 2.0, 3.0]]), np.eye(3)[None])
    node = np.array([[1.0 + side * 0.2, 2.4, 2.9]])
    held = one_hold(0, 0, side=side, at=side * 0.5).seen(RodPlace(node, np.eye(3)[None]), frames)
    np.testing.assert_allclose(held.gap, 0.3, rtol=1e-14)
    np.testing.assert_allclose(held.pull, [[-side, 0, 0, 0, 0, 0]])


def test_a_hold_about_sees_the_angle_about_the_rod_only(one_hold):
    """Closed form: cosine of a right angle less the turn."""
    frames = SlotFrames(np.zeros((1, 3)), np.eye(3)[None])
    hold = one_hold(0, 0, about=True)
    for turn, gap in (([0.3, 0, 0], np.sin(0.3)), ([0, 0.4, 0], 0.0), ([0, 0, -0.2], 0.0)):
        triad = Rotation.from_rotvec(turn).as_matrix()[None]
        held = hold.seen(RodPlace(np.zeros((1, 3)), triad), frames)
        np.testing.assert_allclose(held.gap, gap, rtol=0, atol=1e-15)
        np.testing.assert_array_equal(held.pull[:, :3], 0.0)


def test_no_holds_are_none(one_hold):
    _, place, frames = setting(one_hold)
    assert Holds.none().seen(place, frames).gap.shape == (0,)
    both = Holds.none() + one_hold(2, 1, side=1.0, at=0.4)
    assert (both.node[0], both.slot[0], both.side[0], both.at[0]) == (2, 1, 1.0, 0.4)
