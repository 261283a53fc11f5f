r"""Exact area of closed outlines in the cells of a raster.

Both outlines are cut into the slabs between all heights where anything happens (corners, crossings,
grid lines). Within a slab no edges cross, so it falls into trapezoids whose parts in each cell are
known exactly. Every slab is closed by construction: round-off moves areas by round-off, never
opens an outline.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gomphosis.fem.section import Array, Index

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Raster:
    """Lay square cells over a rectangle of the plane (x, z).

    Parameters
    ----------
    origin
        Lower left corner (x, z), mm.
    shape
        Number of cells along x and along z; cell arrays have this shape.
    spacing
        Side of a cell, mm.

    Raises
    ------
    ValueError
        If the spacing is not positive or a direction has no cell.
    """

    origin: tuple[float, float]
    shape: tuple[int, int]
    spacing: float = 0.1

    def __post_init__(self) -> None:
        if not (self.spacing > 0 and min(self.shape) >= 1 and np.all(np.isfinite(self.origin))):
            raise ValueError(
                "raster needs a finite origin, spacing > 0 mm and one cell or more each way; got "
                f"{self.origin}, {self.spacing}, {self.shape}"
            )

    @property
    def cell_area(self) -> float:
        """Area of a cell, mm^2."""
        return self.spacing**2

    def centres(self, axis: int) -> Array:
        """Return the centres of the cells along x (axis 0) or z (axis 1), mm."""
        return self.origin[axis] + self.spacing * (np.arange(self.shape[axis], dtype=float) + 0.5)

    def in_cells(self, points: Array) -> Array:
        """Return points, shape (2, ...), mm, in cell widths from the origin."""
        origin = np.asarray(self.origin).reshape(2, *[1] * (np.ndim(points) - 1))
        return (np.asarray(points, dtype=float) - origin) / self.spacing


@dataclass(frozen=True)
class Overlay:
    """Hold the share of each cell that two outlines cover, arrays of the raster's shape.

    Attributes
    ----------
    first_only, second_only, both
        Share of the cell inside the first outline alone, the second alone, and both.
    """

    first_only: Array
    second_only: Array
    both: Array


def coverage(raster: Raster, outline: Array) -> Array:
    """Return the share of each cell inside a closed outline, shape of the raster.

    Parameters
    ----------
    outline
        Corners in order, either way round, last joined to first; shape (2, n), mm.

    Raises
    ------
    ValueError
        If the outline has fewer than three corners or one that is not finite.
    """
    slabs = _slabs(raster, outline, outline[:, :0])
    return _filled(raster, slabs, slabs.inside[0])


def overlay(raster: Raster, first: Array, second: Array) -> Overlay:
    """Return the shares of each cell inside either or both of two closed outlines.

    Raises
    ------
    ValueError
        If an outline has fewer than three corners or one that is not finite.
    """
    slabs = _slabs(raster, first, second)
    one, two = slabs.inside
    return Overlay(
        _filled(raster, slabs, one & ~two),
        _filled(raster, slabs, two & ~one),
        _filled(raster, slabs, one & two),
    )


def enclosed_area(outline: Array) -> float:
    """Return the signed area of a closed outline, mm^2; positive counter-clockwise."""
    x, z = outline
    return 0.5 * float(np.sum(x * np.roll(z, -1) - np.roll(x, -1) * z))


def area_within(raster: Raster, outline: Array) -> float:
    """Return the area of the part of a closed outline within the raster, mm^2.

    Found by cutting the outline at the raster's four sides, without its cells.
    """
    x, z = raster.in_cells(outline)
    for limit in raster.shape:
        # clip along x, then swap so that z is clipped in the second round
        x, z = _kept_below(*_kept_below(-x, z, 0.0), float(limit), flip=True)
        x, z = z, x
    return abs(enclosed_area(np.stack([x, z]))) * raster.cell_area


def _kept_below(x: Array, z: Array, limit: float, *, flip: bool = False) -> tuple[Array, Array]:
    """Return the part of a closed outline at x <= limit; corners are put where it crosses."""
    x = -x if flip else x
    other_x, other_z = np.roll(x, -1), np.roll(z, -1)
    crosses = (x - limit) * (other_x - limit) < 0
    along = np.where(crosses, (limit - x) / np.where(crosses, other_x - x, 1.0), 0.0)
    corners = np.stack([x, np.where(crosses, limit, np.nan)], axis=1).ravel()
    heights = np.stack([z, z + along * (other_z - z)], axis=1).ravel()
    kept = corners <= limit
    return corners[kept], heights[kept]


def moved(outline: Array, motion: Array) -> Array:
    """Move points, shape (2, n), rigidly by (ux, uz, ry): mm, mm, rad about the origin.

    ry > 0 carries points above the origin towards +x.
    """
    ux, uz, turn = motion
    c, s = np.cos(turn), np.sin(turn)
    x, z = outline
    return np.stack([c * x + s * z + ux, c * z - s * x + uz])


@dataclass(frozen=True)
class _Slabs:
    """Edges cut into slabs, in cell widths, sorted from left to right within each slab.

    ``inside`` says for both outlines whether the place just right of the fragment is inside.
    """

    x: Array  # (2, n) at the lower and upper end
    row: Index
    height: Array
    inside: tuple[Flags, Flags]


def _slabs(raster: Raster, first: Array, second: Array) -> _Slabs:
    edges = [_edges(raster.in_cells(_checked(first)))]
    if second.shape[1]:
        edges.append(_edges(raster.in_cells(_checked(second))))
    rows = raster.shape[1]
    lines = np.arange(rows + 1.0)
    events = np.concatenate([lines, *(e[1] for e in edges), *(e[3] for e in edges), _meets(edges)])
    heights = np.unique(np.clip(events, 0.0, rows))
    both = np.concatenate(edges, axis=1)
    owner = np.repeat(np.arange(len(edges)), [e.shape[1] for e in edges])
    slab, edge = _spans(heights, both)
    x = _at(both[:, edge], np.stack([heights[slab], heights[slab + 1]]))
    order = np.lexsort((x.sum(axis=0), slab))
    slab, edge, x = slab[order], edge[order], x[:, order]
    # a slab is closed: the running sum over all slabs is the winding number within each
    one, two = (np.cumsum(both[4, edge] * (owner[edge] == k)) > 0.5 for k in (0, 1))
    height = heights[slab + 1] - heights[slab]
    return _Slabs(x, np.floor(heights[slab]).astype(np.int64), height, (one, two))


def _checked(outline: Array) -> Array:
    if outline.ndim != 2 or outline.shape[0] != 2 or outline.shape[1] < 3:
        raise ValueError(f"an outline needs shape (2, 3 or more), got {outline.shape}")
    if not np.all(np.isfinite(outline)):
        bad = int(np.flatnonzero(~np.isfinite(outline).all(axis=0))[0])
        raise ValueError(f"corner {bad} of the outline is not finite")
    return outline


def _edges(corners: Array) -> Array:
    """Return (x, z) of the lower end, of the upper end, and +1 on the left, -1 on the right."""
    other = np.roll(corners, -1, axis=1)
    kept = corners[1] != other[1]
    here, there = corners[:, kept], other[:, kept]
    falls = here[1] > there[1]
    left = np.where(falls, 1.0, -1.0) * np.sign(enclosed_area(corners) or 1.0)
    return np.vstack([np.where(falls, there, here), np.where(falls, here, there), left])


def _meets(edges: list[Array]) -> Array:
    """Return the heights at which edges of the first outline cross edges of the second."""
    if len(edges) < 2:
        return np.empty(0)
    a, b = edges[0][:, :, None], edges[1][:, None, :]
    lower, upper = np.maximum(a[1], b[1]), np.minimum(a[3], b[3])
    i, j = np.nonzero(upper > lower)
    ends = np.stack([lower[i, j], upper[i, j]])
    gap = _at(edges[0][:, i], ends) - _at(edges[1][:, j], ends)
    crossing = gap[0] * gap[1] < 0
    gap, ends = gap[:, crossing], ends[:, crossing]
    return ends[0] + (ends[1] - ends[0]) * gap[0] / (gap[0] - gap[1])


def _at(edges: Array, height: Array) -> Array:
    x0, z0, x1, z1 = edges[:4]
    return x0 + (x1 - x0) * ((height - z0) / (z1 - z0))


def _spans(heights: Array, edges: Array) -> tuple[Index, Index]:
    """Return (slab, edge) of every slab that an edge runs through."""
    last = len(heights) - 1
    start = np.minimum(np.searchsorted(heights, edges[1]), last)
    count = np.minimum(np.searchsorted(heights, edges[3]), last) - start
    edge = np.repeat(np.arange(edges.shape[1]), count)
    within = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    return np.repeat(start, count) + within, edge


def _filled(raster: Raster, slabs: _Slabs, inside: Flags) -> Array:
    """Add up the trapezoids between entering and leaving fragments, as shares of cells."""
    kept = np.flatnonzero(inside != np.concatenate([[False], inside[:-1]]))
    sign = np.where(inside[kept], 1.0, -1.0) * slabs.height[kept]
    piece, column, share, right = _by_column(np.sort(slabs.x[:, kept], axis=0))
    # columns outside the raster gather in one more on either side
    width = raster.shape[0] + 2
    place = slabs.row[kept][piece] * width + np.clip(column, -1, width - 2) + 1
    weight = sign[piece] * share
    size = width * raster.shape[1]
    own = np.bincount(place, weight * right, size).reshape(-1, width)
    passed = np.bincount(place, weight, size).reshape(-1, width)
    total = own[:, 1:-1] + np.cumsum(passed, axis=1)[:, :-2]
    return np.ascontiguousarray(np.clip(total, 0.0, 1.0).T, dtype=np.float64)


def _by_column(x: Array) -> tuple[Index, Index, Array, Array]:
    """Split fragments, ends x of shape (2, n) ascending, at the columns' borders.

    Returns fragment, column, share of the fragment's height, and share of that piece's column to
    the right of it.
    """
    first = np.floor(x[0]).astype(np.int64)
    count = np.floor(x[1]).astype(np.int64) - first + 1
    fragment = np.repeat(np.arange(len(first)), count)
    column = first[fragment] + np.arange(len(fragment)) - np.repeat(np.cumsum(count) - count, count)
    border = column.astype(float)
    low, high = np.maximum(x[0, fragment], border), np.minimum(x[1, fragment], border + 1)
    width = (x[1] - x[0])[fragment]
    upright = width == 0
    share = np.where(upright, 1.0, (high - low) / np.where(upright, 1.0, width))
    return fragment, column, share, border + 1 - 0.5 * (low + high)
