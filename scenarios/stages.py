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
    visits
        Indices of the visits at which the wire in place was worked on, in order of their days.
    elastics
        Indices of the elastics in place, in the order of the file.
    """

    start: float
    wire: int
    visits: tuple[int, ...]
    elastics: tuple[int, ...]


def stages(scenario: ScenarioTables) -> tuple[Stage, ...]:
    """Return what acts from when on; empty where forces are prescribed."""
    tied = [wire.tied_in or 0.0 for wire in scenario.wires]
    changes = {*tied, *(visit.at for visit in scenario.visit)}
    for elastic in scenario.elastic:
        changes |= {elastic.put_on, elastic.off}
    return tuple(
        _stage(scenario, tied, day) for day in sorted(changes) if tied and day < scenario.duration
    )


def visits_of(scenario: ScenarioTables, wire: int) -> tuple[int, ...]:
    """Return the visits at which a wire is worked on after it has been tied in, in their order."""
    tied = [other.tied_in or 0.0 for other in scenario.wires]
    until = tied[wire + 1] if wire + 1 < len(tied) else scenario.duration
    order = sorted(range(len(scenario.visit)), key=lambda k: scenario.visit[k].at)
    return tuple(k for k in order if tied[wire] < scenario.visit[k].at < until)


def _stage(scenario: ScenarioTables, tied: list[float], day: float) -> Stage:
    wire = max(index for index, start in enumerate(tied) if start <= day)
    return Stage(
        day,
        wire,
        tuple(k for k in visits_of(scenario, wire) if scenario.visit[k].at <= day),
        tuple(k for k, e in enumerate(scenario.elastic) if e.put_on <= day < e.off),
    )
