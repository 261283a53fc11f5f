"""Laws of one fibre under stretch and shear: elastic, plastic with hardening, superelastic.

A law acts on the strains (eps, gamma / k) and gives the stresses (sigma, k tau), work-conjugate
for any ratio k of tensile to shear strength; their size s = sqrt(sigma^2 + (k tau)^2) drives
everything inelastic. The elastic moduli are (E, k^2 G). How a step is solved: `fibre_segment`.

A state is an array whose first axis lists the fields of the law; any linear interpolation between
two states is a state. Laws are pure functions: state in, state out. The last field is the
inelastic work per volume, the trapezoid of s dp over the inelastic strain p; at constant
temperature the work done equals it plus the elastic energy.
"""

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from gomphosis.fem.fibre_segment import TINY, Mask, Segment, beyond, solve
from gomphosis.fem.section import Array

TENSILE_OVER_SHEAR = 3**0.5
"""Ratio k of tensile to shear strength after von Mises."""

COLD_FLOOR = 1.0
"""Least threshold of a transformation, MPa."""


class FibreUpdate(NamedTuple):
    """Stresses, tangent entries 11, 12, 22 and new state, all in MPa and of the strains' shape."""

    axial_stress: Array
    shear_stress: Array
    tangent: tuple[Array, Array, Array]
    state: Array


class FibreLaw(Protocol):
    """Answer of a fibre to its two strains.

    Attributes
    ----------
    fields
        Length of the state's first axis.
    ratio
        Ratio k of tensile to shear strength, by which shears are scaled.
    """

    @property
    def fields(self) -> int:
        """Number of fields of the state."""
        ...

    @property
    def ratio(self) -> float:
        """Ratio of tensile to shear strength."""
        ...

    def start(self, shape: tuple[int, ...]) -> Array:
        """Return the virgin state, shape (fields, *shape)."""
        ...

    def update(self, axial: Array, shear: Array, state: Array) -> FibreUpdate:
        """Return what strain and shear / ratio (of one shape) do to a state, (fields, *shape)."""
        ...

    def stored(self, axial_stress: Array, shear_stress: Array) -> Array:
        """Return the elastic energy per volume, MPa, of stress and ratio * shear stress, MPa."""
        ...

    def inelastic(self, state: Array) -> Array:
        """Return the inelastic work per volume, MPa, done so far."""
        ...


@dataclass(frozen=True)
class ElasticFibre:
    """Linear elasticity; keeps no state.

    Parameters
    ----------
    young, shear
        Moduli, MPa.
    ratio
        Only scales the second strain and stress.
    """

    young: float
    shear: float
    ratio: float = TENSILE_OVER_SHEAR

    def __post_init__(self) -> None:
        _positive(young=self.young, shear=self.shear, ratio=self.ratio)

    @property
    def fields(self) -> int:
        """Number of fields of the state."""
        return 0

    def start(self, shape: tuple[int, ...]) -> Array:
        """Return an empty state."""
        return np.zeros((0, *shape))

    def update(self, axial: Array, shear: Array, state: Array) -> FibreUpdate:
        """Return moduli times strains."""
        first, second = _moduli(self.young, self.shear, self.ratio)
        ones = np.ones_like(axial)
        tangent = first * ones, np.zeros_like(axial), second * ones
        return FibreUpdate(first * axial, second * shear, tangent, state)

    def stored(self, axial_stress: Array, shear_stress: Array) -> Array:
        """Return the elastic energy per volume, MPa."""
        return _stored(_moduli(self.young, self.shear, self.ratio), axial_stress, shear_stress)

    def inelastic(self, state: Array) -> Array:
        """Return zeros."""
        return np.zeros(state.shape[1:])


@dataclass(frozen=True)
class PlasticFibre:
    """Plasticity with linear isotropic hardening, backward Euler.

    Fields of the state: the two plastic strains, their accumulated size, the plastic work (MPa).

    Parameters
    ----------
    young, shear
        Moduli, MPa.
    yield_stress
        Size s at first yield, MPa.
    hardening
        Slope of s over accumulated plastic strain, MPa; 0 is perfectly plastic.
    ratio
        Of tensile to shear yield stress.
    """

    young: float
    shear: float
    yield_stress: float
    hardening: float = 0.0
    ratio: float = TENSILE_OVER_SHEAR

    def __post_init__(self) -> None:
        _positive(young=self.young, shear=self.shear, ratio=self.ratio)
        _positive(yield_stress=self.yield_stress)
        if not 0.0 <= self.hardening < np.inf:
            raise ValueError(f"needs a hardening >= 0 MPa, got {self.hardening}")

    @property
    def fields(self) -> int:
        """Number of fields of the state."""
        return 4

    def start(self, shape: tuple[int, ...]) -> Array:
        """Return the state without plastic strain."""
        return np.zeros((4, *shape))

    def update(self, axial: Array, shear: Array, state: Array) -> FibreUpdate:
        """Return stresses, tangent and state after a step to these strains."""
        moduli = _moduli(self.young, self.shear, self.ratio)
        limit = self.yield_stress + self.hardening * state[2]
        elastic = axial - state[0], shear - state[1]
        trial = np.hypot(moduli[0] * elastic[0], moduli[1] * elastic[1])
        flows = (trial > limit).astype(float)
        segment = Segment(
            size=np.maximum(np.minimum(trial, limit), TINY),
            amount=0.0,
            size_rate=flows * self.hardening,
            amount_rate=flows,
        )
        size, amount, stresses, tangent = solve(elastic, segment, moduli)
        new = np.empty_like(state)
        # the plastic strain goes along the stress
        np.multiply(amount / size, stresses[0], out=new[0])
        np.multiply(amount / size, stresses[1], out=new[1])
        new[2] = amount
        np.multiply(0.5 * (limit + size), amount, out=new[3])
        new += state
        return FibreUpdate(*stresses, tangent, new)

    def stored(self, axial_stress: Array, shear_stress: Array) -> Array:
        """Return the elastic energy per volume, MPa."""
        return _stored(_moduli(self.young, self.shear, self.ratio), axial_stress, shear_stress)

    def inelastic(self, state: Array) -> Array:
        """Return the plastic work per volume, MPa."""
        return state[3]


@dataclass(frozen=True)
class SuperelasticFibre:
    """Superelasticity with one phase fraction and kinetics linear in the stress size.

    The transformation strain ``strain`` * fraction points along the present stress. Loading
    transforms between the forward thresholds, unloading between the reverse ones; a loop that
    turns early starts its reverse branch at the stress where it turned, if that is already below
    ``reverse_start``. All thresholds rise by ``slope`` per kelvin above ``reference_temperature``
    and never fall below `COLD_FLOOR`: a section so cold that the reverse ones would vanish
    recovers its strain almost without stress instead of keeping it.

    Fields of the state: fraction, driving force s - slope * (temperature - reference) in MPa
    (kept instead of s, so that a change of temperature at held strain transforms), and the
    transformation work (MPa; exact at constant temperature only).

    Sources: linear kinetics of Auricchio and Taylor, Comput Methods Appl Mech Eng 1997;146:281-312
    (pages from memory), integrated in closed form here.

    Parameters
    ----------
    young, shear
        Moduli of both phases, MPa.
    forward_start, forward_finish, reverse_start, reverse_finish
        Stress sizes at the reference temperature, MPa; reverse_finish <= reverse_start <=
        forward_start <= forward_finish, where equal ones make a flat plateau.
    strain
        Transformation strain at full transformation.
    slope
        Of the thresholds over temperature (Clausius and Clapeyron), MPa/K.
    reference_temperature, temperature
        In the same unit, degrees Celsius or kelvin.
    ratio
        Of tensile to shear threshold.
    """

    young: float
    shear: float
    forward_start: float
    forward_finish: float
    reverse_start: float
    reverse_finish: float
    strain: float
    slope: float = 0.0
    reference_temperature: float = 0.0
    temperature: float = 0.0
    ratio: float = TENSILE_OVER_SHEAR

    def __post_init__(self) -> None:
        _positive(young=self.young, shear=self.shear, ratio=self.ratio)
        _positive(strain=self.strain, reverse_finish=self.reverse_finish)
        order = self.reverse_finish, self.reverse_start, self.forward_start, self.forward_finish
        if not (np.all(np.diff(order) >= 0) and order[-1] < np.inf):
            raise ValueError(
                "needs reverse_finish <= reverse_start <= forward_start <= forward_finish, "
                f"got {order} MPa"
            )
        if not 0.0 <= self.slope < np.inf:
            raise ValueError(f"needs a slope >= 0 MPa/K, got {self.slope}")
        if not np.isfinite(self.temperature - self.reference_temperature):
            raise ValueError("needs finite temperatures")

    @property
    def fields(self) -> int:
        """Number of fields of the state."""
        return 3

    @property
    def shift(self) -> float:
        """Rise of the thresholds at the present temperature, MPa."""
        return self.slope * (self.temperature - self.reference_temperature)

    @property
    def thresholds(self) -> tuple[float, float, float, float]:
        """Reverse finish and start, forward start and finish at the present temperature, MPa."""
        reference = self.reverse_finish, self.reverse_start, self.forward_start
        low, turn, high = (max(COLD_FLOOR, stress + self.shift) for stress in reference)
        return low, turn, high, max(COLD_FLOOR, self.forward_finish + self.shift)

    def start(self, shape: tuple[int, ...]) -> Array:
        """Return the untransformed state at zero stress and the present temperature."""
        state = np.zeros((3, *shape))
        state[1] = min(-self.shift, self.forward_start)
        return state

    def update(self, axial: Array, shear: Array, state: Array) -> FibreUpdate:
        """Return stresses, tangent and state after a step to these strains."""
        moduli = _moduli(self.young, self.shear, self.ratio)
        strains = axial, shear
        low, turn, high, full = self.thresholds
        before = self.strain * state[0]
        reached = state[1] + self.shift
        back = np.minimum(np.maximum(reached, low), turn)
        onward = np.minimum(np.maximum(reached, high), full)
        segment, forward = self._segment(strains, before, back, onward)
        size, amount, stresses, tangent = solve(strains, segment, moduli)
        new = np.empty_like(state)
        np.multiply(amount, 1 / self.strain, out=new[0])
        np.minimum(np.maximum(new[0], 0.0, out=new[0]), 1.0, out=new[0])
        np.subtract(size, self.shift, out=new[1])
        # at the floor s outruns the unfloored branch; warm again, the fibre must start on it
        branch = new[0] * (self.forward_finish - self.forward_start)
        branch += self.forward_start
        np.minimum(new[1], branch, out=new[1])
        np.copyto(back, onward, where=forward)
        back += np.minimum(np.maximum(size, low), full)
        back *= 0.5 * (amount - before)
        np.add(state[2], back, out=new[2])
        return FibreUpdate(*stresses, tangent, new)

    def _segment(
        self, strains: tuple[Array, Array], before: Array, back: Array, onward: Array
    ) -> tuple[Segment, Mask]:
        """Return every fibre's segment, and where it has reached the forward branch.

        The branches in order of strain: elastic from zero; reverse, from ``low`` to ``back``;
        elastic at the fraction ``before``; forward, from ``onward`` to ``full``; elastic.
        """
        moduli = _moduli(self.young, self.shear, self.ratio)
        low, _, _, full = self.thresholds
        squares = strains[0] ** 2, strains[1] ** 2
        lies_beyond = beyond(squares, moduli)
        reverse = lies_beyond(low, 0.0)
        middle = lies_beyond(back, before)
        forward = lies_beyond(onward, before)
        end = lies_beyond(full, self.strain)
        size = moduli[0] ** 2 * squares[0] + moduli[1] ** 2 * squares[1]
        np.maximum(np.sqrt(size, out=size), TINY, out=size)
        amount, size_rate, amount_rate = (np.zeros_like(before) for _ in range(3))
        for mask, values in (
            (reverse, (low, 0.0, back - low, before)),
            (middle, (back, before, 1.0, 0.0)),
            (forward, (onward, before, full - onward, self.strain - before)),
            (end, (full, self.strain, 1.0, 0.0)),
        ):
            for target, value in zip((size, amount, size_rate, amount_rate), values, strict=True):
                np.copyto(target, value, where=mask)
        return Segment(size, amount, size_rate, amount_rate), forward

    def stored(self, axial_stress: Array, shear_stress: Array) -> Array:
        """Return the elastic energy per volume, MPa."""
        return _stored(_moduli(self.young, self.shear, self.ratio), axial_stress, shear_stress)

    def inelastic(self, state: Array) -> Array:
        """Return the transformation work per volume, MPa."""
        return state[2]


def _moduli(young: float, shear: float, ratio: float) -> tuple[float, float]:
    return young, ratio**2 * shear


def _stored(moduli: tuple[float, float], axial_stress: Array, shear_stress: Array) -> Array:
    return axial_stress**2 / (2 * moduli[0]) + shear_stress**2 / (2 * moduli[1])


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not 0.0 < value < np.inf:
            raise ValueError(f"needs {name} > 0, got {value}")
