"""Constants of a superelastic wire from its measured three-point bending curve.

Young's modulus and the four stresses of transformation are fitted by least squares of the force.
The stresses are those at the temperature of the test; transformation strain, slope and all else
are kept.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import count
from typing import Protocol

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import OptimizeResult

from gomphosis.fem.section import Array
from gomphosis.fem.section_response import SectionLaw
from gomphosis.scenarios.alloys import Alloy, library_alloy, section_law
from gomphosis.scenarios.bending import ThreePoint, three_point, usual_path
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.fit_problem import (
    FITTED,
    LOWEST,
    NO_GAP,
    Problem,
    UnsettledFitError,
    values_of,
)
from gomphosis.scenarios.fit_uncertainty import uncertainty
from gomphosis.scenarios.measured_curve import CurveError, MeasuredCurve, read_curve
from gomphosis.scenarios.wire import WireSection

__all__ = [
    "FITTED",
    "BendTest",
    "CurveError",
    "MeasuredCurve",
    "UnsettledFitError",
    "WireFit",
    "fit_wire",
    "read_curve",
]


class Bent(Protocol):
    """What the model gives: deflections in mm and forces in N, in the order asked for."""

    @property
    def deflection(self) -> Array:
        """Deflections, mm, shape (m,)."""
        ...

    @property
    def force(self) -> Array:
        """Forces, N, shape (m,)."""
        ...


class Model(Protocol):
    """Three-point bend of a section, as `bending.three_point`."""

    def __call__(self, section_law: SectionLaw, *, deflections: Array, setup: ThreePoint) -> Bent:
        """Bend along deflections, mm."""
        ...


@dataclass(frozen=True)
class WireFit:
    """A fitted set of constants, and how far to trust it.

    Attributes
    ----------
    alloy
        The set; its reference temperature is that of the test.
    curve
        What was measured.
    force
        Of the model at the measured deflections, N, shape (m,).
    residual
        Root mean square of model less measured force, N.
    errors
        Standard error of each of `FITTED`, MPa, if the errors of the points are independent and
        the model is right; None where the curve does not determine the constant.
    undetermined
        Those of `FITTED` that the curve does not determine: what they have comes from the set
        where the fit began.
    remarks
        The same, and constants at a limit, in words.
    iterations
        Of the least squares.
    notice
        The full caution.
    """

    alloy: Alloy
    curve: MeasuredCurve
    force: Array
    residual: float
    errors: Mapping[str, float | None]
    undetermined: tuple[str, ...]
    remarks: tuple[str, ...]
    iterations: int
    notice: str = NOTICE


@dataclass(frozen=True)
class BendTest:
    """A three-point bend as it was done.

    Parameters
    ----------
    curve
        Measured.
    section
        Of the wire.
    setup
        Span, edges and friction.
    temperature
        In degrees Celsius.
    """

    curve: MeasuredCurve
    section: WireSection
    setup: ThreePoint
    temperature: float


def fit_wire(
    test: BendTest,
    *,
    usual: Alloy | None = None,
    model: Model = three_point,
    progress: Callable[[int], None] | None = None,
) -> WireFit:
    """Fit the constants of a superelastic wire to a measured curve.

    Some 40 evaluations of the model, each a second or two.

    Parameters
    ----------
    test
        What was measured.
    usual
        Where the fit begins, and the constants that it keeps: Poisson's ratio, shear ratio,
        transformation strain and slope; default: the library's nickel-titanium.
    model
        What gives the curve of a set.
    progress
        Called with the number of evaluations so far after each.

    Raises
    ------
    ValueError
        If `usual` is not superelastic.
    UnsettledFitError
        If the constants do not settle.
    NotConvergedError, Refused
        As the model: at some set, or if the setup does not fit the curve.
    """
    usual = library_alloy("nickel-titanium") if usual is None else usual
    if usual.behaviour != "superelastic":
        raise ValueError(f"fits superelastic sets, not {usual.behaviour} ones")
    usual = replace(usual, reference_temperature=test.temperature)
    evaluations = count(1)

    @lru_cache(maxsize=4)  # differences begin where the last step ended
    def forces(alloy: Alloy) -> Array:
        law = section_law(test.section, alloy, temperature=test.temperature)
        found = _at_measured(test.curve, model, law, test.setup)
        if progress is not None:
            progress(next(evaluations))
        return found

    problem = Problem(test.curve, usual, forces)
    return _report(problem, problem.solve(problem.begin()))


def _at_measured(curve: MeasuredCurve, model: Model, law: SectionLaw, setup: ThreePoint) -> Array:
    """Return the model's forces at the measured deflections, branch by branch."""
    path = usual_path(curve.peak)
    top = int(np.argmax(path))
    if not curve.unloads:
        path = path[: top + 1]
    bent = model(law, deflections=path, setup=setup)
    there = np.append(0.0, bent.deflection[: top + 1]), np.append(0.0, bent.force[: top + 1])
    force = PchipInterpolator(*there)(np.minimum(curve.deflection, curve.peak))
    if curve.unloads:
        back = PchipInterpolator(bent.deflection[top:][::-1], bent.force[top:][::-1])
        force[curve.top + 1 :] = back(curve.deflection[curve.top + 1 :])
    return force


def _report(problem: Problem, found: OptimizeResult) -> WireFit:
    steps, values = found.x, values_of(found.x)
    misfit = problem.residual(steps)
    # per relative change of each constant: undo the cumulative sum of the gaps
    change = problem.slope(steps)
    change[:, 1:-1] -= change[:, 2:]
    scatter = np.sqrt(np.sum(misfit**2) / (misfit.size - len(FITTED)))
    known = uncertainty(change * values, float(scatter), FITTED)
    return WireFit(
        alloy=problem.alloy(steps),
        curve=problem.curve,
        force=problem.curve.force + misfit,
        residual=float(np.sqrt(np.mean(misfit**2))),
        errors={
            name: None if name in known.undetermined else float(error * value)
            for name, error, value in zip(FITTED, known.errors, values, strict=True)
        },
        undetermined=known.undetermined,
        remarks=(*known.words, *_limit_words(steps)),
        iterations=int(found.nfev),
    )


def _limit_words(steps: Array) -> tuple[str, ...]:
    words = []
    if steps[1] < LOWEST[1] + NO_GAP:
        words.append(f"reverse_finish went down to its limit of {LOWEST[1]:g} MPa.")
    for lower, upper, gap in zip(FITTED[1:], FITTED[2:], steps[2:], strict=False):
        if gap < NO_GAP:
            words.append(f"{upper} came down to {lower}: within {NO_GAP:g} MPa.")
    return tuple(words)
