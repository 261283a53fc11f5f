"""Sections of fibres: bending, torsion, both, set left after release, energy and temperature."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from gomphosis.fem.fibre_laws import PlasticFibre, SuperelasticFibre
from gomphosis.fem.fibre_section import (
    DEFAULT,
    REFINED,
    FibreSection,
    rectangular_section,
    round_section,
)
from gomphosis.fem.section import Array
from gomphosis.fem.section_paths import follow, overbend
from gomphosis.fem.section_response import CURVATURE_SECOND, TWIST, FibrewiseSection
from gomphosis.scenarios.checks import fibre_cycles
from gomphosis.scenarios.checks.check import DISAGREES, Check, Outcome
from gomphosis.scenarios.checks.fibre_moments import (
    Moment,
    flag_moment,
    loading_corners,
    rectangle_moment,
    round_interaction,
    round_moment,
    sprung_back,
    yield_corner,
)
from gomphosis.scenarios.checks.wire import SIZES, torsion_across

INCH = 25.4
FINENESS = {"default": DEFAULT, "refined": REFINED}
BAR = {"default": 0.01, "refined": 0.002}  # of moments: about 150 and 4000 fibres

SETS = {
    "A": SuperelasticFibre(6e4, 6e4 / 2.6, 520, 600, 300, 200, 0.075),
    "B": SuperelasticFibre(5e4, 5e4 / 2.6, 400, 450, 200, 150, 0.05, slope=6.5),
}
"""A: an example input citing Auricchio and Taylor 1997; B: an engineering choice, not published."""

# fully transformed nowhere: only the plateaus matter
FLAG = replace(SETS["B"], forward_finish=400.0, reverse_start=150.0, strain=0.5)
STEEL = PlasticFibre(180e3, 180e3 / 2.6, 1600)
WIDTH, HEIGHT = 0.022 * INCH, 0.016 * INCH
HALF = HEIGHT / 2  # mm, of the round size as well
SPREAD = np.array([1.5, 2.0, 3.0, 5.0, 10.0])  # times the curvature at first yield
RELEASED = np.array([1, 0.98, 0.95, 0.9, 0.8, 0.6, 0.4, 0.3, 0.2, 0.1, 0.05])
YIELD_DIAMETERS = {0.0155: 22.8, 0.0072: 42.9}  # mm on yield strain
SET_LEFT = 8 * 2 / (50**2 + 4 * 2**2)  # 1/mm: arc 2 mm high on a chord of 50 mm
DIAMETER = 0.020 * INCH
LARGEST_TORQUE = 1540 * 9.80665e-3  # N·mm, of the published bench

BEND = np.arange(4) == CURVATURE_SECOND
TURN = np.arange(4) == TWIST
BY_HAND = "stress of the law integrated over the section by hand (derived here)"
INGRAM = "Ingram, Gipe, Smith 1986, Am J Orthod Dentofacial Orthop 90:296-307 (pages from memory)"
BOLENDER = "Bolender et al. 2010, Angle Orthod 80:1100-1109, DOI 10.2319/022310-112.1, abstract"


def checks() -> list[Check]:
    """Return the checks of this file and of `fibre_cycles`."""
    return [
        *_constants(),
        *(_loading(name, words, shape) for name in SETS for words in BAR for shape in SHAPES),
        *(_unloading(words) for words in BAR),
        *(_plastic(words, shape) for words in BAR for shape in SHAPES),
        *(_round_torque(words) for words in BAR),
        *(_limit_torque(*size) for size in SIZES[:3]),
        *(_interaction(ratio) for ratio in (0.0, 0.5, 1.0, 2.0, np.inf)),
        *(
            _yield_diameter(strain, closed)
            for closed in (True, False)
            for strain in YIELD_DIAMETERS
        ),
        *fibre_cycles.checks(),
        *(_torsional_plateau(name) for name in SETS),
    ]


def _section(shape: str, words: str) -> FibreSection:
    if shape == "round":
        return round_section(HEIGHT, fineness=FINENESS[words])
    return rectangular_section(WIDTH, HEIGHT, fineness=FINENESS[words])


def _round_closed(young: float, corners: tuple[tuple[float, float], ...]) -> Moment:
    return round_moment(young, corners, diameter=HEIGHT)


def _rectangle_closed(young: float, corners: tuple[tuple[float, float], ...]) -> Moment:
    return rectangle_moment(young, corners, width=WIDTH, height=HEIGHT)


SHAPES = {"round": _round_closed, "rectangle": _rectangle_closed}


def worst(ours: Array, theirs: Array) -> Outcome:
    """Return the pair with the largest relative difference."""
    place = int(np.argmax(np.abs(ours / theirs - 1)))
    return Outcome(float(ours[place]), float(theirs[place]))


def moments(section: FibrewiseSection, curvatures: Array) -> Array:
    """Return the moments, N·mm, at curvatures about the second axis, one after the other."""
    return follow(section, curvatures[:, None] * BEND, held=BEND).resultant[:, CURVATURE_SECOND]


def _check(name: str, quantity: str, unit: str, compute: Callable[[], Outcome]) -> Check:
    return Check(
        name=name,
        quantity=quantity,
        unit=unit,
        kind="verification",
        source=BY_HAND,
        status="closed form",
        tolerance=0.01,
        compute=compute,
    )


def _constants() -> list[Check]:
    def rectangle(height: float, width: float) -> Outcome:
        section = rectangular_section(width, height)
        return Outcome(section.torsion_constant, torsion_across(height, width))

    def circle() -> Outcome:
        return Outcome(round_section(HEIGHT).torsion_constant, np.pi * HEIGHT**4 / 32)

    rows = [("0.016 round", circle, "polar moment of a circle")]
    for size in SIZES:
        sides = [side * INCH / 1000 for side in size]
        words = f"{size[0] / 1000:g} x {size[1] / 1000:g}"
        across = "St-Venant's torsion expanded along the other side of the rectangle (derived here)"
        rows.append((words, partial(rectangle, *sides), across))
    return [
        replace(
            _check(
                f"fibre-torsion-constant-{words.replace(' ', '')}",
                f"torsion constant of the fibres of {words} in",
                "mm4",
                compute,
            ),
            source=source,
            # the shear pattern is scaled to the sharp shape's constant: the two series agree
            tolerance=1e-6,
        )
        for words, compute, source in rows
    ]


def _loading(name: str, words: str, shape: str) -> Check:
    law = SETS[name]
    corners = loading_corners(law)
    first, full = corners[0][0] / HALF, corners[1][0] / HALF
    curvatures = np.append(first * np.array([0.5, 1, 1.5, 2, 3, 5]), full * np.array([0.9, 1.2]))

    def compute() -> Outcome:
        closed = SHAPES[shape](law.young, corners)
        ours = moments(FibrewiseSection(_section(shape, words), law), curvatures)
        return worst(ours, np.array([closed(value) for value in curvatures]))

    return replace(
        _check(
            f"fibre-bending-{name}-{shape}-{words}",
            f"moment of a superelastic {shape}, set {name}, {words} fibres; worst of 8 curvatures",
            "N·mm",
            compute,
        ),
        tolerance=BAR[words],
    )


def _unloading(words: str) -> Check:
    peak = 5 * FLAG.forward_start / (FLAG.young * HALF)

    def compute() -> Outcome:
        closed = flag_moment(FLAG, width=WIDTH, height=HEIGHT, peak=peak)
        ours = moments(FibrewiseSection(_section("rectangle", words), FLAG), peak * RELEASED)
        return worst(ours, np.array([closed(value) for value in peak * RELEASED]))

    return replace(
        _check(
            f"fibre-unloading-{words}",
            f"moment of a rectangle with flat plateaus unloaded from 5 times first "
            f"transformation, {words} fibres; worst of 11 curvatures",
            "N·mm",
            compute,
        ),
        tolerance=BAR[words],
    )


def _plastic(words: str, shape: str) -> Check:
    curvatures = SPREAD * STEEL.yield_stress / STEEL.young / HALF

    def compute() -> Outcome:
        closed = SHAPES[shape](STEEL.young, yield_corner(STEEL))
        first = closed(curvatures[0] / SPREAD[0])
        ours = moments(FibrewiseSection(_section(shape, words), STEEL), curvatures) / first
        if shape == "rectangle":
            return worst(ours, 1.5 - 0.5 / SPREAD**2)
        return worst(ours, np.array([closed(value) for value in curvatures]) / first)

    return replace(
        _check(
            f"fibre-plastic-bending-{shape}-{words}",
            f"moment of a perfectly plastic {shape} over that at first yield, {words} fibres; "
            "worst of 5 curvatures",
            "1",
            compute,
        ),
        tolerance=BAR[words],
    )


def _round_torque(words: str) -> Check:
    radius, size = HALF, FLAG.forward_start / FLAG.ratio
    first = size / FLAG.shear / radius

    def compute() -> Outcome:
        path = (SPREAD * first)[:, None] * TURN
        found = follow(FibrewiseSection(_section("round", words), FLAG), path, held=TURN)
        ours = found.resultant[:, TWIST] / (size * np.pi * radius**3 / 2)
        return worst(ours, 4 / 3 * (1 - SPREAD**-3 / 4))

    return replace(
        _check(
            f"fibre-round-torque-{words}",
            f"torque of a circle on a flat plateau over that at its start, {words} fibres; "
            "worst of 5 twists",
            "1",
            compute,
        ),
        tolerance=BAR[words],
    )


def _limit_torque(height: float, width: float) -> Check:
    short, long = height * INCH / 1000, width * INCH / 1000

    def compute() -> Outcome:
        section = FibrewiseSection(rectangular_section(long, short, fineness=REFINED), STEEL)
        twist = 1000 * STEEL.yield_stress / STEEL.shear / short
        ours = follow(section, twist * TURN[None], held=TURN).resultant[0, TWIST]
        limit = STEEL.yield_stress / STEEL.ratio * short**2 * (3 * long - short) / 6
        return Outcome(ours / limit, 1.025)

    return replace(
        _check(
            f"fibre-limit-torque-{height:g}-{width:g}",
            f"fully plastic torque of {height / 1000:g} x {width / 1000:g} in over the exact one; "
            "must lie between 1 and 1.05",
            "1",
            compute,
        ),
        source="sand hill, tau h^2 (3 w - h) / 6 (derived here), and the upper-bound theorem",
        tolerance=0.025,
        measure="band half-width",
        note=(
            "warping keeps the elastic pattern, a kinematically admissible mechanism: the limit "
            "torque can only be too high"
        ),
    )


def _interaction(ratio: float) -> Check:
    straining = TURN if np.isinf(ratio) else BEND + ratio * TURN
    exact = 1.0 if np.isinf(ratio) else round_interaction(ratio)

    def compute() -> Outcome:
        section = FibrewiseSection(_section("round", "refined"), STEEL)
        path = 1000 * STEEL.yield_stress / STEEL.young / HALF * straining[None]
        force = follow(section, path, held=BEND | TURN).resultant[0]
        plastic = STEEL.yield_stress * HALF**3 * np.array([4 / 3, 2 * np.pi / 3 / STEEL.ratio])
        return Outcome(float(np.sum((force[[CURVATURE_SECOND, TWIST]] / plastic) ** 2)), exact)

    return replace(
        _check(
            f"fibre-interaction-{ratio:g}",
            "(M/M_p)^2 + (T/T_p)^2 of a fully plastic circle at twist rate over curvature "
            f"{ratio:g}",
            "1",
            compute,
        ),
        source="stress along the strain, integrated over the angle numerically (derived here)",
        measure="absolute",
    )


def _yield_diameter(strain: float, closed: bool) -> Check:
    law = replace(STEEL, yield_stress=strain * STEEL.young)

    def compute() -> Outcome:
        fineness = DEFAULT if closed else REFINED
        section = FibrewiseSection(round_section(DIAMETER, fineness=fineness), law)
        ours = 2 / overbend(section, SET_LEFT, axis=CURVATURE_SECOND)[0] - DIAMETER
        if not closed:
            return Outcome(ours, YIELD_DIAMETERS[strain])
        moment = round_moment(law.young, yield_corner(law), diameter=DIAMETER)
        bent = sprung_back(moment, law.young * np.pi * DIAMETER**4 / 64, SET_LEFT)
        return Outcome(ours, 2 / bent - DIAMETER)

    check = _check(
        f"mandrel-{'closed' if closed else 'published'}-{1e4 * strain:g}",
        "mandrel that leaves a set of 2 mm on 50 mm in 0.020 in round steel, perfectly plastic, "
        f"yield strain {strain:g}",
        "mm",
        compute,
    )
    if closed:
        return replace(check, note="default fibres, whose moment is up to 0.5 % off")
    return replace(
        check,
        kind="calibration",
        source=INGRAM,
        status="verified",
        note="the yield strain was found from this diameter, and rounded: half a unit of the last "
        "digit of 0.0072 is 0.6 % of the diameter",
    )


def _torsional_plateau(name: str) -> Check:
    section = FibrewiseSection(
        rectangular_section(0.025 * INCH, 0.017 * INCH, fineness=REFINED), SETS[name]
    )

    def compute() -> Outcome:
        return Outcome(plateau_torque(section, 0.1), LARGEST_TORQUE)

    return Check(
        name=f"torsional-plateau-{name}",
        quantity=(
            f"torque of 0.017 x 0.025 in, set {name}, at which the twist stiffness has fallen to "
            "a tenth, against the largest at which most wires showed no plateau"
        ),
        unit="N·mm",
        kind="validation",
        source=BOLENDER,
        status="verified",
        expected=DISAGREES,
        compute=compute,
        note=(
            "8 of 10 nickel-titanium wires showed no plateau up to 1540 gf mm at 35 °C. A law fed "
            "with thresholds of bending and the ratio sqrt(3) of von Mises gives the wire one "
            "below that torque. Why is not known: real thresholds in shear may be higher, or the "
            "bench may hide a plateau. Torque of these laws near their plateau is a lower estimate"
        ),
    )


def plateau_torque(section: FibrewiseSection, share: float) -> float:
    """Return the torque, N·mm, where the virgin section's twist stiffness falls below a share."""
    twists = np.linspace(0.0, 0.3, 301)
    strain = twists[:, None] * TURN
    response = section.respond(strain, section.start(len(twists)))
    stiffness = response.tangent[:, TWIST, TWIST]
    soft = np.flatnonzero(stiffness < share * stiffness[0])
    return float(response.resultant[soft[0], TWIST])
