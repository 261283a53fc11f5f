"""Join structured blocks of nine-node quadrilaterals along the sides that they share."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array, Index

# corners, mid-sides and centre within the 3 x 3 nodes of a cell, (row, column), for a
# right-handed block
_CELL = np.array([[0, 0], [2, 0], [2, 2], [0, 2], [1, 0], [2, 1], [1, 2], [0, 1], [1, 1]])


@dataclass(frozen=True)
class Block:
    """Hold a structured block of one region.

    Parameters
    ----------
    region
        Name of the region that its elements belong to.
    grid
        Node places (x, z) in mm, shape (2, 2 m + 1, 2 k + 1) for m x k elements.
    """

    region: str
    grid: Array

    def __post_init__(self) -> None:
        shape = self.grid.shape
        if len(shape) != 3 or shape[0] != 2 or any(n < 3 or n % 2 == 0 for n in shape[1:]):
            raise ValueError(f"block needs a grid (2, odd >= 3, odd >= 3), got {shape}")


@dataclass(frozen=True)
class JoinedBlocks:
    """Hold the nodes and elements of joined blocks.

    Attributes
    ----------
    nodes
        Coordinates in mm, shape (2, n).
    elements
        As in `PlaneMesh`, shape (e, 9).
    regions
        Element indices of each region.
    grids
        Node indices of each block, in the order and shape of its grid.
    """

    nodes: Array
    elements: Index
    regions: Mapping[str, Index]
    grids: tuple[Index, ...]


def join(blocks: Sequence[Block]) -> JoinedBlocks:
    """Join blocks: nodes at the very same place become one.

    Shared sides must be computed once and handed to both blocks, so that their coordinates agree
    to the last bit; a side that differs stays a crack.
    """
    flat = np.concatenate([block.grid.reshape(2, -1).T for block in blocks])
    places, number = np.unique(flat, axis=0, return_inverse=True)
    ends = np.cumsum([block.grid[0].size for block in blocks])[:-1]
    grids = tuple(
        part.reshape(block.grid.shape[1:])
        for part, block in zip(np.split(number.ravel(), ends), blocks, strict=True)
    )
    parts = [_elements(block.grid, grid) for block, grid in zip(blocks, grids, strict=True)]
    owner = np.repeat(np.arange(len(blocks)), [len(part) for part in parts])
    regions = {
        name: np.flatnonzero(np.isin(owner, [k for k, b in enumerate(blocks) if b.region == name]))
        for name in dict.fromkeys(block.region for block in blocks)
    }
    return JoinedBlocks(np.ascontiguousarray(places.T), np.concatenate(parts), regions, grids)


def _elements(place: Array, grid: Index) -> Index:
    along, across = place[:, 2, 0] - place[:, 0, 0], place[:, 0, 2] - place[:, 0, 0]
    if along[0] * across[1] - along[1] * across[0] < 0.0:
        grid = grid.T
    rows, columns = (np.arange(0, n - 1, 2) for n in grid.shape)
    i = rows[:, None, None] + _CELL[:, 0]
    j = columns[None, :, None] + _CELL[:, 1]
    return grid[i, j].reshape(-1, len(_CELL))


def with_middles(corners: Array) -> Array:
    """Return values with their averages between neighbours, along the last axis."""
    corners = np.asarray(corners, dtype=float)
    found = np.empty((*corners.shape[:-1], 2 * corners.shape[-1] - 1))
    found[..., ::2] = corners
    found[..., 1::2] = 0.5 * (corners[..., :-1] + corners[..., 1:])
    return found


def ruled_grid(first: Array, second: Array, *, fractions: Array) -> Array:
    """Return straight spokes between two lines of nodes.

    Parameters
    ----------
    first, second
        Lines in mm, shape (2, n), reached exactly.
    fractions
        Corner stations along the spokes from 0 to 1; middles are put between them.

    Returns
    -------
    Array
        Shape (2, n, 2 len(fractions) - 1).
    """
    share = with_middles(fractions)
    return first[:, :, None] * (1.0 - share) + second[:, :, None] * share
