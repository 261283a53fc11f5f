"""Line of quadratic edges in a section: mass matrix, normals, consistent tractions."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.section import Array, Index, Section

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
    """

    nodes: Index
    place: Array

    @cached_property
    def _edges(self) -> Index:
        first = np.arange(0, len(self.nodes) - 2, 2)
        return first[:, None] + np.arange(3)

    @cached_property
    def mass(self) -> Array:
        """Consistent mass matrix, integral of N_i N_j r ds, shape (n, n), mm^2 per radian."""
        corner = self.place[self._edges]
        length = np.linalg.norm(np.einsum("qa,eac->eqc", _SLOPE, corner), axis=2)
        radius = np.einsum("qa,ea->eq", _SHAPE, corner[:, :, 0])
        local = np.einsum("q,eq,eq,qa,qb->eab", _WEIGHT, length, radius, _SHAPE, _SHAPE)
        total = np.zeros((len(self.nodes),) * 2)
        rows = np.broadcast_to(self._edges[:, :, None], local.shape)
        np.add.at(total, (rows, rows.transpose(0, 2, 1)), local)
        return total

    @cached_property
    def area(self) -> Array:
        """Area of wall that belongs to each node, mm^2 per radian, shape (n,)."""
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
            Nodal force amplitudes per radian, N/rad, shape (n, ...).
        """
        flat = reaction.reshape(len(self.nodes), -1)
        found = np.linalg.solve(self.mass, flat).reshape(reaction.shape)
        return np.asarray(found, dtype=float)


def line(section: Section, name: str) -> Line:
    """Return a named line of a section."""
    nodes = section.lines[name]
    return Line(nodes, section.nodes[:, nodes].T)
