r"""Modulus of bone from its mineral density.

.. math:: E = E_0 + (E_1 - E_0)\,\rho^p

with the density as a fraction of full cortical bone: 0 gives soft tissue, 1 cortical bone.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.section import Array


@dataclass(frozen=True)
class DensityLaw:
    """Give Young's modulus from density.

    The exponent is cited; the scale is not: it is set by the modulus of full cortical bone, so
    that it stays with the elastic pair in use.

    Parameters
    ----------
    full, soft
        Modulus of full cortical bone and of the tissue where there is no bone, MPa.
    exponent
        p, at least 1.

    Raises
    ------
    ValueError
        If not 0 < soft < full or the exponent is below 1.
    """

    full: float
    soft: float
    exponent: float

    def __post_init__(self) -> None:
        if not (0 < self.soft < self.full < np.inf and 1 <= self.exponent < np.inf):
            raise ValueError(
                "density law needs 0 < soft < full MPa and exponent >= 1; got "
                f"{self.soft}, {self.full}, {self.exponent}"
            )

    def modulus(self, density: Array) -> Array:
        """Return E in MPa at densities from 0 to 1."""
        return self.soft + (self.full - self.soft) * np.asarray(density) ** self.exponent

    def density(self, modulus: float) -> float:
        """Return the density, 0 to 1, that has a modulus in MPa.

        Raises
        ------
        ValueError
            If the modulus is not between soft and full.
        """
        if not self.soft <= modulus <= self.full:
            raise ValueError(
                f"modulus must lie between {self.soft} and {self.full} MPa, got {modulus}"
            )
        return float(((modulus - self.soft) / (self.full - self.soft)) ** (1 / self.exponent))

    @classmethod
    def cited(cls, study: str, *, full: float, soft: float) -> "DensityLaw":
        """Return the law with the exponent of a study in the library: carter_hayes or morgan."""
        return cls(full, soft, lookup(f"density_law.{study}.exponent").number)


def carter_hayes_modulus(density: Array, *, strain_rate: float = 0.01) -> Array:
    """Return E = 3790 (rate)^0.06 rho^3 in MPa from density in g/cm^3 and rate in 1/s.

    Notes
    -----
    Carter DR, Hayes WC, J Bone Joint Surg Am 1977;59:954-962, read in a secondary source.
    """
    law = "density_law.carter_hayes"
    coefficient = lookup(f"{law}.coefficient").number
    rate = strain_rate ** lookup(f"{law}.rate_exponent").number
    return coefficient * rate * np.asarray(density) ** lookup(f"{law}.exponent").number
