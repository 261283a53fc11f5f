"""Named arrays as bytes: a list of names, kinds and shapes in JSON, then the numbers as they are.

Nothing in such bytes is ever run, and only numbers of three kinds are read.
"""

import json
from math import prod
from typing import Any

import numpy as np
import numpy.typing as npt

from gomphosis.bone.states import State

KINDS = ("<f8", "<i8", "|b1")
COUNT = 8  # bytes of the number that says how long the list is


class PackingError(ValueError):
    """Bytes that are no packed arrays."""


def packed(state: State) -> bytes:
    """Return arrays as bytes.

    Raises
    ------
    PackingError
        If an array is not of 64-bit floats, 64-bit integers or truth values.
    """
    entries, data = [], []
    for name, array in state.items():
        kind = array.dtype.newbyteorder("<").str
        if kind not in KINDS:
            raise PackingError(f"{name} is of kind {kind}; packed are {', '.join(KINDS)}")
        entries.append([name, kind, array.shape])
        data.append(array.astype(kind, order="C", copy=False).tobytes())
    names = json.dumps(entries, separators=(",", ":")).encode()
    return b"".join([len(names).to_bytes(COUNT, "little"), names, *data])


def unpacked(content: bytes, start: int = 0) -> tuple[dict[str, npt.NDArray[Any]], int]:
    """Return packed arrays that begin at a byte, and the first byte after them.

    Raises
    ------
    PackingError
        If they are not whole.
    """
    begin = start + COUNT
    end = begin + int.from_bytes(content[start:begin], "little")
    if end > len(content):
        raise PackingError("packed arrays end too early")
    state: dict[str, npt.NDArray[Any]] = {}
    try:
        entries = json.loads(content[begin:end])
        for name, kind, shape in entries:
            if kind not in KINDS:
                raise PackingError(f"{name} is of kind {kind}; read are {', '.join(KINDS)}")
            size = np.dtype(kind).itemsize * prod(shape)
            if end + size > len(content):
                raise PackingError("packed arrays end too early")
            numbers = np.frombuffer(content[end : end + size], dtype=kind)
            state[name] = numbers.astype(np.dtype(kind).newbyteorder("="), copy=True).reshape(shape)
            end += size
    except (TypeError, UnicodeDecodeError, json.JSONDecodeError) as error:
        raise PackingError("the list of packed arrays cannot be read") from error
    return state, end
