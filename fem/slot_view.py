r"""How a rod's curves follow its nodes where they are nearest to edges of slots.

Looked at along an edge, with the curve's normal n towards the wall, the edge at q and the curve
rounded with a radius r, the gap is :math:`-n \cdot (c - q) - r` and its force pushes the rod along
-n. Friction acts along the curve, at the rod's surface, against the sliding of the edge.

Everything hangs on how the rod lies in its slot, so derivatives by the slot's own motion follow
from those by the rod's.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.rod import RodPlace
from gomphosis.fem.rod_curve import BEND, SLOPE, VALUE, CurvePoints, Curves
from gomphosis.fem.section import Array
from gomphosis.fem.slot_edges import Flat


@dataclass(frozen=True)
class Seen:
    """Curves at their nearest points to the edges, looked at along the edges.

    Attributes
    ----------
    points
        Of the curves.
    tangent, normal
        Of the curves within the plane across the edge, in space, shape (m, 3).
    speed
        Length of the curve's slope within the plane, shape (m,).
    off
        Of the curve's point beyond the edge along the normal, mm, shape (m,).
    bent
        Second derivative along the tangent and the normal, 1/mm, shape (m, 2).
    """

    points: CurvePoints
    tangent: Array
    normal: Array
    speed: Array
    off: Array
    bent: Array

    @cached_property
    def across(self) -> Array:
        """Derivative of `off` by the nodes, shape (m, 12); minus that of the gap."""
        return self.points.pulled(VALUE, self.normal)

    @cached_property
    def along(self) -> Array:
        """The tangent on the derivative of the curve's point by the nodes, shape (m, 12)."""
        return self.points.pulled(VALUE, self.tangent)

    @cached_property
    def tilt(self) -> Array:
        """The normal on the derivative of the slope by the nodes, shape (m, 12)."""
        return self.points.pulled(SLOPE, self.normal)

    @cached_property
    def rub(self) -> Array:
        """Of a material point of the surface along the tangent by the nodes, shape (m, 12)."""
        return self.along + self._arm * self.tilt

    @property
    def _arm(self) -> Array:
        return (self.off / self.speed)[:, None]

    @cached_property
    def slide(self) -> Array:
        """Derivative of the station by the nodes, shape (m, 12)."""
        spread = self.speed**2 + self.off * self.bent[:, 1]
        return -(self.speed / spread)[:, None] * self.rub

    @cached_property
    def lean(self) -> Array:
        """Derivative of the tangent's angle within the plane by the nodes, shape (m, 12)."""
        return (self.tilt + self.bent[:, 1, None] * self.slide) / self.speed[:, None]

    def curve(self, by_across: Array, by_rub: Array) -> Array:
        """Return the derivative of a weighed sum of `across` and `rub` by the nodes, (m, 12, 12).

        Normal and tangent lean, the nearest point slides, and the surface's arm changes.

        Parameters
        ----------
        by_across, by_rub
            Fixed weights of the two, shape (m,).
        """
        points, arm = self.points, self._arm
        flat, drawn = by_across[:, None], by_rub[:, None]
        stretched = points.pulled(SLOPE, self.tangent)
        bowed = points.pulled(BEND, self.normal)
        tilt = drawn / self.speed[:, None] * self.tilt
        with_slide = flat * self.tilt + drawn * (stretched + arm * bowed)
        with_slide -= arm * self.bent[:, 0, None] * tilt
        other = self.across - arm * stretched
        with_lean = drawn * other - flat * self.along
        columns = np.stack([with_slide, with_lean, tilt], axis=2)
        result = columns @ np.stack([self.slide, self.lean, other], axis=1)
        result += points.turned(VALUE, flat * self.normal + drawn * self.tangent)
        result += points.turned(SLOPE, drawn * arm * self.normal)
        return result


def seen(curves: Curves, place: RodPlace, flat: Flat) -> Seen:
    """Look along the edges at curves, where they are nearest to them.

    Parameters
    ----------
    flat
        The m curves in the planes across the edges.
    """
    points = curves.at(place, flat.station)
    return Seen(
        points=points,
        tangent=_in_space(flat.tangent, flat.plane),
        normal=_in_space(flat.normal, flat.plane),
        speed=flat.speed,
        off=flat.off,
        bent=flat.bent,
    )


def _in_space(flat: Array, plane: Array) -> Array:
    return flat[:, :1] * plane[:, 0] + flat[:, 1:] * plane[:, 1]
