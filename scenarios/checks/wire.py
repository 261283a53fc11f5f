"""The wire: torsion, freedom in its slots, balance and derivative."""

import numpy as np

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
from gomphosis.scenarios.tied_wire import ArchWire, Bracket
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireShape

SIZES = ((16, 16), (16, 22), (17, 25), (18, 25), (19, 25), (21, 25), (21.5, 28))  # 0.001 in
CIRCLE = WireSection(0.4, 0.4, round=True).elastic_section(5e4, 0.3)
OBLONG = WireSection(0.4, 0.6, round=False).elastic_section(5e4, 0.3)
ARCH = ArchForm(25.0, 30.0, 0.3)


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


def many_brackets(line: PassiveLine, *, rectangular: bool) -> WireLoads:
    """Return a wire in seven slots that stand out of line at random, always alike."""
    rng = np.random.default_rng(5)
    places = (-25.0, -15.0, -7.0, 1.0, 9.0, 18.0, 30.0)
    brackets = [
        Bracket(place, np.array([4.0, 0.3, 5.0]) + rng.normal(size=3), 0.05 * rng.normal(size=6))
        for place in places
    ]
    section = OBLONG if rectangular else CIRCLE
    loads = WireLoads(brackets, ArchWire(section, WireShape(line), twist_held=rectangular))
    loads.commit(0.05 * rng.normal(size=(len(places), 6)))
    return loads


def _balance(words: str) -> Check:
    line = StraightLine() if words == "straight" else ARCH

    def compute() -> Outcome:
        loads = many_brackets(line, rectangular=True)
        poses = 0.05 * np.random.default_rng(6).normal(size=(7, 6))
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
        ("round-wire-torque", "torque about a round wire at the slot of a twisted bracket",
         "N·mm", "a round wire turns freely in its slots", _torque_of_round_wire),
        ("sliding-force", "force of a bracket that moved along a straight wire",
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
    """Twist one bracket and bend all: the torque about the wire's tangent must stay zero."""
    starts = [displaced(ABOUT_ALONG, 0.2), displaced(OCCLUSAL, 0.5), displaced(ABOUT_LABIAL, 0.1)]
    brackets = [Bracket(7.0 * index, np.zeros(3), start) for index, start in enumerate(starts)]
    loads = WireLoads(brackets, ArchWire(CIRCLE, WireShape(StraightLine()), twist_held=False))
    wrenches = loads.evaluate(np.zeros((3, 6))).wrenches
    return Outcome(float(np.abs(wrenches[:, ABOUT_ALONG]).max()), 0.0)


def _force_of_sliding() -> Outcome:
    brackets = [Bracket(7.0 * index, np.zeros(3), np.zeros(6)) for index in range(3)]
    loads = WireLoads(brackets, ArchWire(OBLONG, WireShape(StraightLine()), twist_held=True))
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
        # of second order in the step: 1e-6 of forces of order 1 over stiffnesses of order 100
        tolerance=1e-5,
        measure="absolute",
        compute=derivative_error,
    )


def derivative_error(step: float = 1e-5) -> Outcome:
    """Return the largest error of the derivative, relative to its largest entry."""
    loads = many_brackets(ARCH, rectangular=True)
    size = 6 * len(loads.brackets)
    columns = []
    for unit in step * np.eye(size):
        ahead, behind = (loads.evaluate(sign * unit.reshape(-1, 6)) for sign in (1, -1))
        columns.append((ahead.wrenches - behind.wrenches).ravel() / (2 * step))
    given = loads.evaluate(np.zeros((size // 6, 6))).derivative
    error = np.abs(np.stack(columns, axis=1) - given).max() / np.abs(given).max()
    return Outcome(float(error), 0.0)
