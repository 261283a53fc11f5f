r"""Strain measures of a slender rod's element, free of rigid motion, with both derivatives.

An element joins two nodes that carry triads (tangent, second, third axis of the section). All it
measures are the chord's length, the chord's components in each end's own triad, and the relative
rotation of the triads; a rigid motion changes none of them. From these follow, with angles to the
third order (exact to the fifth for an arc of a circle),

- the stretch of the centre line, the chord's own plus the mean of half the squared slope;
- the slopes of the centre line against the chord at both ends, about two axes;
- the twist from end to end.

Derivatives are by the nodes' displacements and spins in space, (dx, w) with dT = w × T. As spins
do not commute, the second derivative is symmetric only in equilibrium without applied moments.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array

MEASURES = 6  # stretch, slopes (2nd, 3rd) at the start, slopes at the end, twist
FREEDOMS = 12  # displacement and spin of the start, of the end
START, END = slice(0, 3), slice(6, 9)
SPINS = (slice(3, 6), slice(9, 12))


def skew(vector: Array) -> Array:
    """Return the matrices of the cross product with vectors of shape (..., 3)."""
    result = np.zeros((*vector.shape, 3))
    x, y, z = vector[..., 0], vector[..., 1], vector[..., 2]
    result[..., 2, 1], result[..., 1, 2] = x, -x
    result[..., 0, 2], result[..., 2, 0] = y, -y
    result[..., 1, 0], result[..., 0, 1] = z, -z
    return result


def cross(one: Array, other: Array) -> Array:
    """Return one × other, shape (..., 3); several times as fast as numpy's for few vectors."""
    result = np.empty(np.broadcast_shapes(one.shape, other.shape))
    a, b, c = one[..., 0], one[..., 1], one[..., 2]
    x, y, z = other[..., 0], other[..., 1], other[..., 2]
    result[..., 0] = b * z - c * y
    result[..., 1] = c * x - a * z
    result[..., 2] = a * y - b * x
    return result


# half differences of products of axes that make the sines of a relative rotation
_PAIRS = 0.5 * skew(np.eye(3))


@dataclass(frozen=True)
class Elements:
    """Place of n elements' ends.

    Parameters
    ----------
    start, end
        Ends in mm, shape (n, 3).
    first, last
        Triads of the ends as columns (tangent, second, third), shape (n, 3, 3).
    """

    start: Array
    end: Array
    first: Array
    last: Array


@dataclass(frozen=True)
class Measured:
    """Measures of n elements and what their derivatives need.

    Attributes
    ----------
    values
        Chord length in mm, four slopes in rad, twist in rad, shape (n, 6).
    slope
        Their derivative by (dx, w) of both ends, shape (n, 6, 12).
    elements, chord
        What was measured, and the chords' directions, shape (n, 3).
    tilt, tilt_slope
        The chord in each end's second and third axis, shape (n, 2, 2), and its derivative.
    turn, turn_slope
        Sines of the relative rotation about the three axes, shape (n, 3), and their derivative.
    """

    values: Array
    slope: Array
    elements: Elements
    chord: Array
    tilt: Array
    tilt_slope: Array
    turn: Array
    turn_slope: Array


def measure(elements: Elements) -> Measured:
    """Return the measures of elements and their first derivatives."""
    span = elements.end - elements.start
    length = np.sqrt(np.einsum("ni,ni->n", span, span))
    chord = span / length[:, None]
    axes = np.stack([elements.first, elements.last], axis=1)[..., 1:].swapaxes(2, 3)
    tilt = np.einsum("neji,ni->nej", axes, chord)
    tilt_slope = _tilt_slope(axes, chord, tilt, length)
    relative = np.swapaxes(elements.first, 1, 2) @ elements.last
    turn = -0.5 * _axial(relative)
    turn_slope = _turn_slope(elements)
    values = np.empty((len(length), MEASURES))
    values[:, 0] = length
    values[:, 1:5] = (-tilt * _angle(tilt)).reshape(-1, 4)
    values[:, 5] = turn[:, 0] * _angle(turn)[:, 0]
    slope = np.zeros((len(length), MEASURES, FREEDOMS))
    slope[:, 0, START], slope[:, 0, END] = -chord, chord
    slope[:, 1:5] = -(_angle_slope(tilt) @ tilt_slope).reshape(-1, 4, FREEDOMS)
    slope[:, 5] = np.einsum("nk,nkf->nf", _angle_slope(turn)[:, 0], turn_slope)
    return Measured(values, slope, elements, chord, tilt, tilt_slope, turn, turn_slope)


def _tilt_slope(axes: Array, chord: Array, tilt: Array, length: Array) -> Array:
    """Return the derivative of both ends' tilts, shape (n, 2, 2, 12)."""
    across = (axes - tilt[..., None] * chord[:, None, None, :]) / length[:, None, None, None]
    result = np.zeros((*tilt.shape, FREEDOMS))
    result[..., START], result[..., END] = -across, across
    spun = axes @ skew(chord)[:, None]  # axis × chord
    for end, spin in enumerate(SPINS):
        result[:, end, :, spin] = spun[:, end]
    return result


def _turn_slope(elements: Elements) -> Array:
    """Return the derivative of the three sines of relative rotation, shape (n, 3, 12)."""
    # first · W_k · lastᵀ is a sum of products a bᵀ of axes whose a · b make up the k-th sine
    pairs = elements.first[:, None] @ (_PAIRS @ np.swapaxes(elements.last, 1, 2)[:, None])
    spin = _axial(pairs)
    result = np.zeros((*spin.shape[:-1], FREEDOMS))
    result[..., SPINS[0]], result[..., SPINS[1]] = spin, -spin
    return result


def _angle(sine: Array) -> Array:
    """Return angle over sine, to the second order, of vectors of sines: (..., k) to (..., 1)."""
    return 1.0 + np.sum(sine * sine, axis=-1, keepdims=True) / 6.0


def _angle_slope(sine: Array) -> Array:
    """Return d(angle)/d(sine) of vectors of sines, shape (..., k, k)."""
    outer = sine[..., :, None] * sine[..., None, :] / 3.0
    return _angle(sine)[..., None] * np.eye(sine.shape[-1]) + outer


def _angle_curve(sine: Array, force: Array) -> Array:
    """Return force · d²(angle)/d(sine)², shape (..., k, k)."""
    dot = np.sum(sine * force, axis=-1)[..., None, None]
    pair = sine[..., :, None] * force[..., None, :]
    return (pair + np.swapaxes(pair, -1, -2) + dot * np.eye(sine.shape[-1])) / 3.0


def _axial(matrix: Array) -> Array:
    """Return the sum of a × b for a matrix that is a sum of a bᵀ, shape (..., 3)."""
    return np.stack(
        [
            matrix[..., 1, 2] - matrix[..., 2, 1],
            matrix[..., 2, 0] - matrix[..., 0, 2],
            matrix[..., 0, 1] - matrix[..., 1, 0],
        ],
        axis=-1,
    )


def second_derivative(measured: Measured, force: Array) -> Array:
    """Return force · d²(measures), shape (n, 12, 12), for forces of shape (n, 6)."""
    chord, length = measured.chord, measured.values[:, 0]
    normal = np.eye(3) - chord[:, :, None] * chord[:, None, :]
    on_tilt = -force[:, 1:5].reshape(-1, 2, 2)
    on_turn = np.zeros_like(measured.turn)
    on_turn[:, 0] = force[:, 5]
    result = _curved(measured.tilt, measured.tilt_slope, on_tilt).sum(axis=1)
    result += _curved(measured.turn, measured.turn_slope, on_turn)
    by_tilt = np.einsum("neij,nei->nej", _angle_slope(measured.tilt), on_tilt)
    spread = (force[:, 0] / length)[:, None, None] * normal
    for end, triad in enumerate((measured.elements.first, measured.elements.last)):
        axis = np.einsum("nij,nj->ni", triad[:, :, 1:], by_tilt[:, end])
        spread = spread + _add_tilt(result, axis, chord, length, SPINS[end])
    result[:, START, START] += spread
    result[:, END, END] += spread
    result[:, START, END] -= spread
    result[:, END, START] -= spread
    _add_turn(result, measured, force[:, 5, None] * _angle_slope(measured.turn)[:, 0])
    return result


def _curved(sine: Array, slope: Array, force: Array) -> Array:
    """Return the part of the second derivative that stems from angle over sine."""
    return np.swapaxes(slope, -1, -2) @ _angle_curve(sine, force) @ slope


def _add_tilt(result: Array, axis: Array, chord: Array, length: Array, spin: slice) -> Array:
    """Add the spin parts of d²(axis · chord); return the part by the chord's ends, (n, 3, 3)."""
    along = np.einsum("ni,ni->n", axis, chord)[:, None, None]
    normal = np.eye(3) - chord[:, :, None] * chord[:, None, :]
    over = length[:, None, None]
    mixed = -normal @ skew(axis) / over
    result[:, START, spin] -= mixed
    result[:, END, spin] += mixed
    result[:, spin, START] -= np.swapaxes(mixed, 1, 2)
    result[:, spin, END] += np.swapaxes(mixed, 1, 2)
    result[:, spin, spin] += axis[:, :, None] * chord[:, None, :] - along * np.eye(3)
    pair = chord[:, :, None] * (axis - along[..., 0] * chord)[:, None, :]
    return -(pair + np.swapaxes(pair, 1, 2) + along * normal) / over**2


def _add_turn(result: Array, measured: Measured, weight: Array) -> None:
    """Add weight · d²(sines of relative rotation)."""
    elements = measured.elements
    total = elements.first @ (0.5 * skew(weight)) @ np.swapaxes(elements.last, 1, 2)
    total = total - np.trace(total, axis1=1, axis2=2)[:, None, None] * np.eye(3)
    turned = np.swapaxes(total, 1, 2)
    one, two = SPINS
    result[:, one, one] += total
    result[:, two, two] += turned
    result[:, one, two] -= turned
    result[:, two, one] -= total
