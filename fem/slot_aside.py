"""Friction of an edge across the rod: along the edge itself, and round the rod.

The rod's material that was nearest to the edge when the step began is followed: it has slid aside
by how far it has gone along the edge, and its surface by its turn about the rod besides.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.rod import RodPlace, RodShape
from gomphosis.fem.rod_curve import VALUE, CurvePoints, Curves
from gomphosis.fem.rod_element import SPINS, cross, skew
from gomphosis.fem.section import Array, Index

SECOND = 1  # axis of a section whose turn is followed


@dataclass(frozen=True)
class Lie:
    """How m material points lie in their slots.

    Attributes
    ----------
    beside
        Place along the edge, mm, shape (m,).
    roll
        Turn of the section about the slot, rad, shape (m,).
    """

    beside: Array
    roll: Array

    def take(self, which: Index) -> "Lie":
        """Return some of the points."""
        return Lie(self.beside[which], self.roll[which])


@dataclass(frozen=True)
class Aside:
    """Material points that slide aside.

    Attributes
    ----------
    points
        Of the curves, at the stations at which the step began.
    axes
        Second axes of the sections at the elements' ends, times the weights of these, (m, 2, 3).
    edge, round
        Directions of the edge, and in which the section's second axis turns, shape (m, 3).
    way
        Gone aside since the step began, mm, shape (m,).
    """

    points: CurvePoints
    axes: Array
    edge: Array
    round: Array
    way: Array

    def by_nodes(self) -> Array:
        """Return the derivative of the way by the elements' nodes, shape (m, 12)."""
        result = self.points.pulled(VALUE, self.edge)
        for end, spin in enumerate(SPINS):
            result[:, spin] += cross(self.axes[:, end], self.round)
        return result

    def curve(self, weight: Array) -> Array:
        """Return weights (m,) times the derivative of `by_nodes`, shape (m, 12, 12)."""
        result = self.points.turned(VALUE, weight[:, None] * self.edge)
        turn = skew(weight[:, None] * self.round)
        for end, spin in enumerate(SPINS):
            result[:, spin, spin] += turn @ skew(self.axes[:, end])
        return result


def lie(
    curves: Curves, place: RodPlace, station: Array, origin: Array, triads: Array, edge: Array
) -> Lie:
    """Return how the curves' points at stations lie in slots of given origins and axes."""
    points = curves.at(place, station)
    axis = _axes(curves.shape, place, points).sum(axis=1)
    beside = np.sum((points.path[VALUE] - origin) * edge, axis=1)
    second = np.sum(axis * triads[:, :, 1], axis=1)
    third = np.sum(axis * triads[:, :, 2], axis=1)
    return Lie(beside, np.arctan2(third, second))


def aside(
    curves: Curves,
    place: RodPlace,
    station: Array,
    *,
    origin: Array,
    triads: Array,
    edge: Array,
    radius: Array,
    before: Lie,
) -> Aside:
    """Follow material points at stations since they lay as they did before.

    Parameters
    ----------
    origin, triads, edge
        Of the slots, mm (m, 3) and (m, 3, 3), and directions of the edges in them, (m, 3).
    radius
        From the curve to the rod's surface, mm, shape (m,).
    """
    points = curves.at(place, station)
    axes = radius[:, None, None] * _axes(curves.shape, place, points)
    cosine, sine = np.cos(before.roll)[:, None], np.sin(before.roll)[:, None]
    turn = cosine * triads[:, :, 2] - sine * triads[:, :, 1]
    way = np.sum((points.path[VALUE] - origin) * edge, axis=1) - before.beside
    way += np.sum(axes.sum(axis=1) * turn, axis=1)
    return Aside(points, axes, edge, turn, way)


def _axes(shape: RodShape, place: RodPlace, points: CurvePoints) -> Array:
    """Return the sections' second axes at both ends of the elements, weighed, (m, 2, 3)."""
    ends = shape.elements(place)
    both = [ends.first[points.element, :, SECOND], ends.last[points.element, :, SECOND]]
    return points.weight[VALUE][:, :, None] * np.stack(both, axis=1)
