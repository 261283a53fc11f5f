"""Points of curves that run along a rod at a distance, and how they follow its nodes.

A curve keeps its place in the rod's section: the centre line itself, or the line along which an
edge of a rectangular rod is rounded. The centre line is a cubic between nodes, along the triads'
tangents at them; what a curve is off it goes from one end of an element to the other with a
smooth start and end, so that the curve has no corners at nodes, where edges of slots stand at
first.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.rod import RodPlace, RodShape
from gomphosis.fem.rod_element import FREEDOMS, cross
from gomphosis.fem.section import Array, Index

VALUE, SLOPE, BEND = range(3)  # a point and its derivatives by arc length
ENDS = 2  # of an element
# Hermite's cubics of t: start, end, handle at the start, handle at the end, by powers of t;
# then their first and second derivative
_VALUE = np.array([[1.0, 0, -3, 2], [0, 0, 3, -2], [0, 1, -2, 1], [0, 0, -1, 1]])
_FALL = np.diag([1.0, 2.0, 3.0], k=-1)  # d(powers)/dt in powers
HERMITE = np.stack([_VALUE, _VALUE @ _FALL, _VALUE @ _FALL @ _FALL])


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

        It is also the load on the nodes of a force of that direction on the point itself. One
        point takes any number of directions.

        Parameters
        ----------
        order
            0 for the point, 1 and 2 for its derivatives by the station.
        """
        result = np.empty((len(direction), ENDS, 2, 3))
        result[:, :, 0] = self.weight[order, :, :, None] * direction[:, None]
        result[:, :, 1] = cross(self.arms[order], direction[:, None])
        return result.reshape(-1, FREEDOMS)

    def turned(self, order: int, direction: Array) -> Array:
        """Return the derivative of `pulled` by the nodes' motions, shape (m, 12, 12)."""
        # the moment arm × force, with the arm turning along
        arm, along = self.arms[order], direction[:, None]
        block = arm[..., :, None] * along[..., None, :]
        block -= np.sum(arm * along, axis=-1)[..., None, None] * np.eye(3)
        result = np.zeros((len(direction), ENDS, 2, 3, ENDS, 2, 3))
        for end in range(ENDS):
            result[:, end, 1, :, end, 1] = block[:, end]
        return result.reshape(-1, FREEDOMS, FREEDOMS)


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

    def elements(self, station: Array) -> Index:
        """Return the elements of stations of the material, mm; the last ones beyond the ends."""
        stations = self.shape.stations
        inside = np.searchsorted(stations, station, side="right") - 1
        return np.minimum(np.maximum(inside, 0), len(stations) - 2)

    def into(self, element: Index, station: Array) -> Array:
        """Return how far stations are into their elements, mm."""
        return station - self.shape.stations[element]

    def at(self, place: RodPlace, station: Array) -> CurvePoints:
        """Return the curves' points at stations of the material, mm, shape (m,).

        Beyond the rod's ends its last element goes on.
        """
        element = self.elements(station)
        length = self.shape.lengths[element]
        nodes, handles, offsets = self._ends(place, element)
        cubic = _cubic(self.into(element, station) / length)
        cubic[SLOPE] /= length[:, None]
        cubic[BEND] /= (length * length)[:, None]
        share = cubic[:, :, :ENDS]
        arms = cubic[:, :, ENDS:, None] * handles + share[..., None] * offsets
        path = np.sum(share[..., None] * nodes + arms, axis=2)
        return CurvePoints(element, path, share, arms)

    def powers(self, place: RodPlace, element: Index) -> Array:
        """Return the curves within elements as cubics of the way into them, shape (m, 4, 3).

        Coefficients go with the powers 0 to 3 of that way in mm.
        """
        nodes, handles, offsets = self._ends(place, element)
        ends = np.concatenate([nodes + offsets, handles], axis=1)
        scale = self.shape.lengths[element, None] ** -np.arange(4.0)
        return scale[:, :, None] * (HERMITE[VALUE].T @ ends)

    def _ends(self, place: RodPlace, element: Index) -> tuple[Array, Array, Array]:
        """Return nodes, handles and the curves' offsets at both ends, each (m, 2, 3)."""
        ends = self.shape.elements(place)
        nodes = np.empty((len(element), ENDS, 3))
        nodes[:, 0], nodes[:, 1] = ends.start[element], ends.end[element]
        triads = np.empty((len(element), ENDS, 3, 3))
        triads[:, 0], triads[:, 1] = ends.first[element], ends.last[element]
        handles = self.shape.lengths[element, None, None] * triads[..., 0]
        second, third = self.offset[:, 0, None, None], self.offset[:, 1, None, None]
        return nodes, handles, second * triads[..., 1] + third * triads[..., 2]


def centre(shape: RodShape, count: int = 1) -> Curves:
    """Return a rod's centre line, as often as points of it are asked for."""
    return Curves(shape, np.zeros((count, 2)))


def centre_point(shape: RodShape, place: RodPlace, station: float) -> CurvePoints:
    """Return the one point of the centre line at a station of the material, mm.

    Raises
    ------
    ValueError
        If the station is not on the rod.
    """
    first, last = shape.stations[[0, -1]]
    if not first <= station <= last:
        raise ValueError(
            f"station {station:.4g} mm is not on a rod from {first:.4g} to {last:.4g} mm"
        )
    return centre(shape).at(place, np.array([station]))


def _cubic(t: Array) -> Array:
    """Return Hermite's weights (start, end, handle, handle) and derivatives by t, (3, m, 4)."""
    powers = np.empty((len(t), 4))
    powers[:, 0], powers[:, 1] = 1.0, t
    powers[:, 2] = t * t
    powers[:, 3] = powers[:, 2] * t
    return powers @ np.swapaxes(HERMITE, 1, 2)
