"""Find lines of nodes in a plane mesh from the regions that meet there."""

from collections.abc import Sequence

import numpy as np

from gomphosis.fem.plane_mesh import EDGES
from gomphosis.fem.section import Array, Index


def boundary_edges(elements: Index) -> Index:
    """Return the edges of nine-node elements (e, 9) that only one of them has.

    Returns
    -------
    Index
        Corner, mid-side, corner, shape (k, 3), counter-clockwise around the elements.
    """
    edges = elements[:, EDGES].reshape(-1, 3)
    _, first, count = np.unique(edges[:, 1], return_index=True, return_counts=True)
    return edges[np.sort(first[count == 1])]


def shared_edges(edges: Index, others: Index) -> Index:
    """Return those of some edges (k, 3) whose mid-side node is among other edges too."""
    return edges[np.isin(edges[:, 1], others[:, 1])]


def without(edges: Index, *others: Index) -> Index:
    """Return those of some edges (k, 3) that are in none of the others."""
    known = np.concatenate([part[:, 1] for part in others])
    return edges[~np.isin(edges[:, 1], known)]


def chains(edges: Index) -> list[Index]:
    """Join directed edges (k, 3) head to tail into ordered lines of nodes.

    Raises
    ------
    ValueError
        If more than one edge leaves a node, or edges close a ring. The message names the node.
    """
    following = {int(edge[0]): edge for edge in edges}
    if len(following) < len(edges):
        node = int(np.flatnonzero(np.bincount(edges[:, 0]) > 1)[0])
        raise ValueError(f"edges branch at node {node}")
    heads = {int(node) for node in edges[:, 2]}
    lines = [_walk(start, following) for start in following if start not in heads]
    if sum(len(line) // 2 for line in lines) < len(edges):
        raise ValueError(f"edges close a ring through node {int(edges[0, 0])}")
    return lines


def undirected_chain(edges: Index) -> Index:
    """Join edges (k, 3) of any direction into one ordered line of nodes.

    Raises
    ------
    ValueError
        If they branch, close a ring or fall into pieces.
    """
    corners, count = np.unique(edges[:, [0, 2]], return_counts=True)
    if count.max() > 2:
        raise ValueError(f"edges branch at node {corners[np.argmax(count)]}")
    ends = corners[count == 1]
    if len(ends) != 2:
        state = "close a ring" if len(ends) == 0 else f"fall into {len(ends) // 2} pieces"
        raise ValueError(f"edges {state}")
    line, rest = [int(ends[0])], [tuple(int(node) for node in edge) for edge in edges]
    at: dict[int, list[tuple[int, ...]]] = {}
    for edge in rest:
        at.setdefault(edge[0], []).append(edge)
        at.setdefault(edge[2], []).append(edge)
    used: set[int] = set()
    while True:
        ahead = [edge for edge in at[line[-1]] if edge[1] not in used]
        if not ahead:
            break
        edge = ahead[0]
        used.add(edge[1])
        line += [edge[1], edge[2] if edge[0] == line[-1] else edge[0]]
    if len(used) < len(edges):
        raise ValueError("edges fall into a line and a ring")
    return np.array(line)


def corner_turns(nodes: Array, line: Sequence[int] | Index) -> Array:
    """Return the left turn in rad at each inner corner node of a line of nodes."""
    place = nodes[:, np.asarray(line)]
    before = place[:, 2:-1:2] - place[:, 1:-2:2]
    after = place[:, 3::2] - place[:, 2:-1:2]
    return np.arctan2(before[0] * after[1] - before[1] * after[0], np.sum(before * after, axis=0))


def _walk(start: int, following: dict[int, Index]) -> Index:
    line = [start]
    while line[-1] in following:
        edge = following[line[-1]]
        line += [int(edge[1]), int(edge[2])]
    return np.array(line)
