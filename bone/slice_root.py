"""Root surface in the plane of a slice: from the left crest round the apex to the right crest."""

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from gomphosis.bone.root import RootProfile
from gomphosis.fem.section import Array

SAMPLES = 1501  # of one side of the root
LARGEST_TURN = 0.02  # of the normal between neighbouring samples, rad


class Thickness(Protocol):
    """Give a ligament's thickness along the root."""

    def at(self, depth: Array) -> Array:
        """Return the thickness in mm at a fraction of depth (0 crest, 1 apex)."""
        ...


@dataclass(frozen=True)
class RootOutline:
    """Hold a finely sampled root surface in the tooth frame.

    Between samples the surface is a cubic with the samples' tangents. Where the surface has a
    corner the samples repeat its place while the normal turns, so that a layer around it is
    rounded.

    Parameters
    ----------
    points
        Places (x, z) in mm, shape (2, n), from the left crest round the apex to the right crest.
    normals
        Outward unit normals, shape (2, n).
    apex
        Index of the sample on the axis at the apex.

    Raises
    ------
    ValueError
        If the apex is not the lowest point, the surface climbs on its way to the apex, or the
        long axis x = 0 leaves the root; the message gives the place in mm.
    """

    points: Array
    normals: Array
    apex: int

    def __post_init__(self) -> None:
        x, z = self.points
        size = float(np.ptp(z))
        falling = np.concatenate([np.diff(z[: self.apex + 1]), -np.diff(z[self.apex :])])
        if falling.max() > 1e-9 * size:
            bad = int(np.argmax(falling))
            raise ValueError(
                f"root surface climbs at {_at(self.points[:, bad])} on its way to the apex"
            )
        inside = np.concatenate([-x[: self.apex], x[self.apex :]])
        elsewhere = np.any(self.points != self.points[:, [self.apex]], axis=0)
        inside[~elsewhere] = np.inf
        if inside.min() <= 0.0:
            raise ValueError(
                f"long axis x = 0 leaves the root at {_at(self.points[:, int(np.argmin(inside))])}"
            )

    @classmethod
    def of_profile(cls, root: RootProfile) -> "RootOutline":
        """Return the mid-plane of a root that is a body of revolution.

        A cylinder is closed by its flat end, which the axisymmetric model leaves open.
        """
        # cosine spacing resolves the rounded apex and the crest alike
        s = 0.5 * (1 - np.cos(np.pi * np.linspace(0, 1, SAMPLES)))
        point, normal = root.surface(s)
        if point[0, 0] > 0.0:
            flat = np.linspace(0.0, point[0, 0], 101)
            end = np.stack([flat, np.full_like(flat, point[1, 0])])
            point = np.concatenate([end, point], axis=1)
            down = np.stack([np.zeros_like(flat), -np.ones_like(flat)])
            normal = np.concatenate([down, normal], axis=1)
        mirror = np.array([[-1.0], [1.0]])
        left, bent = mirror * point[:, ::-1], mirror * normal[:, ::-1]
        points, normals = _rounded(
            np.concatenate([left, point], axis=1), np.concatenate([bent, normal], axis=1)
        )
        on_axis = np.flatnonzero(points[1] == points[1].min())
        middle = on_axis[np.abs(points[0, on_axis]) == np.abs(points[0, on_axis]).min()]
        return cls(points, normals, int(middle[len(middle) // 2]))

    @cached_property
    def arc(self) -> Array:
        """Arc length from the left crest at every sample, mm, shape (n,)."""
        return arc_lengths(self.points)

    @property
    def depth(self) -> float:
        """Depth of the apex below the middle of the crest, mm."""
        return -float(self.points[1, self.apex])

    def station(self, length: Array) -> Array:
        """Return the (fractional) sample number at arc lengths from the left crest, mm.

        At a corner it is the middle of the samples that repeat it.
        """
        place, number = np.asarray(length), np.arange(len(self.arc), dtype=float)
        after = np.interp(place, self.arc, number)
        before = np.interp(-place, -self.arc[::-1], number[::-1])
        return 0.5 * (before + after)

    def at(self, station: Array) -> tuple[Array, Array]:
        """Return places in mm and outward unit normals, each (2, m), at sample numbers."""
        low = np.clip(np.floor(station).astype(int), 0, self.points.shape[1] - 2)
        u = station - low
        first, second = self.points[:, low], self.points[:, low + 1]
        normal = self.normals[:, low] * (1 - u) + self.normals[:, low + 1] * u
        chord = np.linalg.norm(second - first, axis=0)
        start, end = (_tangent(self.normals[:, low + k]) * chord for k in (0, 1))
        place = (
            first * (1 + 2 * u) * (1 - u) ** 2
            + start * u * (1 - u) ** 2
            + second * u**2 * (3 - 2 * u)
            + end * u**2 * (u - 1)
        )
        return place, normal / np.linalg.norm(normal, axis=0)

    def offset(self, thickness: Thickness, station: Array, *, fraction: float) -> Array:
        """Return places (2, m) in mm at a fraction of the ligament's thickness: 1 is the wall."""
        place, normal = self.at(station)
        depth = np.clip(-place[1] / self.depth, 0.0, 1.0)
        return place + normal * (fraction * thickness.at(depth))

    def half_widths(self, z: Array) -> tuple[Array, Array]:
        """Return x of the left (negative) and of the right surface at heights z, mm."""
        x, height = self.points
        left = np.interp(-z, -height[: self.apex + 1], x[: self.apex + 1])
        return left, np.interp(z, height[self.apex :], x[self.apex :])


def arc_lengths(points: Array) -> Array:
    """Return the length along a polyline, mm, at each of its points (2, n)."""
    steps = np.linalg.norm(np.diff(points, axis=1), axis=0)
    return np.concatenate([[0.0], np.cumsum(steps)])


def _rounded(points: Array, normals: Array) -> tuple[Array, Array]:
    """Add samples wherever the normal turns too far between neighbours."""
    angle = np.unwrap(np.arctan2(normals[1], normals[0]))
    count = np.maximum(1, np.ceil(np.abs(np.diff(angle)) / LARGEST_TURN).astype(int))
    number = np.append(
        np.repeat(np.arange(len(count)), count) + np.concatenate([np.arange(k) / k for k in count]),
        len(count),
    )
    every = np.arange(len(angle))
    turned = np.interp(number, every, angle)
    placed = np.stack([np.interp(number, every, axis) for axis in points])
    found = np.stack([np.cos(turned), np.sin(turned)])
    kept = np.isin(number, every)
    found[:, kept] = normals
    return placed, found


def _tangent(normal: Array) -> Array:
    return np.stack([-normal[1], normal[0]])


def _at(place: Array) -> str:
    return f"x = {place[0]:.4g}, z = {place[1]:.4g} mm"
