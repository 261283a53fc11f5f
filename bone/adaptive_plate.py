"""A square plate under a falling edge load, whose density adapts to its strain energy.

The published benchmark of the adaptation law. Bilinear square elements in plane stress; density
either constant in each element or given at nodes and interpolated.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.ndimage import label
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import splu

from gomphosis.bone.adaptation import Adaptation
from gomphosis.fem.section import Array, Index

GAUSS = 0.5 + np.array([-0.5, 0.5]) / np.sqrt(3)


@dataclass(frozen=True)
class AdaptivePlate:
    """Lay a square plate of unit side on rollers, loaded from above.

    Parameters
    ----------
    side
        Elements along a side.
    load
        Pressure on the upper edge at x = 0, MPa; it falls linearly to zero at x = 1.
    coefficient, exponent
        E = coefficient · rho^exponent, MPa from g/cm^3.
    poisson
        Poisson's ratio.
    nodal
        Whether densities belong to nodes instead of elements.

    Notes
    -----
    The lower edge is held vertically and its left corner also sideways (assumed: the published
    conditions were not seen).
    """

    side: int
    load: float
    coefficient: float
    exponent: float
    poisson: float
    nodal: bool

    def __post_init__(self) -> None:
        if self.side < 2 or not -1 < self.poisson < 0.5 or not self.coefficient > 0:
            raise ValueError(
                "plate needs 2 elements a side, -1 < nu < 0.5 and coefficient > 0; got "
                f"{self.side}, {self.poisson}, {self.coefficient}"
            )

    @property
    def shape(self) -> tuple[int, int]:
        """Shape of the density field, along x and along z."""
        count = self.side + self.nodal
        return count, count

    def energy(self, density: Array) -> Array:
        """Return the strain energy per volume, MPa, where the densities are.

        In elements it is the mean over the element; at nodes the mean over the elements around,
        each point weighted by the node's shape function there.

        Parameters
        ----------
        density
            g/cm^3, of `shape`.
        """
        at_points = self._to_points(density.ravel())
        modulus = self.coefficient * at_points**self.exponent
        strain = self._strain(modulus)
        unit = 0.5 * np.einsum("eqi,ij,eqj->eq", strain, self._material, strain)
        return self._from_points(modulus * unit).reshape(self.shape)

    def adapted(self, law: Adaptation, start: float, *, days: float, steps: int) -> Array:
        """Return the densities after some explicit steps from a uniform start, g/cm^3."""
        density = np.full(self.shape, start)
        for _ in range(steps):
            density = law.advanced(self.energy(density), density, days=days)
        return density

    @cached_property
    def _nodes(self) -> Index:
        """Nodes of each element, anti-clockwise from the lower left, shape (e, 4)."""
        i, k = np.divmod(np.arange(self.side**2), self.side)
        first, up = i * (self.side + 1) + k, self.side + 1
        return np.stack([first, first + up, first + up + 1, first + 1], axis=1)

    @cached_property
    def _shapes(self) -> tuple[Array, Array]:
        """Shape functions (points, 4) and strain operators (points, 3, 8) of an element."""
        s, t = (grid.ravel() for grid in np.meshgrid(GAUSS, GAUSS, indexing="ij"))
        value = np.stack([(1 - s) * (1 - t), s * (1 - t), s * t, (1 - s) * t], axis=1)
        dx = self.side * np.stack([t - 1, 1 - t, t, -t], axis=1)
        dz = self.side * np.stack([s - 1, -s, s, 1 - s], axis=1)
        strain = np.zeros((len(s), 3, 8))
        strain[:, 0, 0::2], strain[:, 1, 1::2] = dx, dz
        strain[:, 2, 0::2], strain[:, 2, 1::2] = dz, dx
        return value, strain

    @cached_property
    def _material(self) -> Array:
        """Plane-stress stiffness per unit modulus, (xx, zz, xz)."""
        nu = self.poisson
        return np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]]) / (1 - nu**2)

    @cached_property
    def _free(self) -> Index:
        low = (self.side + 1) * np.arange(self.side + 1)
        held = np.concatenate([2 * low + 1, [0]])
        return np.setdiff1d(np.arange(2 * (self.side + 1) ** 2), held)

    @cached_property
    def _push(self) -> Array:
        """Consistent nodal forces of the falling pressure, N per mm of thickness."""
        x = np.linspace(0, 1, self.side + 1)
        pressure = self.load * (1 - x)
        h = 1 / self.side
        force = np.zeros((self.side + 1, self.side + 1, 2))
        force[:-1, -1, 1] -= h * (2 * pressure[:-1] + pressure[1:]) / 6
        force[1:, -1, 1] -= h * (pressure[:-1] + 2 * pressure[1:]) / 6
        return force.ravel()

    def _strain(self, modulus: Array) -> Array:
        """Return the strain at the points of every element, shape (e, points, 3)."""
        _, operator = self._shapes
        weight = 0.25 / self.side**2
        unit = weight * np.einsum("qia,ij,qjb->qab", operator, self._material, operator)
        local = np.einsum("eq,qab->eab", modulus, unit)
        dofs = (2 * self._nodes[:, :, None] + np.arange(2)).reshape(-1, 8)
        rows, columns = np.repeat(dofs, 8, axis=1), np.tile(dofs, (1, 8))
        size = len(self._push)
        matrix = csc_array(
            coo_array((local.ravel(), (rows.ravel(), columns.ravel())), (size, size))
        )
        free = self._free
        factor = splu(matrix[free][:, free], permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0)
        displacement = np.zeros(size)
        displacement[free] = factor.solve(self._push[free])
        return np.einsum("qia,ea->eqi", operator, displacement[dofs])

    def _to_points(self, density: Array) -> Array:
        if not self.nodal:
            return np.repeat(density[:, None], 4, axis=1)
        value, _ = self._shapes
        return density[self._nodes] @ value.T

    def _from_points(self, amount: Array) -> Array:
        if not self.nodal:
            return amount.mean(axis=1)
        value, _ = self._shapes
        total = np.bincount(self._nodes.ravel(), (amount @ value).ravel())
        return total / np.bincount(self._nodes.ravel(), np.tile(value.sum(axis=0), len(amount)))


def checkerboard_share(density: Array, highest: float) -> float:
    """Return the share of two-by-two patches in which both diagonals differ as on a checkerboard.

    A patch counts if the lesser value of one diagonal exceeds the greater of the other by more
    than half the highest density, as share of the patches that differ that much anywhere.
    """
    a, b = density[:-1, :-1], density[1:, 1:]
    c, d = density[1:, :-1], density[:-1, 1:]
    over = np.minimum(a, b) - np.maximum(c, d)
    under = np.minimum(c, d) - np.maximum(a, b)
    crossed = np.maximum(over, under) > 0.5 * highest
    spread = np.max([a, b, c, d], axis=0) - np.min([a, b, c, d], axis=0)
    mixed = int(np.sum(spread > 0.5 * highest))
    return float(crossed.sum()) / mixed if mixed else 0.0


def joined_share(density: Array, highest: float) -> float:
    """Return the share of dense cells that reach the lower edge through dense cells' faces.

    Dense is above half the highest density. A strut is joined; cells of a checkerboard, which
    touch at corners only, are not.
    """
    dense = density > 0.5 * highest
    parts = np.zeros(dense.shape, dtype=np.int32)
    label(dense, output=parts)
    held = np.setdiff1d(parts[:, 0], [0])
    return float(np.isin(parts, held).sum()) / float(dense.sum()) if dense.any() else 0.0
