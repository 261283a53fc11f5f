"""Tables of the scenario file for ligament, bone and the rate of remodelling."""

from typing import Annotated, Literal

from pydantic import Field, PlainValidator, WithJsonSchema, model_validator

from gomphosis.bone.library import lookup
from gomphosis.bone.stimulus import StimulusName
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused, shown
from gomphosis.scenarios.tables import Table, cited, optional, setting
from gomphosis.scenarios.units import DURATION, LENGTH, SPEED, SPEED_PER_STRESS, STRESS

# Bounds are engineering choices: wide enough for every published value, narrow enough to catch a
# slip of unit.
Thickness = Annotated[float, Bounded(LENGTH, least="0.05 mm", most="1 mm", example="0.2 mm")]
TissueModulus = Annotated[
    float, Bounded(STRESS, least="0.001 MPa", most="1000 MPa", example="0.05 MPa")
]
CrestLoss = Annotated[float, Bounded(LENGTH, least="0 mm", most="20 mm", example="2 mm")]
RootLost = Annotated[float, Bounded(LENGTH, least="0 mm", most="20 mm", example="2 mm")]
WallSpeed = Annotated[float, Bounded(SPEED, above="0 um/day", most="1000 um/day")]
WallStress = Annotated[float, Bounded(STRESS, above="0 kPa", most="1000 kPa")]
WallDelay = Annotated[float, Bounded(DURATION, above="0 days", most="200 days", example="21 days")]
WallRate = Annotated[float, Bounded(SPEED_PER_STRESS, above="0 um/day/kPa", most="1000 um/day/kPa")]

SHEAR_WEIGHT = 'a number from 0 to 1000, or "auto" for the ratio M/G of the ligament'
LAW_KEYS = {
    "saturating": {"max_speed": False, "half_stress": False},
    "linear": {"constant": True},
    "dead-zone": {"constant": True, "threshold": True},
}
"""Keys that go with each rate law, and whether the law needs them."""
PAIRS = (("half_stress", "max_speed"), ("overload_pressure", "overload_delay"))
"""Keys that a file gives together or not at all."""
EXAMPLES = {
    "max_speed": SPEED.example,
    "half_stress": STRESS.example,
    "threshold": STRESS.example,
    "constant": SPEED_PER_STRESS.example,
    "overload_pressure": STRESS.example,
    "overload_delay": "21 days",
}


def _shear_weight(value: object) -> float | str:
    if value == "auto":
        return "auto"
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Refused(value, "is not a weight", accepted=SHEAR_WEIGHT)
    if not 0.0 <= value <= 1000.0:
        raise Refused(value, "is out of range", accepted=SHEAR_WEIGHT)
    return float(value)


ShearWeight = Annotated[
    float | str,
    PlainValidator(_shear_weight),
    WithJsonSchema(
        {
            "anyOf": [{"const": "auto"}, {"type": "number", "minimum": 0, "maximum": 1000}],
            "accepted": SHEAR_WEIGHT,
        }
    ),
]


class Ligament(Table):
    """The periodontal ligament: an elastic layer of uneven thickness."""

    law: Literal["linear"] = Field(default="linear", description="Stress-strain law")
    young: TissueModulus = cited(
        "ligament.poppe.young_first", "Young's modulus; take it from the same study as poisson"
    )
    poisson: float = Field(
        default=lookup("ligament.poppe.poisson").number,
        ge=0.0,
        le=0.499,
        description="Poisson's ratio",
    )
    thickness_crest: Thickness = cited("ligament.thickness.crest", "Thickness at the bone crest")
    thickness_middle: Thickness = cited("ligament.thickness.middle", "Thickness at mid-root")
    thickness_apex: Thickness = cited("ligament.thickness.apex", "Thickness at the apex")


class Bone(Table):
    """The alveolar bone."""

    crest_loss: CrestLoss = setting("0 mm", "Bone lost at the crest, beyond the normal crest")


class Rate(Table):
    """The law that turns stress on the socket wall into speed of the wall.

    ``saturating`` takes `max_speed` and `half_stress`, both or neither; without them the law is
    calibrated to published speeds. ``linear`` needs `constant`; ``dead-zone`` needs `constant` and
    `threshold`. `overload_pressure` and `overload_delay`, both or neither, make overloaded wall
    stand still for a while; without them it never does.
    """

    law: Literal["saturating", "linear", "dead-zone"] = Field(
        default="saturating", description="Form of the law"
    )
    max_speed: WallSpeed | None = optional(
        "Saturating law: speed at unlimited stress; default: calibrated"
    )
    half_stress: WallStress | None = optional(
        "Saturating law: stress at half that speed; default: calibrated"
    )
    constant: WallRate | None = optional("Linear and dead-zone law: speed per stress; no default")
    threshold: WallStress | None = optional(
        "Dead-zone law: stress below which the wall stays; no default"
    )
    shear_weight: ShearWeight = setting(
        "auto", "Factor on the shear traction on the wall; 1 = plain traction, 0 = normal only"
    )

    stimulus: StimulusName = Field(
        default="traction",
        description="What sets the speed of a piece of wall: the ligament's push on it (traction), "
        "its mean stress there (pressure), or one stimulus for the whole tooth (tooth)",
    )
    overload_pressure: WallStress | None = optional(
        "Pressure of the ligament above which the wall stops; default: it never stops"
    )
    overload_delay: WallDelay | None = optional(
        "Time until stopped wall is undermined and moves; goes with overload_pressure"
    )

    @model_validator(mode="after")
    def _check(self) -> "Rate":
        accepted = LAW_KEYS[self.law]
        keys = dict.fromkeys(key for law in LAW_KEYS.values() for key in law)
        for key in keys:
            if getattr(self, key) is not None and key not in accepted:
                _refuse_key(self, key)
            if getattr(self, key) is None and accepted.get(key, False):
                raise Refused(
                    None,
                    f"is missing, which law {shown(self.law)} needs",
                    accepted=_example(key),
                    key=(key,),
                )
        for pair in PAIRS:
            missing = [key for key in pair if getattr(self, key) is None]
            if len(missing) == 1:
                given = pair[1 - pair.index(missing[0])]
                raise Refused(
                    None,
                    f"is missing beside {given}",
                    accepted=f"{_example(missing[0])}, or neither of the two",
                    key=(missing[0],),
                )
        return self


def _refuse_key(rate: Rate, key: str) -> None:
    owners = [law for law, keys in LAW_KEYS.items() if key in keys]
    raise Refused(
        None,
        f"does not belong to law {shown(rate.law)}",
        accepted=f"only with law = {' or '.join(shown(law) for law in owners)}",
        key=(key,),
    )


def _example(key: str) -> str:
    return f'{key} = "{EXAMPLES[key]}"'
