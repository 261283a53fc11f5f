"""Bone of the jaw on a fixed raster, through which a tooth and its ligament travel.

Each cell knows which share of it is bone, how much mineral that bone holds, and which share the
tooth and its ligament cover; the rest is soft tissue. Operations return new maps.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gomphosis.bone.coverage import Raster
from gomphosis.bone.density_law import DensityLaw
from gomphosis.fem.section import Array

NONE, TRABECULAR, CORTICAL = 0, 1, 2
CORTICAL_FROM = 0.75  # density a plate matures to; between trabecular bone and 1
ROUND_OFF = 1e-9  # of a cell
LEAST = 1e-12  # of a cell; below it a cell holds nothing


@dataclass(frozen=True)
class DensityMap:
    """Hold the bone of a slice of the jaw; cell arrays of shape (along x, along z).

    Parameters
    ----------
    raster
        Where the cells lie, in the frame of the jaw, mm.
    bone
        Share of the cell that is bone of any density.
    mineral
        Mineral of the cell, in cells of full cortical bone.
    covered
        Share of the cell under the tooth and its ligament.
    envelope
        Share of the cell in which bone may be laid down: within the jaw's outer surface.
    mature
        Density to which bone laid down there matures, 0 to 1.

    Raises
    ------
    ValueError
        If an array does not have the raster's shape, leaves [0, 1], or there is more mineral
        than bone, or more bone than the tooth leaves room for.
    """

    raster: Raster
    bone: Array
    mineral: Array
    covered: Array
    envelope: Array
    mature: Array

    def __post_init__(self) -> None:
        for name in ("bone", "mineral", "covered", "envelope", "mature"):
            values = getattr(self, name)
            if values.shape != self.raster.shape:
                raise ValueError(
                    f"density map: {name} must have shape {self.raster.shape}, got {values.shape}"
                )
            low, high = float(values.min()), float(values.max())
            # written so that nan fails
            if not (low >= -ROUND_OFF and high <= 1 + ROUND_OFF):
                raise ValueError(f"density map: {name} must lie in [0, 1], found {low} to {high}")
        if float((self.mineral - self.bone).max()) > ROUND_OFF:
            raise ValueError("density map: a cell has more mineral than full cortical bone")
        if float((self.bone + self.covered).max()) > 1 + ROUND_OFF:
            raise ValueError("density map: bone and tooth cover more than a whole cell")

    @property
    def density(self) -> Array:
        """Density of the bone in each cell, 0 to 1; 0 where there is none."""
        some = self.bone > LEAST
        return np.where(some, self.mineral / np.where(some, self.bone, 1.0), 0.0)

    @property
    def kind(self) -> npt.NDArray[np.int8]:
        """NONE, TRABECULAR or CORTICAL of each cell, by what its bone is or will mature to."""
        some = self.bone > LEAST
        plate = self.mature >= CORTICAL_FROM
        return np.where(some, np.where(plate, CORTICAL, TRABECULAR), NONE).astype(np.int8)

    @property
    def bone_area(self) -> float:
        """Area of bone, mm^2."""
        return float(self.bone.sum()) * self.raster.cell_area

    @property
    def mineral_area(self) -> float:
        """Area of full cortical bone that holds the map's mineral, mm^2."""
        return float(self.mineral.sum()) * self.raster.cell_area

    def density_at(self, points: Array) -> Array:
        """Return the density at points, shape (2, ...), mm; soft tissue counts as 0.

        The mineral of the four cells around is shared out by distance over what of them the tooth
        does not cover, so bone beside the ligament is not diluted by it. A point whose four cells
        lie wholly under the tooth gets 0; one outside the raster, that of the nearest cell.
        """
        cells, weight = self._around(points)
        room = weight * np.maximum(1 - self.covered.ravel()[cells], 0.0)
        return _ratio((weight * self.mineral.ravel()[cells]).sum(axis=0), room.sum(axis=0), 0.0)

    def modulus_at(self, points: Array, law: DensityLaw) -> Array:
        """Return Young's modulus in MPa at points, shape (2, ...), mm.

        Cells are averaged as in `density_at`, by stiffness; soft tissue fills what is neither
        bone nor tooth.
        """
        cells, weight = self._around(points)
        bone, mineral = self.bone.ravel()[cells], self.mineral.ravel()[cells]
        room = np.maximum(1 - self.covered.ravel()[cells], 0.0)
        added = law.modulus(np.clip(_ratio(mineral, bone, 0.0), 0.0, 1.0)) - law.soft
        share = _ratio((weight * bone * added).sum(axis=0), (weight * room).sum(axis=0), 0.0)
        return law.soft + share

    def mean_density(self, covered: Array) -> float:
        """Return the mean density over an area given by its share of each cell.

        With shares from `coverage` of a partition, the means times areas add up to the map's
        mineral exactly.
        """
        area = float(covered.sum())
        if area <= 0.0:
            raise ValueError("mean density needs an area above 0 within the raster")
        return float((covered * self.mineral).sum()) / area

    def _around(self, points: Array) -> tuple[npt.NDArray[np.int64], Array]:
        """Return flat indices and weights of the four cells around each point, (4, ...)."""
        place = self.raster.in_cells(points) - 0.5
        last = np.reshape(self.raster.shape, (2, *[1] * (place.ndim - 1))) - 1
        place = np.clip(place, 0.0, last)
        low = np.floor(place).astype(np.int64)
        high = np.minimum(low + 1, last)
        (fx, fz), (i, k), (ii, kk) = place - low, low, high
        columns = self.raster.shape[1]
        cells = np.stack([i * columns + k, ii * columns + k, i * columns + kk, ii * columns + kk])
        return cells, np.stack([(1 - fx) * (1 - fz), fx * (1 - fz), (1 - fx) * fz, fx * fz])


def _ratio(amount: Array, whole: Array, otherwise: float) -> Array:
    some = whole > LEAST
    return np.where(some, amount / np.where(some, whole, 1.0), otherwise)
