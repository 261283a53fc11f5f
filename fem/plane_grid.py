"""Plane meshes mapped from a grid of parameters."""

from collections.abc import Mapping

import numpy as np

from gomphosis.fem.plane_mesh import PlaneMesh
from gomphosis.fem.section import Array, Index, Mapping2D

# (xi, eta) offsets in half steps of the nodes of an element
_OFFSETS = ((0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1), (1, 1))


def plane_grid(
    xi: Array,
    eta: Array,
    *,
    mapping: Mapping2D,
    bands: Mapping[str, tuple[int, int]] | None = None,
) -> PlaneMesh:
    """Map a grid onto a body; its sides are the lines xi_first, xi_last, eta_first, eta_last.

    Parameters
    ----------
    xi, eta
        Increasing corner parameters.
    mapping
        Takes xi and eta, each of shape (n,), and returns x, z in mm, shape (2, n); must not mirror.
    bands
        Regions as first and last corner number along eta; one region "body" by default.
    """
    along, across = _halved(xi), _halved(eta)
    number = np.arange(len(along) * len(across)).reshape(len(along), len(across))
    elements = np.stack(
        [
            number[i : i + len(along) - 2 : 2, j : j + len(across) - 2 : 2].ravel()
            for i, j in _OFFSETS
        ],
        axis=1,
    )
    steps = np.arange(len(elements)).reshape(len(xi) - 1, len(eta) - 1)
    spans = bands or {"body": (0, len(eta) - 1)}
    grid = np.meshgrid(along, across, indexing="ij")
    return PlaneMesh(
        nodes=mapping(grid[0].ravel(), grid[1].ravel()),
        elements=elements,
        regions={name: steps[:, low:high].ravel() for name, (low, high) in spans.items()},
        lines=_sides(number),
    )


def _halved(corners: Array) -> Array:
    fine = np.empty(2 * len(corners) - 1)
    fine[::2] = corners
    fine[1::2] = 0.5 * (corners[1:] + corners[:-1])
    return fine


def _sides(number: Index) -> dict[str, Index]:
    return {
        "xi_first": number[0],
        "xi_last": number[-1],
        "eta_first": number[:, 0],
        "eta_last": number[:, -1],
    }
