"""Least squares of the constants of a superelastic wire: unknowns, differences and solution."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import OptimizeResult, least_squares

from gomphosis.fem.section import Array
from gomphosis.scenarios.alloys import Alloy
from gomphosis.scenarios.measured_curve import MeasuredCurve

FITTED = ("young", "reverse_finish", "reverse_start", "forward_start", "forward_finish")
"""Fitted constants; the stresses from the lowest to the highest."""

STEP = 0.02  # of a constant, for differences: well above the scatter of the model's own steps
MOST_ITERATIONS = 40
LOWEST = np.array([1000.0, 1.0, 0.0, 0.0, 0.0])
"""Least steps, MPa: Young's modulus, the lowest stress, and the gaps from each to the next."""

NO_GAP = 1.0  # MPa; two stresses as close as this have met
PRIOR = 1e-2
"""Weight, over the peak force, of relative changes from where the fit began: too little to pull
at what the curve determines, enough to keep what it leaves open."""


class UnsettledFitError(ArithmeticError):
    """A fit whose constants had not settled after the most iterations."""


@dataclass(frozen=True)
class Problem:
    """Least squares in steps: Young's modulus, the lowest stress and the gaps up to the highest.

    Gaps of at least zero keep the stresses in order.
    """

    curve: MeasuredCurve
    usual: Alloy
    forces: Callable[[Alloy], Array]

    def alloy(self, steps: Array) -> Alloy:
        """Return the set of some steps."""
        named = zip(FITTED, map(float, values_of(steps)), strict=True)
        return replace(self.usual, **dict(named))

    def residual(self, steps: Array) -> Array:
        """Return model less measured force, N, shape (m,)."""
        return self.forces(self.alloy(steps)) - self.curve.force

    def slope(self, steps: Array) -> Array:
        """Return the derivative of the residual, two-sided where that is allowed, shape (m, 5)."""
        columns = []
        for k, step in enumerate(np.diag(STEP * values_of(steps))):
            low, high = steps - np.minimum(step, steps - LOWEST), steps + step
            columns.append((self.residual(high) - self.residual(low)) / (high - low)[k])
        return np.array(columns).T

    def begin(self) -> Array:
        """Return the usual set, its stresses scaled to the measured forces of each branch."""
        usual = self.usual
        start = np.array([getattr(usual, name) for name in FITTED])
        model = self.residual(_steps(start)) + self.curve.force
        ratio = self.curve.force / np.maximum(model, 1e-9)
        half = 0.5 * self.curve.peak
        loading = np.arange(ratio.size) <= self.curve.top
        # from half the peak on, forces follow the plateaus
        for chosen, names in ((loading, slice(3, 5)), (~loading, slice(1, 3))):
            chosen = chosen & (self.curve.deflection >= half)
            if chosen.any():
                start[names] *= np.clip(np.median(ratio[chosen]), 0.2, 5.0)
        start[1:] = np.maximum.accumulate(start[1:])
        return _steps(start)

    def solve(self, start: Array) -> OptimizeResult:
        """Return the solution in steps."""
        begin = values_of(start)
        weight = PRIOR * self.curve.force[self.curve.top]

        def pulled(steps: Array) -> Array:
            return np.append(self.residual(steps), weight * (values_of(steps) / begin - 1))

        def slope(steps: Array) -> Array:
            widths, here = STEP * values_of(steps), pulled(steps)
            moved = [pulled(steps + step) for step in np.diag(widths)]
            return (np.array(moved) - here).T / widths

        found = least_squares(
            pulled,
            start,
            jac=slope,  # pyright: ignore[reportArgumentType] - takes functions too
            bounds=(LOWEST, np.inf),
            x_scale=np.append(begin[0], np.full(4, begin[1:].mean())),
            ftol=1e-7,
            xtol=1e-6,
            max_nfev=MOST_ITERATIONS,
        )
        if found.status == 0:
            raise UnsettledFitError(
                f"{self.curve.name}: constants did not settle in {found.nfev} iterations"
            )
        return found


def values_of(steps: Array) -> Array:
    """Return `FITTED` constants of some steps."""
    return np.append(steps[0], np.cumsum(steps[1:]))


def _steps(values: Array) -> Array:
    return np.append(values[0], np.diff(values[1:], prepend=0.0))
