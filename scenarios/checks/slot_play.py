"""Play that the contact of a wire in slots shows: about the wire, tip, and both together.

Two alike slots 10 mm apart are turned against each other, each by the same angle from the wire
between them, or one beside another that clamps the wire; their moment is extrapolated to zero. The
angles compared with are roots of what a straight prism takes up between two walls, not the
product's formula of the play.
"""

from collections.abc import Iterable

import numpy as np
from scipy.optimize import root_scalar

from gomphosis.fem.section import Array
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.checks.slot_rig import (
    ABOUT_ALONG,
    ABOUT_LABIAL,
    INCH,
    WIDE,
    at,
    circle,
    off_the_floor,
    onset,
    rectangle,
    row,
    slot,
    turn,
)
from gomphosis.scenarios.slotted_wire import SlottedWire
from gomphosis.scenarios.wire import WireSection

APART = 10.0  # mm between the slots' centres
DEEP, LIFTED = 1.3, 0.3  # mm; a turned wire off the floor and the lid shows the walls alone
SNUG = 1e-5  # mm of play of a slot that clamps
IN_18 = ((16, 16), (16, 22), (17, 17), (17, 22), (17, 25))  # 0.001 in
IN_22 = (
    *((16, 22), (17, 25), (18, 18), (18, 25), (19, 19), (19, 22), (19, 25), (19, 26)),
    *((20, 20), (20, 25), (21, 25), (21, 28)),
)
COLUMNS = {
    "sharp": (0.0, 0.0),
    "30-um": (0.03, 0.0),
    "50-um": (0.05, 0.0),
    "70-um": (0.07, 0.0),
    "50-um-slot-10-um-over": (0.05, 0.01),
    "50-um-slot-20-um-over": (0.05, 0.02),
}  # edge radius and what the slots are over their size, mm
TILTED = {18: (14, 16, 17), 22: (14, 16, 18, 19, 20, 21)}  # wires in a slot, 0.001 in
WIDTHS = (1.5, 2.0, 2.5, 3.0, 3.5, 4.0)  # mm
TIPS = (0.0, 0.5, 1.0, 1.452)  # degrees
CLOSED = 0.01  # degrees
PRISM = "root of (w - 2r) sin t + (h - 2r) cos t + 2r = H cos p - W sin p (derived here)"


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_turned(name) for name in COLUMNS),
        *(_tilted(height) for height in TILTED),
        *(_both(tip) for tip in TIPS),
    ]


def _turned(name: str) -> Check:
    radius, over = COLUMNS[name]
    sizes = [(size, 18) for size in IN_18] + [(size, 22) for size in IN_22]
    return Check(
        name=f"slot-play-torsion-{name}",
        quantity=f"play about the wire itself that contact shows, edges of {radius:g} mm, slots "
        f"{1000 * over:g} um over 0.018 and 0.022 in: the worst of {len(sizes)} wires",
        unit="deg",
        kind="verification",
        source=PRISM.replace("H cos p - W sin p", "H"),
        status="closed form",
        # asked for; what is found is a thousand times closer
        tolerance=CLOSED,
        measure="absolute",
        compute=lambda: _worst(
            (torsional_onset(section, height), prism_angle(section, height, 0.0))
            for section, height in (
                (rectangle(*size, radius), inches * INCH + over) for size, inches in sizes
            )
        ),
        slow=True,
    )


def _tilted(inches: int) -> Check:
    pairs = [(wire, width) for wire in TILTED[inches] for width in WIDTHS]
    height = inches * INCH
    return Check(
        name=f"slot-play-tip-{inches}",
        quantity=f"tip at which a wire binds in a 0.0{inches} in slot, as contact shows: the worst "
        f"of {len(pairs)} wires and slot widths",
        unit="deg",
        kind="verification",
        source="root of d + W sin t = H cos t (derived here)",
        status="closed form",
        tolerance=CLOSED,
        measure="absolute",
        compute=lambda: _worst(
            (tip_onset(circle(wire), height, width), critical_angle(wire * INCH, height, width))
            for wire, width in pairs
        ),
        slow=True,
    )


def _both(tip: float) -> Check:
    section, height = rectangle(19, 25), 22 * INCH
    return Check(
        name=f"slot-play-torsion-tipped-{tip:g}-deg",
        quantity=f"play about a sharp 0.019 x 0.025 in wire in a 0.022 in slot 3 mm wide that is "
        f"tipped by {tip:g} deg",
        unit="deg",
        kind="verification",
        source=PRISM,
        status="closed form",
        # as for the play, and twice for two angles
        tolerance=2 * CLOSED,
        measure="absolute",
        compute=lambda: Outcome(
            prism_onset(section, height, tip), prism_angle(section, height, tip)
        ),
        slow=tip > 0.5,
    )


def _worst(pairs: Iterable[tuple[float, float]]) -> Outcome:
    found = [Outcome(*pair) for pair in pairs]
    return max(found, key=lambda pair: abs(pair.ours - pair.theirs))


def torsional_onset(section: WireSection, height: float) -> float:
    """Return the turn about a wire at which slots of a height, mm, begin to load it, degrees."""
    wire = row(section, 2 * [slot(height, depth=DEEP)], (0.0, APART))

    def load(degrees: float) -> float:
        return _answer(wire, [turn(0.0, degrees), turn(0.0, -degrees)], ABOUT_ALONG)

    return onset(load, far=32.0, near=0.1)


def tip_onset(section: WireSection, height: float, width: float) -> float:
    """Return the tip at which slots of a height and width, mm, begin to load a wire, degrees."""
    wire = row(section, 2 * [slot(height, depth=DEEP, width=width)], (0.0, APART))

    def load(degrees: float) -> float:
        return _answer(wire, [turn(degrees, 0.0), turn(-degrees, 0.0)], ABOUT_LABIAL)

    return onset(load, far=12.0, near=0.05)


def prism_onset(section: WireSection, height: float, tip: float) -> float:
    """Return the turn about a wire, clamped beside it, at which a tipped slot loads it, degrees."""
    tight = slot(section.height + SNUG, depth=section.width + SNUG)
    wire = row(section, [slot(height, depth=DEEP), tight], (0.0, APART))

    def load(degrees: float) -> float:
        return _answer(wire, [turn(tip, degrees), np.zeros(3)], ABOUT_ALONG)

    return onset(load, far=9.0, near=0.1)


def _answer(wire: SlottedWire, turns: list[Array], component: int) -> float:
    """Return the moment of the first slot against its turn, N·mm, its floor off the wire."""
    poses = off_the_floor(np.array(turns), LIFTED)
    snug = [size.depth < DEEP for size in wire.wire.sizes]
    poses[snug] = 0.0
    return -float(at(wire, poses).on_slots[0, component])


def prism_angle(section: WireSection, height: float, tip: float, width: float = WIDE) -> float:
    """Return the turn about a straight wire at which it spans a slot tipped by degrees, degrees."""
    flat, wide = (size - 2 * section.rounding for size in (section.height, section.width))
    room = height * np.cos(np.deg2rad(tip)) - width * np.sin(np.deg2rad(tip)) - 2 * section.rounding

    def over(angle: float) -> float:
        return wide * np.sin(angle) + flat * np.cos(angle) - room

    if over(0.0) >= 0.0:
        return 0.0
    found = root_scalar(over, bracket=(0.0, float(np.arctan2(wide, flat))), xtol=1e-12)
    return float(np.rad2deg(found.root))


def critical_angle(thickness: float, height: float, width: float) -> float:
    """Return the tip at which a straight wire touches both ends of a slot, degrees."""

    def over(angle: float) -> float:
        return thickness + width * np.sin(angle) - height * np.cos(angle)

    return float(np.rad2deg(root_scalar(over, bracket=(0.0, 1.0), xtol=1e-12).root))
