r"""Plane-strain elasticity of nine-node quadrilaterals in a body of uneven depth.

The strain is split into dilatation, difference and shear,

.. math::
   d = u_{,x} + w_{,z},\quad s = u_{,x} - w_{,z},\quad \gamma = u_{,z} + w_{,x},

so that the energy of an isotropic body of depth b is
:math:`\tfrac12\int b\,[(\lambda+\mu)\,d^2 + \mu\,(s^2+\gamma^2)]\,dA`. The dilatation is projected,
element by element, on linear polynomials (quadratic displacement with discontinuous linear
pressure, condensed): no locking towards incompressibility, and the Lamé constant lambda may be
zero. Any other law sees the strain that belongs to the projected dilatation.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from gomphosis.fem.harmonic import lame
from gomphosis.fem.plane_points import PlanePoints
from gomphosis.fem.section import Array, Index

COMPONENTS = 2  # along x and z at every node
MODES = 3  # dilatation, difference, shear
# (dilatation, difference, shear) to strain xx, zz, xz
_TO_STRAIN = np.array([[0.5, 0.5, 0.0], [0.5, -0.5, 0.0], [0.0, 0.0, 1.0]])


@dataclass(frozen=True)
class PlaneElements:
    """Hold what the elements of a plane body need for any law.

    Attributes
    ----------
    size
        Number of degrees of freedom, two per node.
    dofs
        Degrees of freedom of every element, shape (elements, 18): 2 node + component.
    modes
        Maps an element's displacement to dilatation, difference and shear at every integration
        point, shape (elements, points, 3, 18).
    measure
        Volume of every integration point, weight times depth, mm^3, shape (elements, points).
    """

    size: int
    dofs: Index
    modes: Array
    measure: Array

    @cached_property
    def volume(self) -> Array:
        """Volume of every element, mm^3, shape (elements,)."""
        return self.measure.sum(axis=1)

    def stiffness(
        self, young: npt.ArrayLike, poisson: npt.ArrayLike, *, elements: Index | None = None
    ) -> Array:
        """Return the element matrices of an isotropic body, shape (elements, 18, 18), N/mm.

        Parameters
        ----------
        young, poisson
            Constants in MPa and dimensionless; each a number, one per chosen element, or one per
            integration point, shape (elements, points).

        Raises
        ------
        ValueError
            Unless young > 0 and 0 <= poisson < 0.5.
        """
        modes, measure = self._chosen(elements)
        bulk, shear = lame(_per_point(young, measure), _per_point(poisson, measure))
        weight = np.stack([(bulk + shear) * measure, shear * measure, shear * measure], axis=2)
        return _product(modes, modes * weight[..., None])

    def strain(self, displacement: Array, *, elements: Index | None = None) -> Array:
        """Return the strain xx, zz, xz (engineering shear), shape (elements, points, 3).

        Parameters
        ----------
        displacement
            Of every degree of freedom in mm, shape (size,).
        """
        modes, _ = self._chosen(elements)
        local = displacement[self._dofs(elements)]
        return np.matmul(_flat(modes), local[:, :, None]).reshape(modes.shape[:3]) @ _TO_STRAIN.T

    def tangent(self, moduli: Array, *, elements: Index | None = None) -> Array:
        """Return the element matrices of given moduli, shape (elements, 18, 18), N/mm.

        Parameters
        ----------
        moduli
            Derivative of the stress xx, zz, xz by the strain, MPa, symmetric, shape
            (elements, points, 3, 3).
        """
        modes, measure = self._chosen(elements)
        turned = (_TO_STRAIN.T @ moduli @ _TO_STRAIN) * measure[..., None, None]
        return _product(modes, np.matmul(turned, modes))

    def force(self, stress: Array, *, elements: Index | None = None) -> Array:
        """Return the nodal forces that a stress needs to be in balance, N, shape (size,).

        Parameters
        ----------
        stress
            Stress xx, zz, xz in MPa, shape (elements, points, 3).
        """
        modes, measure = self._chosen(elements)
        turned = (stress @ _TO_STRAIN) * measure[..., None]
        flat = turned.reshape(len(turned), 1, -1)
        return gathered(self._dofs(elements), np.matmul(flat, _flat(modes))[:, 0], size=self.size)

    def _chosen(self, elements: Index | None) -> tuple[Array, Array]:
        if elements is None:
            return self.modes, self.measure
        return self.modes[elements], self.measure[elements]

    def _dofs(self, elements: Index | None) -> Index:
        return self.dofs if elements is None else self.dofs[elements]


def gathered(dofs: Index, local: Array, *, size: int) -> Array:
    """Add local vectors up, shape (size,).

    Parameters
    ----------
    dofs, local
        Degrees of freedom and values of every part, shape (parts, m).
    """
    total = np.bincount(dofs.ravel(), weights=local.ravel(), minlength=size)
    return total.astype(np.float64, copy=False)


def plane_elements(points: PlanePoints, depth: npt.ArrayLike = 1.0) -> PlaneElements:
    """Prepare the elements of a plane body.

    Parameters
    ----------
    points
        The integration points of its mesh.
    depth
        Depth in mm, one number or one per integration point, shape (elements, points).

    Raises
    ------
    ValueError
        If the depth is not above zero at every integration point.
    """
    depth = np.broadcast_to(np.asarray(depth, dtype=float), points.weight.shape)
    if not np.all(depth > 0.0):
        raise ValueError(f"depth must be > 0 mm at integration points, found {np.min(depth):.3g}")
    measure = points.weight * depth
    dx, dz = points.gradient[:, :, 0], points.gradient[:, :, 1]
    elements, count, nodes = dx.shape
    modes = np.empty((elements, count, MODES, nodes, COMPONENTS))
    modes[:, :, 0, :, 0], modes[:, :, 0, :, 1] = dx, dz
    modes[:, :, 1, :, 0], modes[:, :, 1, :, 1] = dx, -dz
    modes[:, :, 2, :, 0], modes[:, :, 2, :, 1] = dz, dx
    modes = modes.reshape(elements, count, MODES, nodes * COMPONENTS)
    modes[:, :, 0] = projected(points, measure, modes[:, :, 0])
    dofs = (COMPONENTS * points.elements[:, :, None] + np.arange(COMPONENTS)).reshape(elements, -1)
    return PlaneElements(COMPONENTS * points.count, dofs, modes, measure)


def projected(points: PlanePoints, measure: Array, dilatation: Array) -> Array:
    """Return the best linear fit of rows at the integration points, shape as given.

    Parameters
    ----------
    measure
        Weight of the fit, shape (elements, points).
    dilatation
        Shape (elements, points, columns).
    """
    linear = points.linear
    weighted = (linear * measure[:, :, None]).transpose(0, 2, 1)
    mass = np.matmul(weighted, linear)
    return np.matmul(linear, np.linalg.solve(mass, np.matmul(weighted, dilatation)))


def isotropic_moduli(young: npt.ArrayLike, poisson: npt.ArrayLike) -> Array:
    """Return the plane-strain moduli of stress xx, zz, xz by strain, MPa, shape (..., 3, 3).

    Raises
    ------
    ValueError
        Unless young > 0 and 0 <= poisson < 0.5.
    """
    bulk, shear = np.broadcast_arrays(*lame(young, poisson))
    moduli = np.zeros((*bulk.shape, 3, 3))
    moduli[..., 0, 0] = moduli[..., 1, 1] = bulk + 2 * shear
    moduli[..., 0, 1] = moduli[..., 1, 0] = bulk
    moduli[..., 2, 2] = shear
    return moduli


def _per_point(constant: npt.ArrayLike, measure: Array) -> Array:
    given = np.asarray(constant, dtype=float)
    # one number per element applies to all its points
    return np.broadcast_to(given[:, None] if given.ndim == 1 else given, measure.shape)


def _flat(modes: Array) -> Array:
    return modes.reshape(len(modes), -1, modes.shape[-1])


def _product(modes: Array, scaled: Array) -> Array:
    return np.matmul(_flat(modes).transpose(0, 2, 1), _flat(scaled))
