"""The wire: torsion, freedom in its slots, balance and derivative."""

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.section import Array
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.arch import ArchForm, PassiveLine, StraightLine
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.checks.two_brackets import (
    ABOUT_ALONG,
    ABOUT_LABIAL,
    ALONG,
    INCH,
    OCCLUSAL,
    displaced,
)
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slots import Bracket
from gomphosis.scenarios.slotted_wire import ArchWire
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireShape

SIZES = ((16, 16), (16, 22), (17, 25), (18, 25), (19, 25), (21, 25), (21.5, 28))  # 0.001 in
CIRCLE = WireSection(0.4, 0.4, round=True)
OBLONG = WireSection(0.4, 0.6, round=False)
YOUNG, POISSON = 5e4, 0.3
ARCH = ArchForm(25.0, 30.0, 0.3)
SLOT = SlotSize(
    lookup("slot.height_022").number,
    lookup("slot.depth_022").number,
    lookup("bracket.width").number,
)
PRESSED = Ligation(seating=1.5)
FRICTION = 0.2
MOVED = 0.05 * np.random.default_rng(7).normal(size=(7, 6))
STEP = 0.005 * np.random.default_rng(6).normal(size=(7, 6))  # some edges stick and some slip


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_torsion(*size) for size in SIZES),
        *_free_motions(),
        *(_balance(words) for words in ("straight", "arch")),
        _derivative(),
    ]


def _torsion(height: float, width: float) -> Check:
    h, w = height * INCH / 1000, width * INCH / 1000
    return Check(
        name=f"torsion-constant-{height:g}-{width:g}",
        quantity=f"torsion constant of {height / 1000:g} x {width / 1000:g} in",
        unit="mm4",
        kind="verification",
        source="St-Venant's torsion expanded along the other side of the rectangle (derived here)",
        status="closed form",
        # both series are exact in the limit
        tolerance=0.005,
        compute=lambda: Outcome(
            WireSection(h, w, round=False, edge_radius=0.0).torsion_constant, torsion_across(h, w)
        ),
    )


def torsion_across(height: float, width: float) -> float:
    """Return J of a rectangle, mm^4, by a series along its long side (slow, but independent)."""
    long, short = max(height, width), min(height, width)
    odd = np.arange(1, 2001, 2)
    series = np.sum(np.tanh(odd * np.pi * short / (2 * long)) / odd**5)
    return float(short * long**3 / 3 * (1 - 192 / np.pi**5 * long / short * series))


def elastic_wire(
    section: WireSection, line: PassiveLine, count: int, *, tie: Ligation, friction: float = 0.0
) -> ArchWire:
    """Return an elastic wire for some slots of the library's size, all closed alike."""
    return ArchWire(
        section.elastic_section(YOUNG, POISSON),
        section,
        WireShape(line),
        sizes=count * (SLOT,),
        ties=count * (tie,),
        friction=friction,
    )


def many_brackets(line: PassiveLine, section: WireSection, *, friction: float = 0.0) -> WireLoads:
    """Return a wire in seven slots out of line at random, always alike; they stand at `MOVED`."""
    rng = np.random.default_rng(5)
    places = (-25.0, -15.0, -7.0, 1.0, 9.0, 18.0, 30.0)
    brackets = [
        Bracket(place, np.array([4.0, 0.3, 5.0]) + rng.normal(size=3), 0.05 * rng.normal(size=6))
        for place in places
    ]
    wire = elastic_wire(section, line, len(places), tie=PRESSED, friction=friction)
    loads = WireLoads(brackets, wire)
    loads.engage(MOVED)
    return loads


def _balance(words: str) -> Check:
    line = StraightLine() if words == "straight" else ARCH

    def compute() -> Outcome:
        loads = many_brackets(line, OBLONG, friction=FRICTION)
        poses = MOVED + STEP
        net = loads.balance(poses, loads.evaluate(poses).wrenches)
        return Outcome(float(np.abs(net).max()), 0.0)

    return Check(
        name=f"wire-balance-{words}",
        quantity=f"net force and moment of a {words} wire over all slots, N and N·mm",
        unit="N, N·mm",
        kind="verification",
        source="balance of a free body",
        status="closed form",
        # nodes are in balance to 1e-8 N, forces of order 10 have arms of 30 mm
        tolerance=1e-5,
        measure="absolute",
        compute=compute,
    )


def _free_motions() -> list[Check]:
    rows = (
        ("round-wire-torque", "torque in a round wire on either side of a twisted bracket",
         "N·mm", "a round wire turns freely in its slots", _torque_of_round_wire),
        ("sliding-force", "force of brackets that moved along a straight wire pressed into them",
         "N", "a straight wire slides freely through its slots", _force_of_sliding),
    )  # fmt: skip
    return [
        Check(
            name=name,
            quantity=quantity,
            unit=unit,
            kind="verification",
            source=source,
            status="closed form",
            # nodes are in balance to 1e-8 N and N·mm times 10
            tolerance=1e-6,
            measure="absolute",
            compute=compute,
        )
        for name, quantity, unit, source, compute in rows
    ]


def _torque_of_round_wire() -> Outcome:
    """Twist one bracket and bend all: no torque may go along the wire from slot to slot."""
    starts = [displaced(ABOUT_ALONG, 0.2), displaced(OCCLUSAL, 0.5), displaced(ABOUT_LABIAL, 0.1)]
    brackets = [Bracket(7.0 * index, np.zeros(3), start) for index, start in enumerate(starts)]
    loads = WireLoads(brackets, elastic_wire(CIRCLE, StraightLine(), 3, tie=PRESSED))
    poses = np.zeros((3, 6))
    return Outcome(float(np.abs(torques(loads, poses)).max()), 0.0)


def torques(loads: WireLoads, poses: Array) -> Array:
    """Return the torque in the wire half-way between slots, from what acts on the slots before.

    Shape (n - 1,), N·mm.
    """
    trial, slots = loads.trial(poses), loads.held.mesh.slots
    place = trial.unknowns.place
    found = []
    for count, node in enumerate((slots[:-1] + slots[1:]) // 2, start=1):
        load, lever = trial.on_slots[:count], trial.frames.place[:count] - place.nodes[node]
        moment = load[:, 3:] + np.cross(lever, load[:, :3])
        found.append(float(moment.sum(axis=0) @ place.triads[node, :, 0]))
    return np.array(found)


def _force_of_sliding() -> Outcome:
    brackets = [Bracket(7.0 * index, np.zeros(3), np.zeros(6)) for index in range(3)]
    loads = WireLoads(brackets, elastic_wire(OBLONG, StraightLine(), 3, tie=PRESSED))
    poses = np.zeros((3, 6))
    poses[:, ALONG] = 0.3, -0.2, 0.4
    before = np.abs(loads.evaluate(poses).wrenches).max()
    loads.commit(poses)
    return Outcome(float(max(before, np.abs(loads.evaluate(poses).wrenches).max())), 0.0)


def _derivative() -> Check:
    return Check(
        name="wire-derivative",
        quantity="derivative of the wire's loads against central differences, relative",
        unit="1",
        kind="verification",
        source="central differences of the loads",
        status="closed form",
        # loads balance to 1e-8 N, over the step 1e-2 of some 1000; corners of contact are rounded
        tolerance=1e-5,
        measure="absolute",
        compute=derivative_error,
    )


def derivative_error(step: float = 1e-6) -> Outcome:
    """Return the largest error of the derivative, relative to its largest entry."""
    loads, poses = many_brackets(ARCH, OBLONG, friction=FRICTION), MOVED + STEP
    columns = []
    for unit in step * np.eye(poses.size):
        ahead, behind = (
            loads.evaluate(poses + sign * unit.reshape(poses.shape)) for sign in (1, -1)
        )
        columns.append((ahead.wrenches - behind.wrenches).ravel() / (2 * step))
    given = loads.evaluate(poses).derivative
    error = np.abs(np.stack(columns, axis=1) - given).max() / np.abs(given).max()
    return Outcome(float(error), 0.0)
