"""Wire sizes turned into section constants, fibres and the stiffness of an elastic section."""

from dataclasses import dataclass
from functools import cached_property

from gomphosis.bone.library import lookup
from gomphosis.fem.fibre_section import (
    DEFAULT,
    REFINED,
    FibreSection,
    rectangular_section,
    round_section,
)
from gomphosis.fem.section_response import ElasticSection

BORE = {1: 1.0, 3: 1 + 2 / 3**0.5, 7: 3.0}
"""Bore of the tube that just holds so many round strands, over the diameter of one.

Three strands touch each other, seven are one with six around it: the regular bundles, which bend
alike in every direction. Two bend differently across their common plane and leave half of the
tube empty, so they are no equivalent of a round wire.
"""


@dataclass(frozen=True)
class WireSection:
    """Cross-section of a wire.

    Several strands are an equivalent section: round strands that each bend about their own
    centre, all by the library's `wire.multistrand_stiffness` softer for the helix. Area, inertias
    and torsion constant are those that the stiffness has.

    Parameters
    ----------
    height, width
        Size along the slot's height and depth, mm; equal for a round or square wire. Of several
        strands the bore of the tube that just holds them.
    round
        True for a round wire of that diameter.
    edge_radius
        Of the rounded edges of a rectangle, mm; None for the library's `wire.edge_radius`.
    strands
        Number of strands of a round wire, one of `BORE`.

    Raises
    ------
    ValueError
        If the sizes, the edge radius and the strands do not fit each other.
    """

    height: float
    width: float
    round: bool
    edge_radius: float | None = None
    strands: int = 1

    def __post_init__(self) -> None:
        if not (self.height > 0 and self.width > 0):
            raise ValueError(f"wire needs sizes > 0 mm, got {self.height} x {self.width}")
        if self.round and self.height != self.width:
            raise ValueError(f"a round wire has one diameter, got {self.height} x {self.width}")
        if self.round and self.edge_radius is not None:
            raise ValueError(f"a round wire has no edge radius, got {self.edge_radius} mm")
        if not 0 <= self.rounding <= min(self.height, self.width) / 2:
            raise ValueError(
                f"edge radius {self.rounding} mm must be >= 0 and at most half of the shorter "
                f"side of {self.height} x {self.width} mm"
            )
        if self.strands not in BORE or (self.strands > 1 and not self.round):
            raise ValueError(
                f"needs 1 strand, or 3 or 7 of a round wire, got {self.strands} of "
                f"{self.height} x {self.width} mm"
            )

    @property
    def rounding(self) -> float:
        """Radius of the edges, mm; 0 for a round wire."""
        if self.round:
            return 0.0
        if self.edge_radius is None:
            return lookup("wire.edge_radius").number
        return self.edge_radius

    @property
    def strand(self) -> float:
        """Diameter of one strand of a round wire, mm."""
        if not self.round:
            raise ValueError("only a round wire has strands")
        return self.height / BORE[self.strands]

    def fibres(self, fineness: int = DEFAULT) -> FibreSection:
        """Return the section cut into fibres; its second axis is the slot's height, third depth."""
        if not self.round:
            return rectangular_section(
                self.height, self.width, edge_radius=self.rounding, fineness=fineness
            )
        one = round_section(self.strand, fineness=fineness)
        if self.strands == 1:
            return one
        share = self.strands * lookup("wire.multistrand_stiffness").number
        return FibreSection(one.second, one.third, share * one.area, one.swirl)

    @cached_property
    def _refined(self) -> FibreSection:
        return self.fibres(REFINED)

    @property
    def area(self) -> float:
        """Area, mm^2."""
        return self._refined.total_area

    @property
    def second_order_inertia(self) -> float:
        """Second moment for vertical bending, mm^4."""
        return self._refined.inertia_third

    @property
    def first_order_inertia(self) -> float:
        """Second moment for labiolingual bending, mm^4."""
        return self._refined.inertia_second

    @property
    def torsion_constant(self) -> float:
        """St-Venant torsion constant J, mm^4; an upper bound where edges are rounded."""
        return self._refined.torsion_constant

    def elastic_section(self, young: float, poisson: float) -> ElasticSection:
        """Return the stiffness for one elastic constant, MPa, and Poisson's ratio."""
        return ElasticSection(
            stretching=young * self.area,
            bending_second=young * self.first_order_inertia,
            bending_third=young * self.second_order_inertia,
            twisting=young / (2 * (1 + poisson)) * self.torsion_constant,
        )
