"""Condensation on a chain of springs, and the solve that refuses a wrong answer."""

import numpy as np
import pytest
from scipy.sparse import csc_matrix, csr_matrix

from gomphosis.fem import condensation
from gomphosis.fem.condensation import SolveError, condense, solve_spd


def chain(*rates):
    """Return the stiffness of springs in a row."""
    total = np.zeros((len(rates) + 1,) * 2)
    for k, rate in enumerate(rates):
        total[k : k + 2, k : k + 2] += rate * np.array([[1, -1], [-1, 1]])
    return csr_matrix(total)


def test_springs_in_a_row_add_their_compliances():
    """Verification: 1 / (1/2 + 1/3 + 1/6) = 1, displacements fall by force over rate."""
    answer = condense(
        chain(2.0, 3.0, 6.0), np.ones((4, 1)), fixed=np.array([3]), tied=np.array([0])
    )
    np.testing.assert_allclose(answer.stiffness, [[1.0]], rtol=1e-14)
    np.testing.assert_allclose(answer.displacement[:, 0], [1, 1 / 2, 1 / 6, 0], rtol=0, atol=1e-14)


def test_held_wins_over_tied_and_other_rows_of_the_modes_are_not_used():
    modes = np.array([[1.0], [77.0], [1.0]])
    answer = condense(chain(2.0, 2.0), modes, fixed=np.array([2]), tied=np.array([0, 2]))
    np.testing.assert_allclose(answer.displacement[:, 0], [1, 0.5, 0], rtol=0, atol=1e-14)


def test_ties_make_two_freedoms_move_as_one():
    """Verification: node 2 follows node 1 against its sense, so spring 1-2 stretches by 2 u."""
    ties = csr_matrix(np.array([[1.0, 0, 0, 0], [0, 1, 0, 0], [0, -1, 0, 0], [0, 0, 0, 1]]))
    answer = condense(
        chain(4.0, 1.0, 2.0), np.ones((4, 1)), fixed=np.array([3]), tied=np.array([0]), ties=ties
    )
    # energy (4 (1-u)^2 + (2u)^2 + 2 u^2) / 2 is least at u = 4/10
    np.testing.assert_allclose(answer.displacement[:, 0], [1, 0.4, -0.4, 0], rtol=0, atol=1e-14)
    np.testing.assert_allclose(answer.stiffness, [[2.4]], rtol=1e-14)


def test_solution_of_a_positive_definite_system():
    matrix = csc_matrix([[4.0, 1.0], [1.0, 3.0]])
    np.testing.assert_allclose(
        solve_spd(matrix, np.array([1.0, 2.0])), [1 / 11, 7 / 11], rtol=1e-14
    )


def test_a_solve_that_misses_is_an_error_with_its_size(monkeypatch):
    class Wrong:
        def solve(self, right):
            return 1.001 * right

    monkeypatch.setattr(condensation, "factorised", lambda matrix: Wrong())
    with pytest.raises(SolveError, match=r"backward error of 5.00e-04 \(limit 1e-12\)"):
        solve_spd(csc_matrix(np.eye(2)), np.ones(2))


def test_a_solve_that_gives_no_number_is_an_error(monkeypatch):
    class Empty:
        def solve(self, right):
            return np.nan * right

    monkeypatch.setattr(condensation, "factorised", lambda matrix: Empty())
    with pytest.raises(SolveError, match="nan"):
        solve_spd(csc_matrix(np.eye(2)), np.ones(2))
