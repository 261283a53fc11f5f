"""Three-point bend of a straight wire after ISO 15841: force over deflection, forth and back.

The wire lies on two supports and is pushed down in the middle by an indenter, all three with
rounded edges. By symmetry half of it is modelled; at the middle the indenter touches the top of
the wire at one point, and its travel is the deflection. Sections follow any law with a history,
rotations are large, and the wire slides over the support.

Contact is with the wire's surface: its centre line stays at `ThreePoint.reach` (edge radius plus
half the thickness) from the edge's axis, so the place of contact runs round the edge towards the
middle as the wire slopes, by reach times the sine of the slope. The free span shrinks (by 0.4 mm
of 10 mm at 3 mm deflection of a 0.016 in wire) and the force is 3 to 5 % above that of the
reference, in which sharp edges touch the centre line (``reference``); most of it is due to the half
thickness. The check ``bend-surface-contact`` shows the parts.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array
from gomphosis.fem.section_response import CURVATURE_SECOND, CURVATURE_THIRD, SectionLaw
from gomphosis.scenarios.bending_setup import Axis, ThreePoint, bench_for
from gomphosis.scenarios.bending_walk import Bench, Walk, energies, slope
from gomphosis.scenarios.refusal import Refused

__all__ = [
    "STEEPEST",
    "Axis",
    "BendCurve",
    "ThreePoint",
    "three_point",
    "usual_path",
    "with_halved_increments",
]

ELEMENTS = 12  # over the part of the half wire that can reach the support
MOST_ELEMENTS = 96
ELEMENT_CHANGE = 3e-3
"""Largest change of a force that doubling the elements may bring, relative to the force (or a
tenth of the peak, where that is more)."""

PER_MM = 10  # deflections of the usual path
STEEPEST = 0.4  # deflection over span; beyond, the wire slips through between the supports


@dataclass(frozen=True)
class BendCurve:
    """What a three-point bend gave, at m deflections.

    Attributes
    ----------
    deflection
        Travel of the indenter, mm, shape (m,).
    force
        Of the indenter, N, shape (m,).
    station, slope
        Arc length from the middle of the wire to the place of support, mm, and the angle of the
        wire there, rad, shape (m,).
    stored, inelastic, friction, external
        Elastic energy, inelastic work, work of friction and work of the indenter so far, N·mm,
        shape (m,).
    released
        Deflection at which the wire came off the indenter, mm; None if it never did.
    curvature
        Largest at the middle, 1/mm.
    elements
        Of the half wire, as far as its support can get to.
    element_change
        Largest change of a force by the last doubling of the elements, relative as in
        `ELEMENT_CHANGE`: the estimated error of half as many elements, above that of these.
    increments
        Deflections of every increment, mm, one tuple for each of the m.
    """

    deflection: Array
    force: Array
    station: Array
    slope: Array
    stored: Array
    inelastic: Array
    friction: Array
    external: Array
    released: float | None
    curvature: float
    elements: int
    element_change: float
    increments: tuple[tuple[float, ...], ...]


def usual_path(peak: float | None = None) -> Array:
    """Return deflections from just above zero to a peak and back to zero, mm, shape (m,).

    They are multiples of 0.1 mm and the peak; the default peak is `three_point.fixture`'s.
    """
    highest = lookup("three_point.fixture.deflection").number if peak is None else peak
    below = np.arange(np.ceil(highest * PER_MM - 1e-9)) / PER_MM
    up = np.append(below, highest)
    return np.concatenate([up[1:], up[-2::-1]])


def three_point(section_law: SectionLaw, *, deflections: Array, setup: ThreePoint) -> BendCurve:
    """Bend a wire along deflections of the indenter.

    Every increment is halved until that changes the force by less than 0.1 % of the peak, and the
    elements are doubled until that changes no force by more than 0.3 %.

    Parameters
    ----------
    section_law
        Of the wire.
    deflections
        To go to one after the other from zero, mm, shape (m,).

    Raises
    ------
    Refused
        If a deflection is negative or above 0.4 of the span, or the wire is too short for it.
    NotConvergedError
        If an increment or the elements do not settle.
    """
    path = np.asarray(deflections, dtype=float)
    _check(path, setup)
    walks = _refined(section_law, path, setup)
    bench, coarse = next(walks)
    changes = []
    for finer_bench, finer in walks:
        changes.append(_change(coarse, finer))
        bench, coarse = finer_bench, finer
        if changes[-1] <= ELEMENT_CHANGE:
            return _curve(bench, coarse, changes[-1], setup)
    raise NotConvergedError(changes, ELEMENT_CHANGE)


def with_halved_increments(
    section_law: SectionLaw, curve: BendCurve, *, setup: ThreePoint
) -> BendCurve:
    """Repeat a bend on as many elements with every increment gone in two halves.

    Parameters
    ----------
    section_law, setup
        Of the curve.

    Raises
    ------
    NotConvergedError
        If an increment does not settle.
    """
    bench = bench_for(section_law, curve.deflection, setup, curve.elements)
    halved, last = [], 0.0
    for group in curve.increments:
        places = np.array([last, *group])
        halved.append(np.stack([0.5 * (places[1:] + places[:-1]), places[1:]], axis=1).ravel())
        last = group[-1]
    return _curve(bench, bench.repeated(halved), curve.element_change, setup)


def _check(path: Array, setup: ThreePoint) -> None:
    most = STEEPEST * setup.span
    if path.ndim != 1 or path.size == 0 or not np.all(np.isfinite(path)):
        raise ValueError(f"needs deflections of shape (m,), got {path.shape}")
    for value in (path.min(), path.max()):
        if not 0.0 <= value <= most:
            accepted = f"0 to {most:g} mm, 0.4 of the span"
            raise Refused(float(value), "mm is no deflection", accepted=accepted)
    needed = 2.0 * np.hypot(setup.span / 2, path.max())
    if setup.specimen <= needed:
        accepted = f"more than {needed:.3g} mm at a deflection of {path.max():g} mm"
        raise Refused(setup.specimen, "mm of wire slips off its supports", accepted=accepted)


def _refined(law: SectionLaw, path: Array, setup: ThreePoint) -> Iterator[tuple[Bench, Walk]]:
    """Yield walks with ever more elements; the first finds the increments, the others keep them."""
    count, increments = ELEMENTS, None
    while count <= MOST_ELEMENTS:
        bench = bench_for(law, path, setup, count)
        walk = bench.adapted(path.tolist()) if increments is None else bench.repeated(increments)
        increments = walk.increments
        yield bench, walk
        count *= 2


def _change(coarse: Walk, finer: Walk) -> float:
    before, after = (np.array([s.force for s in walk.stations]) for walk in (coarse, finer))
    scale = np.maximum(np.abs(after), 0.1 * np.abs(after).max())
    return float(np.max(np.abs(after - before) / scale))


def _curve(bench: Bench, walk: Walk, change: float, setup: ThreePoint) -> BendCurve:
    stations = walk.stations
    work = np.array([energies(bench.rod, station.state) for station in stations])
    bent = CURVATURE_THIRD if setup.axis == "third" else CURVATURE_SECOND
    highest = max(stations, key=lambda station: station.deflection).state
    strain = bench.rod.respond(highest.place, highest.history).strain
    return BendCurve(
        deflection=np.array([s.deflection for s in stations]),
        force=np.array([s.force for s in stations]),
        station=np.array([s.touch.station for s in stations]),
        slope=np.array([slope(bench.rod, s.state.place, s.touch) for s in stations]),
        stored=work[:, 0],
        inelastic=work[:, 1],
        friction=np.array([s.rubbed for s in stations]),
        external=np.array([s.pushed for s in stations]),
        released=stations[-1].released,
        curvature=float(np.abs(strain[:, bent]).max()),
        elements=bench.elements,
        element_change=change,
        increments=walk.increments,
    )
