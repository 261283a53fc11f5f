"""What closes a slot and holds the wire in it."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Ligation:
    """A lid that only closes the slot, or a tie that presses the wire onto the slot's floor.

    Parameters
    ----------
    seating
        Force on a wire that lies on the floor, as tied, N; None for a lid, which is rigid and
        does not press.
    stiffness
        By which the force grows as the wire is lifted off the floor, N/mm.
    lasting, fading
        Share of the force that is left in the end, and time in which all but 37 % of the rest is
        lost, day.
    lost
        Day after tying from which there is nothing.

    Raises
    ------
    ValueError
        If a number is out of its range.
    """

    seating: float | None = None
    stiffness: float = 5.0
    lasting: float = 1.0
    fading: float = 1.0
    lost: float = np.inf

    def __post_init__(self) -> None:
        if self.seating is not None and not (self.seating >= 0 and self.stiffness > 0):
            raise ValueError(
                f"a tie needs a force >= 0 N and a stiffness > 0 N/mm, got {self.seating} and "
                f"{self.stiffness}"
            )
        if not (0 <= self.lasting <= 1 and self.fading > 0 and self.lost >= 0):
            raise ValueError(
                f"a tie keeps a share from 0 to 1 and fades in more than 0 days, got "
                f"{self.lasting} and {self.fading}; lost on day {self.lost}"
            )

    def force(self, age: float) -> float:
        """Return the force on a seated wire some days after tying, N; 0 for a lid."""
        if self.seating is None or age >= self.lost:
            return 0.0
        return self.seating * (self.lasting + (1 - self.lasting) * np.exp(-age / self.fading))
