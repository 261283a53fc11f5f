"""Tables of the scenario file for what closes the slots and keeps the wire from sliding."""

from typing import Annotated, Any, Literal

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer, model_validator

from gomphosis.bone.library import lookup
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused
from gomphosis.scenarios.tables import Table, optional, setting
from gomphosis.scenarios.units import DURATION, FORCE, STIFFNESS

# Bounds are engineering choices: wide enough for any tie, narrow enough to catch a slip of unit.
Seating = Annotated[float, Bounded(FORCE, least="0 N", most="20 N", example="1.5 N")]
TieStiffness = Annotated[
    float, Bounded(STIFFNESS, least="0.1 N/mm", most="1000 N/mm", example="5 N/mm")
]
Fading = Annotated[float, Bounded(DURATION, above="0 days", most="260 weeks")]
Lost = Annotated[float, Bounded(DURATION, least="0 days", most="260 weeks")]

OF_A_TIE = ("seating", "stiffness", "lasting", "fading")
ACTIVE = 'only with kind = "active"'


class LostTie(Table):
    """A tie that comes off between visits."""

    tooth: int = Field(description="ISO 3950 number of a tooth of this scenario")
    after: Lost = Field(description="Time since the wire was tied in, or tied again at a visit")


class LigationTable(Table):
    """What closes every slot: a lid, or a tie that presses the wire onto the floor."""

    kind: Literal["passive", "active"] = Field(
        default="passive",
        description="passive: a rigid lid that does not press; active: a tie that does",
    )
    seating: Seating | None = optional(
        "Force on a wire that lies on the slot's floor; default: ligation.normal_force of the "
        "library"
    )
    stiffness: TieStiffness = setting(
        "5 N/mm",
        "By which the force grows as the wire is lifted off the floor; the default is an "
        "engineering choice",
    )
    lasting: float = Field(
        default=1.0, ge=0.0, le=1.0, description="Share of the force that is left in the end"
    )
    fading: Fading = setting("1 day", "Time in which all but 37 % of what is lost has gone")
    lost: Annotated[tuple[LostTie, ...], Field(strict=False)] = Field(
        default=(), max_length=50, description="Ties or lids that come off between visits"
    )

    @model_serializer(mode="wrap")
    def _own(self, written: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Leave out the keys of a tie where there is a lid, which a file may not have then."""
        foreign = OF_A_TIE if self.kind == "passive" else ()
        return {key: value for key, value in written(self).items() if key not in foreign}

    @model_validator(mode="after")
    def _check(self) -> "LigationTable":
        if self.kind == "passive":
            for key in OF_A_TIE:
                if key in self.model_fields_set:
                    raise Refused(None, "does not belong to a lid", accepted=ACTIVE, key=(key,))
        return self

    def tie(self, tooth: int) -> Ligation:
        """Return what closes the slot of a tooth."""
        lost = min((tie.after for tie in self.lost if tie.tooth == tooth), default=float("inf"))
        if self.kind == "passive":
            return Ligation(lost=lost)
        force = lookup("ligation.normal_force").number if self.seating is None else self.seating
        return Ligation(force, self.stiffness, self.lasting, self.fading, lost)


class StopTable(Table):
    """A crimp on the wire beside a slot."""

    tooth: int = Field(description="ISO 3950 number of a tooth of this scenario")
    side: Literal["mesial", "distal"] = Field(description="Side of the slot it sits on")
