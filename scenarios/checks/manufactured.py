"""Smooth fields chosen in advance, and how fast the elements come near to them."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from gomphosis.bone.support import axis_ties
from gomphosis.fem.condensation import solve_spd
from gomphosis.fem.harmonic import (
    COMPONENTS,
    SHEAR,
    Quadrature,
    harmonic,
    lame,
    quadrature,
    strain_matrix,
)
from gomphosis.fem.section import Array, Section, tensor_section

Complex = npt.NDArray[np.complexfloating[Any, Any]]
STEP = 1e-30  # of differentiation along the imaginary axis: exact to round-off
YOUNG, POISSON = 1.0, 0.3
COUNTS = (8, 16)  # elements along each side


@dataclass(frozen=True)
class Field:
    """Displacement amplitudes (U, W, V) of a harmonic as analytic functions of r and z.

    They must be regular on the axis: order 0 has U, V ~ r; order 1 W ~ r and V + U ~ r^2;
    order 2 U + V ~ r^3 and W ~ r^2.
    """

    order: int
    value: Callable[[Complex, Complex], tuple[Complex, Complex, Complex]]

    def at(self, r: Array, z: Array) -> Array:
        """Return the amplitudes, shape (..., 3)."""
        return np.stack(self.value(r + 0j, z + 0j), axis=-1).real.astype(float)

    def strain(self, r: Array, z: Array) -> Array:
        """Return the strain amplitudes rr, zz, tt, rz, rt, zt, shape (..., 6)."""
        u, w, v = np.moveaxis(self.at(r, z), -1, 0)
        u_r, w_r, v_r = (part.imag / STEP for part in self.value(r + 1j * STEP, z + 0j))
        u_z, w_z, v_z = (part.imag / STEP for part in self.value(r + 0j, z + 1j * STEP))
        m = self.order
        rows = [u_r, w_z, (u + m * v) / r, u_z + w_r, v_r - (v + m * u) / r, v_z - m * w / r]
        return np.stack(rows, axis=-1).astype(float)


FIELDS = {
    "axial": Field(0, lambda r, z: (r * np.cos(z + r**2), np.sin(z) * np.cos(r**2), 0 * r)),
    "torsion": Field(0, lambda r, z: (0 * r, 0 * r, r * np.sin(1.5 * z + r**2))),
    "lateral": Field(
        1,
        lambda r, z: (
            np.cos(z) + r**2 * np.sin(2 * z),
            r * np.exp(-z) * np.cos(r**2),
            -np.cos(z) + r**2 * np.cos(z + r**2),
        ),
    ),
    "second": Field(
        2,
        lambda r, z: (
            r * np.cos(z) + r**3 * np.sin(z),
            r**2 * np.exp(-z),
            -r * np.cos(z) + r**3 * np.cos(z),
        ),
    ),
}


@cache
def orders(name: str) -> tuple[float, float]:
    """Return the observed orders of convergence, displacement in L2 and strain energy norm."""
    coarse, fine = (_errors(FIELDS[name], count) for count in COUNTS)
    return float(np.log2(coarse[0] / fine[0])), float(np.log2(coarse[1] / fine[1]))


def _section(count: int) -> Section:
    """Mesh a body that reaches the axis and has curved sides."""

    def place(xi: Array, eta: Array) -> Array:
        r = eta * (1 + 0.2 * np.sin(2 * xi))
        return np.stack([r, xi + 0.15 * eta * np.cos(xi + eta)])

    grid = np.linspace(0.0, 1.0, count + 1)
    return tensor_section(grid, {"body": grid}, mapping=place, lines={"outer": 1.0})


def _errors(field: Field, count: int) -> tuple[float, float]:
    section = _section(count)
    points = quadrature(section, order=9)
    exact = field.strain(points.place[:, :, 0], points.place[:, :, 1])
    angle = np.pi if field.order else 2 * np.pi
    measure = angle * points.weight * points.place[:, :, 0]
    solution = _solved(field, section, points, exact * measure[:, :, None])
    local = solution.reshape(-1, COMPONENTS)[points.nodes]
    value = np.einsum("eqa,eac->eqc", points.value, local)
    miss = value - field.at(points.place[:, :, 0], points.place[:, :, 1])
    shape = strain_matrix(points, field.order)
    gap = np.einsum("eqid,ed->eqi", shape, local.reshape(len(local), -1)) - exact
    energy = np.einsum("eq,eqi,eqi->", measure, gap, _stress(gap))
    return float(np.sqrt(np.einsum("eq,eqc->", measure, miss**2))), float(np.sqrt(energy))


def _stress(strain: Array) -> Array:
    lam, mu = lame(YOUNG, POISSON)
    stress = mu * SHEAR * strain
    stress[..., :3] += lam * strain[..., :3].sum(axis=-1, keepdims=True)
    return stress


def _solved(field: Field, section: Section, points: Quadrature, strain: Array) -> Array:
    """Solve for the loads that hold the field in balance, its values given on the surface."""
    rule = harmonic(points, field.order)
    size = section.mesh.nelements
    matrix = rule.stiffness(np.full(size, YOUNG), np.full(size, POISSON))
    # work of the exact stress on every shape function: equals the body forces' work
    shape = strain_matrix(points, field.order)
    work = np.einsum("eqid,eqi->ed", shape, _stress(strain))
    load = np.zeros(COMPONENTS * section.nodes.shape[1])
    np.add.at(load, rule.dofs, work)
    surface = np.concatenate([section.lines[name] for name in ("outer", "start", "end")])
    held = (COMPONENTS * surface[:, None] + np.arange(COMPONENTS)).ravel()
    lead = np.zeros_like(load)
    lead[held] = field.at(*section.nodes).ravel()[held]
    ties = axis_ties(section, field.order)
    free = np.ones(len(load), dtype=bool)
    free[held] = False
    used = np.asarray(abs(ties).sum(axis=0)).ravel() > 0
    spread = ties[:, np.flatnonzero(free & used)]
    inner = (spread.T @ matrix @ spread).tocsc()
    return lead + spread @ solve_spd(inner, spread.T @ (load - matrix @ lead))
