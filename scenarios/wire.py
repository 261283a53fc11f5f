"""Wire sizes and alloys turned into the stiffness of a beam's section."""

from dataclasses import dataclass

import numpy as np

from gomphosis.fem.beam import BeamSection


@dataclass(frozen=True)
class WireSection:
    """Cross-section of a wire.

    Parameters
    ----------
    height, width
        Size along the slot's height and depth, mm; equal for a round or square wire.
    round
        True for a round wire of that diameter.
    """

    height: float
    width: float
    round: bool

    def __post_init__(self) -> None:
        if not (self.height > 0 and self.width > 0):
            raise ValueError(f"wire needs sizes > 0 mm, got {self.height} x {self.width}")
        if self.round and self.height != self.width:
            raise ValueError(f"a round wire has one diameter, got {self.height} x {self.width}")

    @property
    def area(self) -> float:
        """Area, mm^2."""
        return (np.pi / 4 if self.round else 1.0) * self.height * self.width

    @property
    def second_order_inertia(self) -> float:
        """Second moment for vertical bending, mm^4."""
        return self._inertia(self.width, self.height)

    @property
    def first_order_inertia(self) -> float:
        """Second moment for labiolingual bending, mm^4."""
        return self._inertia(self.height, self.width)

    def _inertia(self, across: float, along: float) -> float:
        return np.pi * along**4 / 64 if self.round else across * along**3 / 12

    @property
    def torsion_constant(self) -> float:
        """St-Venant torsion constant J, mm^4 (rectangle: Prandtl's series).

        Source: Timoshenko and Goodier, Theory of Elasticity, torsion of rectangular bars.
        """
        if self.round:
            return np.pi * self.height**4 / 32
        long, short = max(self.height, self.width), min(self.height, self.width)
        odd = np.arange(1, 60, 2)
        series = np.sum(np.tanh(odd * np.pi * long / (2 * short)) / odd**5)
        return long * short**3 / 3 * (1 - 192 / np.pi**5 * short / long * series)

    def beam(self, *, young: float, poisson: float) -> BeamSection:
        """Return the beam's stiffness for one elastic constant, MPa, and Poisson's ratio."""
        return BeamSection(
            stretching=young * self.area,
            bending_first=young * self.first_order_inertia,
            bending_second=young * self.second_order_inertia,
            twisting=young / (2 * (1 + poisson)) * self.torsion_constant,
        )
