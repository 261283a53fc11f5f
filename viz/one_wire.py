"""One wire by itself on the command line: its options, and the scenario that holds it."""

from pathlib import Path
from typing import Any

from gomphosis.scenarios import messages
from gomphosis.scenarios.bend_trial import Specimen
from gomphosis.scenarios.bending import STEEPEST
from gomphosis.scenarios.files import ScenarioError
from gomphosis.scenarios.movement_table import wire_name
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused, shown
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.units import LENGTH
from gomphosis.viz.theme import KINDS

NAME = "command line"
SIZE, ALLOY = "0.016 in", "nickel-titanium"

# An engineering choice: from one slot's width to a whole arch.
SPAN = Bounded(LENGTH, least="2 mm", most="60 mm", example="10 mm")


def refused(option: str, value: object, problem: str, accepted: str) -> ScenarioError:
    """Return the refusal of an option, as one line."""
    return ScenarioError(messages.line(NAME, f"--{option} {shown(value)} {problem}", accepted))


def option_value(option: str, text: object, bounded: Bounded) -> float:
    """Return a quantity of the command line.

    Raises
    ------
    ScenarioError
        If it is none, or out of bounds.
    """
    try:
        return bounded.parse(text)
    except Refused as found:
        raise refused(option, text, found.problem, found.accepted) from None


def friction(given: float | None) -> float:
    """Return a coefficient of friction, 0 where none is given.

    Raises
    ------
    ScenarioError
        Unless it is in 0 to 1.
    """
    value = 0.0 if given is None else given
    if not 0.0 <= value <= 1.0:
        raise refused("friction", given, "is no coefficient of friction", "0 to 1")
    return value


def check_steepness(deflection: float, span: float) -> None:
    """Refuse a deflection at which the wire would slip through between the supports, mm."""
    if deflection > STEEPEST * span:
        accepted = f"at most {STEEPEST:g} of the span, {STEEPEST * span:g} mm"
        text = f"{deflection:g} mm"
        raise refused("deflection", text, "lets the wire slip between the supports", accepted)


def check_figure(figure: Path | None) -> None:
    """Refuse a figure of a kind that cannot be drawn, before any work."""
    if figure is not None and figure.suffix.lower() not in KINDS:
        accepted = "a name that ends in .png, .svg or .pdf"
        raise refused("figure", str(figure), "is no kind of figure", accepted)


def wire_document(wire: dict[str, str | None]) -> dict[str, Any]:
    """Return a scenario document around one wire; its teeth and slots play no part."""
    return {
        "schema": 1,
        "title": "one wire by itself",
        "tooth": [{"number": 11}, {"number": 21}],
        "slot": {"height": "1.5 mm", "depth": "1.5 mm"},
        "wire": [{"size": wire.get("size") or SIZE, "alloy": wire.get("alloy") or ALLOY}],
    }


def specimen(scenario: Scenario, index: int, order: str) -> Specimen:
    """Return a wire of a scenario as something to test, bent in a plane of some order."""
    wire = scenario.wires[index]
    return Specimen(
        name=wire_name(scenario, index),
        section=wire.cross_section,
        alloy=wire.alloy_constants,
        temperature=scenario.temperature,
        order=order,
    )
