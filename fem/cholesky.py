"""Sparse Cholesky factors by CHOLMOD, through an optional extra.

Either of two interfaces serves, both under the GPL and hence not required; without them the same
calls go to scipy.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from types import ModuleType
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_array

from gomphosis.fem.condensation import SolveError
from gomphosis.fem.section import Array
from gomphosis.fem.sparse_solve import Factorise, scipy_factor

INTERFACES = ("kvxopt", "cvxopt")


@dataclass(frozen=True)
class _Analysis:
    """What depends on the places of the entries only; the numbers in ``symbol`` are the last."""

    rows: npt.NDArray[np.integer]
    start: npt.NDArray[np.integer]
    lower: npt.NDArray[np.bool_]
    half: Any
    symbol: Any

    def fits(self, matrix: csc_array) -> bool:
        return np.array_equal(self.rows, matrix.indices) and np.array_equal(
            self.start, matrix.indptr
        )


class CholeskySeries:
    """Factor matrices with entries in the same places, analysed once for all of them.

    The interface keeps one set of numbers per analysis: a new factor ends the life of the one
    before, which then refuses to solve.

    Raises
    ------
    ImportError
        If no interface is installed.
    """

    def __init__(self) -> None:
        interface = _interface()
        if interface is None:
            raise ImportError(f"needs one of {', '.join(INTERFACES)}")
        self.interface = interface
        self.count = 0
        self._analysis: _Analysis | None = None

    def __call__(self, matrix: csc_array) -> "CholeskyFactor":
        """Factor a symmetric positive definite matrix, its rows in a good order of elimination.

        Raises
        ------
        SolveError
            If the matrix is not positive definite.
        """
        if self._analysis is None or not self._analysis.fits(matrix):
            self._analysis = self._analysed(matrix)
        found = self._analysis
        self.count += 1
        found.half.V = self.interface.matrix(matrix.data[found.lower])
        with _refusing():
            self.interface.cholmod.numeric(found.half, found.symbol)
        return CholeskyFactor(self, found.symbol, self.count)

    def _analysed(self, matrix: csc_array) -> _Analysis:
        size = len(matrix.indptr) - 1
        column = np.repeat(np.arange(size), np.diff(matrix.indptr))
        lower = matrix.indices >= column
        rows = matrix.indices[lower].astype(np.int64)
        half = self.interface.spmatrix(1.0, rows, column[lower], (size, size))
        symbol = self.interface.cholmod.symbolic(half, p=self.interface.matrix(np.arange(size)))
        return _Analysis(np.asarray(matrix.indices), np.asarray(matrix.indptr), lower, half, symbol)


@dataclass(frozen=True)
class CholeskyFactor:
    """Solve with the latest factor of a series."""

    series: CholeskySeries
    symbol: Any
    number: int

    def solve(self, right: Array) -> Array:
        """Return the solution for right-hand sides of shape (n,) or (n, columns).

        Raises
        ------
        SolveError
            If the series has factored another matrix since, or the matrix turned out not to be
            positive definite (some versions of the interface find that only here).
        """
        if self.number != self.series.count:
            raise SolveError(f"factor {self.number} was replaced by number {self.series.count}")
        work = self.series.interface.matrix(np.asarray(right, dtype=float))
        with _refusing():
            self.series.interface.cholmod.solve(self.symbol, work)
        return np.array(work).reshape(right.shape)


def best_factorise() -> Factorise:
    """Return a new series of CHOLMOD's factors if an interface is installed, else scipy's."""
    return scipy_factor if _interface() is None else CholeskySeries()


@contextmanager
def _refusing() -> Iterator[None]:
    try:
        yield
    except ArithmeticError as error:
        raise SolveError(f"matrix is not positive definite: {error}") from error


@cache
def _interface() -> ModuleType | None:
    for name in INTERFACES:
        if find_spec(name) is not None:
            import_module(f"{name}.cholmod")
            return import_module(name)
    return None
