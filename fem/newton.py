"""Damped Newton iteration that either converges or raises with its history."""

from collections.abc import Callable

import numpy as np

from gomphosis.fem.section import Array


class NotConvergedError(ArithmeticError):
    """Raised when Newton's iteration stalls; ``history`` holds the residual norms."""

    def __init__(self, history: list[float], tolerance: float) -> None:
        self.history = history
        norms = ", ".join(f"{norm:.2e}" for norm in history)
        super().__init__(
            f"did not settle to {tolerance:.1e} in {len(history) - 1} iterations: {norms}"
        )


def newton(
    system: Callable[[Array], tuple[Array, Array]],
    start: Array,
    *,
    tolerance: float,
    iterations: int = 30,
    halvings: int = 8,
) -> Array:
    """Solve system(x)[0] = 0 from start, halving a step that does not reduce the residual.

    Parameters
    ----------
    system
        Returns residual, shape (n,), and Jacobian, shape (n, n), at x.
    tolerance
        Accepted largest absolute residual, in the units of the residual.

    Raises
    ------
    NotConvergedError
        If the tolerance is not reached, or the Jacobian becomes singular.
    """
    x = start.copy()
    residual, jacobian = system(x)
    history = [float(np.abs(residual).max())]
    for _ in range(iterations):
        if history[-1] <= tolerance:
            return x
        try:
            step = np.linalg.solve(jacobian, -residual)
        except np.linalg.LinAlgError as error:  # a shorter time step may avoid the singular point
            raise NotConvergedError(history, tolerance) from error
        for halving in range(halvings + 1):
            trial = x + 0.5**halving * step
            residual, jacobian = system(trial)
            norm = float(np.abs(residual).max())
            if norm < history[-1] or norm <= tolerance:
                break
        x = trial
        history.append(norm)
        if not np.isfinite(norm):
            break
    if history[-1] <= tolerance:
        return x
    raise NotConvergedError(history, tolerance)
