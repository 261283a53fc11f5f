r"""Either apart or pushing: Fischer's function of a gap and a push, with a rounded corner.

:math:`\varphi(g, p) = g + a p - \sqrt{g^2 + (a p)^2 + 2 e^2}` is zero where g >= 0, p >= 0 and one
of them is 0; with e > 0 where their product a g p is e². Source: Fischer, A special Newton-type
optimization method, Optimization 1992;24:269-284 (from memory, unverified).
"""

import numpy as np

from gomphosis.fem.section import Array

REACH = 100.0  # roundings; gap beyond which the corner is sharp: nothing is felt from afar


def fischer(gap: Array, push: Array, rounding: float) -> tuple[Array, Array, Array]:
    """Return the function and its derivatives by gap and (scaled) push, each shape (m,).

    The rounding fades out smoothly as the gap grows to `REACH` roundings. Where gap and push
    vanish one of the generalised derivatives is returned.
    """
    square, by_square = _rounded(gap, rounding)
    size = np.sqrt(gap**2 + push**2 + 2.0 * square)
    safe = np.where(size > 0.0, size, 1.0)
    corner = 1.0 - np.sqrt(0.5)
    by_gap = np.where(size > 0.0, 1.0 - (gap + by_square) / safe, corner)
    by_push = np.where(size > 0.0, 1.0 - push / safe, corner)
    # without the cancellation of gap + push - size where one of them is small
    large, small = np.maximum(gap, push), np.minimum(gap, push)
    rest = (small**2 + 2.0 * square) / np.where(size + large > 0.0, size + large, 1.0)
    value = np.where(large > 0.0, small - rest, gap + push - size)
    return value, by_gap, by_push


def _rounded(gap: Array, rounding: float) -> tuple[Array, Array]:
    """Return the square of the rounding at gaps, mm², and its derivative by the gap."""
    if rounding == 0.0:
        return np.zeros_like(gap), np.zeros_like(gap)
    far = np.clip(gap / (REACH * rounding), 0.0, 1.0)
    left = 1.0 - far**2
    return (rounding * left) ** 2, -4.0 * rounding * left * far / REACH
