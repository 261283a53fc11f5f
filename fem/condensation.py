"""Static solution for prescribed rigid motions of a set of nodes."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array, csr_array, eye_array
from scipy.sparse.linalg import splu

from gomphosis.fem.section import Array, Index

ROUND_OFF = 1e-12  # accepted backward error of a direct solve


class SolveError(ArithmeticError):
    """Raised when a linear system could not be solved to round-off."""


@dataclass(frozen=True)
class Condensed:
    """Hold the answer to unit rigid motions.

    Attributes
    ----------
    displacement
        Displacement of every degree of freedom, shape (size, modes).
    stiffness
        Condensed stiffness, shape (modes, modes); symmetric.
    """

    displacement: Array
    stiffness: Array


def factorised(matrix: csc_array):  # noqa: ANN201 - scipy does not export the type of a factor
    """Factor a symmetric positive definite sparse matrix (fast settings of SuperLU)."""
    return splu(
        matrix,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


def solve_spd(matrix: csc_array, right: Array) -> Array:
    """Solve a symmetric positive definite sparse system, shape (n, columns).

    Raises
    ------
    SolveError
        If the backward error exceeds 1e-12.
    """
    answer = factorised(matrix).solve(right)
    require_solved(matrix, right, answer)
    return answer


def require_solved(matrix: csc_array, right: Array, answer: Array) -> None:
    """Refuse an answer that does not solve its system to round-off.

    Raises
    ------
    SolveError
        If the backward error exceeds 1e-12.
    """
    scale = abs(matrix).sum(axis=1).max() * np.abs(answer).max() + np.abs(right).max()
    error = np.abs(matrix @ answer - right).max() / scale if scale != 0 else 0.0
    if not np.isfinite(error) or error > ROUND_OFF:
        raise SolveError(f"linear solve left a backward error of {error:.2e} (limit {ROUND_OFF})")


def condense(
    stiffness: csr_array,
    modes: Array,
    *,
    fixed: Index,
    tied: Index,
    ties: csr_array | None = None,
) -> Condensed:
    """Move the tied degrees of freedom through unit modes and hold the fixed ones.

    Parameters
    ----------
    stiffness
        Shape (size, size), symmetric.
    modes
        Displacement of every degree of freedom in each rigid motion, shape (size, modes); only
        the rows of ``tied`` are used.
    fixed, tied
        Degrees of freedom held at zero, and moved rigidly.
    ties
        Optional map from master to all degrees of freedom, shape (size, size), for linear
        constraints such as regularity on an axis; identity by default. Nodes must be held or
        tied with all their components.
    """
    lead = np.zeros_like(modes)
    lead[tied] = modes[tied]
    lead[fixed] = 0.0
    size = len(modes)
    spread = csr_array(eye_array(size)) if ties is None else ties
    held = np.zeros(size, dtype=bool)
    held[fixed] = held[tied] = True
    used = np.asarray(abs(spread).sum(axis=0)).ravel() > 0
    spread = csr_array(spread[:, np.flatnonzero(used & ~held)])
    free = csc_array(spread.T @ stiffness @ spread)
    answer = solve_spd(free, -(spread.T @ (stiffness @ lead)))
    displacement = lead + spread @ answer
    condensed = displacement.T @ (stiffness @ displacement)
    return Condensed(displacement, 0.5 * (condensed + condensed.T))
