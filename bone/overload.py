"""Lag of an overloaded socket wall: it stands still until it has been undermined.

The clock of a piece of wall counts the days since it stopped. A wall stops when the ligament's
pressure on it exceeds a limit, whatever happens to the load later; after the delay it moves as any
other wall does. It can stop again only after its pressure has been below the limit.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gomphosis.fem.section import Array


@dataclass(frozen=True)
class Lag:
    """Stop wall under too much pressure for a number of days.

    Parameters
    ----------
    pressure
        Pressure of the ligament (minus its mean stress) above which wall stops, MPa.
    delay
        Days from then until it moves.
    """

    pressure: float
    delay: float

    def __post_init__(self) -> None:
        for name, value in (("pressure", self.pressure), ("delay", self.delay)):
            if not (np.isfinite(value) and value > 0):
                raise ValueError(f"lag of overloaded wall needs {name} > 0, got {value}")

    def start(self, samples: int) -> Array:
        """Return the clocks of wall that nothing has stopped yet: infinite."""
        return np.full(samples, np.inf)

    def moving(self, clock: Array, length: float) -> Array:
        """Return the share of a coming step of a length in days during which wall moves.

        The end of the delay is met within the step; wall that stops during a step stops at its end.
        """
        return np.clip((clock + length - self.delay) / length, 0.0, 1.0)

    def stopped(self, clock: Array) -> npt.NDArray[np.bool_]:
        """Return which wall stands still now, as truth values."""
        return clock < self.delay * (1 - 1e-12)

    def advanced(self, clock: Array, pressure: Array, length: float) -> Array:
        """Return the clocks after a step at whose end the wall is under a pressure in MPa."""
        later = clock + length
        over = pressure > self.pressure
        later = np.where(np.isinf(later) & over, 0.0, later)
        return np.where(~self.stopped(later) & ~over, np.inf, later)
