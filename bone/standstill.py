"""Wall that stands still for overload, tooth by tooth, along a run."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.bone.remodelling import Remodelling
from gomphosis.fem.section import Array


@dataclass(frozen=True)
class Standstill:
    """Hold the clocks of the walls of several teeth; a step gives new ones.

    Clocks advance once per whole step, so a run's record of force systems is enough to repeat
    them.

    Attributes
    ----------
    teeth
        The teeth; those without a lag never stop.
    clocks
        Days since each sample stopped (infinite if it never did), shape (samples,) per tooth;
        (0,) for one without a lag.
    """

    teeth: tuple[Remodelling, ...]
    clocks: tuple[Array, ...]

    @classmethod
    def start(cls, teeth: Sequence[Remodelling]) -> "Standstill":
        """Return the state in which everything moves."""
        sizes = (0 if tooth.lag is None else tooth.wall.area.size for tooth in teeth)
        clocks = tuple(np.full(size, np.inf) for size in sizes)
        return cls(tuple(teeth), clocks)

    def moving(self, length: float) -> tuple[Array | None, ...]:
        """Return the share of a coming step in days during which each sample moves, per tooth.

        None stands for all samples all the time.
        """
        return tuple(
            None if tooth.lag is None else tooth.lag.moving(clock, length)
            for tooth, clock in zip(self.teeth, self.clocks, strict=True)
        )

    def after(self, wrenches: Array, length: float) -> "Standstill":
        """Return the state after a step of a length in days that ends under wrenches, (n, 6)."""
        clocks = []
        for tooth, clock, wrench in zip(self.teeth, self.clocks, wrenches, strict=True):
            if tooth.lag is not None:
                clock = tooth.lag.advanced(clock, tooth.load(wrench).pressure, length)
            clocks.append(clock)
        return Standstill(self.teeth, tuple(clocks))

    def area(self) -> Array:
        """Return the wall that stands still now, mm^2, shape (n,)."""
        return np.array(
            [
                0.0 if tooth.lag is None else tooth.wall.area.ravel() @ tooth.lag.stopped(clock)
                for tooth, clock in zip(self.teeth, self.clocks, strict=True)
            ]
        )
