"""Structured, curved, quadratic quadrilateral meshes of a half-section (r, z)."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from skfem import MeshQuad, MeshQuad2

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.int64]
Mapping2D = Callable[[Array, Array], Array]


@dataclass(frozen=True)
class Section:
    """Hold a body-fitted mesh of the half-plane r >= 0 with named bands and lines.

    Parameters
    ----------
    mesh
        Nine-node quadrilaterals; node coordinates (r, z) in mm.
    bands
        Element indices of each named band.
    lines
        Node indices of each named line, ordered along the line, mid-side nodes included.

    Raises
    ------
    ValueError
        If a node lies at negative radius.
    """

    mesh: MeshQuad2
    bands: Mapping[str, Index]
    lines: Mapping[str, Index]

    def __post_init__(self) -> None:
        lowest = float(self.mesh.doflocs[0].min())
        if lowest < -1e-9 * float(np.abs(self.mesh.doflocs).max()):
            raise ValueError(f"section radius must be >= 0 mm, found {lowest:.3g}")

    @property
    def nodes(self) -> Array:
        """Node coordinates, shape (2, n): r and z in mm."""
        return self.mesh.doflocs

    @property
    def axis(self) -> Index:
        """Nodes on the axis of revolution."""
        return np.flatnonzero(self.nodes[0] < 1e-9 * self.nodes[0].max())


def tensor_section(
    xi: Array, bands: Mapping[str, Array], *, mapping: Mapping2D, lines: Mapping[str, float]
) -> Section:
    """Map a tensor grid of parameters onto a section.

    Parameters
    ----------
    xi
        Increasing corner parameters along the section.
    bands
        Increasing corner parameters across each band, in order; the last value of a band is the
        first of the next one.
    mapping
        Takes xi and eta, each of shape (n,), and returns (r, z) of shape (2, n) in mm.
    lines
        Names of lines of constant eta.
    """
    eta = np.unique(np.concatenate(list(bands.values())))
    flat = MeshQuad2.from_mesh(MeshQuad.init_tensor(xi, eta))
    place = flat.doflocs
    middle = place[1, flat.t].mean(axis=0)
    members = {
        name: np.flatnonzero((middle > span[0]) & (middle < span[-1]))
        for name, span in bands.items()
    }
    ordered = {name: _line(place, level) for name, level in lines.items()}
    # lines of constant xi close the section at both ends
    ordered["start"] = _line(place[::-1], float(xi[0]))
    ordered["end"] = _line(place[::-1], float(xi[-1]))
    curved = replace(flat, doflocs=np.ascontiguousarray(mapping(place[0], place[1])))
    return Section(mesh=curved, bands=members, lines=ordered)


def graded(count: int, *, ratio: float = 1.0) -> Array:
    """Return count + 1 values from 0 to 1, steps shrinking towards both ends by ratio."""
    u = np.linspace(0.0, 1.0, count + 1)
    if ratio == 1.0:
        return u
    # a blend of uniform and cosine spacing keeps the map smooth
    blend = 1.0 - 1.0 / ratio
    return (1.0 - blend) * u + blend * 0.5 * (1.0 - np.cos(np.pi * u))


def _line(place: Array, level: float) -> Index:
    on_line = np.flatnonzero(np.abs(place[1] - level) < 1e-12)
    return on_line[np.argsort(place[0, on_line])]


def stacked(counts: Sequence[tuple[str, int]]) -> dict[str, Array]:
    """Return eta corner values of bands of unit width, skipping bands without elements."""
    bands: dict[str, Array] = {}
    for level, (name, count) in enumerate(counts):
        if count > 0:
            bands[name] = np.linspace(level, level + 1, count + 1)
    return bands
