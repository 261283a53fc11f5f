"""Closed outlines in a plane: orientation, crossings of two, and distance outside one."""

import numpy as np

from gomphosis.fem.section import Array, Index

SLACK = 1e-10  # in shares of an edge, so that rounding loses no crossing at a corner


def counter_clockwise(outline: Array) -> tuple[Array, bool]:
    """Return a closed outline, shape (2, n), run counter-clockwise, and whether it was turned."""
    x, z = outline
    doubled = np.sum(x * np.roll(z, -1) - np.roll(x, -1) * z)
    return (outline, False) if doubled > 0 else (outline[:, ::-1], True)


def crossings(first: Array, second: Array) -> tuple[Index, Array]:
    """Return where a closed outline crosses another.

    Returns
    -------
    Two arrays: the corner of the first outline before each crossing, and places (2, m) in mm, in
    order along the first outline.
    """
    a, b = first[:, :, None], second[:, None, :]
    along, other = np.roll(first, -1, axis=1)[:, :, None] - a, np.roll(second, -1, 1)[:, None] - b
    cross = along[0] * other[1] - along[1] * other[0]
    parallel = cross == 0.0
    safe = np.where(parallel, 1.0, cross)
    gap = b - a
    s = (gap[0] * other[1] - gap[1] * other[0]) / safe
    t = (gap[0] * along[1] - gap[1] * along[0]) / safe
    met = ~parallel & (np.abs(s - 0.5) <= 0.5 + SLACK) & (np.abs(t - 0.5) <= 0.5 + SLACK)
    corner, edge = np.nonzero(met)
    order = np.lexsort([s[corner, edge], corner])
    corner, edge = corner[order], edge[order]
    place = first[:, corner] + s[corner, edge] * along[:, corner, 0]
    # a crossing at a corner is found on both of its edges
    apart = np.linalg.norm(place[:, :, None] - place[:, None, :], axis=0)
    same = apart < 1e-9 * np.ptp(first, axis=1).max()
    kept = ~np.triu(same, 1).any(axis=0)
    return corner[kept], place[:, kept]


def outside_by(points: Array, outline: Array) -> Array:
    """Return how far points (2, m) lie outside a closed outline, mm; negative inside."""
    start = outline[:, None, :]
    step = np.roll(outline, -1, axis=1)[:, None, :] - start
    gap = points[:, :, None] - start
    length = np.sum(step**2, axis=0)
    share = np.clip(np.sum(gap * step, axis=0) / length, 0.0, 1.0)
    distance = np.linalg.norm(gap - share * step, axis=0).min(axis=1)
    end = start[1] + step[1]
    straddles = (start[1] > points[1][:, None]) != (end > points[1][:, None])
    height = np.where(step[1] == 0.0, 1.0, step[1])
    x = start[0] + (points[1][:, None] - start[1]) / height * step[0]
    inside = np.sum(straddles & (points[0][:, None] < x), axis=1) % 2 == 1
    return np.where(inside, -distance, distance)
