"""Images in VTK's XML format: cell values on a raster in the plane (x, z)."""

import base64
import struct
import zlib
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import numpy.typing as npt

from gomphosis.bone.coverage import Raster
from gomphosis.scenarios.vtk_head import day_field

TYPES = {"float64": "Float64", "int8": "Int8"}


def write_image(
    path: Path,
    raster: Raster,
    cells: Mapping[str, npt.NDArray[np.generic]],
    *,
    comment: str,
    day: float,
) -> None:
    """Write cell values as a VTI file: one layer of cells in the plane y = 0.

    Source of the format: VTK file formats, XML image data, inline base64 of zlib blocks.

    Parameters
    ----------
    cells
        Values by name, each of the raster's shape, float64 or int8.
    comment
        XML comment below the first line.
    day
        Which the image shows.

    Raises
    ------
    ValueError
        If an array has another shape or type.
    """
    (x, z), (columns, rows), step = raster.origin, raster.shape, raster.spacing
    extent = f"0 {columns} 0 0 0 {rows}"
    lines = [
        '<?xml version="1.0"?>',
        comment,
        '<VTKFile type="ImageData" version="1.0" byte_order="LittleEndian" header_type="UInt32" '
        'compressor="vtkZLibDataCompressor">',
        f'<ImageData WholeExtent="{extent}" Origin="{x:.12g} 0 {z:.12g}" '
        f'Spacing="{step:.12g} {step:.12g} {step:.12g}">',
        day_field(day),
        f'<Piece Extent="{extent}">',
        "<CellData>",
        *(_data_array(name, values, raster) for name, values in cells.items()),
        "</CellData>",
        "</Piece>",
        "</ImageData>",
        "</VTKFile>",
        "",
    ]
    path.write_text("\n".join(lines), encoding="utf-8", newline="\n")


def _data_array(name: str, values: npt.NDArray[np.generic], raster: Raster) -> str:
    if values.shape != raster.shape or values.dtype.name not in TYPES:
        raise ValueError(
            f"image field {name} needs shape {raster.shape} and one of {', '.join(TYPES)}, got "
            f"{values.shape} and {values.dtype.name}"
        )
    # x runs fastest
    plain = values.T.astype(values.dtype.newbyteorder("<")).tobytes()
    packed = zlib.compress(plain)
    # one block: how many, its size, size of a last shorter one, its packed size
    head = base64.b64encode(struct.pack("<4I", 1, len(plain), 0, len(packed)))
    text = (head + base64.b64encode(packed)).decode("ascii")
    kind = TYPES[values.dtype.name]
    return f'<DataArray type="{kind}" Name="{name}" format="binary">{text}</DataArray>'
