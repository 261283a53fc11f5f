r"""Edges of slots against a rod: gaps, forces and their derivatives.

A slot is a straight channel with four walls, open at both ends. A rod that passes through it
touches the edges in which the walls end: lines fixed in the slot. Each is followed against the
curves of the rod that can touch it: the centre line of a round rod, the lines of the four rounded
edges of a rectangular one. Looked at along the edge, the edge is a point q, and the curve c(s) is
rounded with a radius r. With the nearest point, :math:`c' \cdot (c - q) = 0`, and the curve's
normal n towards the wall, the gap is :math:`-n \cdot (c - q) - r` and its force pushes the rod
along -n. Friction acts along the curve, at the rod's surface, against the sliding of the edge.

Everything hangs on how the rod lies in its slot, so derivatives by the slot's own motion follow
from those by the rod's.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.rod import RodPlace
from gomphosis.fem.rod_curve import BEND, SLOPE, VALUE, CurvePoints, Curves
from gomphosis.fem.rod_element import FREEDOMS, skew
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

    def take(self, which: Array) -> "Edges":
        """Return some of the pairs."""
        parts = (self.slot, self.along, self.axis, self.side, self.height, self.radius)
        return Edges(*(part[which] for part in parts))

    def place(self, frames: SlotFrames) -> Array:
        """Return a point of every edge, mm, shape (m, 3)."""
        triads = frames.triads[self.slot]
        rows = np.arange(len(self.slot))
        across = triads[rows, :, self.axis]
        along = self.along[:, None] * triads[:, :, ALONG]
        return frames.place[self.slot] + along + self.height[:, None] * across

    def axes(self, frames: SlotFrames) -> tuple[Array, Array]:
        """Return the slot's direction and the way out through the wall, each (m, 3)."""
        triads = frames.triads[self.slot]
        out = triads[np.arange(len(self.slot)), :, self.axis]
        return triads[:, :, ALONG], self.side[:, None] * out


def nearest(
    curves: Curves, place: RodPlace, edges: Edges, frames: SlotFrames, start: Array
) -> Array:
    """Return the stations at which curves are nearest to their edges, mm, shape (m,).

    Parameters
    ----------
    start
        Where the search begins, mm, shape (m,).
    """
    station = np.array(start)
    origin, (along, out) = edges.place(frames), edges.axes(frames)
    least, most = curves.shape.stations[[0, -1]]
    for _ in range(SEARCHES):
        path = curves.at(place, station).path
        path[VALUE] -= origin
        y = np.stack([np.einsum("omi,mi->om", path, along), np.einsum("omi,mi->om", path, out)])
        slope = np.sum(y[:, SLOPE] ** 2 + y[:, VALUE] * y[:, BEND], axis=0)
        slope = np.maximum(slope, 0.5 * np.sum(y[:, SLOPE] ** 2, axis=0))
        move = np.clip(-np.sum(y[:, VALUE] * y[:, SLOPE], axis=0) / slope, -STRIDE, STRIDE)
        moved = np.clip(station + move, least, most)
        settled = np.abs(moved - station).max(initial=0.0) < FOUND
        station = moved
        if settled:
            break
    return station


@dataclass(frozen=True)
class Seen:
    """Curves at their nearest points to the edges, looked at along the edges.

    Attributes
    ----------
    points
        Of the curves.
    tangent, normal
        Of the curves within the plane across the edge, in space, shape (m, 3).
    speed
        Length of the curve's slope within the plane, shape (m,).
    off
        Of the curve's point beyond the edge along the normal, mm, shape (m,).
    bent
        Second derivative along the tangent and the normal, 1/mm, shape (m, 2).
    lever
        From the slots' origins to the elements' nodes, mm, shape (m, 2, 3).
    """

    points: CurvePoints
    tangent: Array
    normal: Array
    speed: Array
    off: Array
    bent: Array
    lever: Array

    @cached_property
    def across(self) -> Array:
        """Derivative of `off` by the nodes, shape (m, 12); minus that of the gap."""
        return self.points.pulled(VALUE, self.normal)

    @cached_property
    def tilt(self) -> Array:
        """The normal on the derivative of the slope by the nodes, shape (m, 12)."""
        return self.points.pulled(SLOPE, self.normal)

    @cached_property
    def rub(self) -> Array:
        """Of a material point of the surface along the tangent by the nodes, shape (m, 12)."""
        arm = (self.off / self.speed)[:, None]
        return self.points.pulled(VALUE, self.tangent) + arm * self.tilt

    @cached_property
    def slide(self) -> Array:
        """Derivative of the station by the nodes, shape (m, 12)."""
        spread = self.speed**2 + self.off * self.bent[:, 1]
        return -(self.speed / spread)[:, None] * self.rub

    @cached_property
    def lean(self) -> Array:
        """Derivative of the tangent's angle within the plane by the nodes, shape (m, 12)."""
        return (self.tilt + self.bent[:, 1, None] * self.slide) / self.speed[:, None]

    @cached_property
    def rigid(self) -> Array:
        """Motion of the nodes with the slot as one body, shape (m, 12, 6)."""
        result = np.zeros((len(self.speed), FREEDOMS, 6))
        for end in range(2):
            move, turn = slice(6 * end, 6 * end + 3), slice(6 * end + 3, 6 * end + 6)
            result[:, move, :3] = result[:, turn, 3:] = np.eye(3)
            result[:, move, 3:] = -skew(self.lever[:, end])
        return result

    def across_curve(self) -> Array:
        """Return the derivative of `across` by the nodes, shape (m, 12, 12)."""
        along = self.points.pulled(VALUE, self.tangent)
        result = self.points.turned(VALUE, self.normal)
        return result + _outer(self.tilt, self.slide) - _outer(along, self.lean)

    def rub_curve(self) -> Array:
        """Return the derivative of `rub` by the nodes, shape (m, 12, 12)."""
        points, normal, tangent = self.points, self.normal, self.tangent
        arm = (self.off / self.speed)[:, None, None]
        slope_along = points.pulled(SLOPE, tangent)
        result = points.turned(VALUE, tangent)
        result += _outer(slope_along, self.slide) + _outer(self.across, self.lean)
        inner = points.turned(SLOPE, normal) + _outer(points.pulled(BEND, normal), self.slide)
        result += arm * (inner - _outer(slope_along, self.lean))
        faster = slope_along + self.bent[:, 0, None] * self.slide
        change = self.across - (self.off / self.speed)[:, None] * faster
        return result + _outer(self.tilt, change) / self.speed[:, None, None]


def seen(curves: Curves, place: RodPlace, edges: Edges, frames: SlotFrames, station: Array) -> Seen:
    """Look along the edges at curves, at the stations nearest to them."""
    points = curves.at(place, station)
    along, out = edges.axes(frames)
    away = points.path[VALUE] - edges.place(frames)
    plane = np.stack([along, out], axis=1)
    flat = np.einsum("mai,omi->oma", plane, points.path)
    speed = np.linalg.norm(flat[SLOPE], axis=1)
    tangent = flat[SLOPE] / speed[:, None]
    # seen along the slot's direction, the wall is to the left
    normal = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    off = np.einsum("ma,mai,mi->m", normal, plane, away)
    bent = np.stack([np.sum(flat[BEND] * tangent, axis=1), np.sum(flat[BEND] * normal, axis=1)])
    nodes = np.stack([place.nodes[points.element], place.nodes[points.element + 1]], axis=1)
    return Seen(
        points=points,
        tangent=np.einsum("ma,mai->mi", tangent, plane),
        normal=np.einsum("ma,mai->mi", normal, plane),
        speed=speed,
        off=off,
        bent=bent.T,
        lever=nodes - frames.place[edges.slot][:, None],
    )


def _outer(column: Array, row: Array) -> Array:
    return column[:, :, None] * row[:, None, :]
