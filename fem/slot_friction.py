r"""Coulomb friction with a history, as a condition between sliding and share of its limit.

Over a step an edge slides by Δs along the rod's material, while the drag, as a share z of its limit
μN, goes from z₀ to z. What is not elastic of the way, :math:`p = \Delta s - d\,(z - z_0)`, is
slip: none while |z| < 1, forward only at z = 1 and backward only at z = -1. Both bounds in one
equation, from Fischer's function φ: :math:`\varphi(1 + z, -\varphi(1 - z, p)) = 0`, each share
counted as some way. Source of the nesting: Billups, Algorithms for complementarity problems and
generalized equations, thesis, Wisconsin 1995 (from memory, unverified).

The share is an unknown like the push, whatever the push: so a hardly loaded edge is no sharper
than another one. Without sliding it stays what it is. A smooth return such as
:math:`t = \tilde t / \sqrt{1 + (\tilde t / \mu N)^2}` from the last drag would let an idle drag
fade from step to step: 1, 0.71, 0.58 ... of its limit.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.complementarity import fischer
from gomphosis.fem.section import Array

PER_SHARE = 0.01  # mm; what the whole drag counts for beside a way


@dataclass(frozen=True)
class Rub:
    """What is left of the condition, mm, its derivatives, and the slip, mm, each (m,)."""

    left: Array
    by_slide: Array
    by_share: Array
    slip: Array

    @property
    def halves(self) -> tuple["Rub", "Rub"]:
        """The first and the second half of the conditions."""
        parts = (self.left, self.by_slide, self.by_share, self.slip)
        first, second = zip(*(np.split(part, 2) for part in parts), strict=True)
        return Rub(*first), Rub(*second)


def rub(share: Array, slid: Array, *, before: Array, elastic: float, rounding: float = 0.0) -> Rub:
    """Return the condition of m pairs.

    Parameters
    ----------
    share, before
        Drag over its limit, trial and at the step's start.
    slid
        Of the edge along the rod in this step, mm.
    elastic
        Sliding within which the whole drag builds up, mm.
    rounding
        Of the corners, mm.
    """
    slip = slid - elastic * (share - before)
    inner, by_room, by_slip = fischer(PER_SHARE * (1.0 - share), slip, rounding)
    left, by_other, by_inner = fischer(PER_SHARE * (1.0 + share), -inner, rounding)
    by_slide = -by_inner * by_slip
    by_share = PER_SHARE * (by_other + by_inner * by_room) - elastic * by_slide
    return Rub(left, by_slide, by_share, slip)
