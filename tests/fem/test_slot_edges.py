"""Edges of slots and the points of curves nearest to them. Verification: closed forms, a scan."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import RodPlace, RodShape
from gomphosis.fem.rod_curve import Curves
from gomphosis.fem.slot_edges import FOUND, Edges, SlotFrames, nearest


def test_edges_stand_in_their_slots(row, shifted):
    """Half a width along the slot, at the wall's height on its axis."""
    made = row(flat=True)
    edges = made.what.contact.edges
    motion = np.random.default_rng(1).normal(size=(3, 6)) * 0.3
    frames = shifted(made.frames, motion)
    local = np.zeros((len(edges.slot), 3))
    local[:, 0] = edges.along
    local[np.arange(len(local)), edges.axis] = edges.height
    turn = Rotation.from_rotvec(motion[edges.slot, 3:])
    exact = made.frames.place[edges.slot] + motion[edges.slot, :3] + turn.apply(local)
    np.testing.assert_allclose(edges.place(frames), exact, rtol=0, atol=1e-14)
    plane = edges.plane(frames)
    np.testing.assert_allclose(plane[:, 0], turn.apply([1.0, 0.0, 0.0]), atol=1e-14)
    outward = np.sum(plane[:, 1] * (exact - frames.place[edges.slot]), axis=1)
    np.testing.assert_allclose(outward, np.abs(edges.height), atol=1e-12)


def tilted(stations, motion):
    """A straight rod moved as a rigid body."""
    turn = Rotation.from_rotvec(motion[3:]).as_matrix()
    nodes = (stations[:, None] * [1.0, 0, 0]) @ turn.T + motion[:3]
    return RodPlace(nodes, np.tile(turn, (len(stations), 1, 1)))


@pytest.mark.parametrize("flat", [False, True])
def test_gaps_of_a_straight_prism_are_distances_of_points_from_lines(flat, row):
    """Looked at along the edge: point and line in a plane, and the radius of rounding."""
    made = row(flat=flat)
    contact, rod = made.what.contact, made.what.rod
    place = tilted(rod.shape.stations, np.array([0.03, -0.05, 0.04, 0.2, 0.06, -0.05]))
    edges, curves = contact.edges, contact.curves(rod)
    flat_curves = nearest(curves, place, edges, made.frames, made.state.touches.station)
    turn = place.triads[0]
    along = turn[:, 0]
    for k in range(len(edges.slot)):
        axis, point = edges.axis[k], np.array([edges.along[k], 0.0, 0.0])
        point[axis] = edges.height[k]
        point += made.frames.place[edges.slot[k]]
        start = place.nodes[0] + turn[:, 1:] @ contact.offset[k]
        # components along the edge do not count
        seen, other = [0, axis], 3 - axis
        line = along[seen] / np.hypot(*along[seen])
        away = (start - point)[seen]
        off = edges.side[k] * (line[0] * away[1] - line[1] * away[0])
        assert flat_curves.off[k] == pytest.approx(off, abs=1e-13)
        # of the line's points the nearest one
        station = rod.shape.stations[0] - away @ line / np.hypot(*along[seen])
        assert flat_curves.station[k] == pytest.approx(station, abs=1e-11)
        assert flat_curves.speed[k] == pytest.approx(np.sqrt(1 - along[other] ** 2), abs=1e-13)
    assert flat_curves.astray.max() < FOUND


def test_nearest_points_of_a_bent_rod_are_those_of_a_scan(row):
    """A scan of the distances along the rod, by a thousandth of a millimetre."""
    made = row(flat=True)
    contact, rod = made.what.contact, made.what.rod
    motion = np.random.default_rng(2).normal(size=(len(rod.shape.stations), 6)) * 0.08
    place, frames = rod.shape.place.moved(motion), made.frames
    found = nearest(contact.curves(rod), place, contact.edges, frames, made.state.touches.station)
    origin, plane = contact.edges.place(frames), contact.edges.plane(frames)
    for k in range(0, len(origin), 7):
        scan = found.station[k] + np.arange(-800, 801) * 1e-3
        curves = Curves(rod.shape, np.tile(contact.offset[k], (len(scan), 1)))
        away = (curves.at(place, scan).path[0] - origin[k]) @ plane[k].T
        least = np.argmin(np.hypot(*away.T))
        assert scan[least] == pytest.approx(found.station[k], abs=1e-3)
        assert np.hypot(*away[least]) == pytest.approx(abs(found.off[k]), abs=1e-6)
    assert found.astray.max() < FOUND


def test_of_an_arc_the_nearest_point_lies_on_the_radius_through_the_edge():
    """Closed form: circle of radius 8 about (0, 8); an edge at 0.5 inside of it."""
    turn = np.linspace(0.0, 1.0, 81)
    nodes = 8.0 * np.stack([np.sin(turn), 1 - np.cos(turn), 0 * turn], axis=1)
    triads = Rotation.from_rotvec(turn[:, None] * [0.0, 0.0, 1.0]).as_matrix()
    shape = RodShape(RodPlace(nodes, triads), np.diff(8.0 * turn))
    edges = Edges(*(np.array([v]) for v in (0, 0.0, 1, 1.0, 0.0, 0.1)))
    spot = np.array([[7.5 * np.sin(0.43), 8 - 7.5 * np.cos(0.43), 0.0]])
    frame = Rotation.from_rotvec([0.0, 0.0, 0.5]).as_matrix()[None]
    curves = Curves(shape, np.zeros((1, 2)))
    found = nearest(curves, shape.place, edges, SlotFrames(spot, frame), np.array([5.0]))
    assert found.station[0] == pytest.approx(8.0 * 0.43, abs=1e-6)
    assert found.off[0] == pytest.approx(-0.5, abs=1e-6)
    # towards the wall it curves by one over its radius, and nothing along itself
    np.testing.assert_allclose(found.bent[0], [0.0, 1 / 8.0], rtol=0, atol=1e-4)


def test_nearest_points_stay_on_the_rod(row):
    """An edge 2 mm beyond the rod's end is nearest to the end."""
    made = row()
    contact, rod = made.what.contact, made.what.rod
    beyond = SlotFrames(made.frames.place + np.array([8.0, 0.0, 0.0]), made.frames.triads)
    found = nearest(
        contact.curves(rod), rod.shape.place, contact.edges, beyond, made.state.touches.station
    )
    last = contact.edges.slot == 2
    end = rod.shape.stations[-1]
    np.testing.assert_array_equal(found.station[last], end)
    assert np.all(found.station[~last] < end)


def test_part_of_the_curves_is_that_part(row):
    made = row()
    contact, rod = made.what.contact, made.what.rod
    found = nearest(
        contact.curves(rod),
        rod.shape.place.moved(np.full((len(rod.shape.stations), 6), 0.02)),
        contact.edges,
        made.frames,
        made.state.touches.station,
    )
    few = found.take(np.array([3, 10]))
    np.testing.assert_array_equal(few.off, found.off[[3, 10]])
    np.testing.assert_array_equal(few.plane, found.plane[[3, 10]])
    np.testing.assert_array_equal(few.normal, found.normal[[3, 10]])
