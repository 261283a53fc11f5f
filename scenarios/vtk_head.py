"""What stands at the head of a file in VTK's XML format: a comment, and the day that it shows."""

import re
from pathlib import Path

GRID = b"<UnstructuredGrid>\n"


def xml_comment(text: str) -> str:
    """Return an XML comment; two hyphens in a row, which may not stand in one, are spaced."""
    plain = re.sub(r"-(?=-)", "- ", text)
    return f"<!-- {plain} -->"


def day_field(day: float) -> str:
    """Return the field by which a reader takes the day from a file that no series lists.

    Without it a viewer counts files that are opened as a group: 0, 1, 2...

    Source of the name and the type: VTK's XML readers, which look for ``TimeValue``.
    """
    return (
        '<FieldData><DataArray type="Float64" Name="TimeValue" NumberOfTuples="1" '
        f'format="ascii">{day:.12g}</DataArray></FieldData>'
    )


def insert_head(path: Path, *, comment: str, day: float) -> None:
    """Put an XML comment below the first line of a VTU file, and its day into the grid.

    Raises
    ------
    ValueError
        If the file has no unstructured grid.
    """
    head, newline, rest = path.read_bytes().partition(b"\n")
    before, tag, after = rest.partition(GRID)
    if not tag:
        raise ValueError(f"{path} has no unstructured grid")
    said = comment.encode() + b"\n"
    path.write_bytes(head + newline + said + before + tag + day_field(day).encode() + b"\n" + after)
