"""Table of the scenario file for prescribed forces on brackets."""

from typing import Annotated, Literal

from pydantic import Field, PlainSerializer, PlainValidator, WithJsonSchema, model_validator

from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused, listed, shown
from gomphosis.scenarios.tables import Table, optional, setting
from gomphosis.scenarios.tooth_tables import ToothNumber
from gomphosis.scenarios.units import FORCE, LENGTH, MOMENT, written

COMPONENTS = ("extrusion", "labial", "mesial", "tip_moment", "torque_moment", "rotation_moment")
"""Components in trade words, in the order of a six-vector in these words."""
DIRECTIONS = {
    "labial": ("labial", 1.0),
    "lingual": ("labial", -1.0),
    "mesial": ("mesial", 1.0),
    "distal": ("mesial", -1.0),
    "extrusion": ("extrusion", 1.0),
    "intrusion": ("extrusion", -1.0),
}
"""Component and sign of each direction of a force."""

# Bounds are engineering choices that catch a slip of unit; 100 N is a bite, not an appliance.
Magnitude = Annotated[float, Bounded(FORCE, above="0 N", most="100 N")]
ForceComponent = Annotated[float, Bounded(FORCE, least="-100 N", most="100 N")]
MomentComponent = Annotated[float, Bounded(MOMENT, least="-1000 N*mm", most="1000 N*mm")]

_RATIO = Bounded(LENGTH, least="-1000 mm", most="1000 mm", example="8 mm")
RATIO = f'{_RATIO.accepted}; or "translation"'


def _ratio(value: object) -> float | str:
    if value == "translation":
        return "translation"
    try:
        return _RATIO.parse(value)
    except Refused as refused:
        raise Refused(value, refused.problem, accepted=RATIO) from None


def _ratio_text(value: float | str) -> str:
    return value if isinstance(value, str) else written(value, LENGTH)


Ratio = Annotated[
    float | Literal["translation"],
    PlainValidator(_ratio),
    PlainSerializer(_ratio_text),
    WithJsonSchema({"type": "string", "examples": ["8 mm", "translation"], "accepted": RATIO}),
]


class Force(Table):
    """A force on one tooth, at the centre of its slot, from the first day on.

    Either `force` with `direction` (and `moment_to_force`), or components.
    """

    case: str = Field(
        default="forces",
        min_length=1,
        max_length=60,
        pattern=r"^[^\x00-\x1f\x7f]+$",
        description="Entries of the same case act together; cases are compared with one another",
    )
    tooth: ToothNumber = Field(description="ISO 3950 number of a tooth of this scenario")
    force: Magnitude | None = optional("Size of the force; needs direction")
    direction: Literal["labial", "lingual", "mesial", "distal", "extrusion", "intrusion"] | None = (
        optional(
            "Direction of the force; labial is also buccal, lingual palatal",
        )
    )
    moment_to_force: Ratio = setting(
        "0 mm",
        'M/F at the bracket, counter-tipping positive; "translation" = as much as translates the '
        "tooth; not for extrusion and intrusion",
    )
    extrusion: ForceComponent | None = optional("Component; default 0 N")
    labial: ForceComponent | None = optional("Component; default 0 N")
    mesial: ForceComponent | None = optional("Component; default 0 N")
    tip_moment: MomentComponent | None = optional("Component; default 0 N*mm")
    torque_moment: MomentComponent | None = optional("Component; default 0 N*mm")
    rotation_moment: MomentComponent | None = optional("Component; default 0 N*mm")

    @property
    def by_components(self) -> bool:
        """Whether the force is given by its components."""
        return self.force is None

    @property
    def components(self) -> tuple[float, ...]:
        """Components in the order of `COMPONENTS`, N and N*mm, without the counter-moment.

        The moment that `moment_to_force` asks for depends on the tooth and is not included.
        """
        if self.force is None:
            return tuple(getattr(self, name) or 0.0 for name in COMPONENTS)
        if self.direction is None:
            raise RuntimeError("a force without direction passed the checks")
        word, sign = DIRECTIONS[self.direction]
        return tuple(sign * self.force if name == word else 0.0 for name in COMPONENTS)

    @model_validator(mode="after")
    def _check(self) -> "Force":
        given = [name for name in COMPONENTS if getattr(self, name) is not None]
        if given and (self.force is not None or self.direction is not None):
            raise Refused(
                None,
                "does not go with force and direction",
                accepted=f"force with direction, or components ({listed(COMPONENTS)})",
                key=(given[0],),
            )
        if not given:
            self._check_directed()
        self._check_ratio()
        return self

    def _check_directed(self) -> None:
        for name, example in (("force", '"50 cN"'), ("direction", '"labial"')):
            if getattr(self, name) is None:
                raise Refused(
                    None,
                    "is missing",
                    accepted=f"{name} = {example}, or components ({listed(COMPONENTS)})",
                    key=(name,),
                )

    def _check_ratio(self) -> None:
        transverse = self.direction in ("labial", "lingual", "mesial", "distal")
        if self.moment_to_force == 0.0 or transverse:
            return
        where = "components" if self.direction is None else f"direction {shown(self.direction)}"
        raise Refused(
            self.moment_to_force,
            f"does not go with {where}",
            accepted="0 mm, or a direction of labial, lingual, mesial or distal",
            key=("moment_to_force",),
        )
