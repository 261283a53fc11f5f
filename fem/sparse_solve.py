"""Direct and nearby solution of sparse symmetric positive definite systems.

A matrix whose rows already stand in a good order of elimination (`sparse_order`) keeps it through
every call. A factor of an older, similar matrix is a preconditioner that needs a handful of
iterations; where it needs more, the matrix is factored anew.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from gomphosis.fem.condensation import SolveError, require_solved
from gomphosis.fem.section import Array

ENERGY_ERROR = 1e-10  # of an iterated answer, relative, in the norm of the matrix
NEARBY_ITERATIONS = 16  # about what a new factor costs


class Factor(Protocol):
    """Solve with a factored matrix."""

    def solve(self, right: Array) -> Array:
        """Return the solution for right-hand sides of shape (n,) or (n, columns)."""
        ...


Factorise = Callable[[csc_array], Factor]


@dataclass(frozen=True)
class Solved:
    """Hold a solution and the factor that gave it, worth keeping for the next similar matrix.

    Attributes
    ----------
    answer
        Shape (n,) or (n, columns).
    factor
        Of this matrix, or the older one that was good enough.
    iterations
        Conjugate-gradient iterations spent; 0 for a direct solution.
    direct
        True if this matrix was factored.
    """

    answer: Array
    factor: Factor
    iterations: int
    direct: bool


def scipy_factor(matrix: csc_array) -> Factor:
    """Factor a symmetric positive definite matrix in the order of its rows (SuperLU).

    Raises
    ------
    SolveError
        If the matrix is singular.
    """
    try:
        return splu(
            matrix,
            permc_spec="NATURAL",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
    except RuntimeError as error:
        raise SolveError(f"matrix of {len(matrix.indptr) - 1} rows: {error}") from error


def solve_sparse(matrix: csc_array, right: Array, *, factorise: Factorise = scipy_factor) -> Solved:
    """Factor and solve.

    Raises
    ------
    SolveError
        If the matrix cannot be factored or the backward error exceeds 1e-12.
    """
    factor = factorise(matrix)
    answer = factor.solve(right)
    require_solved(matrix, right, answer)
    return Solved(answer, factor, 0, True)


def solve_nearby(
    matrix: csc_array,
    right: Array,
    *,
    kept: Factor | None,
    factorise: Factorise = scipy_factor,
    iterations: int = NEARBY_ITERATIONS,
) -> Solved:
    """Solve with the factor of a similar matrix as preconditioner, or factor anew.

    Parameters
    ----------
    right
        Shape (n,).
    kept
        Factor of a similar matrix of the same size, or None.
    factorise
        Used where the kept factor does not do.
    iterations
        Conjugate-gradient iterations to try first.

    Raises
    ------
    SolveError
        If a new factor was needed and `solve_sparse` raised.
    """
    if kept is not None:
        answer, spent = conjugate_gradients(matrix, right, kept, iterations=iterations)
        if answer is not None:
            return Solved(answer, kept, spent, False)
    return solve_sparse(matrix, right, factorise=factorise)


def conjugate_gradients(
    matrix: csc_array,
    right: Array,
    factor: Factor,
    *,
    iterations: int,
    accuracy: float = ENERGY_ERROR,
) -> tuple[Array | None, int]:
    """Iterate with a factor as preconditioner; None in place of an answer that was not reached.

    Parameters
    ----------
    accuracy
        Accepted error relative to the answer, both in the norm of the factored matrix. A plain
        residual says little here: dentine is a hundred thousand times stiffer than ligament.

    Returns
    -------
    The answer, shape (n,), or None, and the number of iterations spent.
    """
    answer = np.zeros_like(right)
    residual = right.copy()
    step = lifted = factor.solve(residual)
    left = float(residual @ lifted)
    for spent in range(1, iterations + 1):
        pushed = matrix @ step
        curvature = float(step @ pushed)
        if not (left > 0.0 and curvature > 0.0):  # written so that what is no number ends here
            return (answer, spent) if left == 0.0 else (None, spent)
        length = left / curvature
        answer = answer + length * step
        residual = residual - length * pushed
        lifted = factor.solve(residual)
        before, left = left, float(residual @ lifted)
        if 0.0 <= left <= accuracy**2 * float(answer @ right):
            return _confirmed(matrix, right, answer), spent
        step = lifted + left / before * step
    return None, iterations


def _confirmed(matrix: csc_array, right: Array, answer: Array) -> Array | None:
    try:
        require_solved(matrix, right, answer)
    except SolveError:  # a new factor is the remedy, and it is checked in turn
        return None
    return answer
