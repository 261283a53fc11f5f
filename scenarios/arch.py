"""Places along the arch and the passive line of a wire, in the arch frame.

Arch frame of one jaw: z occlusal (apex to crown), x labial at the midline, y = z × x, so that a
tooth's frame at the midline is parallel to it. y runs to the patient's right in the upper jaw
and to the left in the lower one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from gomphosis.bone.directions import arch_side
from gomphosis.bone.teeth import Tooth, tooth
from gomphosis.fem.section import Array

NEWTON = 3  # steps from the table's straight chords to round-off
UP = np.array([0.0, 0.0, 1.0])


class PassiveLine(Protocol):
    """Give the wire's passive shape in the occlusal plane."""

    def point(self, place: Array) -> Array:
        """Return points in mm, shape (n, 3), at arc lengths from the midline, shape (n,)."""
        ...

    def direction(self, place: Array) -> Array:
        """Return the angle of the tangent from +y towards +x, rad, shape (n,)."""
        ...


@dataclass(frozen=True)
class StraightLine:
    """A straight wire along y."""

    def point(self, place: Array) -> Array:
        """Return points in mm, shape (n, 3)."""
        place = np.asarray(place, dtype=float)
        return np.stack([0 * place, place, 0 * place], axis=-1)

    def direction(self, place: Array) -> Array:
        """Return zero: the tangent is y."""
        return np.zeros_like(np.asarray(place, dtype=float))


@dataclass(frozen=True)
class ArchForm:
    """A smooth symmetric arch, x(y) = -D [(1 - q)(y/W)^2 + q (y/W)^4].

    Parameters
    ----------
    half_width, depth
        W and D in mm: the arch falls back by D at the distance W from the midline.
    squareness
        q from 0 (parabola) to 1 (flat front).
    """

    half_width: float
    depth: float
    squareness: float

    def __post_init__(self) -> None:
        if not (self.half_width > 0 and self.depth >= 0 and 0 <= self.squareness <= 1):
            raise ValueError(
                "arch form needs half_width > 0 mm, depth >= 0 mm, squareness 0 to 1; got "
                f"{self.half_width}, {self.depth}, {self.squareness}"
            )

    def _fall(self, y: Array) -> Array:
        u = y / self.half_width
        return -self.depth * ((1 - self.squareness) * u**2 + self.squareness * u**4)

    def _slope(self, y: Array) -> Array:
        u = y / self.half_width
        rise = 2 * (1 - self.squareness) * u + 4 * self.squareness * u**3
        return -self.depth / self.half_width * rise

    @cached_property
    def _table(self) -> tuple[Array, Array]:
        # for one side only, so that mirror cases stay exact
        y = np.linspace(0.0, 3.0 * self.half_width, 3001)
        return y, np.concatenate([[0.0], np.cumsum(self._length(y[:-1], y[1:]))])

    def _ordinate(self, place: Array) -> Array:
        y, arc = self._table
        place = np.asarray(place, dtype=float)
        beyond = np.abs(place)
        if np.any(beyond > arc[-1]):
            raise ValueError(f"place beyond the ends of the arch form at {arc[-1]:.1f} mm")
        left = np.clip(np.searchsorted(arc, beyond, side="right") - 1, 0, len(y) - 2)
        found = np.interp(beyond, arc, y)
        for _ in range(NEWTON):
            missing = beyond - arc[left] - self._length(y[left], found)
            found = found + missing / np.hypot(1.0, self._slope(found))
        return np.sign(place) * found

    def _length(self, start: Array, end: Array) -> Array:
        """Return the arc length between ordinates, mm, by Simpson's rule."""
        ends = (start, 0.5 * (start + end), end)
        speed = [np.hypot(1.0, self._slope(y)) for y in ends]
        return (end - start) * (speed[0] + 4 * speed[1] + speed[2]) / 6

    def point(self, place: Array) -> Array:
        """Return points in mm, shape (n, 3)."""
        y = self._ordinate(place)
        return np.stack([self._fall(y), y, 0 * y], axis=-1)

    def direction(self, place: Array) -> Array:
        """Return the tangent's angle from +y towards +x, rad."""
        return np.arctan(self._slope(self._ordinate(place)))


@dataclass(frozen=True)
class PointsLine:
    """A smooth line through given points of the occlusal plane.

    Parameters
    ----------
    forward, sideways
        x and y of the points in mm, in order along the wire, y rising through 0.

    Raises
    ------
    ValueError
        If there are fewer than three points, two coincide, or the line does not cross the
        midline once, towards rising y.
    """

    forward: tuple[float, ...]
    sideways: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.forward) != len(self.sideways) or len(self.forward) < 3:
            raise ValueError("a line through points needs at least three of them")
        gaps = np.hypot(np.diff(self.forward), np.diff(self.sideways))
        if np.any(gaps < 0.1):
            raise ValueError("points of a line must be at least 0.1 mm apart")
        signs = np.sign(self.sideways)
        if signs[0] >= 0 or signs[-1] <= 0 or len(self._crossings) != 1:
            raise ValueError("a line through points must cross the midline once, from y < 0")

    @cached_property
    def _spline(self) -> CubicSpline:
        points = np.stack([self.forward, self.sideways], axis=1)
        chords = np.linalg.norm(np.diff(points, axis=0), axis=1)
        return CubicSpline(np.concatenate([[0.0], np.cumsum(chords)]), points, bc_type="natural")

    @cached_property
    def _crossings(self) -> Array:
        roots = CubicSpline(self._spline.x, self.sideways, bc_type="natural").roots(
            extrapolate=False
        )
        return np.unique(np.round(np.asarray(roots, dtype=np.float64), 9))

    @cached_property
    def _table(self) -> tuple[Array, Array]:
        """Parameters, and arc lengths from the midline."""
        spline, middle = self._spline, float(self._crossings[0])
        marks = np.union1d(np.linspace(spline.x[0], spline.x[-1], 2001), [middle])
        half = 0.5 * np.diff(marks)
        centre = 0.5 * (marks[:-1] + marks[1:])
        nodes, weights = np.polynomial.legendre.leggauss(4)
        speed = np.linalg.norm(spline(centre[:, None] + half[:, None] * nodes, 1), axis=2)
        arc = np.concatenate([[0.0], np.cumsum(half * (speed @ weights))])
        return marks, arc - arc[np.searchsorted(marks, middle)]

    def _parameter(self, place: Array) -> tuple[Array, Array]:
        """Return parameters and what lies beyond the ends, mm."""
        marks, arc = self._table
        place = np.asarray(place, dtype=float)
        inside = np.clip(place, arc[0], arc[-1])
        return PchipInterpolator(arc, marks)(inside), place - inside

    def point(self, place: Array) -> Array:
        """Return points in mm, shape (n, 3); beyond the ends the line goes on straight."""
        parameter, beyond = self._parameter(place)
        slope = self._spline(parameter, 1)
        flat = self._spline(parameter)
        flat = flat + beyond[..., None] * slope / np.linalg.norm(slope, axis=-1, keepdims=True)
        return np.concatenate([flat, 0 * flat[..., :1]], axis=-1)

    def direction(self, place: Array) -> Array:
        """Return the tangent's angle from +y towards +x, rad."""
        slope = np.asarray(self._spline(self._parameter(place)[0], 1), dtype=np.float64)
        return np.arctan2(slope[..., 0], slope[..., 1])


def axes(angle: float) -> Array:
    """Return labial, tangent and occlusal unit vectors as columns, shape (3, 3).

    Parameters
    ----------
    angle
        Tangent's angle from +y towards +x, rad.
    """
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])


def triads(line: PassiveLine, place: Array) -> Array:
    """Return a wire's axes (along, occlusal, labial) as columns along a line, shape (n, 3, 3).

    Parameters
    ----------
    place
        Arc lengths from the midline, mm, shape (n,).
    """
    return np.stack([axes(angle)[:, [1, 2, 0]] for angle in line.direction(place)])


def places(teeth: Sequence[Tooth]) -> Array:
    """Return each tooth's arc length from the midline, signed along y, mm, shape (n,).

    Teeth stand in contact: distances are sums of crown widths, of the catalogue for teeth that
    are not given.
    """
    given = {t.number: t for t in teeth}

    def width(number: int) -> float:
        return (given.get(number) or tooth(number)).crown_mesiodistal

    result = []
    for t in teeth:
        first = 10 * (t.number // 10) + 1
        inner = sum(width(number) for number in range(first, t.number))
        result.append(-arch_side(t.number) * (inner + 0.5 * width(t.number)))
    return np.array(result)
