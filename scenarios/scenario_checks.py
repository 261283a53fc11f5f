"""Checks of a scenario that concern more than one of its tables."""

from collections.abc import Mapping

import numpy as np

from gomphosis.scenarios.appliance import CLOSE
from gomphosis.scenarios.appliance_tables import Wire
from gomphosis.scenarios.arch import places
from gomphosis.scenarios.bend_tables import WireBend
from gomphosis.scenarios.elastic_checks import check_elastics
from gomphosis.scenarios.named_teeth import check_tooth
from gomphosis.scenarios.refusal import Refused, listed, shown
from gomphosis.scenarios.scenario_tables import ScenarioTables
from gomphosis.scenarios.visit_checks import check_visits
from gomphosis.scenarios.wire_bends import bent, wire_shape

LEAST_EMBEDDED = 4.0
"""Least length of root within bone, mm (engineering choice)."""

MOST_STEPS = 20_000
"""Most time steps of a run (engineering choice)."""


def check_scenario(scenario: ScenarioTables) -> None:
    """Refuse a scenario whose tables do not go together.

    Raises
    ------
    Refused
        With the key of the first table that does not fit.
    """
    if not scenario.tooth:
        raise Refused(None, "is empty", accepted="one or more tables [[tooth]]", key=("tooth",))
    _check_steps(scenario)
    _check_numbers(scenario)
    _check_roots(scenario)
    _check_slices(scenario)
    check_elastics(scenario)
    if scenario.force:
        _check_forces(scenario)
    else:
        _check_wires(scenario)
    check_visits(scenario)
    _check_lesson(scenario)


def _check_lesson(scenario: ScenarioTables) -> None:
    if scenario.lesson is None:
        return
    if scenario.lesson.free_body is not None:
        check_tooth(scenario, scenario.lesson.free_body, ("lesson", "free_body"))
    names = tuple(scenario.cases)
    for index, caption in enumerate(scenario.lesson.captions):
        if caption.case is not None and caption.case not in names:
            raise Refused(
                caption.case,
                "is not a case of this scenario",
                accepted=listed(tuple(map(shown, names))) or "none, where no forces are prescribed",
                key=("lesson", "caption", index, "case"),
            )
        if caption.at > scenario.duration:
            raise Refused(
                f"{caption.at:g} days",
                "is not within the duration",
                accepted=f"at most {scenario.duration:g} days",
                key=("lesson", "caption", index, "at"),
            )


def _check_steps(scenario: ScenarioTables) -> None:
    if scenario.step > scenario.duration:
        raise Refused(
            f"{scenario.step:g} days",
            "is longer than the duration",
            accepted=f"at most the duration of {scenario.duration:g} days",
            key=("step",),
        )
    if scenario.duration / scenario.step > MOST_STEPS:
        raise Refused(
            f"{scenario.step:g} days",
            f"makes more than {MOST_STEPS} time steps",
            accepted=f"at least {scenario.duration / MOST_STEPS:g} days for this duration",
            key=("step",),
        )


def _check_numbers(scenario: ScenarioTables) -> None:
    first = scenario.tooth[0]
    seen: set[int] = set()
    for index, place in enumerate(scenario.tooth):
        key = ("tooth", index, "number")
        if place.number in seen:
            raise Refused(place.number, "occurs twice", accepted="each tooth number once", key=key)
        seen.add(place.number)
        if place.anatomy.upper != first.anatomy.upper:
            raise Refused(
                place.number,
                f"is not in the jaw of tooth {first.number}",
                accepted=f"{'upper' if first.anatomy.upper else 'lower'} teeth only",
                key=key,
            )


def _check_roots(scenario: ScenarioTables) -> None:
    for index, place in enumerate(scenario.tooth):
        left = scenario.embedded_root(place)
        if left >= LEAST_EMBEDDED:
            continue
        own, lost = _what_shortens(scenario, index)
        least = f"at least {LEAST_EMBEDDED:g} mm of root within bone"
        most = lost - (LEAST_EMBEDDED - left)
        loss_fits = own[-1] != "root_length" and most >= 0.0
        raise Refused(
            None,
            f"leaves {left:g} mm of the root of tooth {place.number} within bone",
            accepted=f"at most {most:g} mm, which leaves {LEAST_EMBEDDED:g} mm"
            if loss_fits
            else least,
            key=own,
        )


def _what_shortens(scenario: ScenarioTables, index: int) -> tuple[tuple[str | int, ...], float]:
    """Return the key that takes most of a root out of the bone, and how much it takes, mm."""
    place = scenario.tooth[index]
    loss = scenario.crest_loss(place)
    if place.root_lost > loss:
        return ("tooth", index, "root_lost"), place.root_lost
    if place.crest_loss is not None:
        return ("tooth", index, "crest_loss"), loss
    return (("bone", "crest_loss") if loss else ("tooth", index, "root_length")), loss


def _check_slices(scenario: ScenarioTables) -> None:
    if scenario.slice is None:
        return
    rate = scenario.rate
    if rate.stimulus != "traction" or rate.overload_pressure is not None:
        other = "stimulus" if rate.stimulus != "traction" else "overload_pressure"
        raise Refused(
            None,
            "does not go with [slice], whose wall moves by the traction on it and never stops",
            accepted="the default, or no [slice]",
            key=("rate", other),
        )
    for index, number in enumerate(scenario.slice.teeth):
        check_tooth(scenario, number, ("slice", "teeth", index))


def _check_forces(scenario: ScenarioTables) -> None:
    if scenario.wire:
        raise Refused(
            None, "stands beside [[wire]]", accepted="[[force]] or [[wire]]", key=("force",)
        )
    for index, force in enumerate(scenario.force):
        check_tooth(scenario, force.tooth, ("force", index, "tooth"))


def _check_wires(scenario: ScenarioTables) -> None:
    if len(scenario.tooth) < 2:
        raise Refused(
            None,
            "has one tooth only, which no wire can join",
            accepted="two or more [[tooth]], or a [[force]] on the tooth",
            key=("tooth",),
        )
    along = places([place.anatomy for place in scenario.teeth])
    room = float(np.abs(np.diff(along)).min())
    if room - scenario.slot.width <= CLOSE:
        raise Refused(
            None,
            "leaves no wire between neighbouring slots",
            accepted=f"less than {room - CLOSE:.4g} mm",
            key=("slot", "width"),
        )
    for index, wire in enumerate(scenario.wire):
        slot, section = scenario.slot, wire.section
        if section.height > slot.height or section.into_slot > slot.depth:
            raise Refused(
                None,
                "does not fit the slot",
                accepted=f"at most {slot.height:.6g} mm high and {slot.depth:.6g} mm deep",
                key=("wire", index, "size"),
            )
        _check_bends(scenario, index, wire)
    _check_visits(scenario)


def _check_bends(scenario: ScenarioTables, index: int, wire: Wire) -> None:
    along = places([place.anatomy for place in scenario.teeth])
    place = dict(zip((tooth.number for tooth in scenario.teeth), map(float, along), strict=True))
    numbers = list(place)
    for number, bend in enumerate(wire.bends):
        key = ("wire", index, "bend", number)
        pair = sorted(numbers.index(tooth) if tooth in place else -9 for tooth in bend.between)
        if pair[1] - pair[0] != 1:
            raise Refused(
                None,
                "does not name two neighbouring teeth",
                accepted=f"neighbours among {listed(tuple(map(str, numbers)))}",
                key=(*key, "between"),
            )
        if bend.by_hand and wire.alloy_constants.behaviour != "plastic":
            raise Refused(
                None,
                f"is not kept by a wire of behaviour {shown(wire.alloy_constants.behaviour)}",
                accepted="only with an alloy whose behaviour is plastic",
                key=(*key, "by_hand"),
            )
        _check_room(bend, place, key)
    try:
        wire_shape(wire, place).mesh(along, per_span=1, width=scenario.slot.width)
    except ValueError as error:
        raise Refused(
            None,
            f"do not fit: {error}",
            accepted="bends apart from each other and from slots",
            key=("wire", index, "bend"),
        ) from None


def _check_room(bend: WireBend, place: Mapping[int, float], key: tuple[str | int, ...]) -> None:
    """Refuse what does not lie between its two slots."""
    left, right = sorted(place[tooth] for tooth in bend.between)
    gap = right - left
    if bend.distance is not None and bend.distance >= gap:
        raise Refused(
            None,
            "is not between the two slots",
            accepted=f"less than their distance of {gap:.4g} mm",
            key=(*key, "distance"),
        )
    ends = [end for feature in bent(bend, place) for end in feature.ends]
    if min(ends) < left or max(ends) > right:
        raise Refused(
            None,
            "reaches beyond the two slots",
            accepted=f"a {bend.kind} within their distance of {gap:.4g} mm",
            key=(*key, "points" if bend.kind == "loop" else "length"),
        )


def _check_visits(scenario: ScenarioTables) -> None:
    before = None
    for index, wire in enumerate(scenario.wires):
        time = wire.tied_in or 0.0
        key = ("wire", index, "tied_in")
        if before is None and time != 0.0:
            raise Refused(
                None, "is not the start", accepted='"0 weeks" for the first wire', key=key
            )
        if before is not None and time <= before:
            raise Refused(
                f"{time:g} days",
                "is not after the wire before",
                accepted=f"later than {before:g} days",
                key=key,
            )
        if time >= scenario.duration:
            raise Refused(
                f"{time:g} days",
                "is not within the duration",
                accepted=f"earlier than {scenario.duration:g} days",
                key=key,
            )
        before = time
