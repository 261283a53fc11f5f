"""A rod's smooth centre line as a whole, and other nodes along it."""

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import RodPlace, RodShape
from gomphosis.fem.rod_curve import VALUE, centre
from gomphosis.fem.section import Array

SAME = 1e-9  # mm between stations of one node


def resampled(shape: RodShape, place: RodPlace, stations: Array) -> RodPlace:
    """Return where nodes at other stations of the same rod are: on its centre line.

    Triads turn evenly from one end of an element to the other. A station that is a node keeps
    the node's triad.

    Parameters
    ----------
    stations
        Of the new nodes on the material, mm, shape (m,).
    """
    points = centre(shape, len(stations)).at(place, stations)
    old, element, ends = shape.stations, points.element, shape.elements(place)
    t = (stations - old[element]) / shape.lengths[element]
    first, last = ends.first[element], ends.last[element]
    turn = Rotation.from_matrix(np.swapaxes(first, 1, 2) @ last).as_rotvec()
    triads = first @ Rotation.from_rotvec(t[:, None] * turn).as_matrix()
    nearest = np.argmin(np.abs(stations[:, None] - old), axis=1)
    same = np.abs(stations - old[nearest]) < SAME
    triads[same] = place.triads[nearest[same]]
    return RodPlace(points.path[VALUE], triads)


def centre_line(shape: RodShape, place: RodPlace, *, per_element: int = 8) -> Array:
    """Return points along the whole centre line, mm, shape (m, 3)."""
    share = np.arange(per_element) / per_element
    stations = (shape.stations[:-1, None] + share * shape.lengths[:, None]).ravel()
    points = centre(shape, len(stations)).at(place, stations).path[VALUE]
    return np.concatenate([points, place.nodes[-1:]])
