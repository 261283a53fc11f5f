"""Joining blocks and finding lines (verification): small grids counted by hand."""

import numpy as np
import pytest

from gomphosis.fem.plane_blocks import Block, join, ruled_grid, with_middles
from gomphosis.fem.plane_lines import (
    boundary_edges,
    chains,
    corner_turns,
    shared_edges,
    undirected_chain,
    without,
)
from gomphosis.fem.plane_mesh import PlaneMesh


def rectangle(x, z):
    return np.stack(np.meshgrid(with_middles(x), with_middles(z), indexing="ij"))


LEFT = Block("left", rectangle([0.0, 1, 2], [0.0, 1]))
RIGHT = Block("right", np.swapaxes(rectangle([2.0, 3], [0.0, 1]), 1, 2))


def test_two_blocks_share_the_nodes_of_their_common_side():
    joined = join([LEFT, RIGHT])
    assert joined.nodes.shape == (2, 7 * 3)
    mesh = PlaneMesh(joined.nodes, joined.elements, joined.regions, {})
    np.testing.assert_allclose([mesh.area("left"), mesh.area("right")], [2, 1], rtol=1e-14)
    np.testing.assert_array_equal(joined.grids[0][-1], joined.grids[1][:, 0])
    np.testing.assert_array_equal(joined.nodes[:, joined.grids[1]], RIGHT.grid)


def test_zero_of_either_sign_is_one_place():
    mirrored = Block("right", LEFT.grid * np.array([-1.0, 1.0])[:, None, None])
    assert np.signbit(mirrored.grid[0, 0]).all()
    assert join([LEFT, mirrored]).nodes.shape[1] == 9 * 3


def test_a_side_that_differs_stays_a_crack():
    moved = Block("right", RIGHT.grid + np.array([1e-9, 0])[:, None, None])
    assert join([LEFT, moved]).nodes.shape[1] == 7 * 3 + 3


@pytest.mark.parametrize("shape", [(2, 4, 3), (2, 3, 1), (3, 3, 3), (2, 3)])
def test_grids_of_the_wrong_shape_are_refused(shape):
    with pytest.raises(ValueError, match="block needs a grid"):
        Block("a", np.zeros(shape))


def test_ruled_grid_reaches_both_lines_exactly():
    first = np.array([[0.1, 0.2, 0.3], [0.7, 0.7, 0.7]])
    second = first * np.pi
    grid = ruled_grid(first, second, fractions=np.array([0.0, 0.25, 1.0]))
    np.testing.assert_array_equal(grid[:, :, 0], first)
    np.testing.assert_array_equal(grid[:, :, -1], second)
    np.testing.assert_allclose(grid[:, :, 1], first * 0.875 + second * 0.125, rtol=1e-14)


def test_the_line_between_two_regions_runs_counter_clockwise_around_the_first():
    joined = join([LEFT, RIGHT])
    left = boundary_edges(joined.elements[joined.regions["left"]])
    right = boundary_edges(joined.elements[joined.regions["right"]])
    assert (len(left), len(right)) == (6, 4)
    (line,) = chains(shared_edges(left, right))
    np.testing.assert_array_equal(joined.nodes[:, line], [[2, 2, 2], [0, 0.5, 1]])
    (rest,) = chains(without(left, right))
    assert (rest[0], rest[-1], len(rest)) == (line[-1], line[0], 11)
    np.testing.assert_allclose(corner_turns(joined.nodes, rest), [0, np.pi / 2, np.pi / 2, 0])


def test_edges_of_any_direction_make_one_line():
    edges = np.array([[2, 11, 1], [2, 12, 3], [4, 13, 3]])
    np.testing.assert_array_equal(undirected_chain(edges), [1, 11, 2, 12, 3, 13, 4])


@pytest.mark.parametrize(
    ("edges", "message"),
    [
        ([[0, 10, 1], [1, 11, 2], [1, 12, 3]], "edges branch at node 1"),
        ([[0, 10, 1], [1, 11, 2], [2, 12, 0]], "edges close a ring"),
        ([[0, 10, 1], [2, 11, 3]], "edges fall into 2 pieces"),
        ([[0, 10, 1], [2, 11, 3], [3, 12, 4], [4, 13, 2]], "edges fall into a line and a ring"),
    ],
)
def test_edges_that_make_no_line_are_refused(edges, message):
    with pytest.raises(ValueError, match=message):
        undirected_chain(np.array(edges))


def test_directed_edges_that_branch_or_close_are_refused():
    with pytest.raises(ValueError, match="edges branch at node 1"):
        chains(np.array([[1, 11, 2], [1, 12, 3]]))
    with pytest.raises(ValueError, match="edges close a ring through node 0"):
        chains(np.array([[0, 10, 1], [1, 11, 0]]))
