"""A slice's mesh from a file of any format that meshio reads, with named groups.

Elements are quadratic quadrilaterals of eight or nine nodes in mm, x labial (or mesial), z from
apex to crown, origin on the long axis at the bone crest. Groups (cell sets, or physical names)
``root``, ``ligament`` and ``bone`` are required, ``crown`` and ``soft tissue`` may be there. The
lines are found where regions meet; groups of quadratic line elements called ``outer``, ``axis``
or ``bracket`` take precedence. Capitals and underscores in names do not matter.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import meshio
import numpy as np

from gomphosis.bone.slice_lines import slice_lines
from gomphosis.bone.slice_mesh import BONE, CROWN, LIGAMENT, ROOT, SOFT
from gomphosis.fem.plane_mesh import PlaneMesh
from gomphosis.fem.section import Array, Index

REQUIRED, OPTIONAL = (ROOT, LIGAMENT, BONE), (CROWN, SOFT)
LINE_GROUPS = ("outer", "axis", "bracket")
_REVERSED = np.array([0, 3, 2, 1, 7, 6, 5, 4, 8])
_IGNORED = ("vertex", "line", "line3")


@dataclass(frozen=True)
class ImportedSlice:
    """Hold a mesh from a file and what was changed on the way, in words."""

    mesh: PlaneMesh
    notes: tuple[str, ...]


def read_slice_mesh(path: Path) -> ImportedSlice:
    """Read and check a slice's mesh.

    Raises
    ------
    ValueError
        If the file is not plane, has other elements than quadratic quadrilaterals, lacks a
        group, has an element in no group, in two or inside out, or a line cannot be found. The
        message names the file and the group, or the element (counted from 0 over all
        quadrilaterals in the order of the file) and its place in mm.
    """
    return imported_slice(meshio.read(path), path.name)


def imported_slice(source: meshio.Mesh, name: str = "mesh") -> ImportedSlice:
    """Check a slice's mesh that meshio has read; see `read_slice_mesh`."""
    elements, nodes = _quadrilaterals(source, name)
    groups = _groups(source)
    regions = _regions(groups, name)
    nodes, elements, number = _compact(nodes, elements)
    elements, turned = _counter_clockwise(nodes, elements)
    notes = [f"{name}: {turned} elements ran clockwise and were turned"] if turned else []
    given = {
        line: number[edges] for line in LINE_GROUPS if (edges := groups.lines.get(line)) is not None
    }
    try:
        plain = PlaneMesh(nodes, elements, regions, {})
        lines = slice_lines(plain, given)
        return ImportedSlice(PlaneMesh(nodes, elements, regions, lines), tuple(notes))
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from error


def as_meshio(mesh: PlaneMesh) -> meshio.Mesh:
    """Return a mesh with its regions, and the lines that a file may name, as named groups."""
    blocks = [(name, "quad9", mesh.elements[members]) for name, members in mesh.regions.items()]
    for name in LINE_GROUPS:
        if name in mesh.lines:
            line = mesh.lines[name]
            edges = np.stack([line[:-2:2], line[2::2], line[1:-1:2]], axis=1)
            blocks.append((name, "line3", edges))
    tags = [np.full(len(cells), k + 1) for k, (_, _, cells) in enumerate(blocks)]
    return meshio.Mesh(
        np.append(mesh.nodes, np.zeros((1, mesh.nodes.shape[1])), axis=0).T,
        [(kind, cells) for _, kind, cells in blocks],
        cell_data={"gmsh:physical": tags, "gmsh:geometrical": [tag.copy() for tag in tags]},
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
        if block.type not in ("quad8", "quad9"):
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
    start = np.cumsum([0] + [len(b.data) * (b.type in ("quad8", "quad9")) for b in source.cells])
    regions: dict[str, list[Index]] = {}
    lines: dict[str, list[Index]] = {}
    for name, members in _members(source).items():
        for k, chosen in enumerate(members):
            block = source.cells[k]
            if not len(chosen):
                continue
            if block.type == "line3":
                lines.setdefault(name, []).append(np.asarray(block.data)[chosen][:, [0, 2, 1]])
            elif block.type in ("quad8", "quad9"):
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


def _regions(groups: _Groups, name: str) -> dict[str, Index]:
    missing = [group for group in REQUIRED if group not in groups.regions]
    if missing:
        have = ", ".join(groups.regions) or "none"
        raise ValueError(f"{name}: no elements in group {missing[0]}; groups of elements: {have}")
    return {
        group: groups.regions[group] for group in (*REQUIRED, *OPTIONAL) if group in groups.regions
    }


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
