"""Sparse assembly, order of elimination, direct and nearby solutions on plane bodies."""

import numpy as np
import pytest
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from gomphosis.fem import cholesky, sparse_solve
from gomphosis.fem.cholesky import CholeskySeries, best_factorise
from gomphosis.fem.condensation import SolveError
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.plane import plane_elements
from gomphosis.fem.plane_grid import plane_grid
from gomphosis.fem.plane_points import plane_points
from gomphosis.fem.sparse_newton import NewtonLimits, sparse_newton
from gomphosis.fem.sparse_order import nested_dissection
from gomphosis.fem.sparse_pattern import sparse_pattern
from gomphosis.fem.sparse_solve import (
    conjugate_gradients,
    scipy_factor,
    solve_nearby,
    solve_sparse,
)

COUNT = 12


def block(count=COUNT):
    grid = np.linspace(0, 1, count + 1)
    mesh = plane_grid(grid, grid, mapping=lambda xi, eta: np.stack([xi, eta]))
    elements = plane_elements(plane_points(mesh.nodes, mesh.elements))
    order = nested_dissection(mesh.nodes, mesh.elements)
    order = order[mesh.nodes[1, order] > 0]  # stands on a held floor
    free = (2 * order[:, None] + np.arange(2)).ravel()
    return mesh, elements, sparse_pattern(elements.size, [elements.dofs], free=free)


def young(draw, low=0.5, high=2.0):
    drawn = np.random.default_rng(draw).uniform(np.log(low), np.log(high), size=COUNT**2)
    return np.exp(drawn)


@pytest.fixture(params=["scipy", "kvxopt", "cvxopt"])
def factorise(request, monkeypatch):
    """Return each way to factor; the optional ones are skipped where not installed."""
    if request.param == "scipy":
        yield scipy_factor
        return
    pytest.importorskip(request.param, reason=f"optional solver {request.param} is not installed")
    monkeypatch.setattr(cholesky, "INTERFACES", (request.param,))
    cholesky._interface.cache_clear()
    yield CholeskySeries()
    cholesky._interface.cache_clear()


def test_assembly_adds_local_matrices_where_they_belong():
    _, elements, pattern = block(3)
    local = elements.stiffness(np.arange(1.0, 10.0), 0.3)
    total = np.zeros((elements.size,) * 2)
    for dofs, matrix in zip(elements.dofs, local, strict=True):
        total[np.ix_(dofs, dofs)] += matrix
    found = pattern.assembled(local).toarray()
    expected = total[np.ix_(pattern.free, pattern.free)]
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-14 * np.abs(expected).max())


def test_blocks_of_other_sizes_join_the_same_matrix():
    pattern = sparse_pattern(
        4, [np.array([[0, 1], [1, 2]]), np.array([[3], [0]])], free=np.array([3, 0, 2])
    )
    two = np.array([[[1.0, 2.0], [2.0, 5.0]], [[7.0, 8.0], [8.0, 9.0]]])
    found = pattern.assembled(two, np.array([[[10.0]], [[20.0]]])).toarray()
    np.testing.assert_array_equal(found, np.diag([10.0, 21.0, 9.0]))
    np.testing.assert_array_equal(pattern.spread(np.array([1.0, 2.0, 3.0])), [2, 0, 3, 1])


def test_misfits_of_a_pattern_are_refused():
    dofs = np.array([[0, 1]])
    with pytest.raises(ValueError, match="listed twice"):
        sparse_pattern(2, [dofs], free=np.array([0, 1, 1]))
    with pytest.raises(ValueError, match="degree of freedom 2 is free but belongs to no element"):
        sparse_pattern(3, [dofs], free=np.array([0, 2]))
    pattern = sparse_pattern(2, [dofs], free=np.array([0, 1]))
    with pytest.raises(ValueError, match="pattern has 1 blocks, got 2"):
        pattern.assembled(np.eye(2)[None], np.eye(2)[None])
    with pytest.raises(ValueError, match="block needs 4 entries, got 9"):
        pattern.assembled(np.eye(3)[None])


def test_dissection_takes_every_node_once_and_leaves_less_fill_than_minimum_degree():
    mesh, elements, pattern = block()
    order = nested_dissection(mesh.nodes, mesh.elements)
    np.testing.assert_array_equal(np.sort(order), np.arange(mesh.nodes.shape[1]))
    matrix = pattern.assembled(elements.stiffness(1.0, 0.3))
    ours = scipy_factor(matrix)
    plain = sparse_pattern(elements.size, [elements.dofs], free=np.sort(pattern.free))
    theirs = splu(
        plain.assembled(elements.stiffness(1.0, 0.3)),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    assert ours.nnz < 1.02 * theirs.nnz


def test_last_of_the_order_separates_the_halves():
    """Verification: on a strip of two elements the nodes they share come last."""
    mesh = plane_grid(
        np.array([0.0, 1, 2]), np.array([0.0, 1]), mapping=lambda xi, eta: np.stack([xi, eta])
    )
    order = nested_dissection(mesh.nodes, mesh.elements)
    common = np.flatnonzero(mesh.nodes[0] == 1.0)
    assert set(order[-3:]) == set(common)


def test_every_factorisation_solves(factorise):
    _, elements, pattern = block()
    matrix = pattern.assembled(elements.stiffness(young(1), 0.45))
    exact = np.random.default_rng(2).normal(size=(len(pattern.free), 2))
    found = solve_sparse(matrix, matrix @ exact, factorise=factorise)
    assert found.direct
    np.testing.assert_allclose(found.answer, exact, rtol=0, atol=1e-9)
    one = solve_sparse(matrix, matrix @ exact[:, 0], factorise=factorise)
    np.testing.assert_allclose(one.answer, exact[:, 0], rtol=0, atol=1e-9)


def test_a_singular_matrix_is_an_error(factorise):
    matrix = csc_array(np.array([[1.0, 1.0, 0], [1.0, 1.0, 0], [0, 0, 1.0]]))
    with pytest.raises(SolveError):
        solve_sparse(matrix, np.array([1.0, 2.0, 0.0]), factorise=factorise)


def test_a_direct_answer_that_misses_is_an_error_with_its_size():
    class Wrong:
        def solve(self, right):
            return 1.001 * right

    with pytest.raises(SolveError, match=r"backward error of 5.00e-04 \(limit 1e-12\)"):
        solve_sparse(csc_array(np.eye(2)), np.ones(2), factorise=lambda matrix: Wrong())


def test_a_factor_of_a_series_ends_with_the_next():
    pytest.importorskip("kvxopt", reason="optional solver kvxopt is not installed")
    series = CholeskySeries()
    first = series(csc_array(np.diag([2.0, 4.0])))
    np.testing.assert_allclose(first.solve(np.ones(2)), [0.5, 0.25], rtol=1e-15)
    second = series(csc_array(np.diag([4.0, 8.0])))
    np.testing.assert_allclose(second.solve(np.ones(2)), [0.25, 0.125], rtol=1e-15)
    with pytest.raises(SolveError, match="factor 1 was replaced by number 2"):
        first.solve(np.ones(2))
    # another pattern, another analysis
    third = series(csc_array(np.array([[4.0, 1.0], [1.0, 2.0]])))
    np.testing.assert_allclose(third.solve(np.ones(2)), [1 / 7, 3 / 7], rtol=1e-14)


def test_without_the_optional_solver_scipy_serves(monkeypatch):
    monkeypatch.setattr(cholesky, "INTERFACES", ("no_such_solver",))
    cholesky._interface.cache_clear()
    try:
        assert best_factorise() is scipy_factor
        with pytest.raises(ImportError, match="needs one of no_such_solver"):
            CholeskySeries()
    finally:
        cholesky._interface.cache_clear()


def test_a_kept_factor_serves_a_similar_matrix(factorise):
    _, elements, pattern = block()
    old = pattern.assembled(elements.stiffness(young(3), 0.3))
    new = pattern.assembled(elements.stiffness(young(3) * young(4, 0.8, 1.25), 0.3))
    right = np.random.default_rng(5).normal(size=len(pattern.free))
    kept = solve_sparse(old, right, factorise=factorise).factor
    found = solve_nearby(new, right, kept=kept, factorise=factorise)
    assert not found.direct
    assert found.factor is kept
    assert 2 <= found.iterations <= 12
    expected = solve_sparse(new, right).answer
    np.testing.assert_allclose(found.answer, expected, rtol=0, atol=1e-9 * np.abs(expected).max())


def test_a_kept_factor_of_a_matrix_too_different_gives_way(factorise):
    _, elements, pattern = block()
    old = pattern.assembled(elements.stiffness(young(6, 1e-2, 1e2), 0.3))
    new = pattern.assembled(elements.stiffness(young(7, 1e-2, 1e2), 0.3))
    right = np.random.default_rng(8).normal(size=len(pattern.free))
    kept = solve_sparse(old, right, factorise=factorise).factor
    assert conjugate_gradients(new, right, kept, iterations=16) == (None, 16)
    found = solve_nearby(new, right, kept=kept, factorise=factorise)
    assert found.direct
    assert found.factor is not kept
    expected = solve_sparse(new, right).answer
    np.testing.assert_allclose(found.answer, expected, rtol=0, atol=1e-9 * np.abs(expected).max())


def test_no_load_needs_no_iteration():
    _, elements, pattern = block(2)
    matrix = pattern.assembled(elements.stiffness(1.0, 0.3))
    zero = np.zeros(len(pattern.free))
    answer, _ = conjugate_gradients(matrix, zero, scipy_factor(matrix), iterations=5)
    np.testing.assert_array_equal(answer, zero)


def test_an_iterated_answer_that_fails_the_backward_test_is_not_taken(monkeypatch):
    _, elements, pattern = block(2)
    matrix = pattern.assembled(elements.stiffness(1.0, 0.3))

    def refused(matrix, right, answer):
        raise SolveError("no")

    monkeypatch.setattr(sparse_solve, "require_solved", refused)
    right = np.ones(len(pattern.free))
    found, _ = conjugate_gradients(matrix, right, scipy_factor(matrix), iterations=5)
    assert found is None


def test_newton_on_a_cubic_spring_row():
    """Verification: x + x^3 = f in each row has the root chosen."""
    root = np.array([0.5, -1.5, 2.0])
    found = sparse_newton(
        lambda x: x + x**3 - (root + root**3),
        lambda x: csc_array(np.diag(1 + 3 * x**2)),
        np.zeros(3),
        limits=NewtonLimits(1e-12),
    )
    np.testing.assert_allclose(found.unknowns, root, rtol=1e-12)


def test_newton_halves_a_step_that_overshoots():
    """Verification: full steps on arctan from 3 diverge; halved ones reach its root."""
    residual, slope = np.arctan, lambda x: csc_array(np.diag(1 / (1 + x**2)))
    with pytest.raises(NotConvergedError):
        sparse_newton(residual, slope, np.array([3.0]), limits=NewtonLimits(1e-12, 4, 0))
    found = sparse_newton(residual, slope, np.array([3.0]), limits=NewtonLimits(1e-12))
    np.testing.assert_allclose(found.unknowns, 0.0, rtol=0, atol=1e-12)


def test_newton_refuses_what_is_no_number():
    with pytest.raises(NotConvergedError, match="nan"):
        sparse_newton(
            lambda x: x * np.nan, lambda x: csc_array(np.eye(1)), np.ones(1),
            limits=NewtonLimits(1.0),
        )  # fmt: skip


@pytest.mark.parametrize("wrong", [{"tolerance": 0.0}, {"tolerance": 1.0, "iterations": -1}])
def test_limits_that_cannot_be_met_are_refused(wrong):
    with pytest.raises(ValueError, match="tolerance > 0 and counts >= 0"):
        NewtonLimits(**wrong)
