"""Damped Newton iteration for large sparse systems; it converges or raises with its history."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array
from gomphosis.fem.sparse_solve import Factor, Factorise, scipy_factor, solve_nearby


@dataclass(frozen=True)
class NewtonLimits:
    """Say when to stop.

    Parameters
    ----------
    tolerance
        Accepted largest absolute residual, in the units of the residual.
    iterations, halvings
        Most steps, and most halvings of one step.

    Raises
    ------
    ValueError
        Unless the tolerance is above zero and the counts are not negative.
    """

    tolerance: float
    iterations: int = 25
    halvings: int = 6

    def __post_init__(self) -> None:
        if not self.tolerance > 0.0 or self.iterations < 0 or self.halvings < 0:
            raise ValueError(f"needs tolerance > 0 and counts >= 0, got {self}")


@dataclass(frozen=True)
class Equilibrium:
    """Hold a solution, the largest residual before and after every step, and the last factor."""

    unknowns: Array
    history: tuple[float, ...]
    factor: Factor | None


def sparse_newton(
    residual: Callable[[Array], Array],
    tangent: Callable[[Array], csc_array],
    start: Array,
    *,
    limits: NewtonLimits,
    factorise: Factorise = scipy_factor,
) -> Equilibrium:
    """Solve residual(x) = 0, halving a step that does not reduce the residual.

    The factor of the first step preconditions the later ones for as long as it serves.

    Parameters
    ----------
    residual
        Returns shape (n,) at x, shape (n,).
    tangent
        Returns the symmetric positive definite derivative of the residual, shape (n, n).

    Raises
    ------
    NotConvergedError
        If the tolerance is not reached.
    SolveError
        If a tangent cannot be solved with.
    """
    x, factor = start, None
    out = residual(x)
    history = [_norm(out)]
    for _ in range(limits.iterations):
        if history[-1] <= limits.tolerance or not np.isfinite(history[-1]):
            break
        solved = solve_nearby(tangent(x), -out, kept=factor, factorise=factorise)
        factor = solved.factor
        x, out = _damped(residual, x, solved.answer, history[-1], limits)
        history.append(_norm(out))
    if not history[-1] <= limits.tolerance:  # written so that what is no number is refused
        raise NotConvergedError(history, limits.tolerance)
    return Equilibrium(x, tuple(history), factor)


def _damped(
    residual: Callable[[Array], Array], x: Array, step: Array, before: float, limits: NewtonLimits
) -> tuple[Array, Array]:
    for halving in range(limits.halvings + 1):
        trial = x + 0.5**halving * step
        out = residual(trial)
        if _norm(out) < before:
            break
    return trial, out


def _norm(residual: Array) -> float:
    return float(np.abs(residual).max(initial=0.0))
