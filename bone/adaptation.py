r"""Adaptation of bone density to its strain energy.

.. math:: d\rho/dt = B\,(U/\rho - k)

with U the strain energy per volume, within bounds of density and outside a lazy zone around k.
Weinans H, Huiskes R, Grootenboer HJ, J Biomech 1992;25:1425-1441 (read in a secondary source).
With one density per element, neighbours compete and the field turns into a checkerboard; with
densities at nodes, interpolated within elements, it does not (Jacobs CR et al., J Biomech
1995;28:449-459, from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from gomphosis.bone.density_map import LEAST, DensityMap
from gomphosis.bone.library import lookup
from gomphosis.bone.mineral import Books, closed
from gomphosis.fem.section import Array

Energy = Callable[[Array], Array]


class NotSettledError(ArithmeticError):
    """Raised when densities still change after the last step."""


@dataclass(frozen=True)
class Adaptation:
    """Give the rate of density from strain energy.

    Parameters
    ----------
    rate
        B, (g/cm^3)^2 per MPa and day.
    reference
        k, strain energy per mass, J/g (MPa per g/cm^3).
    lowest, highest
        Bounds of density, g/cm^3.
    lazy
        Half-width of the zone without change, as a fraction of k.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    rate: float
    reference: float
    lowest: float
    highest: float
    lazy: float = 0.0

    def __post_init__(self) -> None:
        if not (self.rate > 0 and self.reference > 0 and 0 < self.lowest < self.highest):
            raise ValueError(
                "adaptation needs rate > 0, reference > 0 and 0 < lowest < highest; got "
                f"{self.rate}, {self.reference}, {self.lowest}, {self.highest}"
            )
        if not 0 <= self.lazy < 1:
            raise ValueError(f"lazy zone must be a fraction from 0 to below 1, got {self.lazy}")

    @classmethod
    def published(cls) -> "Adaptation":
        """Return the constants of the published plate, from the library."""
        return cls(**{name: lookup(f"adaptation.weinans.{name}").number for name in _PUBLISHED})

    def speed(self, energy: Array, density: Array) -> Array:
        """Return d rho/dt in g/cm^3 per day from U in MPa and rho in g/cm^3, bounds apart."""
        excess = energy / density - self.reference
        dead = self.lazy * self.reference
        return self.rate * np.sign(excess) * np.maximum(np.abs(excess) - dead, 0.0)

    def advanced(self, energy: Array, density: Array, *, days: float) -> Array:
        """Return the densities after one explicit step, kept within bounds."""
        return np.clip(density + days * self.speed(energy, density), self.lowest, self.highest)

    def settled(self, energy: Energy, density: Array, *, days: float, steps: int) -> Array:
        """Step until no density changes by more than 1e-9 g/cm^3 in a step.

        Parameters
        ----------
        energy
            U in MPa from the densities.

        Raises
        ------
        NotSettledError
            If the densities still change after the last step.
        """
        change = np.inf
        for _ in range(steps):
            after = self.advanced(energy(density), density, days=days)
            change = float(np.abs(after - density).max())
            density = after
            if change <= 1e-9:
                return density
        raise NotSettledError(f"density still changes by {change:.2e} g/cm3 after {steps} steps")


_PUBLISHED = ("rate", "reference", "lowest", "highest", "lazy")


def adapted(
    before: DensityMap, energy: Array, law: Adaptation, *, days: float
) -> tuple[DensityMap, Books]:
    """Adapt a map's bone to the strain energy in its cells.

    Full cortical bone has the law's highest density. The density to which bone matures moves
    along, so that mineralisation does not undo adaptation.

    Parameters
    ----------
    energy
        Strain energy per volume of each cell's bone, MPa, shape of the raster.

    Raises
    ------
    ValueError
        If the energy has another shape, is negative or not finite.
    """
    if energy.shape != before.raster.shape:
        raise ValueError(f"energy must have shape {before.raster.shape}, got {energy.shape}")
    if not (np.isfinite(energy).all() and energy.min() >= 0):
        raise ValueError("energy must be finite and >= 0 MPa in every cell")
    some = before.bone > LEAST
    density = before.density
    held = np.where(some, np.maximum(density * law.highest, law.lowest), law.lowest)
    after_density = law.advanced(energy, held, days=days) / law.highest
    change = np.where(some, after_density - density, 0.0)
    gain = change * before.bone
    after = replace(
        before,
        mineral=before.mineral + gain,
        mature=np.clip(before.mature + change, 0.0, 1.0),
    )
    books = Books(mineral_adapted=float(gain.sum()) * before.raster.cell_area)
    return after, closed(before, after, books)
