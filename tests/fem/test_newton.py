"""Newton's iteration: convergence, halving, and the history it leaves when it fails."""

import numpy as np
import pytest

from gomphosis.fem.newton import NotConvergedError, newton


def test_root_of_a_square_in_few_steps():
    visited = []

    def system(x):
        visited.append(float(x[0]))
        return x**2 - 2, np.diag(2 * x)

    found = newton(system, np.array([1.0]), tolerance=1e-13)
    np.testing.assert_allclose(found, [2**0.5], rtol=1e-13)
    assert len(visited) <= 7


def test_a_step_that_overshoots_is_halved():
    """The full steps for arctan diverge from 3; halved ones do not."""
    found = newton(
        lambda x: (np.arctan(x), np.diag(1 / (1 + x**2))), np.array([3.0]), tolerance=1e-12
    )
    np.testing.assert_allclose(found, [0.0], rtol=0, atol=1e-12)
    with pytest.raises(NotConvergedError):
        newton(
            lambda x: (np.arctan(x), np.diag(1 / (1 + x**2))),
            np.array([3.0]),
            tolerance=1e-12,
            halvings=0,
            iterations=6,
        )


def test_no_root_raises_with_the_history_of_residuals():
    with pytest.raises(
        NotConvergedError, match=r"did not settle to 1\.0e-08 in 4 iterations: 5\.00e"
    ) as e:
        newton(lambda x: (x**2 + 1, np.diag(2 * x)), np.array([2.0]), tolerance=1e-8, iterations=4)
    assert len(e.value.history) == 5
    assert e.value.history[0] == 5.0
    assert min(e.value.history) >= 1.0


def test_a_residual_that_is_not_a_number_stops_at_once():
    with pytest.raises(NotConvergedError) as e:
        newton(
            lambda x: (np.where(x > -0.5, 1.0, np.nan), np.eye(1)), np.array([0.0]), tolerance=1e-8,
            halvings=0,
        )  # fmt: skip
    assert len(e.value.history) <= 3


def test_a_singular_point_counts_as_not_converged():
    with pytest.raises(NotConvergedError) as e:
        newton(lambda x: (x**2 + 1, np.diag(2 * x)), np.array([0.0]), tolerance=1e-8)
    assert e.value.history == [1.0]


def test_a_start_that_is_good_enough_is_returned_unchanged():
    found = newton(lambda x: (x, np.eye(1)), np.array([1e-9]), tolerance=1e-8)
    assert found[0] == 1e-9
