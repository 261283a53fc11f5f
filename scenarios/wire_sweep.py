"""Force systems before anything has moved, over the values of one input of a scenario.

Every value is a first equilibrium of its own: the wire is tied in new, from the drawer, on teeth
that stand as the scenario puts them. Nothing is carried from one value to the next.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array
from gomphosis.scenarios import messages
from gomphosis.scenarios.caution import model_limits
from gomphosis.scenarios.files import ScenarioError, scenario_from
from gomphosis.scenarios.movement_table import wire_name
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.sweep_keys import NAME, SweepKey, find_key, swept_document, with_value
from gomphosis.scenarios.sweep_values import refused, swept_values, value_text
from gomphosis.scenarios.wire_preview import wire_preview

LEVER = 10.0  # mm: what makes changes of moments comparable to those of forces (engineering choice)
UNCHANGED = 1e-6  # N and N·mm
SIX = 6

HISTORY = (
    "Every value stands by itself: the wire is tied in new, on teeth that have not moved; nothing "
    "is carried from one value to the next, so the way back of a superelastic or plastic wire is "
    "not shown."
)
DRAWN_IN = (
    "A superelastic or plastic wire is drawn into its slots in steps of finite length, on which "
    "its forces hang: by up to 4 % where a round nickel-titanium wire goes 1.8 to 2.5 mm to one "
    "side. Small jumps from value to value are numerical."
)
"""The amount was found at four offsets of 0.014 in, with steps a fifth as long."""

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class SweptWire:
    """One wire at every value.

    Parameters
    ----------
    name
        Size and alloy, and the week in which the scenario ties it in.
    systems
        What the wire exerts on every tooth at its bracket, in trade words, N and N·mm, shape
        (values, teeth, 6).
    elements
        Fewest between neighbouring slots.
    change
        Largest change of a force or moment by half as many elements, of the largest one.
    play
        Engagement angle in one direction: about the wire itself (infinite where it turns
        freely) and in tip, degrees, shape (values, 2).

    Raises
    ------
    ValueError
        If the force systems have another shape or are not finite, or the play has another shape.
    """

    name: str
    systems: Array
    elements: int
    change: float
    play: Array

    def __post_init__(self) -> None:
        if self.systems.ndim != 3 or self.systems.shape[2] != SIX:
            raise ValueError(
                f"force systems need the shape (values, teeth, 6), got {self.systems.shape}"
            )
        if not np.isfinite(self.systems).all():
            raise ValueError("force systems must be finite, got some that are not")
        if self.play.shape != (len(self.systems), 2):
            raise ValueError(f"play needs the shape (values, 2), got {self.play.shape}")


@dataclass(frozen=True)
class Sweep:
    """Force systems of every wire over the values of one input.

    Parameters
    ----------
    key
        Path of the input in the scenario file, teeth by ISO 3950 number.
    unit
        Of the values; empty for numbers without one.
    values
        Shape (values,).
    scenario
        With the input as the file has it.
    wires
        In the order of their visits.
    limits
        What the model leaves out, one sentence each.

    Raises
    ------
    ValueError
        If the wires do not have as many values and teeth.
    """

    key: str
    unit: str
    values: Array
    scenario: Scenario
    wires: tuple[SweptWire, ...]
    limits: tuple[str, ...]

    def __post_init__(self) -> None:
        wanted = (len(self.values), len(self.teeth), SIX)
        for wire in self.wires:
            if wire.systems.shape != wanted:
                raise ValueError(f"{wire.name} needs shape {wanted}, got {wire.systems.shape}")

    @property
    def teeth(self) -> tuple[int, ...]:
        """ISO 3950 numbers in order along the arch, from the patient's right."""
        return tuple(place.number for place in self.scenario.teeth)

    @property
    def concerned(self) -> tuple[SweptWire, ...]:
        """The wire that the key names, or all of them."""
        named = re.match(r"wire\[(\d+)\]", self.key)
        return self.wires if named is None else (self.wires[int(named.group(1)) - 1],)

    @property
    def changes(self) -> Array:
        """How far each part of the force system on each tooth ranges, shape (teeth, 6)."""
        return np.max([np.ptp(wire.systems, axis=0) for wire in self.concerned], axis=0)

    @property
    def changed(self) -> bool:
        """Whether any force or moment depends on the input."""
        return bool(self.changes.max() > UNCHANGED)

    @property
    def tooth(self) -> int:
        """The tooth that the key names, or the one whose force system changes most.

        Moments count as much as forces at 10 mm.
        """
        named = re.match(r"tooth\[(\d+)\]", self.key)
        if named is not None:
            return int(named.group(1))
        ranges = self.changes / np.repeat([1.0, LEVER], 3)
        return self.teeth[int(np.argmax(np.linalg.norm(ranges, axis=1)))]


def wire_sweep(
    document: dict[str, Any],
    key: str,
    *,
    ends: tuple[str, str],
    points: int,
    progress: Progress | None = None,
) -> Sweep:
    """Return the force systems before anything has moved, over the values of one input.

    All values are checked before the first is computed.

    Parameters
    ----------
    document
        Contents of a scenario file.
    key
        Path of the input, such as ``tooth[11].inclination`` (teeth by ISO 3950 number).
    ends
        First and last value: quantities if the key holds one, otherwise numbers. Where their
        units differ, the values are in the unit used inside.
    points
        Number of values, evenly spaced, 2 to 200.
    progress
        Told the share done and the value at hand.

    Raises
    ------
    ScenarioError
        If the document, the key, an end or a number is refused; if the scenario refuses a value,
        with its own message; if the teeth or the wire of a value cannot be brought together.
    """
    base = scenario_from(document, NAME)
    if base.force:
        problem = "force is prescribed in this scenario, so it answers to nothing"
        raise refused(problem, "a scenario with [[wire]]")
    whole = swept_document(base)
    found = find_key(whole, key)
    unit, values = swept_values(found, ends, points)
    scenarios = [_scenario(whole, found, value_text(value, unit)) for value in values]
    tell = progress or (lambda share, what: None)
    previews = []
    for index, (value, scenario) in enumerate(zip(values, scenarios, strict=True)):
        at = f"{key} at {value_text(value, unit)}"
        tell(index / points, at)
        previews.append(_preview(scenario, at))
    tell(1.0, "done")
    limits = (HISTORY, *_numerical(scenarios), *_limits(key, scenarios))
    return Sweep(key, unit, np.array(values), base, _wires(base, previews), limits)


def _scenario(document: dict[str, Any], key: SweepKey, text: str) -> Scenario:
    value = text if key.kind is not None else float(text)
    return scenario_from(with_value(document, key, value), f"{NAME}, {key.name} at {text}")


def _preview(scenario: Scenario, at: str) -> list[dict[str, Any]]:
    """Return what the preview says of every wire."""
    try:
        return list(wire_preview(scenario)["loads"].values())
    except (NotConvergedError, ValueError) as error:
        problem = f"cannot be computed: {error}"
        line = messages.line(f"{NAME}, {at}", problem, "a range without this value")
        raise ScenarioError(line) from error


def _wires(base: Scenario, previews: Sequence[list[dict[str, Any]]]) -> tuple[SweptWire, ...]:
    wires = []
    for index, contents in enumerate(zip(*previews, strict=True)):
        week = (base.wires[index].tied_in or 0.0) / 7
        systems = [
            [list(tooth["force_system_at_bracket"].values()) for tooth in content["teeth"].values()]
            for content in contents
        ]
        meshes = [content["mesh"] for content in contents]
        wires.append(
            SweptWire(
                f"{wire_name(base, index)}, week {week:g}",
                np.array(systems),
                min(mesh["elements_between_neighbouring_slots"] for mesh in meshes),
                max(mesh["change_by_half_as_many"] for mesh in meshes),
                np.array([_play(content["play"]) for content in contents]),
            )
        )
    return tuple(wires)


def _play(found: dict[str, Any]) -> tuple[float, float]:
    torsion = found["torsion_deg"]
    return (np.inf if torsion is None else torsion, found["tip_deg"])


def _numerical(scenarios: Sequence[Scenario]) -> tuple[str, ...]:
    wires = [wire for scenario in scenarios for wire in scenario.wires]
    elastic = all(wire.alloy_constants.behaviour == "elastic" for wire in wires)
    return () if elastic else (DRAWN_IN,)


def _limits(key: str, scenarios: Sequence[Scenario]) -> tuple[str, ...]:
    """Return what holds for any value; of the temperature that it is the value's."""
    found = [model_limits(scenario) for scenario in scenarios]
    sentences = dict.fromkeys(sentence for limits in found for sentence in limits)
    if key != "temperature":
        return tuple(sentences)
    common = [s for s in sentences if all(s in limits for limits in found)]
    if len(common) == len(sentences):
        return tuple(common)
    return (*common, "At every value all wires have that temperature, everywhere and always.")
