"""The scenario: everything that a scenario file says, in the units used inside.

A scenario is read from TOML by `gomphosis.scenarios.files`. Numbers in the models are in mm, N,
N*mm, MPa, rad, days and degrees Celsius; the file writes every one of them as a quantity with a
unit.
"""

from typing import Any

from pydantic import model_validator

from gomphosis.scenarios.appliance_tables import ArchForm, Section, Slot, Wire
from gomphosis.scenarios.elastic_tables import Elastic
from gomphosis.scenarios.force_tables import COMPONENTS, DIRECTIONS, Force
from gomphosis.scenarios.material_table import Material
from gomphosis.scenarios.scenario_checks import check_scenario
from gomphosis.scenarios.scenario_tables import ScenarioTables
from gomphosis.scenarios.tissue_tables import Bone, Ligament, Rate
from gomphosis.scenarios.tooth_tables import Prescription, ToothPlace

__all__ = [
    "COMPONENTS",
    "DIRECTIONS",
    "SCHEMA_VERSION",
    "ArchForm",
    "Bone",
    "Elastic",
    "Force",
    "Ligament",
    "Material",
    "Prescription",
    "Rate",
    "Scenario",
    "Section",
    "Slot",
    "ToothPlace",
    "Wire",
]

SCHEMA_VERSION = 1
"""Version of the scenario file that this program reads."""


class Scenario(ScenarioTables):
    """Teeth, tissue and what loads them: arch wires with elastics, or prescribed forces.

    The fields `tooth`, `wire`, `elastic` and `force` hold the tables in the order of the file;
    `teeth`, `wires` and `cases` are what a run works with.
    """

    def document(self) -> dict[str, Any]:
        """Return the scenario as a scenario file has it, with every default written out.

        The result holds texts, numbers, lists and tables only, and reads back as an equal
        scenario.
        """
        return self.model_dump(mode="json", by_alias=True, exclude_none=True)

    @model_validator(mode="after")
    def _check(self) -> "Scenario":
        check_scenario(self)
        return self
