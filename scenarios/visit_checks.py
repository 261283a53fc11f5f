"""Checks of visits, crimps and ties against the other tables of a scenario."""

from gomphosis.scenarios.arch import places
from gomphosis.scenarios.named_teeth import check_tooth
from gomphosis.scenarios.refusal import Refused, listed, shown
from gomphosis.scenarios.scenario_tables import ScenarioTables
from gomphosis.scenarios.stages import visits_of
from gomphosis.scenarios.visit_tables import Activation, Visit
from gomphosis.scenarios.wire_bends import wire_shape

Key = tuple[str | int, ...]


def check_visits(scenario: ScenarioTables) -> None:
    """Refuse visits, crimps and ties that do not fit the teeth, wires and days of a scenario.

    Raises
    ------
    Refused
        With the key of the first that does not fit.
    """
    if scenario.visit and scenario.force:
        raise Refused(
            None, "stands beside [[force]]", accepted="[[visit]] or [[force]]", key=("visit",)
        )
    for index, wire in enumerate(scenario.wire):
        for number, stop in enumerate(wire.stops):
            check_tooth(scenario, stop.tooth, ("wire", index, "stop", number, "tooth"))
        for number, tie in enumerate(wire.ligation.lost):
            key = ("wire", index, "ligation", "lost", number, "tooth")
            check_tooth(scenario, tie.tooth, key)
    for index, visit in enumerate(scenario.visit):
        _check_day(scenario, index, visit)
        for number, rebond in enumerate(visit.rebond):
            check_tooth(scenario, rebond.tooth, ("visit", index, "rebond", number, "tooth"))
        for number, crimp in enumerate(visit.activate):
            key = ("visit", index, "activate", number)
            check_tooth(scenario, crimp.tooth, (*key, "tooth"))
            _check_crimp(scenario, index, crimp, key)
    for index in range(len(scenario.wires)):
        _check_bends(scenario, index)


def _check_day(scenario: ScenarioTables, index: int, visit: Visit) -> None:
    if visit.at >= scenario.duration:
        raise Refused(
            f"{visit.at:g} days",
            "is not within the duration",
            accepted=f"earlier than {scenario.duration:g} days",
            key=("visit", index, "at"),
        )
    taken = {wire.tied_in or 0.0 for wire in scenario.wires}
    taken |= {other.at for other in scenario.visit[:index]}
    if visit.at in taken:
        raise Refused(
            f"{visit.at:g} days",
            "is the day of another visit or of a new wire",
            accepted="one [[visit]] on a day on which no wire is tied in",
            key=("visit", index, "at"),
        )


def _wire_at(scenario: ScenarioTables, visit: int) -> int:
    return next(k for k in range(len(scenario.wires)) if visit in visits_of(scenario, k))


def _check_crimp(scenario: ScenarioTables, index: int, crimp: Activation, key: Key) -> None:
    wire = scenario.wires[_wire_at(scenario, index)]
    crimps = {(stop.tooth, stop.side) for stop in wire.stops}
    if wire.cinched:
        crimps |= _cinched(scenario)
    if (crimp.tooth, crimp.side) not in crimps:
        raise Refused(
            crimp.side,
            "has no crimp or cinched end of the wire in place",
            accepted="a side with a [[wire.stop]], or the outer side of an end tooth of a cinched "
            "wire",
            key=(*key, "side"),
        )


def _cinched(scenario: ScenarioTables) -> set[tuple[int, str]]:
    """Return the end teeth of a cinched wire and the sides of them on which it is cinched."""
    ends = [scenario.teeth[k] for k in (0, -1)]
    first, last = places([tooth.anatomy for tooth in ends])
    # an end that stands on the same side as the other one and nearer to the midline
    inner = [first * (first - last) < 0, last * (last - first) < 0]
    return {
        (tooth.number, "mesial" if within else "distal")
        for tooth, within in zip(ends, inner, strict=True)
    }


def _check_bends(scenario: ScenarioTables, index: int) -> None:
    wire, visits = scenario.wires[index], visits_of(scenario, index)
    along = places([place.anatomy for place in scenario.teeth])
    place = dict(zip((tooth.number for tooth in scenario.teeth), map(float, along), strict=True))
    numbers = list(place)
    for k in visits:
        for number, bend in enumerate(scenario.visit[k].bends):
            key = ("visit", k, "bend", number)
            pair = sorted(numbers.index(tooth) if tooth in place else -9 for tooth in bend.between)
            if pair[1] - pair[0] != 1:
                raise Refused(
                    None,
                    "does not name two neighbouring teeth",
                    accepted=f"neighbours among {listed(tuple(map(str, numbers)))}",
                    key=(*key, "between"),
                )
            if wire.alloy_constants.behaviour != "plastic":
                raise Refused(
                    None,
                    f"is not kept by a wire of behaviour {shown(wire.alloy_constants.behaviour)}",
                    accepted="only with an alloy whose behaviour is plastic",
                    key=(*key, "by_hand"),
                )
    if not any(scenario.visit[k].bends for k in visits):
        return
    try:
        shape = wire_shape(wire, place, [scenario.visit[k] for k in visits])
        shape.mesh(along, per_span=1, width=scenario.slot.width)
    except ValueError as error:
        raise Refused(
            None,
            f"does not fit: {error}",
            accepted="bends apart from each other and from slots",
            key=("visit", next(k for k in visits if scenario.visit[k].bends), "bend"),
        ) from None
