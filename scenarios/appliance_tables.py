"""Tables of the scenario file for the appliance: slots and arch wires."""

import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, PlainValidator, WithJsonSchema

from gomphosis.bone.library import lookup
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused
from gomphosis.scenarios.tables import Table, cited, optional, setting
from gomphosis.scenarios.units import DURATION, LENGTH, STRESS, written

# Bounds are engineering choices: wide enough for every product on sale, narrow enough to catch a
# slip of unit.
SlotSize = Annotated[float, Bounded(LENGTH, least="0.3 mm", most="1.5 mm", example="0.022 in")]
BracketWidth = Annotated[float, Bounded(LENGTH, least="0.5 mm", most="8 mm", example="3 mm")]
ArchSize = Annotated[float, Bounded(LENGTH, least="5 mm", most="100 mm", example="25 mm")]
AlloyModulus = Annotated[float, Bounded(STRESS, least="1 GPa", most="400 GPa", example="50 GPa")]
TiedIn = Annotated[float, Bounded(DURATION, least="0 days")]
WireSize = Bounded(LENGTH, least="0.1 mm", most="1.5 mm", example="0.014 in")

SIZE = (
    'a round wire "0.014 in", or height (in the slot) x width "0.017 x 0.025 in", '
    "each at least 0.1 mm and at most 1.5 mm"
)
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


class ArchForm(Table):
    """Shape of the unloaded wire in its plane: x(y) = -depth ((1 - q) (y/W)^2 + q (y/W)^4).

    x points forward, y sideways from the midline, W is `half_width`, q is `squareness`.
    """

    half_width: ArchSize = Field(description="Half the width W at the ends of the arch")
    depth: ArchSize = Field(description="From the front to the line between the ends of the arch")
    squareness: float = Field(
        default=0.0, ge=0.0, le=1.0, description="Share q of the fourth power: 0 = parabola"
    )


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
    return "straight" if shape is None else shape.model_dump()


class Wire(Table):
    """One arch wire, from the visit at which it is tied in to the next one's."""

    tied_in: TiedIn | None = optional(
        "Time from the start at which the wire is tied in; default: the first wire at "
        "0 weeks, each later one a visit_interval further on",
    )
    alloy: Literal["steel", "beta-titanium", "nickel-titanium"] = Field(
        default="nickel-titanium", description="Alloy, which sets the elastic constant"
    )
    section: SectionField = setting("0.014 in", "Size of the cross-section", alias="size")
    shape: Annotated[
        ArchForm | None,
        BeforeValidator(_shape),
        PlainSerializer(_shape_text),
        Field(json_schema_extra=_shape_schema),
    ] = setting("straight", "Shape of the unloaded wire: straight, or an arch form")
    cinched: bool = Field(
        default=False, description="Whether the ends are bent so that they cannot slide"
    )
    young: AlloyModulus | None = optional(
        "Young's modulus; default: that of the alloy in the library"
    )

    @property
    def modulus(self) -> float:
        """Young's modulus, MPa: the given one or that of the alloy in the library."""
        if self.young is not None:
            return self.young
        return lookup(f"alloy.{self.alloy.replace('-', '_')}.young").number
