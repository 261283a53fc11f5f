"""Tooth, ligament and side walls of a slice, condensed once on the nodes they share with bone.

In the tooth's frame they never change; what changes from day to day is the bone around them. So
a day's system holds the unknowns of the bone only, with a dense block where tooth and bone meet.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array, csr_array

from gomphosis.fem.condensation import require_solved
from gomphosis.fem.plane import COMPONENTS, PlaneElements
from gomphosis.fem.plane_equilibrium import LocalMatrices
from gomphosis.fem.plane_mesh import PlaneMesh
from gomphosis.fem.section import Array, Index
from gomphosis.fem.sparse_order import nested_dissection
from gomphosis.fem.sparse_pattern import SparsePattern, sparse_pattern
from gomphosis.fem.sparse_solve import Factor, Factorise, scipy_factor


@dataclass(frozen=True)
class CondensedTooth:
    """Hold the condensed part of a slice.

    Attributes
    ----------
    size
        Number of all degrees of freedom.
    inner, shared
        Degrees of freedom of the tooth alone, and of nodes that bony elements share.
    factor, coupling
        Of the inner stiffness, and between inner and shared unknowns, shape (inner, shared).
    answer
        Inner displacement under the unit loads with the shared nodes held, shape (inner, 3).
    stiffness, load
        Condensed on the shared unknowns, shapes (shared, shared) and (shared, 3).
    pattern
        Places of the bone's stiffness matrix with the dense block.
    """

    size: int
    inner: Index
    shared: Index
    factor: Factor
    coupling: csr_array
    answer: Array
    stiffness: Array
    load: Array
    pattern: SparsePattern

    def displacement(self, bone: Array, *, factorise: Factorise = scipy_factor) -> Array:
        """Return the displacement under the unit loads, shape (size, 3).

        Parameters
        ----------
        bone
            Matrices of the bony elements, N/mm, shape (elements, 18, 18).

        Raises
        ------
        SolveError
            If the system cannot be solved.
        """
        matrix = self.pattern.assembled(bone, self.stiffness[None])
        whole = np.zeros((self.size, self.load.shape[1]))
        whole[self.shared] = self.load
        right = np.ascontiguousarray(whole[self.pattern.free])
        answer = factorise(matrix).solve(right)
        require_solved(matrix, right, answer)
        whole[self.shared] = 0.0
        whole[self.pattern.free] = answer
        follow = np.ascontiguousarray(self.coupling @ whole[self.shared])
        whole[self.inner] = self.answer - self.factor.solve(follow)
        return whole


@dataclass(frozen=True)
class Parts:
    """What belongs to the tooth: its elements and their matrices, springs, and unit loads."""

    elements: Index
    matrices: Array
    springs: LocalMatrices
    loads: Array


def condensed_tooth(
    mesh: PlaneMesh, elements: PlaneElements, parts: Parts, *, bony: Index
) -> CondensedTooth:
    """Condense a slice's tooth on the nodes that it shares with bony elements.

    Parameters
    ----------
    bony
        Elements of bone and soft tissue; the mesh's outer line is held.
    """
    of_bone, of_tooth = (np.unique(mesh.elements[chosen]) for chosen in (bony, parts.elements))
    order = nested_dissection(mesh.nodes, mesh.elements)
    held = mesh.lines["outer"]
    shared_nodes = np.setdiff1d(np.intersect1d(of_bone, of_tooth), held)
    inner = _dofs(order[np.isin(order, np.setdiff1d(of_tooth, of_bone))])
    shared = _dofs(shared_nodes)
    blocks = [elements.dofs[parts.elements], parts.springs.dofs]
    pattern = sparse_pattern(elements.size, blocks, free=np.concatenate([inner, shared]))
    matrix = pattern.assembled(parts.matrices, parts.springs.matrices)
    count = len(inner)
    own = csc_array(matrix[:count, :count])
    coupling = csr_array(matrix[:count, count:])
    factor = scipy_factor(own)
    follow = factor.solve(coupling.toarray())
    answer = factor.solve(np.ascontiguousarray(parts.loads[inner]))
    require_solved(own, coupling.toarray(), follow)
    stiffness = matrix[count:, count:].toarray() - coupling.T @ follow
    rest = np.setdiff1d(of_bone, np.concatenate([shared_nodes, held]))
    # shared unknowns come last: their block is dense anyway
    free = np.concatenate([_dofs(order[np.isin(order, rest)]), shared])
    return CondensedTooth(
        size=elements.size,
        inner=inner,
        shared=shared,
        factor=factor,
        coupling=coupling,
        answer=answer,
        stiffness=0.5 * (stiffness + stiffness.T),
        load=parts.loads[shared] - coupling.T @ answer,
        pattern=sparse_pattern(elements.size, [elements.dofs[bony], shared[None]], free=free),
    )


def _dofs(nodes: Index) -> Index:
    return (COMPONENTS * nodes[:, None] + np.arange(COMPONENTS)).ravel()
