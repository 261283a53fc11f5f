"""Stages of a scenario: from each change of wire or elastics to the next."""

from dataclasses import dataclass

from gomphosis.scenarios.scenario_tables import ScenarioTables


@dataclass(frozen=True)
class Stage:
    """What acts from a day on.

    Attributes
    ----------
    start
        Day.
    wire
        Index of the wire in place.
    elastics
        Indices of the elastics in place, in the order of the file.
    """

    start: float
    wire: int
    elastics: tuple[int, ...]


def stages(scenario: ScenarioTables) -> tuple[Stage, ...]:
    """Return what acts from when on; empty where forces are prescribed."""
    tied = [wire.tied_in or 0.0 for wire in scenario.wires]
    changes = set(tied)
    for elastic in scenario.elastic:
        changes |= {elastic.put_on, elastic.off}
    return tuple(
        Stage(
            day,
            max(index for index, start in enumerate(tied) if start <= day),
            tuple(k for k, e in enumerate(scenario.elastic) if e.put_on <= day < e.off),
        )
        for day in sorted(changes)
        if tied and day < scenario.duration
    )
