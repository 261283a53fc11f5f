"""Fixture of a three-point bend, and half of a wire laid into it."""

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.knife_edge import KnifeEdge
from gomphosis.fem.rod import Rod, RodPlace, RodShape
from gomphosis.fem.section import Array
from gomphosis.fem.section_response import SectionLaw
from gomphosis.scenarios.bending_walk import Bench
from gomphosis.scenarios.refusal import Refused

Axis = Literal["second", "third"]

MIDWARDS = 0.5  # elements are smaller towards the middle, where the wire bends most: 0 is even
FRAMES = {
    "third": np.eye(3),
    # columns: tangent, second axis out of the plane of bending, third axis down
    "second": np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]),
}
"""Triad of the straight wire by the section's axis that it is bent about."""


def _fixture(name: str) -> Any:  # noqa: ANN401 - stands for a field
    return field(default_factory=lambda: lookup(f"three_point.fixture.{name}").number)


@dataclass(frozen=True)
class ThreePoint:
    """A three-point bend.

    Parameters
    ----------
    thickness
        Size of the wire in the direction of bending, mm.
    span
        Between the supports, mm.
    radius
        Of the edges of supports and indenter, mm.
    specimen
        Length of the wire, mm.
    friction
        Coulomb's coefficient at the supports.
    reference
        Whether sharp edges touch the centre line: no radius and no thickness.
    axis
        Of the section that the wire is bent about: "third" is second-order bending (up and
        down in the slot), "second" is first-order bending (in and out).

    Raises
    ------
    Refused
        If a length is negative, span or specimen is not positive, the wire is shorter than the
        span, or the friction is not in 0 to 1.

    Notes
    -----
    Defaults are `three_point.fixture` of the library: the ISO 15841 fixture, mostly from memory.
    """

    thickness: float
    span: float = _fixture("span")
    radius: float = _fixture("radius")
    specimen: float = _fixture("specimen")
    friction: float = 0.0
    reference: bool = False
    axis: Axis = "third"

    def __post_init__(self) -> None:
        for name in ("span", "radius", "specimen", "thickness"):
            value = getattr(self, name)
            least = 0.0 if name in ("radius", "thickness") else 1e-9
            if not least <= value < np.inf:
                words = "at least 0 mm" if least == 0.0 else "above 0 mm"
                raise Refused(value, f"is no {name}", accepted=f"a length {words}", key=(name,))
        if self.specimen <= self.span:
            accepted = f"more than the span of {self.span:g} mm"
            raise Refused(self.specimen, "mm of wire is too short", accepted=accepted)
        if not 0.0 <= self.friction <= 1.0:
            raise Refused(self.friction, "is no coefficient of friction", accepted="0 to 1")

    @property
    def reach(self) -> float:
        """Distance of the centre line from an edge's axis in contact, mm."""
        return 0.0 if self.reference else self.radius + 0.5 * self.thickness


def bench_for(law: SectionLaw, path: Array, setup: ThreePoint, count: int) -> Bench:
    """Return half of a wire over its support.

    Parameters
    ----------
    path
        Deflections that it will be led along, mm.
    count
        Elements as far as the support can get to; the free end beyond is one more.
    """
    half = 0.5 * setup.specimen
    # a little more than the chord from the middle to the support: where contact can get to
    used = min(half, 1.1 * float(np.hypot(setup.span / 2, path.max())))
    share = np.linspace(0.0, 1.0, count + 1)
    stations = used * (1.0 - MIDWARDS + MIDWARDS * share) * share
    if half > used:
        stations = np.append(stations, half)  # the free end stays straight
    nodes = stations[:, None] * [1.0, 0.0, 0.0]
    triads = np.broadcast_to(FRAMES[setup.axis], (len(stations), 3, 3)).copy()
    shape = RodShape(RodPlace(nodes, triads), np.diff(stations))
    centre = np.array([setup.span / 2, -setup.reach, 0.0])
    edge = KnifeEdge(centre, setup.reach, 1.0, setup.friction)
    return Bench(Rod(shape, law), edge, count)
