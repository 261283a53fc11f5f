r"""Either apart or pushing: Fischer's function of a gap and a push, with a rounded corner.

:math:`\varphi(g, p) = g + a p - \sqrt{g^2 + (a p)^2 + 2 e^2}` is zero where g >= 0, p >= 0 and one
of them is 0; with e > 0 where their product a g p is e². Source: Fischer, A special Newton-type
optimization method, Optimization 1992;24:269-284 (from memory, unverified).
"""

import numpy as np

from gomphosis.fem.section import Array


def fischer(gap: Array, push: Array, rounding: float) -> tuple[Array, Array, Array]:
    """Return the function and its derivatives by gap and (scaled) push, each shape (m,).

    Where both vanish one of its generalised derivatives is returned.
    """
    size = np.sqrt(gap**2 + push**2 + 2.0 * rounding**2)
    safe = np.where(size > 0.0, size, 1.0)
    corner = 1.0 - np.sqrt(0.5)
    by_gap = np.where(size > 0.0, 1.0 - gap / safe, corner)
    by_push = np.where(size > 0.0, 1.0 - push / safe, corner)
    # without the cancellation of gap + push - size where one of them is small
    large, small = np.maximum(gap, push), np.minimum(gap, push)
    rest = (small**2 + 2.0 * rounding**2) / np.where(size + large > 0.0, size + large, 1.0)
    value = np.where(large > 0.0, small - rest, gap + push - size)
    return value, by_gap, by_push
