r"""Slots and their edges: where they are, and where curves of a rod come nearest to them.

A slot is a straight channel with four walls, open at both ends. A rod that passes through it
touches the edges in which the walls end: lines fixed in the slot. Each is followed against the
curves of the rod that can touch it: the centre line of a round rod, the lines of the four rounded
edges of a rectangular one. Looked at along the edge, the edge is a point q, and the curve c(s) is
a plane one, nearest to it where :math:`c' \cdot (c - q) = 0`.
"""

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from gomphosis.fem.rod import RodPlace
from gomphosis.fem.rod_curve import BEND, SLOPE, VALUE, Curves
from gomphosis.fem.section import Array, Index

SEARCHES = 25
FOUND = 1e-11  # mm
STRIDE = 1.0  # mm of one step of the search
ALONG = 0  # axis of a slot along which the rod runs


@dataclass(frozen=True)
class SlotFrames:
    """Where k slots are.

    Parameters
    ----------
    place, triads
        Origins in mm, shape (k, 3), and axes (along, second, third) as columns, (k, 3, 3).
    """

    place: Array
    triads: Array


@dataclass(frozen=True)
class Edges:
    """Pairs of a slot's edge and a curve of the rod, m of them.

    Parameters
    ----------
    slot
        Index of the slot, shape (m,).
    along
        Place of the edge along the slot, mm, shape (m,).
    axis
        1 for a wall across the slot's second axis, 2 for one across the third, shape (m,).
    side
        +1 or -1: on which side of the rod the wall is, shape (m,).
    height
        Place of the wall on that axis, mm, shape (m,).
    radius
        Of the curve, mm, shape (m,).
    """

    slot: Index
    along: Array
    axis: Index
    side: Array
    height: Array
    radius: Array

    def place(self, frames: SlotFrames) -> Array:
        """Return a point of every edge, mm, shape (m, 3)."""
        triads = frames.triads[self.slot]
        along = self.along[:, None] * triads[:, :, ALONG]
        return frames.place[self.slot] + along + self.height[:, None] * self._across(triads)

    def plane(self, frames: SlotFrames) -> Array:
        """Return the plane seen along the edges: the slot's direction, the way out, (m, 2, 3)."""
        triads = frames.triads[self.slot]
        plane = np.empty((len(self.slot), 2, 3))
        plane[:, 0] = triads[:, :, ALONG]
        plane[:, 1] = self.side[:, None] * self._across(triads)
        return plane

    def _across(self, triads: Array) -> Array:
        return triads[np.arange(len(self.slot)), :, self.axis]


@dataclass(frozen=True)
class Flat:
    """Curves in the planes across m edges, where they are nearest to them.

    Attributes
    ----------
    station
        Of the nearest points, mm, shape (m,).
    plane
        Two axes in space, along the slot and out through the wall, shape (m, 2, 3).
    tangent
        Of the curve, in those axes, shape (m, 2).
    speed
        Length of the curve's slope in the plane, shape (m,).
    off
        Of the curve's point beyond the edge along the normal, mm, shape (m,).
    bent
        Second derivative along the tangent and the normal, 1/mm, shape (m, 2).
    astray
        How far the last step of the search still went, mm, shape (m,).
    """

    station: Array
    plane: Array
    tangent: Array
    speed: Array
    off: Array
    bent: Array
    astray: Array

    @property
    def normal(self) -> Array:
        """Of the curve, in the plane's axes; seen along the slot the wall is to the left."""
        return _left(self.tangent)

    def take(self, which: npt.NDArray[np.int64]) -> "Flat":
        """Return some of them."""
        return Flat(*(getattr(self, field.name)[which] for field in fields(self)))


def nearest(
    curves: Curves, place: RodPlace, edges: Edges, frames: SlotFrames, start: Array
) -> Flat:
    """Return where curves are nearest to their edges, on the rod's length.

    Parameters
    ----------
    start
        Stations where the search begins, mm, shape (m,).
    """
    origin, plane = edges.place(frames), edges.plane(frames)
    least, most = curves.shape.stations[[0, -1]]
    station, element = start, curves.elements(start)
    powers = _in_plane(curves.powers(place, element), origin, plane)
    for _ in range(SEARCHES):
        path = _path(powers, curves.into(element, station))
        moved = np.minimum(np.maximum(station + _newton(path), least), most)
        astray = np.abs(moved - station)
        station, before = moved, element
        element = curves.elements(station)
        if not np.array_equal(element, before):
            powers = _in_plane(curves.powers(place, element), origin, plane)
        if astray.max(initial=0.0) < FOUND:
            break
    return _flat(station, plane, _path(powers, curves.into(element, station)), astray)


def _in_plane(powers: Array, origin: Array, plane: Array) -> Array:
    """Return cubics (m, 4, 3) in the axes of planes through origins, shape (4, 2, m)."""
    powers[:, 0] -= origin
    return np.ascontiguousarray((powers @ np.swapaxes(plane, 1, 2)).transpose(1, 2, 0))


def _path(powers: Array, way: Array) -> Array:
    """Return plane cubics and their first two derivatives after a way, shape (3, 2, m)."""
    a, b, c, d = powers
    third = d * way
    path = np.empty((3, *d.shape))
    path[VALUE] = a + (b + (c + third) * way) * way
    path[SLOPE] = b + (2.0 * c + 3.0 * third) * way
    path[BEND] = 2.0 * c + 6.0 * third
    return path


def _newton(path: Array) -> Array:
    """Return the next step of the search along the curves, mm, shape (m,)."""
    value, slope, bend = path
    fast = slope[0] * slope[0] + slope[1] * slope[1]
    rise = fast + value[0] * bend[0] + value[1] * bend[1]
    left = value[0] * slope[0] + value[1] * slope[1]
    # where the distance is not convex, down it all the same
    return np.minimum(np.maximum(-left / np.maximum(rise, 0.5 * fast), -STRIDE), STRIDE)


def _flat(station: Array, plane: Array, path: Array, astray: Array) -> Flat:
    value, slope, bend = (part.T for part in path)
    speed = np.sqrt(np.sum(slope * slope, axis=1))
    tangent = slope / speed[:, None]
    normal = _left(tangent)
    bent = np.stack([np.sum(bend * tangent, axis=1), np.sum(bend * normal, axis=1)], axis=1)
    off = np.sum(value * normal, axis=1)
    return Flat(station, plane, tangent, speed, off, bent, astray)


def _left(flat: Array) -> Array:
    return np.stack([-flat[:, 1], flat[:, 0]], axis=1)
