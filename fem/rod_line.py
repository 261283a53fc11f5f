"""Points of a rod's smooth centre line between its nodes, and how they follow the nodes."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import RodPlace, RodShape
from gomphosis.fem.rod_element import FREEDOMS, SPINS, skew
from gomphosis.fem.section import Array

SAME = 1e-9  # mm between stations of one node


@dataclass(frozen=True)
class LinePoint:
    """A point of the centre line: cubic between nodes, along the triads' tangents at them.

    Attributes
    ----------
    element
        That it lies in.
    point, slope, bend
        Place in mm and its first and second derivative by arc length, shape (3,).
    follow, follow_slope
        Derivative of place and of slope by displacements and spins of the element's ends,
        shape (3, 12).
    arms
        From either node to its tangent's handle, times the cubic's weights, shape (2, 3).
    """

    element: int
    point: Array
    slope: Array
    bend: Array
    follow: Array
    follow_slope: Array
    arms: Array

    def load_slope(self, force: Array) -> Array:
        """Return the derivative of followᵀ force by the ends' motions, shape (12, 12)."""
        result = np.zeros((FREEDOMS, FREEDOMS))
        for spin, arm in zip(SPINS, self.arms, strict=True):
            # the moment arm × force, with the arm turning along
            result[spin, spin] = skew(force) @ skew(arm)
        return result


def line_point(shape: RodShape, place: RodPlace, station: float) -> LinePoint:
    """Return the point at a station of the material, mm.

    Raises
    ------
    ValueError
        If the station is not on the rod.
    """
    stations = shape.stations
    if not stations[0] <= station <= stations[-1]:
        raise ValueError(
            f"station {station:.4g} mm is not on a rod from {stations[0]:.4g} to "
            f"{stations[-1]:.4g} mm"
        )
    element = min(int(np.searchsorted(stations, station, side="right")) - 1, len(stations) - 2)
    length = float(shape.lengths[element])
    ends = shape.elements(place)
    handles = length * np.stack([ends.first[element, :, 0], ends.last[element, :, 0]])
    nodes = np.stack([ends.start[element], ends.end[element]])
    value, slope, bend = _cubic((station - stations[element]) / length)
    return LinePoint(
        element=element,
        point=value[:2] @ nodes + value[2:] @ handles,
        slope=(slope[:2] @ nodes + slope[2:] @ handles) / length,
        bend=(bend[:2] @ nodes + bend[2:] @ handles) / length**2,
        follow=_follow(value, handles),
        follow_slope=_follow(slope, handles) / length,
        arms=value[2:, None] * handles,
    )


def _cubic(t: float) -> tuple[Array, Array, Array]:
    """Return Hermite's weights (start, end, handle, handle) and two derivatives by t."""
    value = _weights(np.asarray(t))
    slope = np.array([-6 * t + 6 * t**2, 6 * t - 6 * t**2, 1 - 4 * t + 3 * t**2, 3 * t**2 - 2 * t])
    return value, slope, np.array([-6 + 12 * t, 6 - 12 * t, -4 + 6 * t, 6 * t - 2])


def _weights(t: Array) -> Array:
    return np.stack(
        [1 - 3 * t**2 + 2 * t**3, 3 * t**2 - 2 * t**3, t - 2 * t**2 + t**3, t**3 - t**2]
    )


def _follow(weight: Array, handles: Array) -> Array:
    """Return the derivative of a weighed sum of nodes and handles by the ends' motions."""
    result = np.zeros((3, FREEDOMS))
    for end, spin in enumerate(SPINS):
        result[:, 6 * end : 6 * end + 3] = weight[end] * np.eye(3)
        result[:, spin] = -weight[2 + end] * skew(handles[end])
    return result


def resampled(shape: RodShape, place: RodPlace, stations: Array) -> RodPlace:
    """Return where nodes at other stations of the same rod are: on its centre line.

    Triads turn evenly from one end of an element to the other. A station that is a node keeps
    the node's triad.
    """
    old = shape.stations
    element = np.clip(np.searchsorted(old, stations, side="right") - 1, 0, len(old) - 2)
    ends, length = shape.elements(place), shape.lengths[element, None]
    t = (stations - old[element]) / shape.lengths[element]
    value = _weights(t)[:, :, None]
    first, last = ends.first[element], ends.last[element]
    nodes = value[0] * ends.start[element] + value[1] * ends.end[element]
    nodes += length * (value[2] * first[:, :, 0] + value[3] * last[:, :, 0])
    turn = Rotation.from_matrix(np.swapaxes(first, 1, 2) @ last).as_rotvec()
    triads = first @ Rotation.from_rotvec(t[:, None] * turn).as_matrix()
    nearest = np.argmin(np.abs(stations[:, None] - old), axis=1)
    same = np.abs(stations - old[nearest]) < SAME
    triads[same] = place.triads[nearest[same]]
    return RodPlace(nodes, triads)


def centre_line(shape: RodShape, place: RodPlace, *, per_element: int = 8) -> Array:
    """Return points along the whole centre line, mm, shape (m, 3)."""
    ends = shape.elements(place)
    length = shape.lengths[:, None]
    start, end = length * ends.first[:, :, 0], length * ends.last[:, :, 0]
    pieces = []
    for t in np.arange(per_element) / per_element:
        a, b, c, d = _cubic(float(t))[0]
        pieces.append(a * ends.start + b * ends.end + c * start + d * end)
    points = np.stack(pieces, axis=1).reshape(-1, 3)
    return np.concatenate([points, place.nodes[-1:]])
