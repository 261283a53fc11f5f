"""Points of curves that run along a rod at a distance, and how they follow its nodes.

A curve keeps its place in the rod's section: the centre line itself, or the line along which an
edge of a rectangular rod is rounded. The centre line is the smooth one of `fem.rod_line`; what a
curve is off it goes from one end of an element to the other with a smooth start and end, so that
the curve has no corners at nodes, where edges of slots stand at first.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.rod import RodPlace, RodShape
from gomphosis.fem.rod_element import FREEDOMS, SPINS, cross, skew
from gomphosis.fem.section import Array, Index

VALUE, SLOPE, BEND = range(3)  # a point and its derivatives by arc length


@dataclass(frozen=True)
class CurvePoints:
    """Points of m curves, each at a station of its own.

    Attributes
    ----------
    element
        That each lies in, shape (m,).
    path
        Place and its first two derivatives by the station, mm and 1/mm, shape (3, m, 3).
    weight
        Of the displacements of an element's two nodes in these, shape (3, m, 2).
    arms
        Handles and offsets that the nodes' spins turn in these, shape (3, m, 2, 3).
    """

    element: Index
    path: Array
    weight: Array
    arms: Array

    def pulled(self, order: int, direction: Array) -> Array:
        """Return the derivative of the path along directions (m, 3) by the nodes, (m, 12).

        It is also the load on the nodes of a force of that direction on the point itself.
        """
        result = np.empty((len(direction), FREEDOMS))
        for end, spin in enumerate(SPINS):
            moved = self.weight[order, :, end, None] * direction
            result[:, 6 * end : 6 * end + 3] = moved
            result[:, spin] = cross(self.arms[order, :, end], direction)
        return result

    def turned(self, order: int, direction: Array) -> Array:
        """Return the derivative of `pulled` by the nodes' motions, shape (m, 12, 12)."""
        result = np.zeros((len(direction), FREEDOMS, FREEDOMS))
        turn = skew(direction)
        for end, spin in enumerate(SPINS):
            # the moment arm × force, with the arm turning along
            result[:, spin, spin] = turn @ skew(self.arms[order, :, end])
        return result


@dataclass(frozen=True)
class Curves:
    """Curves along a rod.

    Parameters
    ----------
    shape
        Of the rod without stress.
    offset
        Of each curve in the section's second and third axis, mm, shape (m, 2).
    """

    shape: RodShape
    offset: Array

    def at(self, place: RodPlace, station: Array) -> CurvePoints:
        """Return the curves' points at stations of the material, mm, shape (m,).

        Beyond the rod's ends its last element goes on.
        """
        stations = self.shape.stations
        inside = np.searchsorted(stations, station, side="right") - 1
        element = np.clip(inside, 0, len(stations) - 2)
        length = self.shape.lengths[element]
        ends = self.shape.elements(place)
        first, last = ends.first[element], ends.last[element]
        t = (station - stations[element]) / length
        cubic = _cubic(t) / np.power.outer(length, np.arange(3)).T[:, :, None]
        share = cubic[:, :, :2]
        triads = np.stack([first, last], axis=1)
        handles = length[:, None, None] * triads[..., 0]
        offsets = np.einsum("mnij,mj->mni", triads[..., 1:], self.offset)
        arms = cubic[:, :, 2:, None] * handles + share[..., None] * offsets
        nodes = np.stack([ends.start[element], ends.end[element]], axis=1)
        path = np.einsum("omn,mni->omi", share, nodes) + arms.sum(axis=2)
        return CurvePoints(element, path, share, arms)


def _cubic(t: Array) -> Array:
    """Return Hermite's weights (start, end, handle, handle) and derivatives by t, (3, m, 4)."""
    return np.stack(
        [
            [1 - 3 * t**2 + 2 * t**3, 3 * t**2 - 2 * t**3, t - 2 * t**2 + t**3, t**3 - t**2],
            [-6 * t + 6 * t**2, 6 * t - 6 * t**2, 1 - 4 * t + 3 * t**2, 3 * t**2 - 2 * t],
            [-6 + 12 * t, 6 - 12 * t, -4 + 6 * t, 6 * t - 2],
        ]
    ).swapaxes(1, 2)
