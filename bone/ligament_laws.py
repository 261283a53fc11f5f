r"""Stress of the ligament as a function of its strain, in plane strain.

Strain and stress are (xx, zz, xz) with the engineering shear, on the nominal thickness. All laws
are isotropic with a constant Poisson's ratio: :math:`\sigma = E_s(e)\,\hat C\,\varepsilon`, with
:math:`\hat C` the moduli for E = 1.

The switch of the bilinear law goes by the *equivalent strain*
:math:`e = \sqrt{\varepsilon : \hat C : \varepsilon / \hat M}`, :math:`\hat M` the constrained
modulus for E = 1. In a layer stretched or pressed across its thickness, e is the change of
thickness over the thickness; in pure shear it is :math:`\gamma\sqrt{\hat G/\hat M}`. The choice
of invariant is ours (the published pair names none); as e is the root of an energy, stress is the
derivative of one, work depends on no path and the tangent is symmetric. Compression and tension
are alike.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.harmonic import constrained_modulus
from gomphosis.fem.plane import isotropic_moduli
from gomphosis.fem.section import Array

BLEND = 0.1  # half width of the switch over the switch strain: ours, so that Newton sees no kink


@dataclass(frozen=True)
class LinearLigament:
    """Obey Hooke's law, up to the brink of incompressibility.

    Parameters
    ----------
    young, poisson
        Elastic pair of one study, MPa and dimensionless.

    Raises
    ------
    ValueError
        Unless young > 0 and 0 <= poisson < 0.5.
    """

    young: float
    poisson: float

    def __post_init__(self) -> None:
        isotropic_moduli(self.young, self.poisson)

    @cached_property
    def moduli(self) -> Array:
        """Moduli in MPa, shape (3, 3)."""
        return isotropic_moduli(self.young, self.poisson)

    def stress(self, strain: Array) -> Array:
        """Return the stress in MPa, shape (..., 3)."""
        return strain @ self.moduli

    def tangent(self, strain: Array) -> Array:
        """Return the moduli at every strain, MPa, shape (..., 3, 3)."""
        return np.broadcast_to(self.moduli, (*strain.shape[:-1], 3, 3))


@dataclass(frozen=True)
class BilinearLigament:
    r"""Stiffen where the equivalent strain passes a switch.

    The curve s(e) has slope ``first`` up to the switch and ``second`` beyond, the slope passing
    evenly from one to the other within ``blend`` times the switch on either side; the secant
    modulus is s(e)/e.

    Parameters
    ----------
    first, second
        Moduli in MPa.
    switch
        Equivalent strain.
    poisson
        Poisson's ratio of both branches.
    blend
        Half width of the switch, as a share of it.

    Raises
    ------
    ValueError
        Unless moduli and switch are above zero, 0 <= poisson < 0.5 and 0 < blend < 1.
    """

    first: float
    second: float
    switch: float
    poisson: float
    blend: float = BLEND

    def __post_init__(self) -> None:
        isotropic_moduli([self.first, self.second], self.poisson)
        if not (self.switch > 0.0 and 0.0 < self.blend < 1.0):
            raise ValueError(
                "bilinear ligament needs switch > 0 and 0 < blend < 1, "
                f"got {self.switch} and {self.blend}"
            )

    @cached_property
    def _unit(self) -> Array:
        return isotropic_moduli(1.0, self.poisson)

    def equivalent(self, strain: Array) -> Array:
        """Return the equivalent strain, shape (...)."""
        return equivalent_strain(strain, self.poisson)

    def stress(self, strain: Array) -> Array:
        """Return the stress in MPa, shape (..., 3)."""
        unit = strain @ self._unit
        return self.secant(self._equivalent(strain, unit))[..., None] * unit

    def tangent(self, strain: Array) -> Array:
        """Return the derivative of the stress by the strain in MPa, shape (..., 3, 3)."""
        unit = strain @ self._unit
        equivalent = self._equivalent(strain, unit)
        secant = self.secant(equivalent)
        # d secant / d e over e; the secant is constant near zero
        safe = np.maximum(equivalent, 0.5 * self.switch * (1 - self.blend))
        bend = (self._slope(safe) - self.secant(safe)) / safe**2
        bend = bend / constrained_modulus(1.0, self.poisson)
        return (
            secant[..., None, None] * self._unit
            + bend[..., None, None] * unit[..., :, None] * unit[..., None, :]
        )

    def secant(self, equivalent: Array) -> Array:
        """Return the secant modulus in MPa at an equivalent strain, shape as given."""
        half = self.blend * self.switch
        into = np.clip(equivalent - (self.switch - half), 0.0, 2 * half)
        beyond = np.maximum(equivalent - (self.switch + half), 0.0)
        gain = (self.second - self.first) * (into**2 / (4 * half) + beyond)
        # gain is zero below the switch, whatever it is divided by
        return self.first + gain / np.maximum(equivalent, self.switch - half)

    def _slope(self, equivalent: Array) -> Array:
        half = self.blend * self.switch
        share = np.clip((equivalent - self.switch + half) / (2 * half), 0.0, 1.0)
        return self.first + (self.second - self.first) * share

    def _equivalent(self, strain: Array, unit: Array) -> Array:
        energy = np.einsum("...i,...i->...", strain, unit)
        return np.sqrt(energy / constrained_modulus(1.0, self.poisson))


def equivalent_strain(strain: Array, poisson: float) -> Array:
    """Return the strain across a confined layer that has the same energy, shape (...).

    Parameters
    ----------
    strain
        xx, zz, xz (engineering shear), shape (..., 3).
    """
    energy = np.einsum("...i,...i->...", strain, strain @ isotropic_moduli(1.0, poisson))
    return np.sqrt(energy / constrained_modulus(1.0, poisson))


def published_bilinear(study: str = "ligament.poppe") -> BilinearLigament:
    """Return the bilinear law that a study identified; the library holds its source.

    Raises
    ------
    KeyError
        If the library has no such study.
    """
    return BilinearLigament(
        first=lookup(f"{study}.young_first").number,
        second=lookup(f"{study}.young_second").number,
        switch=lookup(f"{study}.switch_strain").number,
        poisson=lookup(f"{study}.poisson").number,
    )


def mean_stress(stress: Array, poisson: float) -> Array:
    """Return the mean of the three normal stresses in plane strain, MPa, shape (...)."""
    return (1 + poisson) / 3 * (stress[..., 0] + stress[..., 1])
