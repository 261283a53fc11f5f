"""Checks of elastics against the other tables of a scenario."""

from gomphosis.scenarios.named_teeth import check_tooth
from gomphosis.scenarios.refusal import Refused
from gomphosis.scenarios.scenario_tables import ScenarioTables


def check_elastics(scenario: ScenarioTables) -> None:
    """Refuse elastics that do not fit the teeth, the forces or the duration of a scenario.

    Raises
    ------
    Refused
        With the key of the first that does not fit.
    """
    if scenario.elastic and scenario.force:
        raise Refused(
            None, "stands beside [[force]]", accepted="[[elastic]] or [[force]]", key=("elastic",)
        )
    for index, elastic in enumerate(scenario.elastic):
        for place, number in enumerate(elastic.teeth):
            check_tooth(scenario, number, ("elastic", index, "teeth", place))
        if elastic.put_on >= scenario.duration:
            raise Refused(
                f"{elastic.put_on:g} days",
                "is not within the duration",
                accepted=f"earlier than {scenario.duration:g} days",
                key=("elastic", index, "put_on"),
            )
