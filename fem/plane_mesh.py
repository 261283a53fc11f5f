"""Plane mesh of nine-node quadrilaterals with named regions and named lines of nodes."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.plane_points import NODES, shape_functions
from gomphosis.fem.section import Array, Index

EDGES = np.array([[0, 4, 1], [1, 5, 2], [2, 6, 3], [3, 7, 0]])
_CORNERS = np.array([[-1.0, 1.0, 1.0, -1.0], [-1.0, -1.0, 1.0, 1.0]])


_POINT, _WEIGHT = np.polynomial.legendre.leggauss(3)
_XI, _ETA = (axis.ravel() for axis in np.meshgrid(_POINT, _POINT, indexing="ij"))
_AREA = np.outer(_WEIGHT, _WEIGHT).ravel()


@dataclass(frozen=True)
class PlaneMesh:
    """Hold a mesh of the plane (x, z).

    Parameters
    ----------
    nodes
        Coordinates (x, z) in mm, shape (2, n).
    elements
        Node indices, shape (e, 9): corners counter-clockwise, mid-sides (the k-th between corners
        k and k + 1), centre.
    regions
        Element indices of each named region; every element is in exactly one.
    lines
        Node indices of each named line in order along it, mid-side nodes included. Each three
        (corner, mid-side, corner) are an edge of an element.

    Raises
    ------
    ValueError
        If an array has the wrong shape, an index is out of range, a node is unused, an element is
        turned inside out, in no region or in two, or a line leaves the edges. The message names
        the element, the node or the line and its place in mm.
    """

    nodes: Array
    elements: Index
    regions: Mapping[str, Index]
    lines: Mapping[str, Index]

    def __post_init__(self) -> None:
        self._check_arrays()
        self._check_jacobians()
        self._check_regions()
        for name, line in self.lines.items():
            self._check_line(name, line)

    @cached_property
    def jacobians(self) -> Array:
        """Determinants of the map from [-1, 1]^2 at the 3 x 3 Gauss points, mm2, shape (e, 9)."""
        return _determinant(*self._tangents(_XI, _ETA))

    @cached_property
    def areas(self) -> Array:
        """Area of each element, mm2, shape (e,)."""
        return self.jacobians @ _AREA

    @cached_property
    def centres(self) -> Array:
        """Centre node of each element, mm, shape (2, e)."""
        return self.nodes[:, self.elements[:, 8]]

    @cached_property
    def scaled_jacobians(self) -> Array:
        """Smallest sine of the angle between the grid lines of each element, shape (e,).

        Taken at corners and Gauss points: 1 for a rectangle, 0 for a corner of 180 degrees.
        """
        first, second = self._tangents(np.append(_XI, _CORNERS[0]), np.append(_ETA, _CORNERS[1]))
        size = np.linalg.norm(first, axis=0) * np.linalg.norm(second, axis=0)
        return np.min(_determinant(first, second) / size, axis=1)

    def area(self, region: str) -> float:
        """Area of a region in mm2."""
        return float(self.areas[self.regions[region]].sum())

    def length(self, line: str) -> float:
        """Length of a line in mm."""
        point, weight = np.polynomial.legendre.leggauss(4)
        slope = np.stack([point - 0.5, -2 * point, point + 0.5])
        place = self.nodes[:, self.lines[line]]
        edges = np.stack([place[:, :-2:2], place[:, 1:-1:2], place[:, 2::2]])
        tangent = np.einsum("aq,ace->ceq", slope, edges)
        return float((np.linalg.norm(tangent, axis=0) @ weight).sum())

    def _tangents(self, xi: Array, eta: Array) -> tuple[Array, Array]:
        slopes = shape_functions(xi, eta)[1]
        place = self.nodes[:, self.elements]
        first, second = np.einsum("cea,qda->dceq", place, slopes)
        return first, second

    def _check_arrays(self) -> None:
        if self.nodes.ndim != 2 or self.nodes.shape[0] != 2:
            raise ValueError(f"nodes need shape (2, n), got {self.nodes.shape}")
        if self.elements.ndim != 2 or self.elements.shape[1] != NODES or not len(self.elements):
            raise ValueError(f"elements need shape (e, {NODES}), got {self.elements.shape}")
        if not np.all(np.isfinite(self.nodes)):
            bad = int(np.flatnonzero(~np.isfinite(self.nodes).all(axis=0))[0])
            raise ValueError(f"node {bad} has no finite place: {self.nodes[:, bad]} mm")
        count = self.nodes.shape[1]
        wrong = np.any((self.elements < 0) | (self.elements >= count), axis=1)
        if wrong.any():
            bad = int(np.flatnonzero(wrong)[0])
            raise ValueError(f"element {bad} uses a node outside 0 to {count - 1}")
        unused = np.flatnonzero(np.bincount(self.elements.ravel(), minlength=count) == 0)
        if len(unused):
            raise ValueError(f"node {unused[0]} {self._at(unused[0])} belongs to no element")

    def _check_jacobians(self) -> None:
        worst = self.jacobians.min(axis=1)
        if worst.min() <= 0.0:
            bad = int(np.argmin(worst))
            raise ValueError(
                f"element {bad} {self._at(self.elements[bad, 8])} is turned inside out: Jacobian "
                f"{worst[bad]:.3g} mm2, expected > 0 at every Gauss point"
            )

    def _check_regions(self) -> None:
        total = np.zeros(len(self.elements), dtype=int)
        for name, members in self.regions.items():
            if len(members) and not 0 <= min(members) <= max(members) < len(total):
                raise ValueError(f"region {name} names an element outside 0 to {len(total) - 1}")
            np.add.at(total, members, 1)
        wrong = np.flatnonzero(total != 1)
        if len(wrong):
            place = self._at(self.elements[wrong[0], 8])
            raise ValueError(
                f"element {wrong[0]} {place} is in {total[wrong[0]]} regions, expected 1"
            )

    @cached_property
    def _edge_keys(self) -> Index:
        """Every edge as one number, sorted: low corner, mid-side and high corner coded."""
        return np.unique(self._code(self.elements[:, EDGES].reshape(-1, 3)))

    def _code(self, edges: Index) -> Index:
        count = self.nodes.shape[1]
        # the mid-side node fixes the edge; the corners are there to catch a broken order
        low, high = np.minimum(edges[:, 0], edges[:, 2]), np.maximum(edges[:, 0], edges[:, 2])
        return (edges[:, 1] * count + low) * count + high

    def _check_line(self, name: str, line: Index) -> None:
        if len(line) < 3 or len(line) % 2 == 0:
            raise ValueError(f"line {name} needs 3, 5, 7 ... nodes, got {len(line)}")
        if min(line) < 0 or max(line) >= self.nodes.shape[1]:
            raise ValueError(f"line {name} uses a node outside 0 to {self.nodes.shape[1] - 1}")
        edges = np.stack([line[:-2:2], line[1:-1:2], line[2::2]], axis=1)
        known = np.isin(self._code(edges), self._edge_keys)
        if not known.all():
            bad = edges[~known][0]
            raise ValueError(
                f"line {name} leaves the element edges at node {bad[1]} {self._at(bad[1])}"
            )

    def _at(self, node: int) -> str:
        x, z = self.nodes[:, node]
        return f"at x = {x:.4g}, z = {z:.4g} mm"


def _determinant(first: Array, second: Array) -> Array:
    return first[0] * second[1] - first[1] * second[0]
