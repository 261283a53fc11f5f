r"""Answer of a rod's cross-section to stretch, two curvatures and twist rate.

Strains of a section are (stretch, curvature_second, curvature_third, twist), curvatures about the
named axes in 1/mm and twist in rad/mm. A fibre at (second, third) has

.. math::
   \varepsilon = \text{stretch} + \text{third}\,\kappa_2 - \text{second}\,\kappa_3,
   \qquad \gamma = \text{twist}\; q,

and the resultants (N, M_second, M_third, T), N and N·mm, are work-conjugate.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Protocol

import numpy as np

from gomphosis.fem.fibre_laws import FibreLaw
from gomphosis.fem.fibre_section import FibreSection
from gomphosis.fem.section import Array

COMPONENTS = 4
"""Stretch, curvature about the second and third axis, twist."""

ROWS, COLUMNS = np.triu_indices(3)  # pairs of axial strains

STRETCH, CURVATURE_SECOND, CURVATURE_THIRD, TWIST = range(COMPONENTS)


class SectionResponse(NamedTuple):
    """Resultants (count, 4), their tangent (count, 4, 4) and the new state of some sections."""

    resultant: Array
    tangent: Array
    state: Array


class SectionLaw(Protocol):
    """Answer of sections, all alike, to their strains; pure functions of strain and state."""

    def start(self, count: int) -> Array:
        """Return the virgin state of some sections, shape (fields, count, fibres)."""
        ...

    def respond(self, strain: Array, state: Array) -> SectionResponse:
        """Return what strains, shape (count, 4), do to a state."""
        ...

    def stored(self, strain: Array, state: Array) -> Array:
        """Return the elastic energy per length, N, of strains and the state they led to."""
        ...

    def inelastic(self, state: Array) -> Array:
        """Return the inelastic work per length, N, done so far, shape (count,)."""
        ...


@dataclass(frozen=True)
class ElasticSection:
    """Uncoupled linear stiffness; keeps no state.

    Parameters
    ----------
    stretching
        In N.
    bending_second, bending_third, twisting
        About the second and third axis and the tangent, N·mm^2.

    Raises
    ------
    ValueError
        Unless all are positive.
    """

    stretching: float
    bending_second: float
    bending_third: float
    twisting: float

    def __post_init__(self) -> None:
        if not all(0.0 < stiffness < np.inf for stiffness in self.stiffness):
            raise ValueError(f"needs four stiffnesses > 0, got {self.stiffness}")

    @property
    def stiffness(self) -> tuple[float, float, float, float]:
        """The four stiffnesses in the order of the strains."""
        return self.stretching, self.bending_second, self.bending_third, self.twisting

    def start(self, count: int) -> Array:
        """Return an empty state, shape (0, count, 0)."""
        return np.zeros((0, count, 0))

    def respond(self, strain: Array, state: Array) -> SectionResponse:
        """Return stiffness times strain."""
        tangent = np.tile(np.diag(self.stiffness), (len(strain), 1, 1))
        return SectionResponse(strain * np.array(self.stiffness), tangent, state)

    def stored(self, strain: Array, state: Array) -> Array:
        """Return the elastic energy per length, N."""
        return strain**2 @ np.array(self.stiffness) / 2

    def inelastic(self, state: Array) -> Array:
        """Return zeros."""
        return np.zeros(state.shape[1])


AT_ONCE = 16384  # fibres


@dataclass(frozen=True)
class FibrewiseSection:
    """Integrate the law of a fibre over a section cut into fibres.

    Attributes
    ----------
    section
        Places, areas and swirls.
    law
        The law of every fibre.
    """

    section: FibreSection
    law: FibreLaw

    @cached_property
    def _axial(self) -> Array:
        """Axial strain per stretch and curvatures, shape (3, fibres)."""
        section = self.section
        return np.stack([np.ones(section.fibres), section.third, -section.second])

    @cached_property
    def _shear(self) -> Array:
        """Shear strain over the law's ratio, per twist, shape (fibres,)."""
        return self.section.swirl / self.law.ratio

    @cached_property
    def _weights(self) -> tuple[Array, Array, Array, Array, Array]:
        """Area times the lines above, (fibres, 3) and (fibres,), and times their products."""
        area, axial, shear = self.section.area, self._axial, self._shear
        return (
            np.ascontiguousarray((area * axial).T),
            area * shear,
            np.ascontiguousarray((area * axial[ROWS] * axial[COLUMNS]).T),
            np.ascontiguousarray((area * axial * shear).T),
            area * shear**2,
        )

    def start(self, count: int) -> Array:
        """Return the virgin state, shape (fields, count, fibres)."""
        return self.law.start((count, self.section.fibres))

    def respond(self, strain: Array, state: Array) -> SectionResponse:
        """Return resultants, tangent and state after a step to these strains."""
        # as many points at once as the fibres of stay in a processor's cache
        size = max(1, AT_ONCE // self.section.fibres)
        if len(strain) > 2 * size:
            cuts = np.arange(size, len(strain), size)
            shares = zip(np.split(strain, cuts), np.split(state, cuts, axis=1), strict=True)
            parts = [self._respond(*share) for share in shares]
            resultants, tangents, states = zip(*parts, strict=True)
            joined = np.concatenate(states, axis=1)
            return SectionResponse(np.concatenate(resultants), np.concatenate(tangents), joined)
        return self._respond(strain, state)

    def _respond(self, strain: Array, state: Array) -> SectionResponse:
        update = self.law.update(*self._strains(strain), state)
        axial, shear, axial_pairs, mixed, shear_pair = self._weights
        resultant = np.empty((len(strain), COMPONENTS))
        resultant[:, :TWIST] = update.axial_stress @ axial
        resultant[:, TWIST] = update.shear_stress @ shear
        tangent = np.empty((len(strain), COMPONENTS, COMPONENTS))
        pairs = update.tangent[0] @ axial_pairs
        tangent[:, ROWS, COLUMNS] = pairs
        tangent[:, COLUMNS, ROWS] = pairs
        coupling = update.tangent[1] @ mixed
        tangent[:, :TWIST, TWIST] = coupling
        tangent[:, TWIST, :TWIST] = coupling
        tangent[:, TWIST, TWIST] = update.tangent[2] @ shear_pair
        return SectionResponse(resultant, tangent, update.state)

    def stored(self, strain: Array, state: Array) -> Array:
        """Return the elastic energy per length, N, of strains and the state they led to."""
        update = self.law.update(*self._strains(strain), state)
        return self.law.stored(update.axial_stress, update.shear_stress) @ self.section.area

    def inelastic(self, state: Array) -> Array:
        """Return the inelastic work per length, N, done so far."""
        return self.law.inelastic(state) @ self.section.area

    def _strains(self, strain: Array) -> tuple[Array, Array]:
        return strain[:, :TWIST] @ self._axial, np.outer(strain[:, TWIST], self._shear)
