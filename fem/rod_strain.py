r"""Strains of a rod's sections from the measures of its elements: quadratic, with two derivatives.

Slopes against the chord are those of a cubic, so curvatures are linear along an element and the
stretch of the centre line is the chord's plus the mean of half the squared slope,
:math:`(2 a^2 - a b + 2 b^2)/30` for end slopes a and b. The slopes are measured in the ends' own
axes, which are turned by the twist against those in between: to the first order in the twist they
are carried over to the section where the curvature is wanted.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.rod_element import MEASURES
from gomphosis.fem.section import Array

STRAINS = 4  # stretch, curvature about the second and the third axis, twist
_LENGTH, _TWIST = 0, 5
_STARTS, _ENDS = (1, 2), (3, 4)  # slopes along the second and third axis at either end
_SHORTENING = np.array([[4.0, -1.0], [-1.0, 4.0]]) / 30.0


@dataclass(frozen=True)
class StrainMap:
    """Strains at p points of n elements, quadratic in the measures.

    Attributes
    ----------
    linear
        Shape (n, p, 4, 6).
    quadratic
        Symmetric in the last two axes, shape (n, p, 4, 6, 6); strains take half of it.
    """

    linear: Array
    quadratic: Array

    def at(self, values: Array) -> tuple[Array, Array]:
        """Return strains (n, p, 4) and their derivative (n, p, 4, 6) at measures (n, 6)."""
        bend = np.einsum("npskl,nl->npsk", self.quadratic, values)
        slope = self.linear + bend
        return np.einsum("npsk,nk->nps", self.linear + 0.5 * bend, values), slope

    def curve(self, force: Array) -> Array:
        """Return force · d²(strains), shape (n, 6, 6), for forces of shape (n, p, 4)."""
        return np.einsum("nps,npskl->nkl", force, self.quadratic)


def strain_map(lengths: Array, xi: Array) -> StrainMap:
    """Return the map of elements of given lengths, mm, at shares xi of the way along them."""
    over = 1.0 / lengths[:, None]
    shape = (len(lengths), len(xi), STRAINS, MEASURES)
    linear, quadratic = np.zeros(shape), np.zeros((*shape, MEASURES))
    linear[:, :, 0, _LENGTH] = over
    linear[:, :, 3, _TWIST] = over
    for axis in range(2):
        pair = np.ix_((_STARTS[axis], _ENDS[axis]), (_STARTS[axis], _ENDS[axis]))
        quadratic[:, :, 0, pair[0], pair[1]] = _SHORTENING
    first, last = (-4.0 + 6.0 * xi) * over, (-2.0 + 6.0 * xi) * over
    for strain, own, other, sign in ((2, 0, 1, 1.0), (1, 1, 0, -1.0)):
        # a slope along the third axis turns the section about minus the second
        linear[:, :, strain, _STARTS[own]] = sign * first
        linear[:, :, strain, _ENDS[own]] = sign * last
        # seen from axes turned by the twist, the other slope shows
        for place, share in ((_STARTS[other], first * xi), (_ENDS[other], -last * (1.0 - xi))):
            quadratic[:, :, strain, place, _TWIST] = share
            quadratic[:, :, strain, _TWIST, place] = share
    return StrainMap(linear, quadratic)
