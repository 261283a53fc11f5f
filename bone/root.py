r"""Root as a body of revolution, and the ligament's thickness along it.

.. math:: r(z) = r_0\,(1 + z/h)^n, \qquad -h \le z \le 0,

z from apex to crown, zero at the bone crest. n = 0 is a cylinder, 1/2 a paraboloid, 1 a cone;
for 0 < n <= 1/2 the apex is rounded. A power profile stays one at any bone level.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.section import Array

FINE = 4001  # samples of the arc-length table


@dataclass(frozen=True)
class RootProfile:
    """Describe the embedded root.

    Parameters
    ----------
    radius
        Radius at the crest, mm.
    length
        Embedded length h, mm.
    exponent
        n of the power profile, 0 to 1.
    """

    radius: float
    length: float
    exponent: float

    def __post_init__(self) -> None:
        if not (self.radius > 0 and self.length > 0 and 0 <= self.exponent <= 1):
            raise ValueError(
                "root profile needs radius > 0 mm, length > 0 mm, 0 <= exponent <= 1; got "
                f"{self.radius}, {self.length}, {self.exponent}"
            )

    def below(self, depth: float) -> "RootProfile":
        """Return what stays embedded when the bone crest sinks by a depth in mm.

        A power profile cut at its upper end is a power profile again: same apex, same exponent,
        and the radius that the root has at the new crest.

        Raises
        ------
        ValueError
            If the depth is negative or not less than the embedded length.

        Examples
        --------
        >>> RootProfile(radius=3.0, length=12.0, exponent=0.5).below(9.0)
        RootProfile(radius=1.5, length=3.0, exponent=0.5)
        """
        left = self.length - depth
        if not 0 <= depth < self.length:
            raise ValueError(f"crest must sink by 0 to less than {self.length} mm; got {depth}")
        return RootProfile(self.radius * (left / self.length) ** self.exponent, left, self.exponent)

    def surface(self, s: Array) -> tuple[Array, Array]:
        """Return points and outward normals at arc-length fraction s (0 apex, 1 crest).

        Returns
        -------
        Two arrays of shape (2, n): (r, z) in mm, and unit normals.
        """
        parameter = self._parameter(np.asarray(s, dtype=float))
        point, tangent = self._curve(parameter)
        tangent = tangent / np.linalg.norm(tangent, axis=0)
        return point, np.stack([tangent[1], -tangent[0]])

    def arc_length(self) -> float:
        """Length of the profile from apex to crest, mm."""
        return float(self._table()[1][-1])

    def surface_area(self) -> float:
        """Area of the embedded root's surface, mm^2."""
        r, z = self.surface(np.linspace(0.0, 1.0, 2001))[0]
        return float(np.pi * np.sum((r[1:] + r[:-1]) * np.hypot(np.diff(r), np.diff(z))))

    def _curve(self, p: Array) -> tuple[Array, Array]:
        n, h, r0 = self.exponent, self.length, self.radius
        if n == 0.0:
            return np.stack([np.full_like(p, r0), h * (p - 1)]), np.stack([0 * p, h + 0 * p])
        power = p ** (1 / n)
        slope = p ** (1 / n - 1) / n
        return np.stack([r0 * p, h * (power - 1)]), np.stack([r0 + 0 * p, h * slope])

    def _table(self) -> tuple[Array, Array]:
        # cosine spacing resolves the rounded apex and the steep crest alike
        p = 0.5 * (1 - np.cos(np.pi * np.linspace(0, 1, FINE)))
        step = np.linalg.norm(np.diff(self._curve(p)[0], axis=1), axis=0)
        return p, np.concatenate([[0.0], np.cumsum(step)])

    def _parameter(self, s: Array) -> Array:
        p, arc = self._table()
        return np.interp(s * arc[-1], arc, p)


@dataclass(frozen=True)
class ThicknessProfile:
    """Describe the ligament's thickness by its values at crest, mid-root and apex, in mm.

    A parabola in depth runs through the three values (thinnest near the fulcrum: hourglass).
    """

    crest: float
    middle: float
    apex: float

    def __post_init__(self) -> None:
        depth = np.linspace(0, 1, 101)
        if not np.all(self.at(depth) > 0):
            raise ValueError(
                "ligament thickness must stay > 0 mm along the root; got crest "
                f"{self.crest}, middle {self.middle}, apex {self.apex}"
            )

    def at(self, depth: Array) -> Array:
        """Return the thickness in mm at a fraction of depth (0 crest, 1 apex)."""
        x = np.asarray(depth, dtype=float)
        return (
            self.crest * (1 - x) * (1 - 2 * x)
            + 4 * self.middle * x * (1 - x)
            + self.apex * x * (2 * x - 1)
        )

    @classmethod
    def uniform(cls, thickness: float) -> "ThicknessProfile":
        """Return a profile of one thickness in mm."""
        return cls(thickness, thickness, thickness)


def offset_surface(
    root: RootProfile, thickness: ThicknessProfile, s: Array, *, fraction: float
) -> Array:
    """Return (r, z) in mm, shape (2, n), at a fraction of the ligament's thickness.

    Fraction 0 is the root, 1 the socket wall, 1/2 the mid-surface.
    """
    point, normal = root.surface(s)
    depth = np.clip(-point[1] / root.length, 0.0, 1.0)
    return point + normal * (fraction * thickness.at(depth))
