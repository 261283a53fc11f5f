"""Integration points of nine-node quadrilaterals in a plane."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.section import Array, Index

NODES = 9
GAUSS = 3  # points along each side: exact to fifth order
# place of the corners, mid-sides and centre among the three stations along each direction
_STATION = np.array([[0, 0], [2, 0], [2, 2], [0, 2], [1, 0], [2, 1], [1, 2], [0, 1], [1, 1]])


@dataclass(frozen=True)
class PlanePoints:
    """Hold shape functions and places of the integration points of a mesh.

    Attributes
    ----------
    elements
        Nodes of every element, shape (elements, 9).
    count
        Number of nodes of the mesh.
    value
        Shape functions, shape (points, 9).
    gradient
        Their slopes along x and z, 1/mm, shape (elements, points, 2, 9).
    place
        Coordinates x, z in mm, shape (elements, points, 2).
    weight
        Area of every point, mm^2, shape (elements, points).
    """

    elements: Index
    count: int
    value: Array
    gradient: Array
    place: Array
    weight: Array

    @cached_property
    def linear(self) -> Array:
        """Constant and the two linear functions, shape (elements, points, 3).

        Measured from the element's middle in units of its own size, so that sums of their
        products stay well conditioned.
        """
        offset = self.place - self.place.mean(axis=1, keepdims=True)
        size = np.abs(offset).max(axis=1, keepdims=True)
        return np.concatenate([np.ones((*offset.shape[:2], 1)), offset / size], axis=2)

    def interpolated(self, values: Array) -> Array:
        """Return nodal values, shape (count,), at the integration points, (elements, points)."""
        return values[self.elements] @ self.value.T


def plane_points(nodes: Array, elements: Index, *, gauss: int = GAUSS) -> PlanePoints:
    """Evaluate the shape functions of a mesh at its integration points.

    Parameters
    ----------
    nodes
        Coordinates x, z in mm, shape (2, count).
    elements
        Nodes of every element, shape (elements, 9): corners counter-clockwise, mid-sides (each
        after the corner that it follows), centre.
    gauss
        Integration points along each side of an element.

    Raises
    ------
    ValueError
        If the shapes do not fit, or an element is turned inside out at an integration point.
    """
    if nodes.ndim != 2 or len(nodes) != 2 or elements.ndim != 2 or elements.shape[1] != NODES:
        raise ValueError(
            f"needs nodes (2, n) and elements (e, 9), got {nodes.shape} and {elements.shape}"
        )
    value, slope, weight = _reference(gauss)
    corner = np.moveaxis(nodes[:, elements], 0, 2)
    # [e, q, i, c] = d coordinate c / d parameter i
    jacobian = np.einsum("qia,eac->eqic", slope, corner)
    area = np.linalg.det(jacobian)
    if not np.all(area > 0.0):
        element = int(np.argmin(area.min(axis=1)))
        middle = corner[element, -1]
        raise ValueError(
            f"element {element} near x = {middle[0]:.3f}, z = {middle[1]:.3f} mm is turned inside "
            f"out (or its corners run clockwise): area ratio {area[element].min():.3g}"
        )
    gradient = np.matmul(np.linalg.inv(jacobian), slope)
    place = np.einsum("qa,eac->eqc", value, corner)
    return PlanePoints(elements, nodes.shape[1], value, gradient, place, weight * area)


def shape_functions(xi: Array, eta: Array) -> tuple[Array, Array]:
    """Return the nine shape functions, (points, 9), and their slopes, (points, 2, 9).

    Parameters
    ----------
    xi, eta
        Parameters from -1 to 1, shape (points,).
    """
    along, across = _parabolas(xi), _parabolas(eta)
    first, second = _STATION.T
    value = along[0][:, first] * across[0][:, second]
    slope = np.stack(
        [along[1][:, first] * across[0][:, second], along[0][:, first] * across[1][:, second]],
        axis=1,
    )
    return value, slope


def _parabolas(t: Array) -> tuple[Array, Array]:
    value = np.stack([0.5 * t * (t - 1), 1 - t**2, 0.5 * t * (t + 1)], axis=1)
    return value, np.stack([t - 0.5, -2 * t, t + 0.5], axis=1)


def _reference(gauss: int) -> tuple[Array, Array, Array]:
    place, weight = np.polynomial.legendre.leggauss(gauss)
    xi, eta = (grid.ravel() for grid in np.meshgrid(place, place, indexing="ij"))
    return *shape_functions(xi, eta), np.outer(weight, weight).ravel()
