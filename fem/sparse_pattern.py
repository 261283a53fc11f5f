"""Sparse symmetric matrices of one topology, assembled over and over into the same places."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_array

from gomphosis.fem.section import Array, Index

Index32 = npt.NDArray[np.int32]  # what the direct solvers take


@dataclass(frozen=True)
class SparsePattern:
    """Hold where each entry of each local matrix goes in a matrix of the free unknowns.

    Attributes
    ----------
    free
        Degrees of freedom that are unknown, in the order of the matrix's rows, shape (n,).
    start, rows
        Column starts and row numbers of the compressed columns.
    places
        For every block of local matrices the number of each entry among the stored ones, flat;
        entries of held degrees of freedom go one past the last.
    """

    size: int
    free: Index
    start: Index32
    rows: Index32
    places: tuple[Index, ...]

    def assembled(self, *blocks: Array) -> csc_array:
        """Add local matrices up, shape (n, n).

        Parameters
        ----------
        blocks
            Local matrices in the order in which the blocks were given, each of shape
            (members, m, m).

        Raises
        ------
        ValueError
            If the number or the size of the blocks is not that of the pattern.
        """
        if len(blocks) != len(self.places):
            raise ValueError(f"pattern has {len(self.places)} blocks, got {len(blocks)}")
        stored = len(self.rows)
        data = np.zeros(stored)
        for place, block in zip(self.places, blocks, strict=True):
            if block.size != place.size:
                raise ValueError(f"block needs {place.size} entries, got {block.size}")
            data += np.bincount(place, weights=block.ravel(), minlength=stored + 1)[:stored]
        matrix = csc_array((data, self.rows, self.start), shape=(len(self.free),) * 2)
        matrix.has_sorted_indices = True
        matrix.has_canonical_format = True
        return matrix

    def spread(self, answer: Array) -> Array:
        """Return values of the unknowns at all degrees of freedom, zero at the held ones."""
        whole = np.zeros((self.size, *answer.shape[1:]))
        whole[self.free] = answer
        return whole


def sparse_pattern(size: int, blocks: Sequence[Index], *, free: Index) -> SparsePattern:
    """Find the stored entries of a matrix from the degrees of freedom of its parts.

    Parameters
    ----------
    size
        Number of all degrees of freedom.
    blocks
        Degrees of freedom of local matrices of one size, each of shape (members, m).
    free
        Unknown degrees of freedom, in the order wanted.

    Raises
    ------
    ValueError
        If an unknown degree of freedom occurs twice, or in no local matrix.
    """
    number = np.full(size, -1, dtype=np.int64)
    number[free] = np.arange(len(free))
    if np.count_nonzero(number >= 0) != len(free):
        raise ValueError("a free degree of freedom is listed twice")
    untouched = np.setdiff1d(free, np.concatenate([block.ravel() for block in blocks]))
    if len(untouched) > 0:
        raise ValueError(f"degree of freedom {untouched[0]} is free but belongs to no element")
    keys = [_keys(number[block], len(free)) for block in blocks]
    found, place = np.unique(np.concatenate(keys), return_inverse=True)
    stored = found[found < len(free) ** 2]
    column, row = np.divmod(stored, len(free))
    start = np.searchsorted(column, np.arange(len(free) + 1))
    ends = np.cumsum([len(key) for key in keys])
    places = tuple(np.split(place.ravel(), ends[:-1]))
    return SparsePattern(size, free, start.astype(np.int32), row.astype(np.int32), places)


def _keys(number: Index, count: int) -> Index:
    """Number each entry of each local matrix by column, then row; beyond all where one is held."""
    column, row = number[:, None, :], number[:, :, None]
    return np.where((column < 0) | (row < 0), count**2, column * count + row).ravel()
