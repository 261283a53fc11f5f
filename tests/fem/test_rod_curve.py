"""Curves along a rod: derivatives against differences, offset curves of rods whose shape is known.

Verification: central differences; closed forms of straight rods and arcs of circles.
"""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import RodPlace, RodShape
from gomphosis.fem.rod_curve import BEND, SLOPE, VALUE, Curves, centre, centre_point

STATIONS = np.array([0.4, 1.3, 1.35, 2.9, 3.2])
OFFSET = np.array([[0.2, -0.1], [0.0, 0.0], [-0.3, 0.25], [0.1, 0.1], [0.0, 0.4]])


def bent():
    """Return a curved, twisted and kinked rod and a place 0.3 mm and 0.3 rad away from it."""
    rng = np.random.default_rng(5)
    nodes = np.cumsum(np.array([[0, 0, 0], [1, 0.1, 0], [1, 0.3, 0.2], [0.8, 0.1, 0.4]]), axis=0)
    triads = Rotation.from_rotvec(0.3 * rng.normal(size=(4, 3))).as_matrix()
    kinks = Rotation.from_rotvec(0.2 * rng.normal(size=(6, 3))).as_matrix().reshape(3, 2, 3, 3)
    shape = RodShape(RodPlace(nodes.astype(float), triads), np.array([1.1, 1.0, 1.2]), kinks)
    return Curves(shape, OFFSET), shape.place.moved(0.3 * rng.normal(size=(4, 6)))


def arc(radius, angle, count):
    """Return a rod along an arc of a circle about the z axis, second axis to its centre."""
    turn = np.linspace(0.0, angle, count + 1)
    nodes = radius * np.stack([np.sin(turn), 1 - np.cos(turn), 0 * turn], axis=1)
    triads = Rotation.from_rotvec(turn[:, None] * [0.0, 0.0, 1.0]).as_matrix()
    return RodShape(RodPlace(nodes, triads), np.diff(radius * turn))


def nudged(place, element, freedom, step):
    motion = np.zeros((len(place.nodes), 6))
    motion[element + freedom // 6, freedom % 6] = step
    return place.moved(motion)


def by_nodes(differences, curves, place, quantity):
    """Differences of a quantity of each point by its own element's nodes, along a last axis."""
    element = curves.at(place, STATIONS).element

    def at(motion):
        k = int(np.argmax(np.abs(motion)))
        moved = [nudged(place, e, k, motion[k]) for e in element]
        return np.stack([quantity(curves.at(p, STATIONS))[i] for i, p in enumerate(moved)])

    return differences(at, 12)


def test_slope_and_bend_are_derivatives_by_the_station():
    curves, place = bent()
    step = 1e-5
    ahead, behind = (curves.at(place, STATIONS + d).path for d in (step, -step))
    here = curves.at(place, STATIONS).path
    for order in (SLOPE, BEND):
        exact = (ahead[order - 1] - behind[order - 1]) / (2 * step)
        np.testing.assert_allclose(here[order], exact, rtol=0, atol=1e-8)


@pytest.mark.parametrize("order", [VALUE, SLOPE, BEND])
def test_derivatives_by_the_nodes_are_those_of_differences(order, differences):
    curves, place = bent()
    way = np.random.default_rng(7).normal(size=(5, 3))
    here = curves.at(place, STATIONS)
    exact = by_nodes(differences, curves, place, lambda p: np.sum(p.path[order] * way, axis=1))
    np.testing.assert_allclose(here.pulled(order, way), exact, rtol=0, atol=1e-8)
    exact = by_nodes(differences, curves, place, lambda p: p.pulled(order, way))
    np.testing.assert_allclose(here.turned(order, way), exact, rtol=0, atol=1e-8)
    assert np.abs(exact).max() > 0.1


def test_a_straight_rod_has_straight_parallel_curves():
    """Also beyond its ends, where its last elements go on."""
    stations = np.array([0.0, 1.0, 3.0, 3.5])
    turn = Rotation.from_rotvec([0.3, -0.2, 0.5]).as_matrix()
    nodes = (stations[:, None] * [1.0, 0, 0]) @ turn.T
    shape = RodShape(RodPlace(nodes, np.tile(turn, (4, 1, 1))), np.diff(stations))
    where = np.array([-0.5, 0.2, 1.0, 2.7, 4.0])
    points = Curves(shape, OFFSET).at(shape.place, where)
    exact = np.concatenate([where[:, None], OFFSET], axis=1) @ turn.T
    np.testing.assert_allclose(points.path[VALUE], exact, rtol=0, atol=1e-14)
    np.testing.assert_allclose(points.path[SLOPE], np.tile(turn[:, 0], (5, 1)), atol=1e-14)
    np.testing.assert_allclose(points.path[BEND], 0.0, atol=1e-13)
    np.testing.assert_array_equal(points.element, [0, 0, 1, 1, 2])


def test_an_arc_has_an_arc_beside_it():
    """A circle of less radius, by the offset to its centre; to the cubic's third order."""
    shape = arc(10.0, 1.2, 24)
    where = np.linspace(0.3, 11.7, 40)
    offset = np.tile([0.4, 0.3], (40, 1))
    points = Curves(shape, offset).at(shape.place, where)
    away = points.path[VALUE] - [0.0, 10.0, 0.3]
    np.testing.assert_allclose(np.linalg.norm(away[:, :2], axis=1), 9.6, rtol=0, atol=2e-4)
    np.testing.assert_allclose(away[:, 2], 0.0, atol=1e-14)
    fine = arc(10.0, 1.2, 48)
    closer = Curves(fine, offset).at(fine.place, where).path[VALUE] - [0.0, 10.0, 0.3]
    worst = [np.abs(np.hypot(*a[:, :2].T) - 9.6).max() for a in (away, closer)]
    assert worst[1] < worst[0] / 3.5


def test_curves_are_smooth_across_nodes_of_a_smooth_rod():
    shape = arc(5.0, 1.0, 4)
    place = shape.place.moved(0.2 * np.random.default_rng(3).normal(size=(5, 6)))
    curves = Curves(shape, np.array([[0.3, -0.2]]))
    for station in shape.stations[1:-1]:
        left, right = (curves.at(place, np.array([station + d])) for d in (-1e-9, 1e-9))
        assert left.element[0] + 1 == right.element[0]
        np.testing.assert_allclose(left.path[VALUE], right.path[VALUE], rtol=0, atol=1e-8)
        np.testing.assert_allclose(left.path[SLOPE], right.path[SLOPE], rtol=0, atol=1e-7)


def test_powers_are_the_same_curves():
    curves, place = bent()
    here = curves.at(place, STATIONS)
    way = curves.into(here.element, STATIONS)[:, None] ** np.arange(4)
    powers = curves.powers(place, here.element)
    np.testing.assert_allclose(
        np.sum(way[:, :, None] * powers, axis=1), here.path[VALUE], rtol=0, atol=1e-14
    )
    np.testing.assert_array_equal(curves.elements(np.array([-1.0, 0.0, 1.1, 9.0])), [0, 0, 1, 2])


def test_a_point_of_the_centre_line_takes_many_directions():
    curves, place = bent()
    points = centre(curves.shape, 2).at(place, np.array([1.3, 1.3]))
    one = centre_point(curves.shape, place, 1.3)
    ways = np.random.default_rng(8).normal(size=(2, 3))
    for order in (VALUE, SLOPE):
        each = points.pulled(order, ways)
        np.testing.assert_allclose(one.pulled(order, ways), each, rtol=0, atol=1e-14)
        each = points.turned(order, ways)
        np.testing.assert_allclose(one.turned(order, ways), each, rtol=0, atol=1e-14)
    node = centre_point(curves.shape, place, 1.1).path[VALUE, 0]
    np.testing.assert_allclose(node, place.nodes[1], rtol=0, atol=1e-14)


def test_a_point_beside_the_rod_is_refused():
    curves, place = bent()
    for station in (-0.1, 3.4):
        with pytest.raises(ValueError, match=r"is not on a rod from 0 to 3\.3 mm"):
            centre_point(curves.shape, place, station)
