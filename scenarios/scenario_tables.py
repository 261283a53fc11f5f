"""All tables of the scenario file together, and what a run reads from them."""

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field

from gomphosis.bone.library import lookup
from gomphosis.scenarios.appliance_tables import Slot, Wire
from gomphosis.scenarios.elastic_tables import Elastic
from gomphosis.scenarios.force_tables import Force
from gomphosis.scenarios.lesson_tables import Lesson
from gomphosis.scenarios.material_table import Temperature
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.slice_tables import SliceTable
from gomphosis.scenarios.tables import Table, cited, optional, setting
from gomphosis.scenarios.tissue_tables import Bone, Ligament, Rate
from gomphosis.scenarios.tooth_tables import ToothPlace
from gomphosis.scenarios.units import DURATION, STRESS
from gomphosis.scenarios.visit_tables import Visit

PRINTABLE_LINE = r"^[^\x00-\x1f\x7f]*$"

# Bounds are engineering choices: a course of treatment at most, and never more time steps than a
# run can keep.
Course = Annotated[float, Bounded(DURATION, above="0 days", most="260 weeks")]
Step = Annotated[float, Bounded(DURATION, least="0.01 days", most="7 days", example="1 day")]
Pressure = Annotated[float, Bounded(STRESS, above="0 kPa", most="1000 kPa")]
NeutralPressure = Annotated[
    float, Bounded(STRESS, least="0 kPa", most="1000 kPa", example="0.5 kPa")
]


class ScenarioTables(Table):
    """The tables of a scenario, each one checked by itself but not yet against the others."""

    version: Literal[1] = Field(alias="schema", description="Version of this file's layout")
    title: str = Field(
        default="untitled",
        min_length=1,
        max_length=200,
        pattern=PRINTABLE_LINE,
        description="One line; no name or identifier of a person",
    )
    invented: bool = Field(
        default=False, description="Whether the case is made up, as demo data are"
    )
    note: str = Field(
        default="", max_length=10_000, description="Free text; no name or identifier of a person"
    )
    duration: Course = setting("12 weeks", "Simulated time")
    step: Step = setting("1 day", "Time step")
    visit_interval: Course = setting(
        "6 weeks", "Time from visit to visit: when later wires are due unless they say so"
    )
    temperature: Temperature = cited(
        "mouth.temperature", "Temperature of all wires, the same everywhere and always"
    )
    growing: Literal["yes", "no", "unknown"] = Field(
        default="unknown", description="Whether the person is growing"
    )
    seed: int = Field(default=0, ge=0, lt=2**32, description="Seed of all random numbers")
    pressure_limit: Pressure | None = optional(
        "Pressure above which the wall counts as overloaded; no default, no flag",
    )
    neutral_below: NeutralPressure = setting(
        "0.5 kPa",
        "Normal traction below which the wall is called neutral; the default is an engineering "
        "choice",
    )
    ligament: Ligament = Field(default_factory=Ligament, description="Periodontal ligament")
    bone: Bone = Field(default_factory=Bone, description="Alveolar bone")
    rate: Rate = Field(default_factory=Rate, description="Rate of remodelling")
    slot: Slot = Field(default_factory=Slot, description="Slot of every bracket")
    tooth: Annotated[tuple[ToothPlace, ...], Field(strict=False)] = Field(
        # Not min_length: that would also count out the teeth which are refused themselves.
        json_schema_extra={"minItems": 1},
        max_length=16,
        description="Teeth, unique, of one jaw, in any order",
    )
    wire: Annotated[tuple[Wire, ...], Field(strict=False)] = Field(
        default=(),
        max_length=100,
        description="Arch wires in the order of their visits; default where there is no [[force]]: "
        "one wire of the default size",
    )
    visit: Annotated[tuple[Visit, ...], Field(strict=False)] = Field(
        default=(),
        max_length=100,
        description="What is done to the wire in place at visits without a new wire",
    )
    force: Annotated[tuple[Force, ...], Field(strict=False)] = Field(
        default=(), max_length=1000, description="Prescribed forces, instead of wires"
    )
    elastic: Annotated[tuple[Elastic, ...], Field(strict=False)] = Field(
        default=(),
        max_length=100,
        description="Elastics, chains and coil springs between teeth, beside the wires",
    )
    slice: SliceTable | None = optional("Teeth that are also opened as a plane; default: none")
    lesson: Lesson | None = optional("What a class is to see here; default: no lesson")

    @property
    def teeth(self) -> tuple[ToothPlace, ...]:
        """Teeth in order along the arch, from the patient's right to the left."""
        return tuple(sorted(self.tooth, key=lambda place: place.place_along_arch))

    @property
    def wires(self) -> tuple[Wire, ...]:
        """Arch wires with the times at which they are tied in; empty where forces are prescribed.

        Without any wire and force in the file, the one default wire.
        """
        given = self.wire or (() if self.force else (Wire(),))
        return tuple(
            wire.model_copy(update={"tied_in": index * self.visit_interval})
            if wire.tied_in is None
            else wire
            for index, wire in enumerate(given)
        )

    @property
    def cases(self) -> Mapping[str, tuple[Force, ...]]:
        """Prescribed forces by case, in the order of the file."""
        names = dict.fromkeys(force.case for force in self.force)
        return {name: tuple(f for f in self.force if f.case == name) for name in names}

    def crest_loss(self, place: ToothPlace) -> float:
        """Return the bone lost at the crest of a tooth beyond the normal crest, mm."""
        return self.bone.crest_loss if place.crest_loss is None else place.crest_loss

    def embedded_root(self, place: ToothPlace) -> float:
        """Return the length of root within bone, mm, from the bone crest to the apex."""
        crest = lookup("bone.crest_below_cervix").number + self.crest_loss(place)
        return place.anatomy.root_length - place.root_lost - crest
