"""Two brackets and a straight wire tied at points: classes of angles, V-bends and a step."""

from functools import cache, partial

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.section import Array
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.checks.check import SHOWN, Check, Outcome
from gomphosis.scenarios.checks.tied import tied_wrenches
from gomphosis.scenarios.slots import Bracket
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import Bend, WireShape
from gomphosis.scenarios.wire_shape import step as bent_step

LABIAL, ALONG, OCCLUSAL, ABOUT_LABIAL, ABOUT_ALONG, ABOUT_OCCLUSAL = range(6)
RUN = 0.5  # mm of wire that slopes in a step
SMALL = 0.01  # of a published displacement, so that the rod answers as the linear theory does
GRAM_FORCE = 9.80665e-3  # N
INCH = 25.4
PLANES = {"second order": ABOUT_LABIAL, "first order": ABOUT_OCCLUSAL}
RATIOS = (1.0, 0.5, 0.0, -0.5, -0.75, -1.0)
BEAM = "slope-deflection of a beam clamped in two brackets (derived here)"


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_class(number, plane) for plane in PLANES for number in range(len(RATIOS))),
        *(_remembered(number) for number in range(len(RATIOS))),
        *(_v_bend(number, printed) for printed in (False, True) for number in range(5)),
        *_step_bend(),
    ]


@cache
def published_wire() -> tuple[WireSection, float]:
    """Return the round wire of the published bends and its modulus, MPa."""
    section = WireSection(0.016 * INCH, 0.016 * INCH, round=True)
    rigidity = lookup("two_bracket.step_bend_1988.bending_stiffness").number
    return section, rigidity / section.second_order_inertia


def two_brackets(
    span: float, first: Array, second: Array, *, bends: tuple[Bend, ...] = ()
) -> Array:
    """Return the wrenches at two rigid ties, shape (2, 6), that stand out of a wire's line.

    Parameters
    ----------
    span
        Between the ties, mm.
    first, second
        Displacement and rotation of each tie, mm and rad, shape (6,).
    bends
        Bent into the otherwise straight wire, stress-free.
    """
    section, young = published_wire()
    law = section.elastic_section(young, 0.3)
    brackets = [
        Bracket(place, np.zeros(3), start)
        for place, start in zip((0.0, span), (first, second), strict=True)
    ]
    return tied_wrenches(brackets, law, WireShape(StraightLine(), bends))


def displaced(component: int, amount: float) -> Array:
    """Return a motion of one component, mm or rad, shape (6,)."""
    motion = np.zeros(6)
    motion[component] = amount
    return motion


def class_moments(ratio: float, plane: str) -> Array:
    """Return the moments at both slots whose angles have a ratio, N·mm, shape (2,)."""
    component = PLANES[plane]
    turned = (displaced(component, angle) for angle in (SMALL * ratio, SMALL))
    return two_brackets(7.0, *turned)[:, component]


def _class(number: int, plane: str) -> Check:
    ratio = RATIOS[number]

    def compute() -> Outcome:
        at_a, at_b = class_moments(ratio, plane)
        return Outcome(at_a / at_b, (2 * ratio + 1) / (2 + ratio))

    return Check(
        name=f"two-bracket-class-{number + 1}-{plane.replace(' ', '-')}",
        quantity=f"moment at A over moment at B, angles as {ratio:g} to 1, {plane}",
        unit="1",
        kind="verification",
        source=f"{BEAM}: (2 r + 1) / (2 + r)",
        status="closed form",
        # of second order in the angles of 0.01 rad; 0.1 % of the moment at B
        tolerance=0.001,
        measure="absolute",
        compute=compute,
    )


def _remembered(number: int) -> Check:
    table = "two_bracket.classes_1974"
    cited = lookup(f"{table}.moment_a")
    moment_b = lookup(f"{table}.moment_b").number

    def compute() -> Outcome:
        at_a, at_b = class_moments(RATIOS[number], "second order")
        return Outcome(moment_b * at_a / at_b, cited.numbers[number])

    return Check(
        name=f"two-bracket-table-{number + 1}",
        quantity=f"moment at A with {moment_b:g} gf·mm at B, angles as {RATIOS[number]:g} to 1",
        unit="gf·mm",
        kind="verification",
        source=cited.source,
        status=cited.status,
        expected=SHOWN,
        measure="absolute",
        compute=compute,
    )


def v_bend_ratio(place: float, span: float) -> float:
    """Return the far over the near moment of a V-bend at a distance from the near slot, mm."""
    bend = Bend(place, np.array([0.0, 0.0, SMALL]))
    near, far = two_brackets(span, np.zeros(6), np.zeros(6), bends=(bend,))[:, ABOUT_LABIAL]
    return float(far / near)


def _v_bend(number: int, printed: bool) -> Check:
    table = "two_bracket.v_bend_1988"
    cited = lookup(f"{table}.moment_ratio")
    bend, span = lookup(f"{table}.position").numbers[number], lookup(f"{table}.span").number
    closed = (span - 3 * bend) / (2 * span - 3 * bend)
    theirs = cited.numbers[number] if printed else closed
    return Check(
        name=f"v-bend-{bend:g}-mm-{'printed' if printed else 'closed-form'}",
        quantity=f"far over near moment of a V-bend {bend:g} mm from the near slot, {span:g} mm",
        unit="1",
        kind="verification",
        source=cited.source if printed else f"{BEAM}: (L - 3 a) / (2 L - 3 a)",
        status=cited.status if printed else "closed form",
        # printed to one decimal: half a unit of it, and what the small angle adds where the closed
        # form lies on it; else 0.1 % of the near moment
        tolerance=0.05 + 1e-5 if printed else 0.001,
        measure="absolute",
        compute=lambda: Outcome(v_bend_ratio(bend, span), theirs),
    )


def step_bend() -> tuple[float, float]:
    """Return the moment, gf·mm, and the force, gf, of the published step bend at each slot."""
    table = "two_bracket.step_bend_1988"
    span, step = lookup(f"{table}.span").number, lookup(f"{table}.step").number
    bends = bent_step(0.5 * span, (SMALL * step, 0.0), run=RUN)
    wrench = two_brackets(span, np.zeros(6), np.zeros(6), bends=bends)[0] / SMALL
    return float(abs(wrench[ABOUT_LABIAL])) / GRAM_FORCE, float(abs(wrench[OCCLUSAL])) / GRAM_FORCE


def _step_bend() -> list[Check]:
    table = "two_bracket.step_bend_1988"
    rigidity, span, step = (
        lookup(f"{table}.{name}").number for name in ("bending_stiffness", "span", "step")
    )
    moment = 6 * rigidity * step / span**2 / GRAM_FORCE
    found = []
    for index, (name, unit, closed) in enumerate(
        (("moment", "gf·mm", moment), ("force", "gf", 2 * moment / span))
    ):
        cited = lookup(f"{table}.{name}")
        rows = (
            ("closed-form", closed, f"{BEAM}: 6 E I d / L^2 and 12 E I d / L^3", "closed form"),
            ("printed", cited.number, cited.source, cited.status),
        )
        found += [
            Check(
                name=f"step-bend-{name}-{words}",
                quantity=f"{name} of a 0.35 mm step between slots 7 mm apart",
                unit=unit,
                kind="verification",
                source=source,
                status=status,
                # the paper prints three digits
                tolerance=0.001 if words == "closed-form" else 0.005,
                compute=partial(_step_outcome, index, theirs),
                note=cited.note if words == "printed" else "",
            )
            for words, theirs, source, status in rows
        ]
    return found


def _step_outcome(index: int, theirs: float) -> Outcome:
    return Outcome(step_bend()[index], theirs)
