"""Strain energy of the bone around a slice, in the cells of its density map."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import KDTree

from gomphosis.bone.adaptation import Adaptation
from gomphosis.bone.coverage import Raster, moved
from gomphosis.bone.slice_body import SliceBody
from gomphosis.bone.slice_response import SliceState
from gomphosis.fem.plane import isotropic_moduli
from gomphosis.fem.section import Array, Index

Form = Literal["element", "node"]


@dataclass(frozen=True)
class MapAdaptation:
    """Let bone of the map adapt to its strain energy.

    Parameters
    ----------
    law
        Rate, reference and bounds.
    form
        One energy for every element, which lets neighbours compete; or interpolated between
        nodes, which does not.
    """

    law: Adaptation
    form: Form


def bone_energy(
    body: SliceBody, state: SliceState, young: Array, *, drift: Array, raster: Raster, form: Form
) -> Array:
    """Return the strain energy per volume in every cell, MPa, shape of the raster; nan outside.

    Parameters
    ----------
    young
        Moduli at the bony integration points, MPa, shape (n,).
    drift
        Place of the tooth's frame in the jaw, (ux, uz, ry).
    """
    per_point = _energy(body, state, young)
    volume = body.elements.measure[body.bony]
    mean = np.sum(per_point * volume, axis=1) / volume.sum(axis=1)
    cells = _cells(raster)
    nodes = moved(body.mesh.nodes, drift)
    if form == "element":
        centres = nodes[:, body.mesh.elements[body.bony, 8]].T
        reach = _reach(body)
        distance, nearest = KDTree(centres).query(cells)
        found = np.where(distance <= reach[nearest], mean[nearest], np.nan)
    else:
        used, value = _at_nodes(body, mean, volume.sum(axis=1))
        found = LinearNDInterpolator(nodes[:, used].T, value)(cells)
    return found.reshape(raster.shape)


def _energy(body: SliceBody, state: SliceState, young: Array) -> Array:
    strain = body.elements.strain(state.displacement, elements=body.bony)
    unit = strain @ isotropic_moduli(1.0, body.tissue.bone_poisson)
    return 0.5 * young.reshape(strain.shape[:2]) * np.einsum("epi,epi->ep", strain, unit)


def _at_nodes(body: SliceBody, mean: Array, volume: Array) -> tuple[Index, Array]:
    """Return corner nodes of bony elements and the mean of the elements that meet there."""
    corners = body.mesh.elements[body.bony, :4]
    size = body.mesh.nodes.shape[1]
    weight = np.bincount(corners.ravel(), weights=np.repeat(volume, 4), minlength=size)
    total = np.bincount(corners.ravel(), weights=np.repeat(mean * volume, 4), minlength=size)
    used = np.flatnonzero(weight)
    return np.asarray(used, dtype=np.int64), total[used] / weight[used]


def _reach(body: SliceBody) -> Array:
    """Return the distance from the centre of every bony element to its farthest corner, mm."""
    place = body.mesh.nodes[:, body.mesh.elements[body.bony]]
    return np.hypot(*(place[:, :, :4] - place[:, :, 8:])).max(axis=1)


def _cells(raster: Raster) -> Array:
    x, z = np.meshgrid(raster.centres(0), raster.centres(1), indexing="ij")
    return np.stack([x.ravel(), z.ravel()], axis=1)
