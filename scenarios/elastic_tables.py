"""Table of the scenario file for elastics, elastomeric chains and coil springs between teeth."""

from typing import Annotated, Any, Literal

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer, model_validator

from gomphosis.bone.library import lookup
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused, shown
from gomphosis.scenarios.tables import Table, optional, setting
from gomphosis.scenarios.tooth_tables import ToothNumber, along_arch
from gomphosis.scenarios.units import DURATION, FORCE, LENGTH, STIFFNESS

# Bounds are engineering choices that catch a slip of unit or sign.
Pull = Annotated[float, Bounded(FORCE, above="0 N", most="20 N", example="150 gf")]
Stiffness = Annotated[float, Bounded(STIFFNESS, least="0 N/mm", most="50 N/mm", example="0.2 N/mm")]
Hook = Annotated[float, Bounded(LENGTH, least="-15 mm", most="15 mm", example="-4 mm")]
Moment = Annotated[float, Bounded(DURATION, least="0 days")]
DecayTime = Annotated[float, Bounded(DURATION, least="0.01 days", most="52 weeks", example="1 day")]

KINDS = {
    "elastic": "rubber ring from tooth to tooth",
    "chain": "elastomeric chain",
    "coil-spring": "closed coil spring",
}
"""Kinds and how a reader would call them."""

MOST_LINKED = 16


class Decay(Table):
    """Loss of force at a constant stretch: F(t) = F0 (1 - s (1 - exp(-t / tau)))."""

    lost_share: float | None = Field(
        default=None,
        ge=0.0,
        le=1.0,
        description="Share s of the force that is lost in the end; default: elastic.lost_share of "
        "the library for this kind",
    )
    time_constant: DecayTime | None = optional(
        "Time constant tau of the loss; default: elastic.time_constant of the library"
    )


class Elastic(Table):
    """A rubber ring, an elastomeric chain or a closed coil spring between teeth of one jaw.

    It pulls attachments straight towards each other and never pushes; a chain has one tension per
    link. One that is stretched anew is a second table.
    """

    kind: Literal["elastic", "chain", "coil-spring"] = Field(
        description="Rubber ring, elastomeric chain, or closed coil spring"
    )
    teeth: Annotated[tuple[ToothNumber, ...], Field(strict=False)] = Field(
        # Not min_length: a list of one is not empty, as its message would say.
        json_schema_extra={"minItems": 2},
        max_length=MOST_LINKED,
        description="ISO 3950 numbers of teeth of this scenario: two, or for a chain two or more "
        "in order along the arch",
    )
    force: Pull = Field(description="Pull of every link as it is put on")
    stiffness: Stiffness = Field(
        description="More pull per more length; 0 N/mm for a pull that does not depend on it, as "
        "that of a superelastic coil"
    )
    put_on: Moment = setting("0 weeks", "Time from the start at which it is put on")
    taken_off: Moment | None = optional("Time at which it is taken off; default: stays on")
    lost: Moment | None = optional("Time at which it breaks or comes off; default: holds")
    decay: Decay = Field(default_factory=Decay, description="Loss of force over time")
    hook: Hook = setting(
        "0 mm",
        "Height of the attachments above the slots' centres along the long axis, towards the "
        "edge; negative towards the root",
    )
    hooks: Annotated[tuple[Hook, ...] | None, Field(strict=False)] = Field(
        default=None, description="Heights one by one, as many as teeth, instead of hook"
    )

    @property
    def name(self) -> str:
        """Kind and teeth, as a reader would say them."""
        return f"{KINDS[self.kind]} {'-'.join(map(str, self.teeth))}"

    @property
    def links(self) -> tuple[str, ...]:
        """The two teeth of every link."""
        return tuple(f"{a}-{b}" for a, b in zip(self.teeth, self.teeth[1:], strict=False))

    @property
    def off(self) -> float:
        """Day from which it does not act any more; infinite if it stays."""
        return min((day for day in (self.taken_off, self.lost) if day is not None), default=FOREVER)

    @property
    def heights(self) -> tuple[float, ...]:
        """Height of every attachment above its slot's centre, mm."""
        return (self.hook,) * len(self.teeth) if self.hooks is None else self.hooks

    @property
    def lost_share(self) -> float:
        """Share of the force that is lost in the end."""
        given = self.decay.lost_share
        if given is not None:
            return given
        return lookup(f"elastic.lost_share.{self.kind.replace('-', '_')}").number

    @property
    def time_constant(self) -> float:
        """Time constant of the loss, day."""
        given = self.decay.time_constant
        return lookup("elastic.time_constant").number if given is None else given

    @model_serializer(mode="wrap")
    def _one_of_both(self, written: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Leave out the one height where they are given one by one."""
        unused = () if self.hooks is None else ("hook",)
        return {key: value for key, value in written(self).items() if key not in unused}

    @model_validator(mode="after")
    def _check(self) -> "Elastic":
        _check_teeth(self)
        _check_times(self)
        if self.hooks is None:
            return self
        if "hook" in self.model_fields_set:
            raise Refused(None, "stands beside hooks", accepted="one of both", key=("hook",))
        if len(self.hooks) != len(self.teeth):
            raise Refused(
                None,
                f"has {len(self.hooks)} heights",
                accepted=f"one for each of the {len(self.teeth)} teeth",
                key=("hooks",),
            )
        return self


FOREVER = float("inf")


def _check_teeth(elastic: Elastic) -> None:
    numbers = elastic.teeth
    if len(numbers) < 2:
        raise Refused(
            None,
            "names fewer than two teeth",
            accepted="two teeth, or for a chain two or more",
            key=("teeth",),
        )
    for index, number in enumerate(numbers):
        if number in numbers[:index]:
            raise Refused(number, "occurs twice", accepted="each tooth once", key=("teeth", index))
    if elastic.kind != "chain" and len(numbers) > 2:
        raise Refused(
            None,
            f"names {len(numbers)} teeth, which kind {shown(elastic.kind)} cannot join",
            accepted='two teeth, or kind = "chain"',
            key=("teeth",),
        )
    order = [along_arch(number) for number in numbers]
    if order not in (sorted(order), sorted(order, reverse=True)):
        inner = sorted(numbers, key=along_arch)
        raise Refused(
            None,
            "is not in order along the arch",
            accepted=f"[{', '.join(map(str, inner))}] or the other way round",
            key=("teeth",),
        )


def _check_times(elastic: Elastic) -> None:
    for key in ("taken_off", "lost"):
        day = getattr(elastic, key)
        if day is not None and day <= elastic.put_on:
            raise Refused(
                f"{day:g} days",
                "is not after it is put on",
                accepted=f"later than {elastic.put_on:g} days",
                key=(key,),
            )
    if elastic.lost is not None and elastic.taken_off is not None:
        if elastic.lost < elastic.taken_off:
            return
        raise Refused(
            f"{elastic.lost:g} days",
            "is not before it is taken off",
            accepted=f"earlier than {elastic.taken_off:g} days",
            key=("lost",),
        )
