"""A slice's mesh from a file of any format that meshio reads, with named groups.

Elements are quadratic quadrilaterals of eight or nine nodes in mm, x labial (or mesial), z from
apex to crown, origin on the long axis at the bone crest. Groups (cell sets, or physical names)
``root``, ``ligament`` and ``bone`` are required, ``crown`` and ``soft tissue`` may be there. The
lines are found where regions meet; groups of quadratic line elements called ``outer``, ``axis``
or ``bracket`` take precedence. Capitals and underscores in names do not matter.
"""

from dataclasses import dataclass
from pathlib import Path

from gomphosis.bone.slice_lines import slice_lines
from gomphosis.bone.slice_mesh import BONE, CROWN, LIGAMENT, ROOT, SOFT
from gomphosis.fem.plane_file import PlaneFile, read_plane_file
from gomphosis.fem.plane_mesh import PlaneMesh
from gomphosis.fem.section import Index

REQUIRED, OPTIONAL = (ROOT, LIGAMENT, BONE), (CROWN, SOFT)
LINE_GROUPS = ("outer", "axis", "bracket")


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
        As `imported_slice`, or if the file cannot be read.
    """
    return imported_slice(read_plane_file(path))


def imported_slice(source: PlaneFile) -> ImportedSlice:
    """Check a slice's mesh that has been read.

    Raises
    ------
    ValueError
        If a group is missing, an element is in no group, in two or inside out, or a line cannot
        be found. The message names the file and the group, or the element (counted from 0 over
        all quadrilaterals in the order of the file) and its place in mm.
    """
    name, nodes, elements = source.name, source.nodes, source.elements
    regions = _regions(source)
    given = {line: source.lines[line] for line in LINE_GROUPS if line in source.lines}
    notes = (f"{name}: {source.turned} elements ran clockwise and were turned",)
    try:
        lines = slice_lines(PlaneMesh(nodes, elements, regions, {}), given)
        mesh = PlaneMesh(nodes, elements, regions, lines)
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from error
    return ImportedSlice(mesh, notes if source.turned else ())


def _regions(source: PlaneFile) -> dict[str, Index]:
    missing = [group for group in REQUIRED if group not in source.groups]
    if missing:
        have = ", ".join(source.groups) or "none"
        raise ValueError(
            f"{source.name}: no elements in group {missing[0]}; groups of elements: {have}"
        )
    return {
        group: source.groups[group] for group in (*REQUIRED, *OPTIONAL) if group in source.groups
    }
