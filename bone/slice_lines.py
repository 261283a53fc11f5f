"""Find the named lines of a slice's mesh from its regions."""

from collections.abc import Mapping

import numpy as np

from gomphosis.bone.slice_mesh import BONE, LIGAMENT, ROOT
from gomphosis.fem.plane_lines import (
    boundary_edges,
    chains,
    corner_turns,
    shared_edges,
    undirected_chain,
    without,
)
from gomphosis.fem.plane_mesh import EDGES, PlaneMesh
from gomphosis.fem.section import Index

CORNER = np.pi / 4  # the crest ends where the bone's outline turns down by more than this


def slice_lines(mesh: PlaneMesh, given: Mapping[str, Index]) -> dict[str, Index]:
    """Find the lines that `gomphosis.bone.slice_mesh.slice_mesh` names.

    "bracket" is there only if given, "crown surface" is left out.

    Parameters
    ----------
    mesh
        Mesh with regions root, ligament and bone.
    given
        Edges (k, 3) of lines "outer", "axis" or "bracket" that need not be found.

    Raises
    ------
    ValueError
        If a line cannot be found; the message names the regions or the node.
    """
    edge = {
        name: boundary_edges(mesh.elements[mesh.regions[name]]) for name in (ROOT, LIGAMENT, BONE)
    }
    surface = _interface(edge[ROOT], edge[LIGAMENT], "root and ligament")
    wall = _interface(edge[LIGAMENT], edge[BONE], "ligament and bone")
    _check_left_to_right(mesh, surface)
    rims = _rims(edge[LIGAMENT], edge[ROOT], edge[BONE], surface=surface, wall=wall)
    shell = _chain(without(edge[BONE], edge[LIGAMENT]), "the outline of bone")
    first, last = _outer_ends(mesh, shell, given)
    lines = {
        "root surface": surface,
        "wall": wall,
        "outer": shell[first : last + 1],
        "crest left": np.append(rims[0], shell[1 : first + 1]),
        "crest right": np.append(rims[1], shell[last:-1][::-1]),
        "axis": _axis(mesh, surface, given),
    }
    if "bracket" in given:
        lines["bracket"] = _oriented(mesh, _given(given, "bracket"), upwards=True)
    return lines


def _interface(edges: Index, others: Index, name: str) -> Index:
    shared = shared_edges(edges, others)
    if not len(shared):
        raise ValueError(f"groups {name} share no edge of elements (are their nodes the same?)")
    return _chain(shared, f"the line between {name}")


def _chain(edges: Index, name: str) -> Index:
    try:
        lines = chains(edges)
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from error
    if len(lines) != 1:
        starts = ", ".join(str(line[0]) for line in lines)
        raise ValueError(f"{name} is in {len(lines)} pieces, from nodes {starts}; expected one")
    return lines[0]


def _check_left_to_right(mesh: PlaneMesh, surface: Index) -> None:
    left, right = mesh.nodes[0, surface[[0, -1]]]
    if not left < 0.0 < right:
        raise ValueError(
            f"the root surface runs from x = {left:.4g} to x = {right:.4g} mm, expected from one "
            "side of the long axis x = 0 to the other, around an apex below"
        )


def _rims(
    ligament: Index, root: Index, bone: Index, *, surface: Index, wall: Index
) -> tuple[Index, Index]:
    """Return the ligament's free ends from root to bone, left and right."""
    free = chains(without(ligament, root, bone))
    left = [line for line in free if line[0] == surface[0] and line[-1] == wall[0]]
    right = [line[::-1] for line in free if line[-1] == surface[-1] and line[0] == wall[-1]]
    if len(left) != 1 or len(right) != 1:
        raise ValueError("ligament does not reach the crest on both sides of the root")
    return left[0], right[0]


def _outer_ends(mesh: PlaneMesh, shell: Index, given: Mapping[str, Index]) -> tuple[int, int]:
    """Return where in the outline of bone the held line begins and ends."""
    if "outer" in given:
        place = np.flatnonzero(np.isin(shell, _given(given, "outer")))
        if len(place) != 2 * len(given["outer"]) + 1 or np.any(np.diff(place) != 1):
            raise ValueError("line group outer is not one stretch of the outline of bone")
        return int(place[0]), int(place[-1])
    corner = np.flatnonzero(corner_turns(mesh.nodes, shell) > CORNER)
    if len(corner) < 2:
        raise ValueError(
            f"the outline of bone has {len(corner)} corners, expected one at the end of each "
            "crest; name the held edges in a line group outer"
        )
    return 2 * int(corner[0]) + 2, 2 * int(corner[-1]) + 2


def _axis(mesh: PlaneMesh, surface: Index, given: Mapping[str, Index]) -> Index:
    if "axis" in given:
        line = _oriented(mesh, _given(given, "axis"), upwards=False)
    else:
        edges = np.unique(_on_axis(mesh), axis=0)
        if not len(edges):
            raise ValueError("root has no edge of an element on the long axis x = 0")
        try:
            line = _oriented(mesh, undirected_chain(edges), upwards=False)
        except ValueError as error:
            raise ValueError(f"the long axis x = 0 in root: {error}") from error
    if line[-1] not in surface:
        x, z = mesh.nodes[:, line[-1]]
        raise ValueError(f"the axis ends at x = {x:.4g}, z = {z:.4g} mm, not on the root surface")
    return line


def _on_axis(mesh: PlaneMesh) -> Index:
    edges = mesh.elements[mesh.regions[ROOT]][:, EDGES].reshape(-1, 3)
    near = 1e-6 * np.ptp(mesh.nodes[0])
    on = edges[np.all(np.abs(mesh.nodes[0, edges]) <= near, axis=1)]
    backwards = on[:, 0] > on[:, 2]
    on[backwards] = on[backwards, ::-1]
    return on


def _given(given: Mapping[str, Index], name: str) -> Index:
    if np.any(given[name] < 0):
        raise ValueError(f"line group {name} has a node that no quadrilateral uses")
    try:
        return undirected_chain(given[name])
    except ValueError as error:
        raise ValueError(f"line group {name}: {error}") from error


def _oriented(mesh: PlaneMesh, line: Index, *, upwards: bool) -> Index:
    z = mesh.nodes[1, line[[0, -1]]]
    return line if (z[1] > z[0]) == upwards else line[::-1]
