r"""One step of a fibre along a straight segment of its law, for all fibres at once.

The strains are :math:`e = (\varepsilon, \gamma/k)`, the stresses :math:`(\sigma, k\tau)` with size
s, the moduli :math:`C = (E, k^2 G)`. With inelastic strain p along the stress direction n,

.. math::
   e = C^{-1} s\,n + p\,n \quad\Rightarrow\quad n_i = e_i / y_i,\quad y_i = s/C_i + p,\quad
   (e_1/y_1)^2 + (e_2/y_2)^2 = 1 .

On a segment both s and p are linear in one parameter t, so this is one scalar equation in t for
every fibre, and the tangent is, with :math:`A = \mathrm{diag}(s/y_i)` and
:math:`w = p' - (p/s)\,s'`,

.. math:: D = A - \frac{w\; A n\, n^T A}{s' + w\; n^T A n} .

Derived by differentiating e with n = stress/s: dn = (dstress - n ds)/s, ds = n dstress = s' dt and
dp = p' dt, so dstress = A (de - n w dt); the product with n gives dt.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from gomphosis.fem.section import Array

Mask = npt.NDArray[np.bool_]

TINY = 1e-60
"""Stands for the stress size of a fibre without strain, MPa."""

STEPS = 4  # Newton's: exact at once for one strain; round-off for ratios of C_i down to 1/3


class Segment(NamedTuple):
    """Where a fibre moves: s = size + t size_rate, p = amount + t amount_rate, t unknown.

    Each an array or number; at t = 0 the fibre is at or before the solution. Both rates are zero
    for a fibre at rest: one without inelastic strain whose s is known from the start.
    """

    size: Array
    amount: Array | float
    size_rate: Array | float
    amount_rate: Array


def solve(
    strains: tuple[Array, Array], segment: Segment, moduli: tuple[float, float]
) -> tuple[Array, Array, tuple[Array, Array], tuple[Array, Array, Array]]:
    """Find every fibre's place on its segment: size s, amount p, stresses, tangent."""
    bases = [segment.size * (1 / modulus) + segment.amount for modulus in moduli]
    rates = [segment.size_rate * (1 / modulus) + segment.amount_rate for modulus in moduli]
    place = 0.0
    for _ in range(STEPS):
        # Newton for 1 / sqrt(total) = 1, where total is the sum of (e / y)^2
        first, slope = _share(strains[0], bases[0], rates[0], place)
        total, other = _share(strains[1], bases[1], rates[1], place)
        total += first
        slope += other
        slope += TINY  # a fibre at rest
        np.sqrt(total, out=first)
        first -= 1.0
        first *= total
        first /= slope
        place = first if isinstance(place, float) else np.add(place, first, out=place)
    size = segment.size + place * segment.size_rate
    amount = segment.amount + place * segment.amount_rate
    stresses, tangent = _stresses(strains, segment, moduli, (size, amount))
    return size, amount, stresses, tangent


def _share(strain: Array, base: Array, rate: Array, place: Array | float) -> tuple[Array, Array]:
    """Return one strain's share (e / y)^2 and half its fall over the parameter."""
    if isinstance(place, float):
        over = 1 / base
    else:
        over = rate * place
        over += base
        np.divide(1.0, over, out=over)
    share = strain * over
    share *= share
    over *= rate
    over *= share
    return share, over


def _stresses(
    strains: tuple[Array, Array],
    segment: Segment,
    moduli: tuple[float, float],
    solution: tuple[Array, Array],
) -> tuple[tuple[Array, Array], tuple[Array, Array, Array]]:
    """Return the stresses and the tangent D of the module's docstring at a solution (s, p)."""
    size, amount = solution
    per_stress = amount / size
    secants = [1 / (per_stress + 1 / modulus) for modulus in moduli]
    stresses = secants[0] * strains[0], secants[1] * strains[1]
    over = 1 / size
    normal = [stress * over for stress in stresses]
    pulled = [secant * part for secant, part in zip(secants, normal, strict=True)]
    weight = per_stress
    weight *= segment.size_rate
    np.subtract(segment.amount_rate, weight, out=weight)
    normal[0] *= pulled[0]
    normal[1] *= pulled[1]
    normal[0] += normal[1]
    normal[0] *= weight
    normal[0] += segment.size_rate
    normal[0] += TINY  # a fibre at rest has w = s' = 0
    weight /= normal[0]
    both = pulled[0] * pulled[1]
    both *= weight
    np.negative(both, out=both)
    for secant, part in zip(secants, pulled, strict=True):
        part *= part
        part *= weight
        secant -= part
    return stresses, (secants[0], both, secants[1])


def beyond(
    squares: tuple[Array, Array], moduli: tuple[float, float]
) -> Callable[[Array | float, Array | float], Mask]:
    """Return the test whether strains (squared) lie beyond the point (s, p) of their path."""

    def test(size: Array | float, amount: Array | float) -> Mask:
        total = 0.0
        for square, modulus in zip(squares, moduli, strict=True):
            reach = size * (1 / modulus) + amount
            total = total + square / (reach * reach)
        return np.asarray(total) > 1.0

    return test
