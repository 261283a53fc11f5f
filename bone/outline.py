"""Closed outlines in a plane: checking one, and finding its sides."""

import numpy as np

from gomphosis.fem.section import Array


def checked_outline(points: Array, name: str) -> Array:
    """Return a closed outline without the repeated last point, or refuse it.

    Parameters
    ----------
    points
        Corners in order, shape (2, n), mm; the last may repeat the first.
    name
        Of the outline, for messages.

    Raises
    ------
    ValueError
        If it has fewer than three corners, one that is not finite, two equal neighbours, or
        crosses itself; the message names the corner and the place.
    """
    corners = np.asarray(points, dtype=float)
    if corners.ndim != 2 or corners.shape[0] != 2:
        raise ValueError(f"{name}: an outline needs shape (2, n), got {corners.shape}")
    if corners.shape[1] > 1 and np.array_equal(corners[:, 0], corners[:, -1]):
        corners = corners[:, :-1]
    if corners.shape[1] < 3:
        raise ValueError(f"{name}: an outline needs three corners, got {corners.shape[1]}")
    finite = np.isfinite(corners).all(axis=0)
    if not finite.all():
        raise ValueError(f"{name}: corner {int(np.argmin(finite)) + 1} is not finite")
    same = (corners == np.roll(corners, -1, axis=1)).all(axis=0)
    if same.any():
        raise ValueError(
            f"{name}: corner {int(np.argmax(same)) + 1} is repeated{_at(corners, same)}"
        )
    _refuse_crossing(corners, name)
    return corners


def side_at(outline: Array, z: Array, side: int) -> Array:
    """Return x in mm of an outline's outermost point at heights z, towards side +1 or -1.

    Raises
    ------
    ValueError
        If the outline does not reach a height.
    """
    x0, z0 = outline
    x1, z1 = np.roll(outline, -1, axis=1)
    height = np.asarray(z, dtype=float)[..., None]
    meets = (np.minimum(z0, z1) <= height) & (height <= np.maximum(z0, z1))
    if not meets.any(axis=-1).all():
        raise ValueError(f"outline from {z0.min()} to {z0.max()} mm does not reach all heights")
    level = z1 == z0
    along = np.where(level, 0.0, (height - z0) / np.where(level, 1.0, z1 - z0))
    # of a level edge the first corner; its other is the first of the next edge
    reach = side * (x0 + along * (x1 - x0))
    return side * np.where(meets, reach, -np.inf).max(axis=-1)


def _refuse_crossing(corners: Array, name: str) -> None:
    other = np.roll(corners, -1, axis=1)
    a, b = corners[:, :, None], other[:, :, None]
    c, d = corners[:, None, :], other[:, None, :]
    apart = (_turn(a, b, c) * _turn(a, b, d) < 0) & (_turn(c, d, a) * _turn(c, d, b) < 0)
    if apart.any():
        i, j = np.argwhere(apart)[0]
        x, z = 0.5 * (corners[:, i] + other[:, i])
        raise ValueError(
            f"{name}: the outline crosses itself between corners {i + 1} and {j + 1}, near "
            f"x {x:.3f}, z {z:.3f} mm"
        )


def _turn(a: Array, b: Array, c: Array) -> Array:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _at(corners: Array, chosen: Array) -> str:
    x, z = corners[:, int(np.argmax(chosen))]
    return f", at x {x:.3f}, z {z:.3f} mm"
