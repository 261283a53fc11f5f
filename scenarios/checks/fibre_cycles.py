"""Sections of fibres led round and round: energy, loops inside loops, warming."""

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np

from gomphosis.fem.fibre_laws import PlasticFibre, SuperelasticFibre
from gomphosis.fem.fibre_section import rectangular_section
from gomphosis.fem.section import Array
from gomphosis.fem.section_paths import SectionPath, curvature_after_release, end, follow
from gomphosis.fem.section_response import CURVATURE_SECOND, TWIST, FibrewiseSection
from gomphosis.scenarios.checks.check import Check, Outcome

INCH = 25.4
WIDTH, HEIGHT = 0.022 * INCH, 0.016 * INCH
OBLONG = rectangular_section(WIDTH, HEIGHT)
LAWS = {
    "plastic": PlasticFibre(180e3, 180e3 / 2.6, 1600, 3000),
    "superelastic": SuperelasticFibre(5e4, 5e4 / 2.6, 400, 450, 200, 150, 0.05, slope=6.5),
}
SUPERELASTIC = LAWS["superelastic"]
FLAG = replace(SUPERELASTIC, forward_finish=400.0, reverse_start=150.0, strain=0.5)
BEND = np.arange(4) == CURVATURE_SECOND
TURN = np.arange(4) == TWIST
PATHS = {"bending": BEND, "torsion": TURN, "both": BEND | TURN}
PEAK = 0.25  # 1/mm
CYCLES, STEPS = 4, 40


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_books(law, path) for law in LAWS for path in PATHS),
        *(_loss(law, path) for law in LAWS for path in PATHS),
        *(_returns(path) for path in ("bending", "torsion")),
        _inner_loop(),
        _kelvin_of_a_fibre(),
        _kelvin_of_a_moment(),
    ]


@cache
def random_cycle(law: str, path: str, number: int) -> tuple[SectionPath, Array]:
    """Lead a section through four random corners and back to zero; return it and the work, N."""
    rng = np.random.default_rng(100 + number)
    corners = np.zeros((6, 4))
    corners[1:5] = rng.uniform(-PEAK, PEAK, (4, 4)) * PATHS[path]
    parts = np.linspace(0, 1, STEPS + 1)[1:, None]
    way = np.concatenate([a + parts * (b - a) for a, b in pairwise(corners)])
    found = follow(FibrewiseSection(OBLONG, LAWS[law]), way, held=PATHS[path])
    strain, force = (np.vstack([np.zeros(4), part]) for part in (found.strain, found.resultant))
    steps = np.sum(np.diff(strain, axis=0) * (force[1:] + force[:-1]) / 2, axis=1)
    return found, np.cumsum(steps)


def _books(law: str, path: str) -> Check:
    def compute() -> Outcome:
        gaps = []
        for number in range(CYCLES):
            found, work = random_cycle(law, path, number)
            gap = found.stored + found.inelastic - work
            gaps.append(np.abs(gap).max() / np.abs(work).max())
        return Outcome(float(max(gaps)), 0.0)

    return Check(
        name=f"fibre-energy-{law}-{path}",
        quantity=f"work less elastic energy and inelastic work, {law} section in {path}, over work",
        unit="1",
        kind="verification",
        source="first law at constant temperature",
        status="closed form",
        # the trapezoid of 40 steps from corner to corner
        tolerance=0.01,
        measure="absolute",
        compute=compute,
    )


def _loss(law: str, path: str) -> Check:
    def compute() -> Outcome:
        losses = []
        for number in range(CYCLES):
            found, work = random_cycle(law, path, number)
            losses.append((work[-1] - found.stored[-1]) / np.abs(work).max())
        return Outcome(min(0.0, *losses), 0.0)

    return Check(
        name=f"fibre-loss-{law}-{path}",
        quantity=f"energy gained in closed cycles, {law} section in {path}, over work (0: none)",
        unit="1",
        kind="verification",
        source="second law at constant temperature",
        status="closed form",
        tolerance=1e-9,
        measure="absolute",
        compute=compute,
    )


def _returns(path: str) -> Check:
    axis = int(np.flatnonzero(PATHS[path])[0])

    def compute() -> Outcome:
        section = FibrewiseSection(OBLONG, SUPERELASTIC)
        return Outcome(curvature_after_release(section, PEAK, axis=axis)[0], 0.0)

    return Check(
        name=f"fibre-superelastic-return-{path}",
        quantity=f"strain left in a superelastic section after {path} to {PEAK:g} 1/mm",
        unit="1/mm",
        kind="verification",
        source="every reverse threshold is a positive stress",
        status="closed form",
        tolerance=1e-9,
        measure="absolute",
        compute=compute,
    )


def _inner_loop() -> Check:
    return Check(
        name="fibre-inner-loop",
        quantity="moment by which a loop that turns inside leaves the outer loop, over the largest",
        unit="1",
        kind="verification",
        source="partly transformed layers return at higher and transform at lower stress",
        status="closed form",
        tolerance=1e-9,
        measure="absolute",
        compute=inner_loop_excess,
        note=(
            "the law keeps no memory of turning points: reloaded, a section passes its turn at a "
            "moment up to 2 % lower than before (a wire would pass close to it)"
        ),
    )


def inner_loop_excess() -> Outcome:
    """Return how far inner loops leave the outer one: at five turns, each unloaded and reloaded."""
    section = FibrewiseSection(OBLONG, SUPERELASTIC)
    curvatures = PEAK * np.linspace(0, 1, 51)
    up = follow(section, curvatures[:, None] * BEND, held=BEND)
    down = follow(section, curvatures[::-1][:, None] * BEND, held=BEND, begin=end(up))
    top, bottom = up.resultant[:, CURVATURE_SECOND], down.resultant[::-1, CURVATURE_SECOND]
    worst = 0.0
    for turn in range(10, 43, 8):
        # to the turn, half way back, and up to the turn again
        order = np.concatenate([np.arange(turn), np.arange(turn, turn // 2, -1)])
        order = np.append(order, np.arange(turn // 2, turn + 1))
        inner = follow(section, curvatures[order][:, None] * BEND, held=BEND)
        moment = inner.resultant[:, CURVATURE_SECOND]
        worst = max(worst, *(moment - top[order]), *(bottom[order] - moment))
    return Outcome(float(worst / top.max()), 0.0)


def _kelvin_of_a_fibre() -> Check:
    def compute() -> Outcome:
        stresses = []
        for kelvin in (-1.0, 1.0):
            law = replace(SUPERELASTIC, temperature=kelvin)
            update = law.update(np.array([0.03]), np.zeros(1), law.start((1,)))
            stresses.append(update.axial_stress[0])
        rise = SUPERELASTIC.forward_finish - SUPERELASTIC.forward_start
        flat = SUPERELASTIC.strain / (SUPERELASTIC.strain + rise / SUPERELASTIC.young)
        return Outcome((stresses[1] - stresses[0]) / 2, flat * SUPERELASTIC.slope)

    return Check(
        name="fibre-kelvin-stress",
        quantity="rise of the plateau stress at 3 % strain per kelvin",
        unit="MPa/K",
        kind="verification",
        source="slope C of the thresholds, times 1 - E_T/E at fixed strain (derived here)",
        status="closed form",
        tolerance=1e-9,
        compute=compute,
    )


def _kelvin_of_a_moment() -> Check:
    first = FLAG.forward_start / (FLAG.young * HEIGHT / 2)

    def compute() -> Outcome:
        ends = []
        for kelvin in (-1.0, 1.0):
            section = FibrewiseSection(OBLONG, replace(FLAG, temperature=kelvin))
            path = 5 * first * BEND[None]
            ends.append(follow(section, path, held=BEND).resultant[0, CURVATURE_SECOND])
        per_stress = WIDTH * HEIGHT**2 / 6 * 1.5 * (1 - 1 / 25)
        return Outcome((ends[1] - ends[0]) / 2, per_stress * FLAG.slope)

    return Check(
        name="fibre-kelvin-moment",
        quantity="rise of the moment of 0.016 x 0.022 in on a flat plateau per kelvin",
        unit="N·mm/K",
        kind="verification",
        source="derivative of M_s (3/2 - (k_s/k)^2 / 2) over the plateau stress (derived here)",
        status="closed form",
        tolerance=0.01,
        compute=compute,
    )
