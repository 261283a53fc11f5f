"""Linear elastic Euler-Bernoulli beams in space, small rotations: stiffness of a polyline.

Node freedoms are (ux, uy, uz, rx, ry, rz), mm and rad. A straight element with end loads is
exact; a curve is followed by short straight elements.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array

FREEDOMS = 6


@dataclass(frozen=True)
class BeamSection:
    """Stiffness of a beam's section.

    Parameters
    ----------
    stretching
        E A in N.
    bending_first, bending_second
        E I in N·mm^2 for deflection along the first and the second transverse axis.
    twisting
        G J in N·mm^2.
    """

    stretching: float
    bending_first: float
    bending_second: float
    twisting: float


def frames(nodes: Array, up: Array) -> Array:
    """Return each element's axes (tangent, first, second) as rows, shape (n - 1, 3, 3).

    Parameters
    ----------
    nodes
        Polyline in mm, shape (n, 3).
    up
        Unit vector of the second transverse axis, perpendicular to every element, shape (3,).
    """
    step = np.diff(nodes, axis=0)
    tangent = np.asarray(step / np.linalg.norm(step, axis=1)[:, None], dtype=float)
    second = np.broadcast_to(up, tangent.shape)
    return np.stack([tangent, np.cross(second, tangent), second], axis=1)


def assemble_beam(nodes: Array, section: BeamSection, *, up: Array) -> Array:
    """Return the stiffness matrix of a polyline, shape (6 n, 6 n), in global axes."""
    axes = frames(nodes, up)
    length = np.linalg.norm(np.diff(nodes, axis=0), axis=1)
    size = FREEDOMS * len(nodes)
    total = np.zeros((size, size))
    for element, (axis, span) in enumerate(zip(axes, length, strict=True)):
        turn = np.kron(np.eye(4), axis)
        block = slice(FREEDOMS * element, FREEDOMS * (element + 2))
        total[block, block] += turn.T @ element_stiffness(section, float(span)) @ turn
    return total


def element_stiffness(section: BeamSection, length: float) -> Array:
    """Return the stiffness of one element in its own axes, shape (12, 12)."""
    k = np.zeros((12, 12))
    _spring(k, (0, 6), section.stretching / length)
    _spring(k, (3, 9), section.twisting / length)
    # deflection along the first axis goes with +rotation about the second
    _bend(k, (1, 5, 7, 11), section.bending_first, length, sign=1.0)
    _bend(k, (2, 4, 8, 10), section.bending_second, length, sign=-1.0)
    return k


def _spring(k: Array, ends: tuple[int, int], rate: float) -> None:
    k[np.ix_(ends, ends)] += rate * np.array([[1.0, -1.0], [-1.0, 1.0]])


def _bend(
    k: Array, freedoms: tuple[int, int, int, int], rigidity: float, length: float, *, sign: float
) -> None:
    a, b = 6 * sign * length, 2 * length**2
    pattern = np.array([[12, a, -12, a], [a, 2 * b, -a, b], [-12, -a, 12, -a], [a, b, -a, 2 * b]])
    k[np.ix_(freedoms, freedoms)] += rigidity / length**3 * pattern


def deflected(nodes: Array, displacement: Array, *, per_element: int = 8) -> Array:
    """Return the smooth deflected centre line, shape (m, 3), by cubic interpolation.

    Parameters
    ----------
    displacement
        Node freedoms, shape (n, 6).
    """
    t = np.linspace(0.0, 1.0, per_element, endpoint=False)[:, None]
    value = (1 - 3 * t**2 + 2 * t**3, t - 2 * t**2 + t**3, 3 * t**2 - 2 * t**3, t**3 - t**2)
    pieces = []
    for a, b in zip(range(len(nodes) - 1), range(1, len(nodes)), strict=True):
        chord = nodes[b] - nodes[a]
        slopes = [np.cross(displacement[k, 3:], chord) for k in (a, b)]
        move = (
            value[0] * displacement[a, :3]
            + value[1] * slopes[0]
            + value[2] * displacement[b, :3]
            + value[3] * slopes[1]
        )
        pieces.append(nodes[a] + t * chord + move)
    pieces.append(nodes[-1:] + displacement[-1:, :3])
    return np.concatenate(pieces)
