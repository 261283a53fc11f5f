"""A smooth plane field chosen in advance, and how fast the elements come near to it."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from gomphosis.fem.plane import (
    COMPONENTS,
    PlaneElements,
    gathered,
    isotropic_moduli,
    plane_elements,
)
from gomphosis.fem.plane_equilibrium import Loading, PlaneBody, linear_equilibrium
from gomphosis.fem.plane_grid import plane_grid
from gomphosis.fem.plane_mesh import PlaneMesh
from gomphosis.fem.plane_points import PlanePoints, plane_points
from gomphosis.fem.section import Array, Index
from gomphosis.scenarios.checks.manufactured import STEP, Complex

YOUNG = 1.0
COUNTS = (8, 16)  # elements along each side
GAUSS = 5  # of the errors; the stiffness is integrated by the product's own rule


@cache
def orders(poisson: float) -> tuple[float, float]:
    """Return the observed orders of convergence, displacement in L2 and strain energy norm."""
    coarse, fine = (_errors(poisson, count) for count in COUNTS)
    return float(np.log2(coarse[0] / fine[0])), float(np.log2(coarse[1] / fine[1]))


def distorted(count: int) -> PlaneMesh:
    """Mesh a curved body with elements that are no rectangles."""

    def place(xi: Array, eta: Array) -> Array:
        bulge = 0.05 * np.sin(2 * np.pi * xi) * np.sin(2 * np.pi * eta)
        return np.stack([xi + 0.2 * np.sin(2 * eta) + bulge, eta * (1 + 0.2 * xi) - bulge])

    grid = np.linspace(0.0, 1.0, count + 1)
    return plane_grid(grid, grid, mapping=place)


def rim(mesh: PlaneMesh) -> Index:
    """Return the nodes on the four sides of a grid."""
    return np.unique(np.concatenate(list(mesh.lines.values())))


def freedoms(nodes: Index) -> Index:
    """Return both degrees of freedom of every node."""
    return (COMPONENTS * nodes[:, None] + np.arange(COMPONENTS)).ravel()


def depth(x: Array, z: Array) -> Array:
    """Return a depth that varies smoothly, mm."""
    return 1.5 + np.sin(x) + 0.5 * z


@dataclass(frozen=True)
class Field:
    """A displacement whose dilatation fades like 1 - 2 nu, so that the pressure stays finite."""

    poisson: float

    def components(self, x: Complex, z: Complex) -> tuple[Complex, Complex]:
        """Return the displacement along x and z."""
        wave = np.sin(x + 2 * z)
        return 2 * wave + z**3 + (1 - 2 * self.poisson) * x**2, x**3 - wave

    def value(self, place: Array) -> Array:
        """Return the displacement at places (..., 2)."""
        x, z = place[..., 0] + 0j, place[..., 1] + 0j
        return np.stack(self.components(x, z), axis=-1).real.astype(float)

    def strain(self, place: Array) -> Array:
        """Return the strain xx, zz, xz at places (..., 2)."""
        x, z = place[..., 0] + 0j, place[..., 1] + 0j
        u_x, w_x = (part.imag / STEP for part in self.components(x + 1j * STEP, z))
        u_z, w_z = (part.imag / STEP for part in self.components(x, z + 1j * STEP))
        return np.stack([u_x, w_z, u_z + w_x], axis=-1).astype(float)


def _errors(poisson: float, count: int) -> tuple[float, float]:
    mesh, field = distorted(count), Field(poisson)
    fine = plane_points(mesh.nodes, mesh.elements, gauss=GAUSS)
    measure = plane_elements(fine, depth(*np.moveaxis(fine.place, -1, 0)))
    solution = _solved(mesh, fine, measure, field)
    miss = fine.value @ solution.reshape(-1, COMPONENTS)[mesh.elements] - field.value(fine.place)
    gap = measure.strain(solution) - field.strain(fine.place)
    # the energy of the projected strain, in one norm for every Poisson's ratio
    energy = np.einsum("eq,eqi,ij,eqj->", measure.measure, gap, isotropic_moduli(1.0, 0.3), gap)
    return float(np.sqrt(np.einsum("eq,eqc->", measure.measure, miss**2))), float(np.sqrt(energy))


def _solved(mesh: PlaneMesh, fine: PlanePoints, loads: PlaneElements, field: Field) -> Array:
    """Solve for the loads that hold the field in balance, its values given on the rim."""
    points = plane_points(mesh.nodes, mesh.elements)
    elements = plane_elements(points, depth(*np.moveaxis(points.place, -1, 0)))
    body = PlaneBody(elements, elements.stiffness(YOUNG, field.poisson))
    held = rim(mesh)
    free = freedoms(np.setdiff1d(np.arange(mesh.nodes.shape[1]), held))
    lead = np.zeros((mesh.nodes.shape[1], COMPONENTS))
    lead[held] = field.value(mesh.nodes[:, held].T)
    loading = Loading(_work(fine, loads, field), lead.ravel())
    return linear_equilibrium(body, body.pattern(free), loading).answer


def _work(fine: PlanePoints, loads: PlaneElements, field: Field) -> Array:
    """Return the work of the exact stress on every shape function: that of the body forces.

    The strain of the shape functions is the plain one: a body force knows no projection.
    """
    stress = (
        field.strain(fine.place) @ isotropic_moduli(YOUNG, field.poisson) * loads.measure[..., None]
    )
    dx, dz = fine.gradient[:, :, 0], fine.gradient[:, :, 1]
    xx, zz, xz = np.moveaxis(stress, -1, 0)
    along = np.einsum("eq,eqa->ea", xx, dx) + np.einsum("eq,eqa->ea", xz, dz)
    up = np.einsum("eq,eqa->ea", zz, dz) + np.einsum("eq,eqa->ea", xz, dx)
    local = np.stack([along, up], axis=-1).reshape(len(along), -1)
    return gathered(loads.dofs, local, size=loads.size)
