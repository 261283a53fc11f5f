"""Trade words of direction, and their mapping from the frame of one tooth.

The tooth frame is right-handed with its origin on the long axis at the bone crest: x points
labially (buccally), z from apex to crown, and y = z × x. With z, x fixed by the tooth itself, y is
mesial on one side of each arch and distal on the other: ``mesial = s * y`` with s = -1 in
quadrants 1 and 3 and s = +1 in quadrants 2 and 4 (the patient's right above, left below).

A six-vector is (ux, uy, uz, rx, ry, rz) or (Fx, Fy, Fz, Mx, My, Mz). In trade words it reads, in
this order,

    extrusion, labial, mesial                    = z, x, s*y
    angulation | tip moment     (crown mesial +) = -s * about x
    inclination | torque moment (crown labial +) = about y
    rotation | rotation moment  (mesiolingual +) = s * about z

Intrusion, lingual (palatal) and distal are the negative senses. Values keep their unit.

Source: the words are common practice, no source; tooth numbers are those of ISO 3950.
"""

import numpy as np
import numpy.typing as npt

FORCE_WORDS = ("extrusion", "labial", "mesial")
MOMENT_WORDS = ("tip_moment", "torque_moment", "rotation_moment")
ORIENTATION_WORDS = ("angulation", "inclination", "rotation")

_MESIAL_SIGN = {1: -1, 2: +1, 3: -1, 4: +1}
_MIRROR_QUADRANT = {1: 2, 2: 1, 3: 4, 4: 3}


def quadrant_and_position(number: int) -> tuple[int, int]:
    """Split an ISO 3950 number of a permanent tooth into quadrant and position.

    Parameters
    ----------
    number
        11 to 18, 21 to 28, 31 to 38 or 41 to 48.

    Returns
    -------
    tuple of int
        Quadrant 1 to 4 and position 1 to 8, counted from the midline.

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth.
    """
    quadrant, position = divmod(number, 10)
    if quadrant not in _MESIAL_SIGN or position not in range(1, 9):
        raise ValueError(
            f"tooth number {number!r} is not a permanent tooth of ISO 3950: "
            "expected 11 to 18, 21 to 28, 31 to 38 or 41 to 48"
        )
    return quadrant, position


def arch_side(number: int) -> int:
    """Return the sign s for which mesial is ``s * y`` in the frame of this tooth.

    Returns
    -------
    int
        -1 in quadrants 1 and 3, +1 in quadrants 2 and 4.

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth.
    """
    quadrant, _ = quadrant_and_position(number)
    return _MESIAL_SIGN[quadrant]


def mirror_number(number: int) -> int:
    """Return the same tooth on the other side of the same arch (11 and 21, 33 and 43).

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth.

    Examples
    --------
    >>> mirror_number(14)
    24
    """
    quadrant, position = quadrant_and_position(number)
    return 10 * _MIRROR_QUADRANT[quadrant] + position


def trade_matrix(number: int) -> npt.NDArray[np.float64]:
    """Return the orthogonal matrix T with ``words = T @ six`` for this tooth.

    Returns
    -------
    ndarray, shape (6, 6)
        Rows in the order extrusion, labial, mesial, angulation (tip), inclination (torque),
        rotation; columns in the order of the tooth frame.

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth.
    """
    side = arch_side(number)
    matrix = np.zeros((6, 6))
    matrix[0, 2] = 1.0
    matrix[1, 0] = 1.0
    matrix[2, 1] = side
    matrix[3, 3] = -side
    matrix[4, 4] = 1.0
    matrix[5, 5] = side
    return matrix


def to_trade(number: int, six: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Turn six-vectors of the tooth frame into trade words.

    Parameters
    ----------
    number
        ISO 3950 number of the tooth.
    six
        Shape (..., 6): displacements (mm) and rotations (rad), or forces (N) and moments (N·mm),
        along and about x, y, z.

    Returns
    -------
    ndarray, shape (..., 6)
        Extrusion, labial, mesial, then angulation (tip), inclination (torque), rotation; same
        units.

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth or the last axis is not six long.

    Examples
    --------
    >>> to_trade(11, np.array([0.0, -0.5, 0.0, 0.0, 0.0, 0.0])).tolist()[2]
    0.5
    """
    return _six(six, "six") @ trade_matrix(number).T


def from_trade(number: int, words: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Turn trade words into six-vectors of the tooth frame: the inverse of `to_trade`.

    Parameters
    ----------
    number
        ISO 3950 number of the tooth.
    words
        Shape (..., 6) in the order extrusion, labial, mesial, angulation (tip), inclination
        (torque), rotation; mm and rad, or N and N·mm.

    Returns
    -------
    ndarray, shape (..., 6)
        Components along and about x, y, z; same units.

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth or the last axis is not six long.
    """
    return _six(words, "words") @ trade_matrix(number)


def _six(values: npt.ArrayLike, name: str) -> npt.NDArray[np.float64]:
    array = np.asarray(values, dtype=np.float64)
    if array.ndim == 0 or array.shape[-1] != 6:
        raise ValueError(f"{name} has shape {array.shape}: expected a last axis of length 6")
    return array
