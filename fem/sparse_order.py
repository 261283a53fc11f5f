"""Order of elimination of a mesh in the plane: halves first, the nodes between them last."""

import numpy as np

from gomphosis.fem.section import Array, Index


def nested_dissection(nodes: Array, elements: Index) -> Index:
    """Return the nodes of all elements in an order that keeps a sparse factor small.

    The elements are halved again and again across their longer extent; the nodes that two halves
    share come after both. On structured meshes this leaves less fill than minimum degree, and
    needs no trial factorisation.

    Parameters
    ----------
    nodes
        Coordinates, shape (2, n).
    elements
        Nodes of every element, shape (e, m).

    Returns
    -------
    Shape (nodes in use,).
    """
    middle = nodes[:, elements].mean(axis=2)
    mark = np.zeros(nodes.shape[1], dtype=np.int64)
    pending = [(np.arange(len(elements)), np.unique(elements))]
    backwards: list[Index] = []
    turn = 0
    while pending:
        members, own = pending.pop()
        if len(members) == 1 or len(own) == 0:
            backwards.append(own[::-1])
            continue
        turn += 2
        first, second = _halves(middle, members)
        mark[elements[first]] = turn
        on_first = mark[own] == turn
        mark[elements[second]] = turn + 1
        on_second = mark[own] == turn + 1
        backwards.append(own[on_first & on_second][::-1])
        pending.append((first, own[on_first & ~on_second]))
        pending.append((second, own[on_second & ~on_first]))
    return np.concatenate(backwards)[::-1].copy()


def _halves(middle: Array, members: Index) -> tuple[Index, Index]:
    place = middle[:, members]
    along = int(np.argmax(np.ptp(place, axis=1)))
    order = members[np.argsort(place[along], kind="stable")]
    return order[: len(order) // 2], order[len(order) // 2 :]
