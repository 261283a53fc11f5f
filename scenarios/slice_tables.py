"""Table of the scenario file for slices: which teeth are opened as a plane, and their bone."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from gomphosis.bone.library import lookup
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused
from gomphosis.scenarios.tables import Table, cited, optional, setting
from gomphosis.scenarios.tooth_tables import ToothNumber
from gomphosis.scenarios.units import LENGTH, PER_DAY, STRESS

# Bounds are engineering choices.
Spacing = Annotated[float, Bounded(LENGTH, least="0.02 mm", most="0.2 mm", example="0.1 mm")]
Plate = Annotated[float, Bounded(LENGTH, least="0 mm", most="10 mm", example="1 mm")]
Energy = Annotated[float, Bounded(STRESS, above="0 kPa", most="1000 kPa", example="0.01 kPa")]
Turnover = Annotated[float, Bounded(PER_DAY, above="0 day^-1", most="1 day^-1")]
PlaneWord = Literal["labiolingual", "mesiodistal"]


class PlateTable(Table):
    """Thickness of bone over the root on one side, across the long axis."""

    crest: Plate | None = optional("At the bone crest; default: of the library")
    middle: Plate | None = optional("At mid-root; default: of the library")
    apex: Plate | None = optional("At the apex; default: of the library")


class AdaptationTable(Table):
    """Adaptation of bone to its strain energy: d(rho)/dt = rate (U / (rho reference) - 1).

    rho is the density as a fraction of full cortical bone. There is no default: the published
    constants belong to a plate under edge loads and to no unit of time.
    """

    rate: Turnover = Field(description="Share of full density a day when U is twice its reference")
    reference: Energy = Field(description="Strain energy per volume, over density, that is kept")
    form: Literal["element", "node"] = Field(
        default="node",
        description="One energy per element, which makes neighbours compete, or one interpolated "
        "between nodes",
    )
    lazy: float = Field(
        default=0.0, ge=0.0, lt=1.0, description="Half width of the zone without change, as a share"
    )


class SliceTable(Table):
    """Teeth of the run that are also opened as a plane, with their bone density map."""

    teeth: Annotated[tuple[ToothNumber, ...], Field(strict=False)] = Field(
        min_length=1,
        max_length=16,
        description="Which teeth, by ISO 3950 number",
        json_schema_extra={"accepted": "a list of 1 to 16 tooth numbers, such as [11, 21]"},
    )
    plane: PlaneWord = Field("labiolingual", description="Plane of the slice")
    spacing: Spacing = setting("0.1 mm", "Cell size of the bone density map")
    law: Literal["linear", "bilinear"] = Field(
        "linear",
        description="Ligament in the slice: linear, with the constants of [ligament]; or the "
        "published law that stiffens with strain, with its own constants",
    )
    front: PlateTable = Field(
        default_factory=PlateTable,
        description="Bone on the labial side, or on the mesial side of a mesiodistal slice",
    )
    back: PlateTable = Field(
        default_factory=PlateTable,
        description="Bone on the lingual side, or on the distal side of a mesiodistal slice",
    )
    cortex: Plate = cited("bone_layer.cortex", "Thickness of the dense outer layer of bone")
    trabecular: float = Field(
        lookup("bone_layer.trabecular_density").number,
        gt=0.0,
        le=1.0,
        description="Density of the bone within, as a fraction of full cortical bone",
    )
    outline: str | None = optional(
        "CSV file of outlines (part, x_mm, z_mm) of root, bone and plates of the one tooth of "
        "this table, instead of the catalogue's root and of front and back; found from where the "
        "program runs"
    )
    mesh: str | None = optional(
        "Mesh file with named groups root, ligament and bone, instead of a mesh of our own, for "
        "the one tooth of this table; found from where the program runs"
    )
    adaptation: AdaptationTable | None = optional("Adaptation to strain energy; default: none")
    turnover: bool = Field(False, description="Whether cortical plates are slowly renewed")

    @model_validator(mode="after")
    def _check(self) -> "SliceTable":
        if len(set(self.teeth)) < len(self.teeth):
            raise Refused(
                list(self.teeth), "names a tooth twice", accepted="each tooth once", key=("teeth",)
            )
        for side in ("front", "back"):
            if self.outline is not None and getattr(self, side) != PlateTable():
                raise Refused(
                    None,
                    "stands beside outline, which draws the plates",
                    accepted="one of both",
                    key=(side,),
                )
        files = [key for key in ("outline", "mesh") if getattr(self, key) is not None]
        if len(files) == 2:
            raise Refused(None, "stands beside outline", accepted="one of both", key=("mesh",))
        if files and len(self.teeth) > 1:
            raise Refused(
                list(self.teeth),
                f"are several, but {files[0]} is the file of one tooth",
                accepted="one tooth",
                key=("teeth",),
            )
        return self
