"""Torque at 15 degrees in a full arch, beside a rig's published moments.

The rig's arch, spacing and ligation are not known here: these are ours. Ten slots from second
premolar to second premolar stand at the library's crown widths on an arch form; each is as much
higher than nominal as the library says, is closed by a fresh tie of the usual force, and gives way
about the wire. One central incisor's slot is turned. The compliance of the slots is fitted to the
steel wires; the beta-titanium wires are not fitted.
"""

from functools import cache

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.bone.teeth import tooth
from gomphosis.scenarios.alloys import library_alloy, section_law
from gomphosis.scenarios.arch import ArchForm, places
from gomphosis.scenarios.checks.check import SHOWN, Check, Outcome
from gomphosis.scenarios.checks.slot_rig import ABOUT_ALONG, INCH, LID, at
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slots import Bracket, Slots
from gomphosis.scenarios.slotted_wire import ArchWire
from gomphosis.scenarios.tying import drawn_in
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireShape

TEETH = (15, 14, 13, 12, 11, 21, 22, 23, 24, 25)
TURNED = TEETH.index(21)
ARCH = ArchForm(25.0, 30.0, 0.3)
PER_SPAN = 4
MOUTH = 37.0  # degrees Celsius
WIRES = {"018": (17, 25), "022": (19, 25)}  # in a slot, 0.001 in
ALLOYS = ("steel", "beta-titanium")
OURS = "arch, spacing and ligation are ours: the rig's are not known"


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_fitted(slot, alloy) for alloy in ALLOYS for slot in WIRES),
        *(_one_give(slot) for slot in WIRES),
        _lids(),
    ]


@cache
def torque(slot: str, alloy: str, give: float, tie: Ligation) -> float:
    """Return the moment about the wire at a slot turned by 15 degrees, N·mm.

    Parameters
    ----------
    slot
        ``018`` or ``022``.
    alloy
        Of the library.
    give
        Of every slot about the wire, rad/(N·mm).
    tie
        What closes every slot.
    """
    height, width = (size * INCH for size in WIRES[slot])
    section = WireSection(height, width, round=False)
    size = SlotSize(
        lookup(f"slot.height_{slot}").number + lookup("slot.oversize").number,
        lookup("slot.depth_022").number,
        lookup("bracket.width").number,
        give,
    )
    count = len(TEETH)
    law = section_law(section, library_alloy(alloy), temperature=MOUTH)
    wire = ArchWire(law, section, WireShape(ARCH), count * (size,), count * (tie,))
    line = places([tooth(number) for number in TEETH])
    brackets = [Bracket(float(place), np.zeros(3), np.zeros(6)) for place in line]
    slots = Slots(brackets, wire.shape)
    poses = np.zeros((count, 6))
    tied = drawn_in(wire, slots, poses, per_span=PER_SPAN)
    poses[TURNED, ABOUT_ALONG] = np.deg2rad(lookup("torque.sifakakis_2014.turn").number)
    trial = at(tied, poses)
    along = trial.frames.triads[TURNED, :, 0]
    return -float(along @ trial.on_slots[TURNED, 3:])


def usual_tie() -> Ligation:
    """Return a fresh tie of the library's force."""
    return Ligation(seating=lookup("ligation.normal_force").number)


def _published(slot: str, alloy: str) -> str:
    height, width = WIRES[slot]
    name = f"{alloy.replace('-', '_')}_0{height}_0{width}_in_{slot}"
    return f"torque.sifakakis_2014.{name}"


def _words(slot: str, alloy: str) -> str:
    height, width = WIRES[slot]
    return (
        f"moment about a {alloy} 0.0{height} x 0.0{width} in wire of an incisor's 0.{slot} in slot "
        "turned by 15 deg in a full arch"
    )


def _fitted(slot: str, alloy: str) -> Check:
    cited, give = lookup(_published(slot, alloy)), lookup(f"torque.give.slot_{slot}")
    steel = alloy == "steel"
    fit = f"turn of a slot per torque fitted to the steel wire, {give.number:g} rad/(N·mm)"
    shared = "" if steel else "; the same rig and brackets as the steel wire's"
    return Check(
        name=f"slot-torque-full-arch-{slot}-{alloy}",
        quantity=_words(slot, alloy),
        unit="N·mm",
        kind="calibration" if steel else "validation",
        source=cited.source,
        status=cited.status,
        # three digits of what was fitted; else what arches, spacings and ligations may change
        tolerance=0.01 if steel else 0.4,
        compute=lambda: Outcome(torque(slot, alloy, give.number, usual_tie()), cited.number),
        note=f"{fit}{shared}; {OURS}",
    )


def _one_give(slot: str) -> Check:
    cited, give = lookup(_published(slot, "steel")), lookup("torque.give.both")
    return Check(
        name=f"slot-torque-full-arch-{slot}-one-give",
        quantity=f"{_words(slot, 'steel')}, one compliance for both slot sizes",
        unit="N·mm",
        kind="calibration",
        source=cited.source,
        status=cited.status,
        expected=SHOWN,
        compute=lambda: Outcome(torque(slot, "steel", give.number, usual_tie()), cited.number),
        slow=True,
        note=f"turn of a slot per torque {give.number:g} rad/(N·mm) fits neither wire; {OURS}",
    )


def _lids() -> Check:
    cited = lookup(_published("022", "steel"))
    return Check(
        name="slot-torque-full-arch-022-lids",
        quantity=f"{_words('022', 'steel')}, rigid slots with lids that do not press",
        unit="N·mm",
        kind="validation",
        source=cited.source,
        status=cited.status,
        expected=SHOWN,
        compute=lambda: Outcome(torque("022", "steel", 0.0, LID), cited.number),
        slow=True,
        note="below the published moment, so no compliance fits it without ties that seat the "
        f"wire: the neighbours' play adds to that of the turned slot; {OURS}",
    )
