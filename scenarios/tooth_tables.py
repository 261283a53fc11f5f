"""Tables of the scenario file for the teeth: where each stands, and its bracket."""

from dataclasses import replace
from typing import Annotated, Any

from pydantic import Field, PlainValidator, WithJsonSchema, model_validator

from gomphosis.bone.teeth import Tooth, catalogue, tooth
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused
from gomphosis.scenarios.tables import Table, cited, optional, setting
from gomphosis.scenarios.tissue_tables import CrestLoss, RootLost
from gomphosis.scenarios.units import ANGLE, LENGTH

# Bounds are engineering choices: wide enough for every tooth, narrow enough to catch a slip of
# unit.
OutOfLine = Annotated[float, Bounded(LENGTH, least="-10 mm", most="10 mm", example="1 mm")]
Tilt = Annotated[float, Bounded(ANGLE, least="-45 deg", most="45 deg")]
InOut = Annotated[float, Bounded(LENGTH, least="-3 mm", most="3 mm", example="0.5 mm")]
BracketDistance = Annotated[float, Bounded(LENGTH, above="0 mm", most="15 mm", example="4.5 mm")]
ToothSize = Annotated[float, Bounded(LENGTH, least="1 mm", most="30 mm", example="10 mm")]

NUMBERS = "an ISO 3950 number of a permanent tooth: 11-18, 21-28, 31-38 or 41-48"
SIZES = (
    "crown_length",
    "root_length",
    "crown_mesiodistal",
    "cervix_mesiodistal",
    "crown_labiolingual",
    "cervix_labiolingual",
)


def _number(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value not in catalogue():
        raise Refused(value, "is no tooth", accepted=NUMBERS)
    return value


ToothNumber = Annotated[
    int,
    PlainValidator(_number),
    WithJsonSchema({"type": "integer", "enum": sorted(catalogue()), "accepted": NUMBERS}),
]


def along_arch(number: int) -> int:
    """Return the order of a tooth along its arch, from the patient's right (-8) to the left (+8).

    Examples
    --------
    >>> [along_arch(number) for number in (13, 11, 21)]
    [-3, -1, 1]
    """
    position = number % 10
    return -position if number // 10 in (1, 4) else position


def _size(name: str) -> Any:  # noqa: ANN401 - stands for a field of any type
    return optional(f"{name}; default: average of the catalogue of teeth")


class Prescription(Table):
    """What is built into the bracket."""

    torque: Tilt = setting("0 deg", "Slot inclination: crown labial is positive")
    tip: Tilt = setting("0 deg", "Slot angulation: crown mesial is positive")
    rotation: Tilt = setting("0 deg", "Slot rotation: mesiolingual is positive")
    in_out: InOut = setting("0 mm", "Added thickness of the bracket base")


class ToothPlace(Table):
    """One tooth: where it stands out of line, its bracket, and sizes that are not average."""

    number: ToothNumber = Field(description="ISO 3950 number")
    vertical: OutOfLine = setting("0 mm", "Out of line vertically: supra is positive")
    labial: OutOfLine = setting("0 mm", "Out of line: labial or buccal is positive")
    mesial: OutOfLine = setting("0 mm", "Out of line: mesial is positive")
    angulation: Tilt = setting("0 deg", "Tip: crown mesial is positive")
    inclination: Tilt = setting("0 deg", "Torque: crown labial is positive")
    rotation: Tilt = setting("0 deg", "Rotation: mesiolingual is positive")
    crest_loss: CrestLoss | None = optional(
        "Bone lost at the crest of this tooth; default: that of [bone]"
    )
    root_lost: RootLost = setting(
        "0 mm", "Root resorbed at the apex; what is left is rounded off like the whole root"
    )
    speed_factor: float = Field(
        default=1.0,
        ge=0.01,
        le=10.0,
        description="Factor on the speed of this tooth's whole wall, such as 0.29 for a tooth that "
        "is moved through a cortical plate (an assumption: no such speed is published)",
    )
    bracket_from_edge: BracketDistance = cited(
        "bracket.from_incisal_edge",
        "Slot centre from the incisal edge or cusp, along the long axis",
    )
    bracket_from_axis: BracketDistance | None = optional(
        "Slot centre labially of the long axis; default: half the labiolingual "
        "diameter of the crown",
    )
    prescription: Prescription = Field(
        default_factory=Prescription, description="What is built into the bracket"
    )
    crown_length: ToothSize | None = _size("Cervix to incisal edge or cusp")
    root_length: ToothSize | None = _size("Cervix to apex")
    crown_mesiodistal: ToothSize | None = _size("Mesiodistal diameter of the crown")
    cervix_mesiodistal: ToothSize | None = _size("Mesiodistal diameter at the cervix")
    crown_labiolingual: ToothSize | None = _size("Labiolingual diameter of the crown")
    cervix_labiolingual: ToothSize | None = _size("Labiolingual diameter at the cervix")

    @property
    def anatomy(self) -> Tooth:
        """The catalogue's tooth with the sizes of this table in place."""
        given = {name: getattr(self, name) for name in SIZES if getattr(self, name) is not None}
        return replace(tooth(self.number), **given)

    @property
    def slot_from_axis(self) -> float:
        """Slot centre labially of the long axis, mm."""
        if self.bracket_from_axis is None:
            return self.anatomy.crown_labiolingual / 2.0
        return self.bracket_from_axis

    @property
    def place_along_arch(self) -> int:
        """Order along the arch, from the patient's right (-8) to the left (+8)."""
        return along_arch(self.number)

    @model_validator(mode="after")
    def _check(self) -> "ToothPlace":
        crown = self.anatomy.crown_length
        if self.bracket_from_edge >= crown:
            raise Refused(
                f"{self.bracket_from_edge:g} mm",
                f"puts the slot beyond the crown of tooth {self.number}",
                accepted=f"less than its crown length of {crown:g} mm",
                key=("bracket_from_edge",),
            )
        return self
