"""Plane meshes of quadratic quadrilaterals with named groups, from and to files.

Groups are cell sets or physical names; capitals and underscores in their names do not matter.
"""

import contextlib
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import meshio
import numpy as np
from numpy.typing import ArrayLike

from gomphosis.fem.plane_mesh import PlaneMesh
from gomphosis.fem.section import Array, Index

_REVERSED = np.array([0, 3, 2, 1, 7, 6, 5, 4, 8])
_QUADS, _IGNORED = ("quad8", "quad9"), ("vertex", "line", "line3")


@dataclass(frozen=True)
class PlaneFile:
    """Hold what a file says of a plane mesh.

    Attributes
    ----------
    name
        Of the file, for messages.
    nodes, elements
        As in `PlaneMesh`, elements in the order of the file.
    groups
        Element indices of each named group.
    lines
        Edges (corner, mid-side, corner), shape (k, 3), of each named group of line elements; -1
        for a node that no element uses.
    turned
        Number of elements that ran clockwise and were turned.
    """

    name: str
    nodes: Array
    elements: Index
    groups: Mapping[str, Index]
    lines: Mapping[str, Index]
    turned: int


def read_plane_file(path: Path) -> PlaneFile:
    """Read a mesh of quadratic quadrilaterals in any format that meshio knows.

    Raises
    ------
    ValueError
        If the file cannot be read, is not plane, or has other plane or solid elements. The
        message names the file.
    """
    said = io.StringIO()
    try:
        # the reader prints, and ends the process, where it cannot read
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            source = meshio.read(path)
    except (meshio.ReadError, SystemExit) as error:
        reason = " ".join(f"{said.getvalue()} {error}".split())
        raise ValueError(f"{path.name}: cannot be read as a mesh: {reason}") from error
    return plane_file(source, path.name)


def plane_file(source: meshio.Mesh, name: str = "mesh") -> PlaneFile:
    """Return what a mesh of meshio says; see `read_plane_file`."""
    elements, nodes = _quadrilaterals(source, name)
    groups = _groups(source)
    nodes, elements, number = _compact(nodes, elements)
    elements, turned = _counter_clockwise(nodes, elements)
    lines = {line: number[edges] for line, edges in groups.lines.items()}
    return PlaneFile(name, nodes, elements, groups.regions, lines, turned)


def as_meshio(mesh: PlaneMesh, lines: Sequence[str] = ()) -> meshio.Mesh:
    """Return a mesh for meshio with its regions, and some of its lines, as named groups."""
    blocks = [(name, "quad9", mesh.elements[members]) for name, members in mesh.regions.items()]
    for name in lines:
        line = mesh.lines[name]
        edges = np.stack([line[:-2:2], line[2::2], line[1:-1:2]], axis=1)
        blocks.append((name, "line3", edges))
    tags: list[ArrayLike] = [np.full(len(cells), k + 1) for k, (_, _, cells) in enumerate(blocks)]
    return meshio.Mesh(
        np.append(mesh.nodes, np.zeros((1, mesh.nodes.shape[1])), axis=0).T,
        [(kind, cells) for _, kind, cells in blocks],
        cell_data={"gmsh:physical": tags, "gmsh:geometrical": list(tags)},
        field_data={
            name: np.array([k + 1, 2 if kind == "quad9" else 1])
            for k, (name, kind, _) in enumerate(blocks)
        },
    )


@dataclass(frozen=True)
class _Groups:
    regions: Mapping[str, Index]  # element numbers over all quadrilaterals
    lines: Mapping[str, Index]  # edges (k, 3): corner, mid-side, corner


def _quadrilaterals(source: meshio.Mesh, name: str) -> tuple[Index, Array]:
    """Return nine-node elements and nodes (2, n), with centres added where there are none."""
    nodes = _plane(np.asarray(source.points, dtype=float), name)
    parts: list[Index] = []
    for block in source.cells:
        if block.type in _IGNORED:
            continue
        if block.type not in _QUADS:
            raise ValueError(
                f"{name}: {len(block.data)} elements of type {block.type}, expected quadratic "
                "quadrilaterals (quad8 or quad9)"
            )
        cells = np.asarray(block.data, dtype=np.int64)
        if block.type == "quad8":
            place = nodes[:, cells]
            centre = 0.5 * place[:, :, 4:].sum(axis=2) - 0.25 * place[:, :, :4].sum(axis=2)
            added = nodes.shape[1] + np.arange(len(cells))
            nodes = np.append(nodes, centre, axis=1)
            cells = np.append(cells, added[:, None], axis=1)
        parts.append(cells)
    if not parts:
        raise ValueError(f"{name}: no quadrilaterals")
    return np.concatenate(parts), nodes


def _plane(points: Array, name: str) -> Array:
    """Return x and z of points in the plane of the first two or of the first and third axis."""
    if points.shape[1] == 2:
        return points.T.copy()
    size = np.ptp(points, axis=0).max()
    for flat, kept in ((2, [0, 1]), (1, [0, 2])):
        if np.ptp(points[:, flat]) <= 1e-9 * size:
            return points[:, kept].T.copy()
    bad = int(np.argmax(np.abs(points[:, 2] - points[0, 2])))
    raise ValueError(f"{name}: the mesh is not plane: node {bad} is at {points[bad]} mm")


def _groups(source: meshio.Mesh) -> _Groups:
    start = np.cumsum([0] + [len(b.data) * (b.type in _QUADS) for b in source.cells])
    regions: dict[str, list[Index]] = {}
    lines: dict[str, list[Index]] = {}
    for name, members in _members(source).items():
        for k, chosen in enumerate(members):
            block = source.cells[k]
            if not len(chosen):
                continue
            if block.type == "line3":
                lines.setdefault(name, []).append(np.asarray(block.data)[chosen][:, [0, 2, 1]])
            elif block.type in _QUADS:
                regions.setdefault(name, []).append(start[k] + chosen)
    return _Groups(
        {name: np.concatenate(parts) for name, parts in regions.items()},
        {name: np.concatenate(parts) for name, parts in lines.items()},
    )


def _members(source: meshio.Mesh) -> dict[str, list[Index]]:
    """Return the cells of each group in every block, by plain name."""
    none = np.zeros(0, dtype=np.int64)
    found: dict[str, list[Index]] = {}
    for name, members in source.cell_sets.items():
        found[_plain(name)] = [
            none if part is None else np.asarray(part, dtype=np.int64) for part in members
        ]
    physical = source.cell_data.get("gmsh:physical")
    if physical is not None:
        for name, (tag, dimension) in source.field_data.items():
            found[_plain(name)] = [
                np.flatnonzero(np.asarray(part) == tag) if block.dim == dimension else none
                for block, part in zip(source.cells, physical, strict=True)
            ]
    return found


def _plain(name: str) -> str:
    return " ".join(name.lower().replace("_", " ").split())


def _compact(nodes: Array, elements: Index) -> tuple[Array, Index, Index]:
    """Drop nodes that no element uses; return also the new number of each old node."""
    used, flat = np.unique(elements, return_inverse=True)
    number = np.full(nodes.shape[1], -1)
    number[used] = np.arange(len(used))
    return nodes[:, used], flat.reshape(elements.shape), number


def _counter_clockwise(nodes: Array, elements: Index) -> tuple[Index, int]:
    x, z = nodes[:, elements[:, :4]]
    area = (x[:, 2] - x[:, 0]) * (z[:, 3] - z[:, 1]) - (x[:, 3] - x[:, 1]) * (z[:, 2] - z[:, 0])
    clockwise = area < 0
    turned = np.where(clockwise[:, None], elements[:, _REVERSED], elements)
    return turned, int(clockwise.sum())
