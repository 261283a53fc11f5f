"""Tables of the scenario file for the appliance: slots and arch wires."""

import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    PlainValidator,
    WithJsonSchema,
    model_validator,
)

from gomphosis.bone.library import lookup
from gomphosis.scenarios.alloys import Alloy
from gomphosis.scenarios.arch import PointsLine
from gomphosis.scenarios.bend_tables import WireBend
from gomphosis.scenarios.ligation_tables import LigationTable, StopTable
from gomphosis.scenarios.material_table import Material, alloy_of
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused, listed
from gomphosis.scenarios.tables import Table, cited, optional, setting
from gomphosis.scenarios.units import DURATION, LENGTH, TURN_PER_MOMENT, written
from gomphosis.scenarios.wire import BORE, WireSection

# Bounds are engineering choices: wide enough for every product on sale, narrow enough to catch a
# slip of unit.
SlotSize = Annotated[float, Bounded(LENGTH, least="0.3 mm", most="1.5 mm", example="0.022 in")]
BracketWidth = Annotated[float, Bounded(LENGTH, least="0.5 mm", most="8 mm", example="3 mm")]
Give = Annotated[
    float,
    Bounded(TURN_PER_MOMENT, least="0 deg/N/mm", most="10 deg/N/mm", example="0.2 deg/N/mm"),
]
ArchSize = Annotated[float, Bounded(LENGTH, least="5 mm", most="100 mm", example="25 mm")]
ArchPlace = Annotated[float, Bounded(LENGTH, least="-100 mm", most="100 mm", example="25 mm")]
EdgeRadius = Annotated[float, Bounded(LENGTH, least="0 mm", most="0.5 mm", example="0.05 mm")]
ArchPoint = Annotated[tuple[ArchPlace, ArchPlace], Field(strict=False)]
TiedIn = Annotated[float, Bounded(DURATION, least="0 days")]
Friction = Annotated[float, Field(ge=0.0, le=2.0)]
WireSize = Bounded(LENGTH, least="0.1 mm", most="1.5 mm", example="0.014 in")

SIZE = (
    'a round wire "0.014 in", or height (in the slot) x width "0.017 x 0.025 in", '
    "each at least 0.1 mm and at most 1.5 mm"
)
STRANDS = listed(tuple(str(count) for count in BORE))
POINTS = (
    'three or more points such as [["-25 mm", "-30 mm"], ["0 mm", "0 mm"], ["25 mm", "-30 mm"]]'
)
_SIZES = {
    "half_width": Bounded(LENGTH, least="5 mm", most="100 mm", example="25 mm").accepted,
    "depth": Bounded(LENGTH, least="5 mm", most="100 mm", example="30 mm").accepted,
}
SHAPE = '"straight", or a table such as { half_width = "25 mm", depth = "30 mm" }'


@dataclass(frozen=True)
class Section:
    """Cross-section of a wire.

    Parameters
    ----------
    height
        Size along the slot's height, mm; the diameter of a round wire.
    width
        Size along the slot's depth, mm; None for a round wire.
    """

    height: float
    width: float | None = None

    @property
    def is_round(self) -> bool:
        """Whether the wire is round."""
        return self.width is None

    @property
    def into_slot(self) -> float:
        """Size along the slot's depth, mm."""
        return self.height if self.width is None else self.width


def _section(value: object) -> Section:
    if isinstance(value, Section):
        return value
    if not isinstance(value, str):
        raise Refused(value, "is not a wire size", accepted=SIZE)
    parts = re.split(r"\s*[x×]\s*", value.strip())
    if len(parts) > 2:
        raise Refused(value, "has more than two sizes", accepted=SIZE)
    unit = re.search(r"[^\d.\s]+$", parts[-1])
    if len(parts) == 2 and unit and re.fullmatch(r"[\d.]+", parts[0]):
        parts[0] += f" {unit.group()}"
    try:
        return Section(*(WireSize.parse(part) for part in parts))
    except Refused as refused:
        raise Refused(value, refused.problem, accepted=SIZE) from None


def _section_text(section: Section) -> str:
    sizes = (section.height,) if section.width is None else (section.height, section.width)
    return " x ".join(written(size, LENGTH) for size in sizes)


SectionField = Annotated[
    Section,
    PlainValidator(_section),
    PlainSerializer(_section_text),
    WithJsonSchema(
        {"type": "string", "examples": ["0.014 in", "0.017 x 0.025 in"]} | {"accepted": SIZE}
    ),
]


class Slot(Table):
    """The slot of every bracket."""

    height: SlotSize = cited("slot.height_022", "Height; nominal 0.022 in")
    depth: SlotSize = cited("slot.depth_022", "Depth; nominal 0.028 in")
    width: BracketWidth = cited("bracket.width", "Length of the slot along the wire")
    give: Give = setting(
        "0 deg/N/mm", "Turn of bracket and bond about the wire per torque, in series with the wire"
    )


class ArchForm(Table):
    """Shape of the unloaded wire in its plane: x(y) = -depth ((1 - q) (y/W)^2 + q (y/W)^4).

    x points forward, y sideways from the midline, W is `half_width`, q is `squareness`. Instead of
    these, `points` through which a smooth line goes.
    """

    half_width: ArchSize | None = optional("Half the width W at the ends of the arch")
    depth: ArchSize | None = optional("From the front to the line between the ends of the arch")
    squareness: float = Field(
        default=0.0, ge=0.0, le=1.0, description="Share q of the fourth power: 0 = parabola"
    )
    points: Annotated[tuple[ArchPoint, ...] | None, Field(strict=False)] = Field(
        default=None,
        description="Points (y, x), sideways rising from one end to the other across 0 mm",
    )

    @property
    def sizes(self) -> tuple[float, float, float]:
        """Half width, depth and squareness of an arch that is not given by points."""
        if self.half_width is None or self.depth is None:
            raise RuntimeError("an arch form without its sizes passed the scenario's checks")
        return self.half_width, self.depth, self.squareness

    @model_validator(mode="after")
    def _check(self) -> "ArchForm":
        for key in ("half_width", "depth", "squareness"):
            given = key in self.model_fields_set
            if self.points is not None and given:
                raise Refused(None, "stands beside points", accepted="one of both", key=(key,))
            if self.points is None and not given and key != "squareness":
                raise Refused(None, "is missing", accepted=_SIZES[key], key=(key,))
        if self.points is not None:
            try:
                PointsLine(tuple(x for _, x in self.points), tuple(y for y, _ in self.points))
            except ValueError as error:
                raise Refused(
                    None, f"makes no arch: {error}", accepted=POINTS, key=("points",)
                ) from None
        return self


def _strands(value: object) -> int:
    if type(value) is not int or value not in BORE:
        raise Refused(value, "is not a number of strands in a round bundle", accepted=STRANDS)
    return value


Strands = Annotated[
    int,
    PlainValidator(_strands),
    WithJsonSchema({"type": "integer", "enum": list(BORE), "accepted": STRANDS}),
]


def _shape(value: Any) -> Any:  # noqa: ANN401 - anything may stand in a file
    if value == "straight":
        return None
    if isinstance(value, dict | ArchForm):
        return value
    raise Refused(value, "is not a shape of wire", accepted=SHAPE)


def _shape_schema(schema: dict[str, Any]) -> None:
    """Put the word for no arch form where the model has null."""
    null = {"type": "null"}
    schema["anyOf"] = [
        {"const": "straight"} if choice == null else choice for choice in schema["anyOf"]
    ]
    schema["accepted"] = SHAPE


def _shape_text(shape: ArchForm | None) -> Any:  # noqa: ANN401 - a table or a word
    if shape is None:
        return "straight"
    sizes = {"half_width", "depth", "squareness"}
    return shape.model_dump(mode="json", include={"points"} if shape.points else sizes)


class Wire(Table):
    """One arch wire, from the visit at which it is tied in to the next one's."""

    tied_in: TiedIn | None = optional(
        "Time from the start at which the wire is tied in; default: the first wire at "
        "0 weeks, each later one a visit_interval further on",
    )
    alloy: Literal["steel", "beta-titanium", "nickel-titanium"] = Field(
        default="nickel-titanium",
        description="Alloy, which sets the law of the wire and its constants",
    )
    material: Material = Field(
        default_factory=Material, description="Constants instead of those of the library"
    )
    section: SectionField = setting("0.014 in", "Size of the cross-section", alias="size")
    edge_radius: EdgeRadius | None = optional(
        "Radius of the edges of a rectangular wire; default: wire.edge_radius of the library"
    )
    strands: Strands = Field(
        default=1,
        description="Strands of a round wire, whose size is the bore of the tube that just holds "
        "them",
    )
    shape: Annotated[
        ArchForm | None,
        BeforeValidator(_shape),
        PlainSerializer(_shape_text),
        Field(json_schema_extra=_shape_schema),
    ] = setting("straight", "Shape of the unloaded wire: straight, or an arch form")
    bends: Annotated[tuple[WireBend, ...], Field(strict=False)] = Field(
        default=(),
        alias="bend",
        max_length=50,
        description="What is bent into the wire: bends, steps, twists, loops",
    )
    ligation: LigationTable = Field(
        default_factory=LigationTable, description="What closes the slots"
    )
    friction: Friction | None = optional(
        "Coulomb's coefficient of friction in the slots; default: that of the alloy in the library"
    )
    released: float = Field(
        default=0.0,
        ge=0.0,
        le=1.0,
        description="Share of friction that chewing releases between two steps",
    )
    cinched: bool = Field(
        default=False,
        description="Whether the ends are bent back behind the last slots, so that neither slides "
        "in",
    )
    stops: Annotated[tuple[StopTable, ...], Field(strict=False)] = Field(
        default=(), alias="stop", max_length=50, description="Crimps on the wire beside slots"
    )

    @property
    def coefficient(self) -> float:
        """Coulomb's coefficient of friction in the slots."""
        if self.friction is not None:
            return self.friction
        return lookup(f"friction.{self.alloy.replace('-', '_')}").number

    @property
    def alloy_constants(self) -> Alloy:
        """Constants of the alloy: those of the table material, the rest from the library."""
        return alloy_of(self.alloy, self.material)

    @property
    def cross_section(self) -> WireSection:
        """Cross-section with its edges and strands."""
        size = self.section
        return WireSection(
            size.height,
            size.into_slot,
            round=size.is_round,
            edge_radius=self.edge_radius,
            strands=self.strands,
        )

    @model_validator(mode="before")
    @classmethod
    def _check_place(cls, value: Any) -> Any:  # noqa: ANN401 - anything may stand in a file
        keys = value if isinstance(value, dict) else {}
        misplaced = [key for key in keys if key in Material.model_fields]
        if misplaced:
            raise Refused(
                None,
                "belongs to the table material of the wire",
                accepted=f"{misplaced[0]} under [wire.material]",
                key=(misplaced[0],),
            )
        return value

    @model_validator(mode="after")
    def _check(self) -> "Wire":
        _check_shape(self)
        try:
            alloy_of(self.alloy, self.material)
        except Refused as refused:
            raise Refused(
                refused.value,
                refused.problem,
                accepted=refused.accepted,
                key=("material", *refused.key),
            ) from None
        return self


def _check_shape(wire: Wire) -> None:
    size = wire.section
    if wire.strands > 1 and not size.is_round:
        raise Refused(
            wire.strands,
            "does not go with a rectangular size",
            accepted='1, or a round size such as "0.0175 in"',
            key=("strands",),
        )
    if wire.edge_radius is None:
        return
    if size.is_round:
        raise Refused(
            None,
            "does not belong to a round wire",
            accepted='only with a rectangular size such as "0.017 x 0.025 in"',
            key=("edge_radius",),
        )
    most = min(size.height, size.into_slot) / 2
    if wire.edge_radius > most:
        raise Refused(
            None,
            "is more than half of the shorter side",
            accepted=f"at most {most:.6g} mm",
            key=("edge_radius",),
        )
