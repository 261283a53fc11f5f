r"""Elasticity of a body of revolution, one Fourier harmonic at a time.

The displacement of harmonic :math:`m` is
:math:`u_r = U\cos m\theta,\ u_z = W\cos m\theta,\ u_\theta = V\sin m\theta`
(for :math:`m = 0` the last is :math:`u_\theta = V`, torsion), so the strain amplitudes are

.. math::
   \varepsilon_{rr} = U_{,r},\quad \varepsilon_{zz} = W_{,z},\quad
   \varepsilon_{\theta\theta} = (U + mV)/r,

   \gamma_{rz} = U_{,z} + W_{,r},\quad \gamma_{r\theta} = V_{,r} - (V + mU)/r,\quad
   \gamma_{z\theta} = V_{,z} - mW/r.

The volumetric strain is projected, element by element, on linear polynomials (Q2 with
discontinuous linear pressure, condensed): no locking towards incompressibility, and the Lamé
constant lambda may be zero.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array, csr_array
from skfem import Basis, ElementQuad2

from gomphosis.fem.section import Array, Index, Section

COMPONENTS = 3  # U, W, V at every node
SHEAR = np.array([2.0, 2.0, 2.0, 1.0, 1.0, 1.0])  # doubles mu for the normal strains


def lame(
    young: npt.ArrayLike, poisson: npt.ArrayLike
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return the Lamé constants (lambda, mu) of Young's modulus in MPa and Poisson's ratio.

    Raises
    ------
    ValueError
        Unless young > 0 and 0 <= poisson < 0.5.
    """
    young, poisson = np.asarray(young, dtype=float), np.asarray(poisson, dtype=float)
    if np.any(young <= 0.0) or np.any(poisson < 0.0) or np.any(poisson >= 0.5):
        raise ValueError("needs Young's modulus > 0 MPa and 0 <= Poisson's ratio < 0.5")
    return young * poisson / ((1 + poisson) * (1 - 2 * poisson)), young / (2 * (1 + poisson))


def constrained_modulus(young: float, poisson: float) -> float:
    """Return M = E(1 - nu) / ((1 + nu)(1 - 2 nu)) in MPa: stiffness of a confined slab."""
    lam, mu = lame(young, poisson)
    return float(lam + 2 * mu)


@dataclass(frozen=True)
class Harmonic:
    """Hold the element matrices of one harmonic, ready for any elastic constants.

    Attributes
    ----------
    order
        Circumferential order m >= 0.
    dofs
        Degrees of freedom of every element, shape (elements, 27): 3 node + component.
    shear
        Element matrices for mu = 1, shape (elements, 27, 27), angular factor included.
    volumetric
        Element matrices for lambda = 1, same shape.
    pressure
        Maps element displacements to the three coefficients of the projected dilatation, shape
        (elements, 3, 27); amplitude, without angular factor.
    """

    order: int
    size: int
    dofs: Index
    shear: Array
    volumetric: Array
    pressure: Array

    def stiffness(
        self, young: Array, poisson: Array, *, elements: Index | None = None
    ) -> csr_array:
        """Assemble the stiffness matrix, shape (size, size), of all or some elements.

        Parameters
        ----------
        young, poisson
            Constants of every element of the section, MPa and dimensionless, shape (elements,).
        """
        lam, mu = lame(young, poisson)
        chosen = np.arange(len(self.dofs)) if elements is None else elements
        local = (
            mu[chosen, None, None] * self.shear[chosen]
            + lam[chosen, None, None] * self.volumetric[chosen]
        )
        dofs = self.dofs[chosen]
        rows = np.repeat(dofs, dofs.shape[1], axis=1).ravel()
        columns = np.tile(dofs, (1, dofs.shape[1])).ravel()
        shape = (self.size, self.size)
        return csr_array(coo_array((local.ravel(), (rows, columns)), shape=shape))


@dataclass(frozen=True)
class Quadrature:
    """Shape functions of a section at its integration points, shapes (elements, points, ...)."""

    nodes: Index
    value: Array
    gradient: Array
    place: Array
    weight: Array
    centre: Array


def quadrature(section: Section, *, order: int = 5) -> Quadrature:
    """Evaluate the shape functions of a section; order is that of the Gauss rule."""
    basis = Basis(section.mesh, ElementQuad2(), intorder=order)
    nodes = np.asarray(basis.element_dofs, dtype=np.int64).T
    value = np.stack([np.asarray(basis.basis[a][0]) for a in range(9)], axis=-1)
    value = np.broadcast_to(value, (nodes.shape[0], *value.shape[-2:]))
    gradient = np.stack([np.asarray(basis.basis[a][0].grad) for a in range(9)], axis=-1)
    place = np.asarray(basis.global_coordinates())
    centre = section.nodes[:, nodes].mean(axis=2).T
    return Quadrature(
        nodes, value, np.moveaxis(gradient, 0, 2), np.moveaxis(place, 0, 2), basis.dx, centre
    )


def harmonic(points: Quadrature, order: int) -> Harmonic:
    """Integrate the element matrices of circumferential order 0, 1, 2, ..."""
    strain = strain_matrix(points, order)
    angle = np.pi if order > 0 else 2 * np.pi
    measure = points.weight * points.place[:, :, 0]
    scaled = strain * (measure[:, :, None] * SHEAR)[..., None]
    size = strain.shape[-1]
    flat = (len(strain), -1, size)
    shear = np.matmul(strain.reshape(flat).transpose(0, 2, 1), scaled.reshape(flat))
    dilatation = strain[:, :, :3].sum(axis=2)
    linear = _linear_functions(points, points.place)
    mass = np.einsum("eq,eqi,eqj->eij", measure, linear, linear)
    moment = np.einsum("eq,eqi,eqd->eid", measure, linear, dilatation)
    pressure = np.linalg.solve(mass, moment)
    volumetric = np.matmul(moment.transpose(0, 2, 1), pressure)
    dofs = (COMPONENTS * points.nodes[:, :, None] + np.arange(COMPONENTS)).reshape(
        len(strain), size
    )
    total = COMPONENTS * (int(points.nodes.max()) + 1)
    return Harmonic(order, total, dofs, angle * shear, angle * volumetric, pressure)


def strain_matrix(points: Quadrature, order: int) -> Array:
    """Return the strain amplitudes' matrix, shape (elements, points, 6, 27).

    Rows are rr, zz, tt, rz, rt, zt (engineering shears); columns are U, W, V of each node.
    """
    elements, count, nodes = points.value.shape
    matrix = np.zeros((elements, count, 6, nodes, COMPONENTS))
    dr, dz = points.gradient[:, :, 0], points.gradient[:, :, 1]
    over_r = points.value / points.place[:, :, 0, None]
    matrix[:, :, 0, :, 0] = dr
    matrix[:, :, 1, :, 1] = dz
    matrix[:, :, 2, :, 0] = over_r
    matrix[:, :, 2, :, 2] = order * over_r
    matrix[:, :, 3, :, 0] = dz
    matrix[:, :, 3, :, 1] = dr
    matrix[:, :, 4, :, 0] = -order * over_r
    matrix[:, :, 4, :, 2] = dr - over_r
    matrix[:, :, 5, :, 1] = -order * over_r
    matrix[:, :, 5, :, 2] = dz
    return matrix.reshape(elements, count, 6, nodes * COMPONENTS)


def projected_dilatation(
    rule: Harmonic, points: Quadrature, displacement: Array, *, elements: Index, nodes: Array
) -> Array:
    """Return the projected volumetric strain of chosen elements at given places.

    Parameters
    ----------
    displacement
        Amplitudes, shape (size, columns).
    nodes
        Places (r, z) in mm, shape (elements chosen, places, 2).

    Returns
    -------
    Shape (elements chosen, places, columns).
    """
    local = displacement[rule.dofs[elements]]
    coefficients = np.einsum("eid,edc->eic", rule.pressure[elements], local)
    chosen = restricted(points, elements)
    return np.einsum("epi,eic->epc", _linear_functions(chosen, nodes), coefficients)


def restricted(points: Quadrature, elements: Index) -> Quadrature:
    """Return the quadrature of some elements only."""
    return Quadrature(
        points.nodes[elements],
        points.value[elements],
        points.gradient[elements],
        points.place[elements],
        points.weight[elements],
        points.centre[elements],
    )


def _linear_functions(points: Quadrature, place: Array) -> Array:
    offset = place - points.centre[:, None, :]
    # scaled by the element's own size so that the 3 x 3 mass matrix stays well conditioned
    size = np.abs(points.place - points.centre[:, None, :]).max(axis=1)
    return np.concatenate([np.ones((*offset.shape[:2], 1)), offset / size[:, None, :]], axis=2)
