"""Sparse matrices put together from small dense blocks, overlapping or not."""

import numpy as np
from scipy.sparse import csc_array

from gomphosis.fem.section import Array, Index


class Triplets:
    """Blocks of a sparse matrix; where they overlap they add up.

    Parameters
    ----------
    shape
        Of the matrix.
    """

    def __init__(self, rows: int, columns: int) -> None:
        self._shape = (rows, columns)
        self._rows: list[Index] = []
        self._columns: list[Index] = []
        self._values: list[Array] = []

    def add(self, rows: Index, columns: Index, values: Array) -> None:
        """Add blocks: rows (b, i), columns (b, j), values (b, i, j)."""
        size = values.shape
        self._rows.append(np.broadcast_to(rows[:, :, None], size).reshape(-1))
        self._columns.append(np.broadcast_to(columns[:, None, :], size).reshape(-1))
        self._values.append(values.reshape(-1))

    def add_each(self, rows: Index, columns: Index, values: Array) -> None:
        """Add single entries, all of shape (b,)."""
        self._rows.append(rows)
        self._columns.append(columns)
        self._values.append(values)

    @property
    def matrix(self) -> csc_array:
        """The sum of all blocks."""
        # indices of 32 bits are what the factorisation wants: no copies on the way
        rows = np.concatenate(self._rows, dtype=np.int32, casting="same_kind")
        columns = np.concatenate(self._columns, dtype=np.int32, casting="same_kind")
        values = np.concatenate(self._values)
        return csc_array((values, (rows, columns)), shape=self._shape)
