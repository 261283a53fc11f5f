"""Rate laws: speed of the socket wall from the size of its stimulus."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from gomphosis.fem.section import Array


class RateLaw(Protocol):
    """Give the wall's speed in mm/day and its slope for a stimulus S >= 0 in MPa."""

    def speed(self, stimulus: Array) -> Array:
        """Return R(S) in mm/day."""
        ...

    def slope(self, stimulus: Array) -> Array:
        """Return dR/dS in mm/day per MPa."""
        ...


@dataclass(frozen=True)
class Saturating:
    """R = v_max S / (S + S_half): rises at first in proportion, then levels off.

    Parameters
    ----------
    max_speed
        v_max in mm/day.
    half_stress
        Stimulus of half that speed, MPa.
    """

    max_speed: float
    half_stress: float

    def __post_init__(self) -> None:
        _positive("saturating rate law", max_speed=self.max_speed, half_stress=self.half_stress)

    def speed(self, stimulus: Array) -> Array:
        """Return R(S) in mm/day."""
        return self.max_speed * stimulus / (stimulus + self.half_stress)

    def slope(self, stimulus: Array) -> Array:
        """Return dR/dS in mm/day per MPa."""
        return self.max_speed * self.half_stress / (stimulus + self.half_stress) ** 2


@dataclass(frozen=True)
class Linear:
    """R = C S.

    Parameters
    ----------
    constant
        C in mm/day per MPa.
    """

    constant: float

    def __post_init__(self) -> None:
        _positive("linear rate law", constant=self.constant)

    def speed(self, stimulus: Array) -> Array:
        """Return R(S) in mm/day."""
        return self.constant * stimulus

    def slope(self, stimulus: Array) -> Array:
        """Return dR/dS in mm/day per MPa."""
        return np.full_like(stimulus, self.constant)


@dataclass(frozen=True)
class DeadZone:
    """R = C max(S - S_0, 0): nothing moves below a threshold.

    Parameters
    ----------
    constant
        C in mm/day per MPa.
    threshold
        S_0 in MPa.
    """

    constant: float
    threshold: float

    def __post_init__(self) -> None:
        _positive("dead-zone rate law", constant=self.constant, threshold=self.threshold)

    def speed(self, stimulus: Array) -> Array:
        """Return R(S) in mm/day."""
        return self.constant * np.maximum(stimulus - self.threshold, 0.0)

    def slope(self, stimulus: Array) -> Array:
        """Return dR/dS in mm/day per MPa."""
        return np.where(stimulus > self.threshold, self.constant, 0.0)


@dataclass(frozen=True)
class Scaled:
    """Multiply every speed of another law by a factor.

    Parameters
    ----------
    law
        The other law.
    factor
        Above 0.
    """

    law: RateLaw
    factor: float

    def __post_init__(self) -> None:
        _positive("scaled rate law", factor=self.factor)

    def speed(self, stimulus: Array) -> Array:
        """Return R(S) in mm/day."""
        return self.factor * self.law.speed(stimulus)

    def slope(self, stimulus: Array) -> Array:
        """Return dR/dS in mm/day per MPa."""
        return self.factor * self.law.slope(stimulus)


@dataclass(frozen=True)
class UserLaw:
    """Wrap any pair of functions of the stimulus in MPa as a rate law."""

    speed_function: Callable[[Array], Array]
    slope_function: Callable[[Array], Array]

    def speed(self, stimulus: Array) -> Array:
        """Return R(S) in mm/day."""
        return self.speed_function(stimulus)

    def slope(self, stimulus: Array) -> Array:
        """Return dR/dS in mm/day per MPa."""
        return self.slope_function(stimulus)


def _positive(name: str, **values: float) -> None:
    for key, value in values.items():
        if not (np.isfinite(value) and value > 0):
            raise ValueError(f"{name} needs {key} > 0, got {value}")
