"""Rows of slots out of line: force of a levelling wire, and slots that go in one step or many."""

from functools import cache

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.section import Array
from gomphosis.fem.section_response import SectionLaw
from gomphosis.scenarios.alloys import library_alloy, section_law
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.checks.slot_rig import (
    INCH,
    OCCLUSAL,
    OPEN,
    WIDE,
    at,
    circle,
    motions,
    rectangle,
    row,
    slot,
)
from gomphosis.scenarios.slotted_wire import SlottedWire
from gomphosis.scenarios.wire import WireSection

HEIGHT = 22 * INCH
APART = {"centre_to_centre_8_mm": 8.0, "edge_to_edge_8_mm": 8.0 + WIDE}  # mm between centres
MOUTH = 37.0  # degrees Celsius
PER_SPAN = 8
PLACES = (-19.0, -9.0, 0.0, 8.0, 17.0)  # mm
SPREAD = np.array([0.2, 0.1, 0.4, 0.1, 0.1, 0.1])  # mm and rad
RAMP = 10  # steps


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [*(_levelled(name) for name in APART), *(_one_step(name) for name in LAWS)]


def superelastic(section: WireSection) -> SectionLaw:
    """Return the law of the library's nickel-titanium, set B, in the mouth."""
    return section_law(section, library_alloy("nickel-titanium"), temperature=MOUTH)


LAWS = {
    "elastic": (rectangle(19, 25, 0.05), None),
    "superelastic": (circle(16), superelastic(circle(16))),
}
FARTHER = {"elastic": 1.0, "superelastic": 4.0}  # far enough to transform the wire
CLOSE = {"elastic": 1e-6, "superelastic": 0.01}  # what the iteration leaves; what the path changes


def levelling_force(apart: float) -> float:
    """Return the force on the middle one of three slots that stands out of line, N."""
    section = circle(14)
    wire = row(
        section,
        3 * [slot(HEIGHT)],
        (-apart, 0.0, apart),
        law=superelastic(section),
        ties=3 * (OPEN,),
        per_span=PER_SPAN,
    )
    step = lookup("levelling.prototype.step").number
    return abs(float(at(wire, motions(3, s1=(OCCLUSAL, step))).on_slots[1, OCCLUSAL]))


def _levelled(name: str) -> Check:
    cited = lookup(f"levelling.prototype.{name}")
    return Check(
        name=f"slot-levelling-{name.replace('_', '-')}",
        quantity="force on the middle one of three slots, 1.6 mm out of line, of a superelastic "
        f"0.014 in wire (set B); slots {name.replace('_', ' ')} apart",
        unit="N",
        kind="verification",
        source=cited.source,
        status=cited.status,
        tolerance=0.01,
        compute=lambda: Outcome(levelling_force(APART[name]), cited.number),
    )


@cache
def _row(name: str) -> tuple[SlottedWire, Array]:
    """Return a wire in line and poses out of line at random, always alike."""
    section, law = LAWS[name]
    wire = row(section, 5 * [slot(HEIGHT)], PLACES, law=law, per_span=4)
    return wire, FARTHER[name] * SPREAD * np.random.default_rng(8).uniform(-1, 1, size=(5, 6))


def loads(name: str, steps: int) -> Array:
    """Return the loads on five slots that left the line in so many steps, shape (5, 6)."""
    wire, poses = _row(name)
    for share in np.arange(1, steps) / steps:
        wire = wire.kept(at(wire, share * poses))
    return at(wire, poses).on_slots


def step_error(name: str) -> float:
    """Return what one step changes in a ramp's forces or moments, over the largest of a kind."""
    one, ramped = (loads(name, steps).reshape(-1, 2, 3) for steps in (1, RAMP))
    return float((np.abs(one - ramped).max(axis=(0, 2)) / np.abs(ramped).max(axis=(0, 2))).max())


def _one_step(name: str) -> Check:
    return Check(
        name=f"slot-one-step-{name}",
        quantity=f"change of a force or moment over the largest, five slots that leave the line in "
        f"one step and not {RAMP}, {name} wire",
        unit="1",
        kind="verification",
        source="the same state by another way",
        status="closed form",
        tolerance=CLOSE[name],
        measure="absolute",
        compute=lambda: Outcome(step_error(name), 0.0),
        slow=name != "elastic",
    )
