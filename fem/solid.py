"""A layer of revolution in three dimensions, by the library's own hexahedra and weak form.

Nothing here is used by the harmonic elements: it serves to check them. A quarter of the layer
is meshed as three blocks, so that no element is collapsed on the axis; symmetry does the rest.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array
from skfem import Basis, ElementHex2, ElementVector, MeshHex, MeshHex2
from skfem.models.elasticity import linear_elasticity

from gomphosis.fem.condensation import condense
from gomphosis.fem.harmonic import lame
from gomphosis.fem.section import Array, Index

Surface = Callable[[Array, Array], Array]
Block = Callable[[Array, Array], Array]

CORNER = 0.42  # of the middle block, between a square's 0.5 / sqrt(2) and 0.5
EDGE = 0.5
QUARTERS = 4


@dataclass(frozen=True)
class SolidCounts:
    """Count elements along the middle block, outwards from it, and through the layer."""

    middle: int = 4
    outwards: int = 8
    through: int = 2


@dataclass(frozen=True)
class SolidLayer:
    """Hold the assembled quarter of a layer.

    Attributes
    ----------
    stiffness
        Shape (size, size).
    place
        Where each degree of freedom acts, mm, shape (size, 3).
    component
        0, 1, 2 for displacement along x, y, z, shape (size,).
    inner, outer, on_x, on_y
        Degrees of freedom on the two surfaces, and in the planes y = 0 and x = 0.
    """

    stiffness: csr_array
    place: Array
    component: Index
    inner: Index
    outer: Index
    on_x: Index
    on_y: Index

    def across(self) -> Array:
        """Return the stiffness against moving along x and turning about y, shape (2, 2)."""
        held = np.concatenate([self._along(self.on_x, 1), self._along(self.on_y, 1, 2)])
        return self._condensed(held, [_translation(0), _rotation(1)])

    def axial(self) -> float:
        """Return the stiffness against moving along z, N/mm."""
        held = np.concatenate([self._along(self.on_x, 1), self._along(self.on_y, 0)])
        return float(self._condensed(held, [_translation(2)])[0, 0])

    def torsional(self) -> float:
        """Return the stiffness against turning about z, N·mm/rad."""
        held = np.concatenate([self._along(self.on_x, 0, 2), self._along(self.on_y, 1, 2)])
        return float(self._condensed(held, [_rotation(2)])[0, 0])

    def _along(self, plane: Index, *components: int) -> Index:
        return plane[np.isin(self.component[plane], components)]

    def _condensed(self, symmetry: Index, motions: list[Array]) -> Array:
        field = np.stack([self.place @ m[:, :3].T + m[:, 3] for m in motions], axis=2)
        modes = field[np.arange(len(self.place)), self.component]
        held = np.setdiff1d(np.concatenate([self.outer, symmetry]), self.inner)
        answer = condense(self.stiffness, modes, fixed=held, tied=self.inner)
        return QUARTERS * answer.stiffness


def solid_layer(
    surface: Surface, *, young: float, poisson: float, counts: SolidCounts | None = None
) -> SolidLayer:
    """Assemble a quarter of a layer of revolution about z that crosses the axis at its pole.

    Parameters
    ----------
    surface
        Takes s (0 at the pole, 1 at the rim) and eta (0 inner, 1 outer surface), each of shape
        (n,), and returns (r, z) in mm, shape (2, n).
    young, poisson
        Elastic pair, MPa and dimensionless.
    counts
        Size of the mesh.
    """
    size = counts or SolidCounts()
    parts = [
        _assembled(block, surface, (steps, size.middle, size.through), young, poisson)
        for block, steps in (
            (_middle, size.middle),
            (_towards_x, size.outwards),
            (_towards_y, size.outwards),
        )
    ]
    return _joined(parts)


@dataclass(frozen=True)
class _Part:
    matrix: csr_array
    place: Array
    component: Index
    inner: Array
    outer: Array


def _assembled(
    block: Block, surface: Surface, counts: tuple[int, int, int], young: float, poisson: float
) -> _Part:
    grid = MeshHex.init_tensor(*(np.linspace(0.0, 1.0, count + 1) for count in counts))
    flat = MeshHex2.from_mesh(grid)
    mesh = MeshHex2(_placed(block, surface, flat.doflocs), flat.t)
    lam, mu = (float(constant) for constant in lame(young, poisson))
    element = ElementVector(ElementHex2())
    basis = Basis(mesh, element, intorder=5)
    parameter = Basis(flat, element, intorder=1).doflocs
    component = np.zeros(basis.N, dtype=np.int64)
    dofs = basis.dofs
    for table in (dofs.nodal_dofs, dofs.edge_dofs, dofs.facet_dofs, dofs.interior_dofs):
        component[table] = np.arange(3)[:, None]
    return _Part(
        csr_array(linear_elasticity(lam, mu).assemble(basis)),
        basis.doflocs.T,
        component,
        parameter[2] < 1e-9,
        parameter[2] > 1 - 1e-9,
    )


def _joined(parts: list[_Part]) -> SolidLayer:
    place = np.concatenate([part.place for part in parts])
    component = np.concatenate([part.component for part in parts])
    keys = np.column_stack([np.round(place, 7), component])
    _, first, index = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    index = index.ravel()
    size = len(first)
    total = csr_array((size, size))
    start = 0
    for part in parts:
        own = index[start : start + len(part.place)]
        entries = part.matrix.tocoo()
        total += coo_array(
            (entries.data, (own[entries.row], own[entries.col])), shape=(size, size)
        ).tocsr()
        start += len(part.place)
    inner = np.concatenate([part.inner for part in parts])[first]
    outer = np.concatenate([part.outer for part in parts])[first]
    place = place[first]
    near = 1e-7 * np.abs(place).max()
    flags = (inner, outer, np.abs(place[:, 1]) < near, np.abs(place[:, 0]) < near)
    return SolidLayer(total, place, component[first], *(np.flatnonzero(flag) for flag in flags))


def _placed(block: Block, surface: Surface, parameter: Array) -> Array:
    x, y = block(parameter[0], parameter[1])
    r, z = surface(np.minimum(np.hypot(x, y), 1.0), parameter[2])
    angle = np.arctan2(y, x)
    return np.stack([r * np.cos(angle), r * np.sin(angle), z])


def _middle(u: Array, v: Array) -> Array:
    """Bilinear square in the unit disc, its free corner on the diagonal."""
    bulge = (CORNER - EDGE) * u * v
    return np.stack([EDGE * u + bulge, EDGE * v + bulge])


def _towards_x(u: Array, v: Array) -> Array:
    inner = _middle(np.ones_like(v), v)
    angle = 0.25 * np.pi * v
    return (1 - u) * inner + u * np.stack([np.cos(angle), np.sin(angle)])


def _towards_y(u: Array, v: Array) -> Array:
    # mirrored, so left-handed; the form uses the size of the Jacobian only
    return _towards_x(u, v)[::-1]


def _translation(axis: int) -> Array:
    motion = np.zeros((3, 4))
    motion[axis, 3] = 1.0
    return motion


def _rotation(axis: int) -> Array:
    """Return the linear map of a unit rotation about an axis, as three rows of four."""
    motion = np.zeros((3, 4))
    first, second = (axis + 1) % 3, (axis + 2) % 3
    motion[first, second], motion[second, first] = -1.0, 1.0
    return motion
