"""Elastica over two sharp supports, solved as a boundary-value problem: nothing of the rod's code.

Half a wire of length S from the middle to the support, all lengths over the span and forces times
L^2 / (E I). With the push N of the support normal to the wire, whose slope there is theta_S,

    x' = cos theta,  y' = sin theta,  theta' = kappa,  kappa' = -N cos(theta - theta_S),

x = y = theta = 0 in the middle and x = 1/2, y = deflection, theta = theta_S, kappa = 0 at the
support; N, S and theta_S are unknown. The indenter's force is 2 N cos theta_S.
"""

from functools import cache

import numpy as np
from scipy.integrate import solve_bvp

from gomphosis.fem.section import Array

STEP = 0.02  # of the deflection over the span from one solution to the next
TOLERANCE = 1e-9


@cache
def elastica_load(deflection: float) -> float:
    """Return F L^2 / (E I) of a frictionless three-point bend, by its deflection over the span.

    Raises
    ------
    ArithmeticError
        If the boundary-value problem is not solved.
    """
    mesh = np.linspace(0.0, 1.0, 41)
    steps = max(1, round(deflection / STEP))
    guess, unknown = _small(mesh, deflection / steps)
    for place in np.linspace(0.0, deflection, steps + 1)[1:]:
        found = solve_bvp(
            _slopes, _ends(place), mesh, guess, p=unknown, tol=TOLERANCE, max_nodes=20_000
        )
        if not found.success:
            raise ArithmeticError(f"elastica at {place:.3g} of the span: {found.message}")
        mesh, guess, unknown = found.x, found.y, found.p
    push, _, slope = unknown
    return float(2.0 * push * np.cos(slope))


def _slopes(s: Array, y: Array, p: Array) -> Array:
    push, length, slope = p
    turned = np.cos(y[2] - slope)
    return length * np.stack([np.cos(y[2]), np.sin(y[2]), y[3], -push * turned])


def _ends(deflection: float):  # noqa: ANN202 - a function that scipy calls
    def ends(first: Array, last: Array, p: Array) -> Array:
        reached = last - np.array([0.5, deflection, p[2], 0.0])
        return np.concatenate([first[:3], reached])

    return ends


def _small(mesh: Array, deflection: float) -> tuple[Array, Array]:
    """Return the solution for small deflections: a cantilever of half the span, pushed by 24 d."""
    push, x = 24.0 * deflection, 0.5 * mesh
    turn = push * (0.5 * x - 0.5 * x**2)
    lift = push * (0.25 * x**2 - x**3 / 6.0)
    state = np.stack([x, lift, turn, push * (0.5 - x)])
    return state, np.array([push, 0.5, turn[-1]])
