"""Table of the scenario file for what is done at a visit without a new wire."""

from typing import Annotated

from pydantic import Field, model_validator

from gomphosis.scenarios.bend_tables import WireBend
from gomphosis.scenarios.ligation_tables import StopTable
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused
from gomphosis.scenarios.tables import Table, setting
from gomphosis.scenarios.tooth_tables import ToothNumber
from gomphosis.scenarios.units import ANGLE, DURATION, LENGTH

# Bounds are engineering choices that catch a slip of unit.
VisitDay = Annotated[float, Bounded(DURATION, above="0 days", most="260 weeks", example="4 weeks")]
Shift = Annotated[float, Bounded(LENGTH, least="-5 mm", most="5 mm", example="0.5 mm")]
Lean = Annotated[float, Bounded(ANGLE, least="-30 deg", most="30 deg", example="5 deg")]
Activated = Annotated[float, Bounded(LENGTH, above="0 mm", most="10 mm", example="1 mm")]

REBONDED = "re-bonded"
ACTIONS = ("religate", "bend", "rebond", "activate")


class Rebond(Table):
    """A bracket bonded anew: how its slot moves against the tooth."""

    tooth: ToothNumber = Field(description="ISO 3950 number of a tooth of this scenario")
    vertical: Shift = setting("0 mm", "Towards the edge (cusp) is positive")
    labial: Shift = setting("0 mm", "Labial or buccal is positive")
    mesial: Shift = setting("0 mm", "Mesial is positive")
    torque: Lean = setting("0 deg", "Added to the torque of its prescription")
    tip: Lean = setting("0 deg", "Added to its tip")
    rotation: Lean = setting("0 deg", "Added to its rotation")

    @model_validator(mode="after")
    def _check(self) -> "Rebond":
        amounts = (self.vertical, self.labial, self.mesial, self.torque, self.tip, self.rotation)
        if not any(amounts):
            raise Refused(
                None, "moves nothing", accepted="a value other than zero", key=("vertical",)
            )
        return self


class Activation(StopTable):
    """A crimp or cinched end moved along the wire, away from its slot: the wire is pulled."""

    by: Activated = Field(description="How far the wire is pulled through the slot")


class Visit(Table):
    """What is done at a visit to the wire in place."""

    at: VisitDay = Field(description="Time from the start")
    religate: bool = Field(
        default=False, description="Whether the wire is tied anew: ties and friction start afresh"
    )
    bends: Annotated[tuple[WireBend, ...], Field(strict=False)] = Field(
        default=(),
        alias="bend",
        max_length=20,
        description="Bends made by hand in the wire, which is taken out and tied in again",
    )
    rebond: Annotated[tuple[Rebond, ...], Field(strict=False)] = Field(
        default=(), max_length=16, description="Brackets that are bonded anew"
    )
    activate: Annotated[tuple[Activation, ...], Field(strict=False)] = Field(
        default=(), max_length=16, description="Crimps and cinched ends moved along the wire"
    )

    @property
    def words(self) -> tuple[str, ...]:
        """What is done, as a reader would say it."""
        done = {
            "religated": self.religate or self.bends,
            "bent": self.bends,
            REBONDED: self.rebond,
            "activated": self.activate,
        }
        return tuple(word for word, fact in done.items() if fact)

    @model_validator(mode="after")
    def _check(self) -> "Visit":
        if not (self.religate or self.bends or self.rebond or self.activate):
            raise Refused(None, "does nothing", accepted=", ".join(ACTIONS), key=("religate",))
        for index, bend in enumerate(self.bends):
            if not bend.by_hand:
                raise Refused(
                    None,
                    "is not true, though a wire in use can only be bent by hand",
                    accepted='by_hand = true with kind "bend" or "twist"',
                    key=("bend", index, "by_hand"),
                )
        return self
