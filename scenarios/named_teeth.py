"""Check of a tooth that a table names against the teeth of a scenario."""

from gomphosis.scenarios.refusal import Refused, listed
from gomphosis.scenarios.scenario_tables import ScenarioTables


def check_tooth(scenario: ScenarioTables, number: int, key: tuple[str | int, ...]) -> None:
    """Refuse a tooth that is not among those of a scenario.

    Parameters
    ----------
    number
        ISO 3950.
    key
        Of the value in the file.

    Raises
    ------
    Refused
        If it is not.
    """
    numbers = tuple(place.number for place in scenario.teeth)
    if number not in numbers:
        raise Refused(
            number,
            "is not among the teeth of this scenario",
            accepted=listed(tuple(map(str, numbers))),
            key=key,
        )
