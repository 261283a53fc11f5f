"""Table of the scenario file for what is bent into an arch wire: bends, steps, twists, loops."""

from typing import Annotated, Any, Literal

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer, model_validator

from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused, listed, shown
from gomphosis.scenarios.tables import Table, optional, setting
from gomphosis.scenarios.tooth_tables import ToothNumber
from gomphosis.scenarios.units import ANGLE, LENGTH

# Bounds are engineering choices that catch a slip of unit or sign.
BendAngle = Annotated[float, Bounded(ANGLE, least="-90 deg", most="90 deg", example="15 deg")]
Offset = Annotated[float, Bounded(LENGTH, least="-5 mm", most="5 mm", example="0.5 mm")]
Distance = Annotated[float, Bounded(LENGTH, above="0 mm", most="40 mm", example="3 mm")]
Run = Annotated[float, Bounded(LENGTH, least="0.2 mm", most="10 mm", example="1 mm")]
Corner = Annotated[float, Bounded(LENGTH, least="-20 mm", most="20 mm", example="6 mm")]
Corners = tuple[Annotated[tuple[Corner, Corner, Corner], Field(strict=False)], ...]

KEYS = {
    "bend": ("occlusal_angle", "labial_angle", "by_hand", "length"),
    "step": ("occlusal", "labial", "length"),
    "twist": ("twist_angle", "by_hand", "length"),
    "loop": ("points",),
}
"""Keys of each kind."""


class WireBend(Table):
    """Something bent into a wire between two teeth, as seen from the first one named.

    ``bend``: the wire beyond leans by `occlusal_angle` and `labial_angle`. ``step``: the wire
    beyond runs on displaced by `occlusal` and `labial`, after `length` of sloping wire. ``twist``:
    the wire beyond is turned about itself, crown-labial torque positive. ``loop``: a polyline.
    """

    kind: Literal["bend", "step", "twist", "loop"] = Field(description="What is bent into the wire")
    between: tuple[ToothNumber, ToothNumber] = Field(
        strict=False, description="ISO 3950 numbers of two neighbouring teeth of this scenario"
    )
    distance: Distance | None = optional(
        "From the slot's centre of the first tooth along the wire; default: half-way"
    )
    occlusal_angle: BendAngle | None = optional("Bend: lean of the wire beyond, occlusal positive")
    labial_angle: BendAngle | None = optional("Bend: lean of the wire beyond, labial positive")
    occlusal: Offset | None = optional("Step: displacement of the wire beyond, occlusal positive")
    labial: Offset | None = optional("Step: displacement of the wire beyond, labial positive")
    twist_angle: BendAngle | None = optional("Twist: turn beyond, crown-labial torque positive")
    points: Corners | None = Field(
        default=None,
        strict=False,
        description="Loop: corners after the first, each (along, occlusal, labial) from where the "
        "loop begins; the last one must lie on the wire's line: (gap, 0 mm, 0 mm)",
    )
    by_hand: bool = Field(
        default=False,
        description="Bent cold, with the stresses that this leaves (the angle is what remains "
        "after springback); otherwise free of stress",
    )
    length: Run = setting("1 mm", "Wire that is bent by hand, or slopes in a step")

    @model_serializer(mode="wrap")
    def _own(self, written: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Leave out the keys of other kinds, which a file of this kind may not have."""
        return {key: value for key, value in written(self).items() if key not in self._foreign}

    @property
    def _foreign(self) -> tuple[str, ...]:
        return tuple(k for keys in KEYS.values() for k in keys if k not in KEYS[self.kind])

    @model_validator(mode="after")
    def _check(self) -> "WireBend":
        for key in self._foreign:
            if key in self.model_fields_set:
                owners = tuple(shown(kind) for kind, keys in KEYS.items() if key in keys)
                raise Refused(
                    None,
                    f"does not belong to kind {shown(self.kind)}",
                    accepted=f"only with kind = {listed(owners)}",
                    key=(key,),
                )
        _check_amounts(self)
        return self


def _check_amounts(bend: WireBend) -> None:
    angles = [bend.occlusal_angle or 0.0, bend.labial_angle or 0.0, bend.twist_angle or 0.0]
    amounts = {
        "bend": angles[:2],
        "step": [bend.occlusal or 0.0, bend.labial or 0.0],
        "twist": angles[2:],
        "loop": [len(bend.points or ())],
    }[bend.kind]
    if not any(amounts):
        key = KEYS[bend.kind][0]
        problem = f'is missing, which kind "{bend.kind}" needs'
        if key in bend.model_fields_set:
            problem = f"makes no {bend.kind}"
        accepted = "one or more corners" if key == "points" else "a value other than zero"
        raise Refused(None, problem, accepted=accepted, key=(key,))
    if bend.by_hand and all(amounts) and len(amounts) > 1:
        raise Refused(
            None, "leans two ways", accepted="one angle for a bend by hand", key=("labial_angle",)
        )
    if bend.kind == "step" and sum(amount**2 for amount in amounts) >= bend.length**2:
        raise Refused(
            None,
            "is too short for the step",
            accepted=f"more than {sum(amount**2 for amount in amounts) ** 0.5:.4g} mm",
            key=("length",),
        )
    if bend.points is not None:
        _check_points(bend.points)


def _check_points(points: tuple[tuple[float, float, float], ...]) -> None:
    last = points[-1]
    if last[1] != 0.0 or last[2] != 0.0 or last[0] < 0.0:
        raise Refused(
            None,
            "does not lead back to the wire's line",
            accepted='a last corner such as ["0 mm", "0 mm", "0 mm"], its first number >= 0 mm',
            key=("points", len(points) - 1),
        )
    before = (0.0, 0.0, 0.0)
    for index, point in enumerate(points):
        if sum((a - b) ** 2 for a, b in zip(point, before, strict=True)) < 0.01:
            raise Refused(
                None,
                "is less than 0.1 mm from the corner before",
                accepted="corners at least 0.1 mm apart",
                key=("points", index),
            )
        before = point
