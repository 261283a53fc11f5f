"""Linear systems of a chain of nodes: block tridiagonal, six freedoms a node, factored banded."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.linalg import get_lapack_funcs

from gomphosis.fem.section import Array, Index

FREEDOMS = 6
BAND = 2 * FREEDOMS - 1  # diagonals on either side
_FACTOR, _SOLVE = get_lapack_funcs(("gbtrf", "gbtrs"), dtype=np.float64)


class SingularChainError(ArithmeticError):
    """Raised when a chain's matrix has no inverse."""


@dataclass(frozen=True)
class Chain:
    """Hold the blocks of a chain's matrix.

    Parameters
    ----------
    diagonal
        Shape (n, 6, 6).
    upper, lower
        Blocks from each node to the next one and back, shape (n - 1, 6, 6).
    """

    diagonal: Array
    upper: Array
    lower: Array

    @classmethod
    def assembled(cls, blocks: Array) -> "Chain":
        """Sum elements' matrices of shape (n - 1, 12, 12), end to end."""
        diagonal = np.zeros((len(blocks) + 1, FREEDOMS, FREEDOMS))
        diagonal[:-1] = blocks[:, :FREEDOMS, :FREEDOMS]
        diagonal[1:] += blocks[:, FREEDOMS:, FREEDOMS:]
        return cls(diagonal, blocks[:, :FREEDOMS, FREEDOMS:], blocks[:, FREEDOMS:, :FREEDOMS])

    def turned(self, basis: Array) -> "Chain":
        """Return the chain in each node's own axes, columns of (n, 6, 6)."""
        back = np.swapaxes(basis, 1, 2)
        return Chain(
            back @ self.diagonal @ basis,
            back[:-1] @ self.upper @ basis[1:],
            back[1:] @ self.lower @ basis[:-1],
        )

    def __matmul__(self, motion: Array) -> Array:
        """Return the product with motions of shape (n, 6, k)."""
        result = self.diagonal @ motion
        result[:-1] += self.upper @ motion[1:]
        result[1:] += self.lower @ motion[:-1]
        return result

    def factored(self, held: npt.NDArray[np.bool_]) -> "Factored":
        """Factor the chain with held freedoms, shape (n, 6), taken out.

        Raises
        ------
        SingularChainError
            If the rest has no inverse.
        """
        free = ~held
        diagonal = self.diagonal * (free[:, :, None] & free[:, None, :])
        rows = np.arange(FREEDOMS)
        diagonal[:, rows, rows] += held
        upper = self.upper * (free[:-1, :, None] & free[1:, None, :])
        lower = self.lower * (free[1:, :, None] & free[:-1, None, :])
        row, column = _places(len(diagonal))
        band = np.zeros((3 * BAND + 1, FREEDOMS * len(diagonal)), order="F")
        band[row, column] = np.concatenate([diagonal.ravel(), upper.ravel(), lower.ravel()])
        factor, pivot, info = _FACTOR(band, BAND, BAND, overwrite_ab=True)
        if info != 0:
            raise SingularChainError(f"no stiffness against freedom {info - 1} of the chain")
        return Factored(factor, pivot, held)


@dataclass(frozen=True)
class Factored:
    """A chain's factor; solves for freedoms that are not held."""

    factor: Array
    pivot: Array
    held: npt.NDArray[np.bool_]

    def solve(self, load: Array) -> Array:
        """Return motions (n, 6, k) under loads (n, 6, k); held freedoms do not move."""
        right = np.where(self.held[:, :, None], 0.0, load).reshape(self.held.size, -1)
        motion, info = _SOLVE(self.factor, BAND, BAND, right, self.pivot)
        if info != 0 or not np.all(np.isfinite(motion)):
            raise SingularChainError("the chain's matrix is singular")
        return motion.reshape(load.shape)


@lru_cache(maxsize=16)
def _places(count: int) -> tuple[Index, Index]:
    """Return rows and columns of the banded storage of all blocks."""
    size = np.arange(FREEDOMS)
    node = FREEDOMS * np.arange(count)[:, None, None]
    i, j = node + size[:, None], node + size[None, :]
    i, j = np.broadcast_arrays(i, j)
    rows = np.concatenate([i.ravel(), i[:-1].ravel(), i[1:].ravel()])
    columns = np.concatenate([j.ravel(), j[1:].ravel(), j[:-1].ravel()])
    return 2 * BAND + rows - columns, columns
