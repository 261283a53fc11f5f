"""One wire of a scenario put to a test by itself: three-point bend, pure bending or torsion."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from gomphosis.fem.fibre_section import DEFAULT
from gomphosis.fem.section import Array
from gomphosis.fem.section_paths import SectionPath, curvature_after_release, follow
from gomphosis.fem.section_response import (
    COMPONENTS,
    CURVATURE_SECOND,
    CURVATURE_THIRD,
    TWIST,
    SectionLaw,
)
from gomphosis.scenarios.alloys import NAMED_SETS, Alloy, section_law
from gomphosis.scenarios.bending import Axis, BendCurve, ThreePoint, three_point, usual_path
from gomphosis.scenarios.wire import WireSection

ORDERS: dict[str, Axis] = {"second": "third", "first": "second"}
"""Axis of the section that bending of an order goes about: second is up and down in the slot."""

MODES = {"surface": False, "reference": True}
"""Contact with the surface of the wire and rounded edges, or sharp edges on its centre line."""

STEPS = 40  # of a section's path each way


@dataclass(frozen=True)
class Specimen:
    """A wire at a temperature.

    Parameters
    ----------
    name
        Size and alloy, for the reader.
    section
        Cross-section.
    alloy
        Its constants.
    temperature
        In degrees Celsius.
    order
        Plane of bending, a key of `ORDERS`.
    """

    name: str
    section: WireSection
    alloy: Alloy
    temperature: float
    order: str = "second"

    def law(self, fineness: int = DEFAULT) -> SectionLaw:
        """Return the law of its section."""
        return section_law(
            self.section, self.alloy, temperature=self.temperature, fineness=fineness
        )

    @property
    def axis(self) -> Axis:
        """Axis of the section that it is bent about."""
        return ORDERS[self.order]

    @property
    def thickness(self) -> float:
        """Size in the direction of bending, mm."""
        return self.section.height if self.axis == "third" else self.section.width


@dataclass(frozen=True)
class ThreePointTrial:
    """A three-point bend of a wire, in both kinds of contact.

    Parameters
    ----------
    wire
        What is bent.
    span, deflection
        Between the supports, and the largest of the indenter, mm.
    friction
        Coefficient at the supports.
    beside
        Whether the named sets of a superelastic alloy are bent as well, for comparison.

    Raises
    ------
    Refused
        As `ThreePoint`.
    """

    wire: Specimen
    span: float
    deflection: float
    friction: float = 0.0
    beside: bool = False

    def __post_init__(self) -> None:
        self.setup()  # refuses what does not fit

    def setup(self, *, reference: bool = False) -> ThreePoint:
        """Return the fixture for this wire, twice the span long."""
        return ThreePoint(
            thickness=self.wire.thickness,
            span=self.span,
            specimen=2 * self.span,
            friction=self.friction,
            reference=reference,
            axis=self.wire.axis,
        )

    @cached_property
    def curves(self) -> dict[str, BendCurve]:
        """The curve of each of `MODES`."""
        law, path = self.wire.law(), usual_path(self.deflection)
        return {
            mode: three_point(law, deflections=path, setup=self.setup(reference=reference))
            for mode, reference in MODES.items()
        }

    @cached_property
    def sets(self) -> dict[str, BendCurve]:
        """Curves of the named sets that the wire is not of itself, contact on the surface."""
        if not self.beside or self.wire.alloy.behaviour != "superelastic":
            return {}
        path = usual_path(self.deflection)
        others = {
            name: replace(self.wire, alloy=alloy).law()
            for name, alloy in NAMED_SETS.items()
            if alloy != self.wire.alloy
        }
        return {
            name: three_point(law, deflections=path, setup=self.setup())
            for name, law in others.items()
        }

    def warmer(self, change: float) -> "ThreePointTrial":
        """Return the same test at a temperature so many kelvin higher."""
        wire = replace(self.wire, temperature=self.wire.temperature + change)
        return replace(self, wire=wire)


@dataclass(frozen=True)
class SectionTrial:
    """Pure bending or pure torsion of a wire, there and back until no moment is left.

    Parameters
    ----------
    wire
        What is bent or twisted.
    peak
        Largest curvature, 1/mm, or twist, rad/mm.
    torsion
        Whether it is twisted.

    Raises
    ------
    ValueError
        Unless the peak is positive.
    """

    wire: Specimen
    peak: float
    torsion: bool = False

    def __post_init__(self) -> None:
        if not 0.0 < self.peak < np.inf:
            raise ValueError(f"needs a peak > 0, got {self.peak}")

    @property
    def component(self) -> int:
        """Index of the applied strain, in the order of `fem.section_response`."""
        if self.torsion:
            return TWIST
        return CURVATURE_THIRD if self.wire.axis == "third" else CURVATURE_SECOND

    @cached_property
    def left(self) -> float:
        """Curvature or twist that is left without moment, 1/mm or rad/mm."""
        left, _ = curvature_after_release(self.wire.law(), self.peak, axis=self.component)
        return max(left, 0.0)

    @cached_property
    def path(self) -> SectionPath:
        """What the section does on the way there and back."""
        applied = np.concatenate(
            [
                np.linspace(0.0, self.peak, STEPS + 1)[1:],
                np.linspace(self.peak, self.left, STEPS + 1)[1:],
            ]
        )
        held = np.arange(COMPONENTS) == self.component
        return follow(self.wire.law(), applied[:, None] * held, held=held)

    @property
    def applied(self) -> Array:
        """Curvature or twist of every point, shape (m,)."""
        return self.path.strain[:, self.component]

    @property
    def moment(self) -> Array:
        """Moment or torque of every point, N·mm, shape (m,)."""
        return self.path.resultant[:, self.component]
