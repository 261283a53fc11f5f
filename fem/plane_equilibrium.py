"""Balance of a plane body: linear parts, and elements that follow a law of their own."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from gomphosis.fem.plane import PlaneElements, gathered
from gomphosis.fem.section import Array, Index
from gomphosis.fem.sparse_newton import Equilibrium, NewtonLimits, sparse_newton
from gomphosis.fem.sparse_pattern import SparsePattern, sparse_pattern
from gomphosis.fem.sparse_solve import Factor, Factorise, Solved, scipy_factor, solve_nearby


class Law(Protocol):
    """Give the stress of a strain, both as xx, zz, xz (engineering shear) in plane strain."""

    def stress(self, strain: Array) -> Array:
        """Return the stress in MPa, shape (..., 3)."""
        ...

    def tangent(self, strain: Array) -> Array:
        """Return the derivative of the stress by the strain in MPa, shape (..., 3, 3)."""
        ...


@dataclass(frozen=True)
class LocalMatrices:
    """Hold constant stiffness matrices of parts of one size.

    Attributes
    ----------
    dofs
        Degrees of freedom, shape (parts, m).
    matrices
        In N/mm, symmetric, shape (parts, m, m).
    """

    dofs: Index
    matrices: Array

    def force(self, displacement: Array) -> Array:
        """Return the nodal forces of a displacement, shape (size,)."""
        local = np.matmul(self.matrices, displacement[self.dofs][:, :, None])[:, :, 0]
        return gathered(self.dofs, local, size=len(displacement))


@dataclass(frozen=True)
class PlaneBody:
    """Hold a body whose elements are linear, but for those that follow a law.

    Parameters
    ----------
    elements
        All elements.
    matrices
        Stiffness of every element, N/mm, shape (elements, 18, 18); not used where a law is.
    springs
        Other linear parts, such as a foundation.
    law, lawful
        A law and the elements that follow it.

    Raises
    ------
    ValueError
        If there are not as many matrices as elements.
    """

    elements: PlaneElements
    matrices: Array
    springs: tuple[LocalMatrices, ...] = ()
    law: Law | None = None
    lawful: Index | None = None

    def __post_init__(self) -> None:
        if len(self.matrices) != len(self.elements.dofs):
            raise ValueError(
                f"body of {len(self.elements.dofs)} elements got {len(self.matrices)} matrices"
            )
        if (self.law is None) != (self.lawful is None):
            raise ValueError("a law needs the elements that follow it, and they need a law")

    def pattern(self, free: Index) -> SparsePattern:
        """Return the places of the stiffness matrix; free: unknowns in order of elimination."""
        blocks = [self.elements.dofs, *(part.dofs for part in self.springs)]
        return sparse_pattern(self.elements.size, blocks, free=free)

    def force(self, displacement: Array) -> Array:
        """Return the nodal forces that hold a displacement, N, shape (size,)."""
        total = np.sum([part.force(displacement) for part in self._linear()], axis=0)
        if self.law is not None:
            strain = self.elements.strain(displacement, elements=self.lawful)
            total += self.elements.force(self.law.stress(strain), elements=self.lawful)
        return total

    def stiffness(self, displacement: Array) -> list[Array]:
        """Return the tangent at a displacement, block by block of the pattern."""
        matrices = self.matrices
        if self.law is not None:
            matrices = matrices.copy()
            strain = self.elements.strain(displacement, elements=self.lawful)
            moduli = self.law.tangent(strain)
            matrices[self.lawful] = self.elements.tangent(moduli, elements=self.lawful)
        return [matrices, *(part.matrices for part in self.springs)]

    def _linear(self) -> list[LocalMatrices]:
        dofs, matrices = self.elements.dofs, self.matrices
        if self.lawful is not None:
            others = np.setdiff1d(np.arange(len(dofs)), self.lawful)
            dofs, matrices = dofs[others], matrices[others]
        return [LocalMatrices(dofs, matrices), *self.springs]


@dataclass(frozen=True)
class Loading:
    """Hold nodal forces in N and prescribed displacements in mm, both of shape (size,).

    ``lead`` counts at held degrees of freedom; elsewhere it is where the solution starts from.
    """

    load: Array
    lead: Array


def linear_equilibrium(
    body: PlaneBody,
    pattern: SparsePattern,
    loading: Loading,
    *,
    kept: Factor | None = None,
    factorise: Factorise = scipy_factor,
) -> Solved:
    """Solve a linear body; the answer is the displacement of all degrees of freedom.

    Raises
    ------
    ValueError
        If the body has a law.
    SolveError
        If the system cannot be solved.
    """
    if body.law is not None:
        raise ValueError("a body with a law needs law_equilibrium")
    out = (loading.load - body.force(loading.lead))[pattern.free]
    matrix = pattern.assembled(*body.stiffness(loading.lead))
    solved = solve_nearby(matrix, out, kept=kept, factorise=factorise)
    answer = loading.lead + pattern.spread(solved.answer)
    return Solved(answer, solved.factor, solved.iterations, solved.direct)


def law_equilibrium(
    body: PlaneBody,
    pattern: SparsePattern,
    loading: Loading,
    *,
    limits: NewtonLimits,
    factorise: Factorise = scipy_factor,
) -> Equilibrium:
    """Solve a body with a law by Newton's method; unknowns are all degrees of freedom.

    Raises
    ------
    NotConvergedError
        If the largest force out of balance, N, stays above the tolerance.
    SolveError
        If a tangent cannot be solved with.
    """

    def whole(unknowns: Array) -> Array:
        return loading.lead + pattern.spread(unknowns)

    found = sparse_newton(
        lambda unknowns: (body.force(whole(unknowns)) - loading.load)[pattern.free],
        lambda unknowns: pattern.assembled(*body.stiffness(whole(unknowns))),
        np.zeros(len(pattern.free)),
        limits=limits,
        factorise=factorise,
    )
    return Equilibrium(whole(found.unknowns), found.history, found.factor)
