"""Banded solves of a chain against numpy's dense ones (reference library)."""

import numpy as np
import pytest

from gomphosis.fem.chain import FREEDOMS, Chain, SingularChainError

COUNT = 5


def chain(rng):
    blocks = rng.normal(size=(COUNT - 1, 12, 12)) + 10 * np.eye(12)
    return Chain.assembled(blocks), blocks


def dense(blocks):
    total = np.zeros((FREEDOMS * COUNT, FREEDOMS * COUNT))
    for k, block in enumerate(blocks):
        place = slice(FREEDOMS * k, FREEDOMS * (k + 2))
        total[place, place] += block
    return total


def test_product_and_solution_agree_with_the_dense_matrix():
    rng = np.random.default_rng(2)
    made, blocks = chain(rng)
    matrix = dense(blocks)
    motion = rng.normal(size=(COUNT, FREEDOMS, 3))
    flat = motion.reshape(-1, 3)
    np.testing.assert_allclose((made @ motion).reshape(-1, 3), matrix @ flat, rtol=0, atol=1e-12)
    held = rng.random((COUNT, FREEDOMS)) < 0.3
    found = made.factored(held).solve(motion).reshape(-1, 3)
    free = ~held.ravel()
    exact = np.linalg.solve(matrix[np.ix_(free, free)], flat[free])
    np.testing.assert_allclose(found[free], exact, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(found[~free], 0.0)


def test_turned_chain_is_the_matrix_in_other_axes():
    rng = np.random.default_rng(3)
    made, blocks = chain(rng)
    basis = np.linalg.qr(rng.normal(size=(COUNT, FREEDOMS, FREEDOMS)))[0]
    whole = np.zeros((FREEDOMS * COUNT, FREEDOMS * COUNT))
    for k, axes in enumerate(basis):
        whole[6 * k : 6 * k + 6, 6 * k : 6 * k + 6] = axes
    motion = rng.normal(size=(COUNT, FREEDOMS, 1))
    exact = whole.T @ dense(blocks) @ whole @ motion.reshape(-1, 1)
    np.testing.assert_allclose(
        (made.turned(basis) @ motion).reshape(-1, 1), exact, rtol=0, atol=1e-11
    )


def test_a_singular_chain_is_refused():
    zero = Chain.assembled(np.zeros((COUNT - 1, 12, 12)))
    with pytest.raises(SingularChainError, match="no stiffness against freedom"):
        zero.factored(np.zeros((COUNT, FREEDOMS), dtype=bool))


def test_loads_that_are_no_numbers_are_refused():
    made, _ = chain(np.random.default_rng(4))
    factored = made.factored(np.zeros((COUNT, FREEDOMS), dtype=bool))
    with pytest.raises(SingularChainError, match="singular"):
        factored.solve(np.full((COUNT, FREEDOMS, 1), np.nan))
