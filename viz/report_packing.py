"""Arrays of a report as whole numbers: what is shown is kept, in units of the last digit shown.

A page that shows 0.12 needs 12 hundredths and no more; the value under the pointer is then the
value of the field file, rounded once.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

KINDS = ("int8", "int16", "int32")
MISSING = {kind: int(np.iinfo(kind).min) for kind in KINDS}
"""What stands for a value that does not exist."""


@dataclass
class Packing:
    """Gather arrays into one run of bytes; what describes each goes into the page's data."""

    parts: list[bytes] = field(default_factory=list)
    size: int = 0

    def add(self, values: npt.ArrayLike, *, step: float = 1.0) -> dict[str, Any]:
        """Keep an array and return what a reader needs to find it again.

        Differences from row to row of the first axis are written: what changes little from day
        to day packs well.

        Parameters
        ----------
        values
            At least one axis; nan stands for what does not exist.
        step
            Value of one unit of the last digit that is shown.

        Raises
        ------
        ValueError
            If a value needs more than 31 bits.
        """
        units = np.rint(np.asarray(values, dtype=float) / step)
        missing = ~np.isfinite(units)
        units[missing] = 0.0
        kind = _kind(units)
        whole = units.astype(np.int64)
        whole[missing] = MISSING[kind]
        # differences may leave the range; they come back by wrapping round
        steps = np.diff(whole, axis=0, prepend=np.zeros_like(whole[:1]))
        plain = steps.astype(f"<i{np.dtype(kind).itemsize}").tobytes()
        found = {"at": self.size, "kind": kind, "shape": list(whole.shape), "step": step}
        self.parts.append(plain)
        self.size += len(plain)
        return found

    def bytes(self) -> bytes:
        """Return all arrays one after another."""
        return b"".join(self.parts)


def unpacked(block: bytes, place: dict[str, Any]) -> npt.NDArray[np.float64]:
    """Return an array that `Packing.add` kept; missing values are nan.

    Raises
    ------
    ValueError
        If the block is too short for it.
    """
    kind, shape = np.dtype(place["kind"]), tuple(place["shape"])
    count = int(np.prod(shape))
    plain = block[place["at"] : place["at"] + count * kind.itemsize]
    steps = np.frombuffer(plain, kind.newbyteorder("<"))
    if steps.size != count:
        raise ValueError("block is too short")
    whole = np.cumsum(steps.reshape(shape).astype(np.int64), axis=0).astype(kind)
    return np.where(whole == MISSING[kind.name], np.nan, whole * place["step"])


def _kind(units: npt.NDArray[np.float64]) -> str:
    largest = float(np.abs(units).max(initial=0.0))
    for kind in KINDS:
        if largest <= np.iinfo(kind).max:
            return kind
    raise ValueError(f"a value of {largest:g} units is too large to be kept")
