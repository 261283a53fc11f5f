"""Line of quadratic edges in a section: mass matrix, normals, consistent tractions."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from gomphosis.fem.section import Array, Index

_GAUSS, _WEIGHT = np.polynomial.legendre.leggauss(4)
_SHAPE = np.stack([0.5 * _GAUSS * (_GAUSS - 1), 1 - _GAUSS**2, 0.5 * _GAUSS * (_GAUSS + 1)], axis=1)
_SLOPE = np.stack([_GAUSS - 0.5, -2 * _GAUSS, _GAUSS + 0.5], axis=1)


@dataclass(frozen=True)
class Line:
    """Hold a line of nodes, two edges sharing every other node.

    Attributes
    ----------
    nodes
        Indices in the section, shape (n,), n odd.
    place
        Coordinates (r, z) in mm, shape (n, 2).
    depth
        Extent of the body across the section at each node, mm, shape (n,); None for a body of
        revolution, whose extent is r per radian.
    """

    nodes: Index
    place: Array
    depth: Array | None = None

    @cached_property
    def _edges(self) -> Index:
        first = np.arange(0, len(self.nodes) - 2, 2)
        return first[:, None] + np.arange(3)

    @cached_property
    def mass(self) -> Array:
        """Consistent mass matrix, integral of N_i N_j b ds, shape (n, n), mm^2.

        The extent b is the depth, or r (then mm^2 per radian).
        """
        corner = self.place[self._edges]
        length = np.linalg.norm(np.einsum("qa,eac->eqc", _SLOPE, corner), axis=2)
        extent = corner[:, :, 0] if self.depth is None else self.depth[self._edges]
        across = np.einsum("qa,ea->eq", _SHAPE, extent)
        local = np.einsum("q,eq,eq,qa,qb->eab", _WEIGHT, length, across, _SHAPE, _SHAPE)
        total = np.zeros((len(self.nodes),) * 2)
        rows = np.broadcast_to(self._edges[:, :, None], local.shape)
        np.add.at(total, (rows, rows.transpose(0, 2, 1)), local)
        return total

    @cached_property
    def area(self) -> Array:
        """Area of wall that belongs to each node, mm^2 (per radian without depth), shape (n,)."""
        return self.mass.sum(axis=1)

    @cached_property
    def normal(self) -> Array:
        """Unit normal (r, z), to the right of the walk along the line, shape (n, 2)."""
        tangent = np.zeros_like(self.place)
        ends = np.array([-1.0, 0.0, 1.0])
        slope = np.stack([ends - 0.5, -2 * ends, ends + 0.5], axis=1)
        np.add.at(tangent, self._edges, np.einsum("na,eac->enc", slope, self.place[self._edges]))
        tangent /= np.linalg.norm(tangent, axis=1)[:, None]
        return np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)

    def traction(self, reaction: Array) -> Array:
        """Return nodal tractions in MPa that are consistent with nodal forces.

        Parameters
        ----------
        reaction
            Nodal forces in N, or force amplitudes in N/rad without depth, shape (n, ...).
        """
        flat = reaction.reshape(len(self.nodes), -1)
        found = np.linalg.solve(self.mass, flat).reshape(reaction.shape)
        return np.asarray(found, dtype=float)


class Lined(Protocol):
    """A mesh with named lines: a section of a body of revolution, or a plane body."""

    @property
    def nodes(self) -> Array:
        """Coordinates in mm, shape (2, n)."""
        ...

    @property
    def lines(self) -> Mapping[str, Index]:
        """Node indices of each line in order, mid-side nodes included."""
        ...


def line(mesh: Lined, name: str, *, depth: Array | None = None) -> Line:
    """Return a named line of a mesh.

    Parameters
    ----------
    depth
        Extent across the section at every node of the mesh, mm, shape (n,); None for a body of
        revolution.
    """
    nodes = mesh.lines[name]
    return Line(nodes, mesh.nodes[:, nodes].T, None if depth is None else depth[nodes])
