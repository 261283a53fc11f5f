"""A rod over an edge: contact against differences, friction against Coulomb, statics. Verification.

Bends of whole wires stand beside an independent computation in `scenarios.checks.bending`.
"""

import numpy as np
import pytest

from gomphosis.fem import knife_edge
from gomphosis.fem.knife_edge import SLIP, KnifeEdge, Touch, settle_over_edge
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import Rod, straight_shape
from gomphosis.fem.rod_curve import SLOPE, VALUE, centre_point
from gomphosis.fem.rod_equilibrium import Grips
from gomphosis.fem.section_response import ElasticSection

LENGTH, COUNT, HALF = 10.0, 10, 5.0
RIGIDITY = 100.0
ROD = Rod(straight_shape(LENGTH, COUNT), ElasticSection(1e5, RIGIDITY, RIGIDITY, RIGIDITY))
REACH = 0.3
MU = 0.2


def edge(*, friction=0.0, reach=REACH, side=1.0):
    return KnifeEdge(np.array([HALF, -side * reach, 0.0]), reach, side, friction)


def grips(down, side=1.0):
    frame = ROD.shape.place.triads[:1]
    place = np.array([[0.0, -side * down, 0.0]])
    return Grips(np.array([0]), place, frame, np.ones((1, 6), dtype=bool))


def bent(path, over, side=1.0):
    """Follow the clamped end along a path, and return where the rod is at every place."""
    state, touch, found = ROD.at_rest(), Touch(HALF, 0.0), []
    for down in path:
        here = settle_over_edge(ROD, state, touch, edge=over, grips=grips(down, side))
        state, touch = here.state, here.touch
        found.append(here)
    return found


def tangent(here):
    slope = centre_point(ROD.shape, here.state.place, here.touch.station).path[SLOPE, 0]
    return slope / np.linalg.norm(slope)


# --- derivatives -----------------------------------------------------------------------------

# of the last touch: at rest, sliding either way, and more drag than the push now holds
MEMORIES = {
    "sticking": (0.0, 0.0),
    "on": (-0.001, 0.02),
    "back": (0.0015, 0.03),
    "too much": (0.001, 5.0),
    "too little": (-0.001, -5.0),
}


@pytest.mark.parametrize("memory", MEMORIES)
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_derivatives_of_the_contact_are_those_of_differences(memory, side):
    """Central differences in the plane of bending; a sharp bend, so that no term is small."""
    behind, drag = MEMORIES[memory]
    rng = np.random.default_rng(4)
    motion = rng.normal(size=(COUNT + 1, 6)) * [0.1, 0.1, 0, 0, 0, 0.1]
    place, over = ROD.shape.place.moved(motion), edge(friction=MU, side=side)
    step = 1e-7

    def at(place, station=5.3, push=2.0):
        return knife_edge._contact(ROD, place, Touch(station, push), edge=over, touched=touched)

    touched = Touch(5.3, 2.0)
    touched = Touch(5.3 - behind, 2.0, drag, at(place).angle)
    here = at(place)
    ends = slice(here.element, here.element + 2)

    def differences(ahead, back):
        load = (ahead.load - back.load)[ends].ravel() / (2 * step)
        return load, (ahead.gap - back.gap) / (2 * step)

    # friction starts with a kink of its slope: differences stray by step over SLIP
    close = {"rtol": 1e-4 if memory == "sticking" else 1e-6, "atol": 1e-5}
    assert (here.drag == 0.0) == (memory == "sticking")
    for k in (0, 1, 5, 6, 7, 11):
        unit = np.zeros((COUNT + 1, 6))
        unit[here.element + k // 6, k % 6] = step
        load, gap = differences(at(place.moved(unit)), at(place.moved(-unit)))
        np.testing.assert_allclose(here.stiffness[:, k], load, **close)
        np.testing.assert_allclose(here.gap_slope[:, k], gap, rtol=0, atol=1e-7)
    load, gap = differences(at(place, 5.3 + step), at(place, 5.3 - step))
    np.testing.assert_allclose(here.by_touch[:, 0], load, **close)
    np.testing.assert_allclose(here.gap_by_station, gap, rtol=0, atol=1e-7)
    load, gap = differences(at(place, push=2.0 + step), at(place, push=2.0 - step))
    np.testing.assert_allclose(here.by_touch[:, 1], load, rtol=0, atol=1e-7)
    np.testing.assert_array_equal(gap, 0.0)
    # the load stands on the two nodes of the element only
    assert np.abs(np.delete(here.load, [here.element, here.element + 1], axis=0)).max() == 0.0


# --- friction --------------------------------------------------------------------------------


def slid(push, before, way, steps=1):
    drag = before
    for _ in range(steps):
        drag, _ = knife_edge._drag(push, drag, way / steps, friction=MU)
    return drag


@pytest.mark.parametrize("before", [0.0, 0.25, -0.35])
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_friction_ends_at_coulombs_and_never_beyond(before, way):
    """Coulomb: mu times the push, against the sliding, once that is long enough."""
    ways = way * SLIP * np.linspace(0.0, 20.0, 101)
    drags = np.array([slid(2.0, before, w) for w in ways])
    assert drags[0] == before
    assert np.all(np.abs(drags) <= MU * 2.0)
    assert np.all(np.diff(way * drags) >= 0.0)
    np.testing.assert_allclose(drags[-1], way * MU * 2.0, rtol=1e-7)
    # 63 % of what was lacking, over the way that the constant names
    share = (slid(2.0, before, way * SLIP) - before) / (way * MU * 2.0 - before)
    np.testing.assert_allclose(share, 1 - np.exp(-1), rtol=1e-12)


@pytest.mark.parametrize("way", [0.3 * SLIP, 5 * SLIP, -2 * SLIP])
def test_friction_is_the_same_in_one_step_and_in_many(way):
    """A hundred small slides brake like a long one."""
    for before in (0.0, 0.3, -0.3):
        np.testing.assert_allclose(
            slid(2.0, before, way, steps=100), slid(2.0, before, way), rtol=1e-10
        )


def test_friction_falls_with_the_push_and_goes_with_it():
    assert slid(1.0, MU * 2.0, 0.0) == pytest.approx(MU)
    assert slid(1.0, -MU * 2.0, 0.0) == pytest.approx(-MU)
    assert slid(0.0, 0.3, SLIP) == 0.0
    assert slid(-1.0, 0.3, SLIP) == 0.0
    assert knife_edge._drag(2.0, 0.3, SLIP, friction=0.0) == (0.0, (0.0, 0.0))


def test_rolling_round_the_edge_is_no_sliding():
    """A rod that rolls on the edge is touched further on, by the arc it has rolled."""
    for side in (1.0, -1.0):
        over = edge(side=side)
        before, turn = Touch(5.0, 1.0, 0.0, 3.0), 0.4
        # across the seam of the angle
        after = Touch(5.0 - side * REACH * turn, 1.0, 0.0, 3.0 + turn - 2 * np.pi)
        assert after.slid(before, over) == pytest.approx(0.0, abs=1e-12)
        assert Touch(5.2, 1.0, 0.0, 3.0).slid(before, over) == pytest.approx(0.2)


# --- equilibrium -----------------------------------------------------------------------------

CYCLE = np.concatenate([np.linspace(0.2, 3.0, 15), np.linspace(2.8, 0.4, 13)])


def test_small_bends_are_those_of_a_cantilever():
    """Closed form: push = 3 E I d / L^3."""
    for side in (1.0, -1.0):
        (here,) = bent([0.01], edge(side=side, reach=0.0), side)
        np.testing.assert_allclose(here.touch.push, 3 * RIGIDITY * 0.01 / HALF**3, rtol=1e-4)
        np.testing.assert_allclose(
            here.reaction[0, 1], -side * 3 * RIGIDITY * 0.01 / HALF**3, rtol=1e-4
        )


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_the_rod_lies_on_the_edge_and_its_grip_holds_it(side):
    """The centre line at `reach` from the edge's axis; statics of the whole rod."""
    over = edge(friction=MU, side=side)
    for here in bent(CYCLE[:15], over, side)[4::5]:
        point = centre_point(ROD.shape, here.state.place, here.touch.station).path[VALUE, 0]
        along = tangent(here)
        normal = np.cross([0, 0, 1], along)
        np.testing.assert_allclose(point - over.centre, side * REACH * normal, rtol=0, atol=1e-9)
        force = side * here.touch.push * normal + here.touch.drag * along
        np.testing.assert_allclose(here.reaction[0, :3], -force, rtol=0, atol=1e-7)
        lever = point - here.state.place.nodes[0]
        np.testing.assert_allclose(here.reaction[0, 3:], -np.cross(lever, force), atol=1e-6)
        assert here.touch.angle == pytest.approx(np.arctan2(along[1], along[0]), abs=1e-12)


def test_an_edge_beside_the_grip_loads_the_rod_and_not_the_grip():
    """Its push stands on the first element, one of whose nodes is held."""
    near = KnifeEdge(np.array([0.6, -REACH, 0.0]), REACH, 1.0, MU)
    touched = Touch(0.6, 0.0)
    here = settle_over_edge(ROD, ROD.at_rest(), touched, edge=near, grips=grips(0.01))
    along = tangent(here)
    force = here.touch.push * np.cross([0, 0, 1], along) + here.touch.drag * along
    assert here.touch.push > 1.0
    np.testing.assert_allclose(here.reaction[0, :3], -force, rtol=0, atol=1e-6)


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("reach", [0.0, REACH])
def test_drag_opposes_the_sliding_on_loading_and_on_unloading(side, reach):
    """Pressed down, the rod is drawn in over the edge, which drags it back; then the reverse."""
    found = bent(CYCLE, edge(friction=MU, side=side, reach=reach), side)
    ratio = np.array([here.touch.drag / here.touch.push for here in found])
    # the first two steps slide no more than a few times the way over which friction builds up
    assert np.all(ratio[:2] > 0.9 * MU)
    np.testing.assert_allclose(ratio[2:15], MU, rtol=1e-4)
    np.testing.assert_allclose(ratio[15:], -MU, rtol=1e-4)
    free = bent(CYCLE, edge(side=side, reach=reach), side)
    assert {here.touch.drag for here in free} == {0.0}
    # so loading takes more force than without friction, and unloading gives less
    force, plain = (np.array([-side * h.reaction[0, 1] for h in each]) for each in (found, free))
    assert np.all(force[:15] > plain[:15])
    assert np.all(force[15:] < plain[15:])


def test_friction_of_a_bend_is_the_same_in_few_and_many_steps():
    few, many = (
        bent(np.linspace(0, 2.0, steps + 1)[1:], edge(friction=MU))[-1] for steps in (4, 200)
    )
    # over the way that friction takes to build up, the push grows by less than this
    np.testing.assert_allclose(many.touch.drag, few.touch.drag, rtol=1e-3)
    np.testing.assert_allclose(many.touch.push, few.touch.push, rtol=1e-3)


def test_a_rod_that_slips_off_the_edge_is_told():
    with pytest.raises(NotConvergedError):
        bent(np.linspace(1, 14, 14), edge())
    with pytest.raises(NotConvergedError):
        bent([np.nan], edge())


def test_an_edge_beside_the_rod_is_refused():
    touched = Touch(LENGTH + 0.5, 0.0)
    with pytest.raises(ValueError, match=r"station 10\.5 mm is not on a rod from 0 to 10 mm"):
        settle_over_edge(ROD, ROD.at_rest(), touched, edge=edge(), grips=grips(0.01))
