"""Paths of one cross-section: bending, torsion and both, with some strains held and others free."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.optimize import root_scalar

from gomphosis.fem.fibre_segment import Mask
from gomphosis.fem.newton import NotConvergedError, newton
from gomphosis.fem.section import Array
from gomphosis.fem.section_response import COMPONENTS, SectionLaw

HALVING_CHANGE = 2e-3
"""Largest change of a resultant, relative, that halving an increment may bring."""

HALVINGS = 10  # of all increments, before the path counts as not converged
BALANCE = 1e-10  # accepted resultant of free strains, relative to the path's largest
KEEPS_NONE = 1e-6  # of the applied curvature; a smaller rest is round-off
DOUBLINGS = 12

Held = Sequence[bool] | Mask


@dataclass(frozen=True)
class SectionPath:
    """What a section did along a path of m points.

    Attributes
    ----------
    strain, resultant
        Shape (m, 4), in the order of `section_response`.
    state
        State after the last point, shape (fields, 1, fibres).
    stored, inelastic
        Elastic energy and inelastic work per length after each point, N, shape (m,).
    """

    strain: Array
    resultant: Array
    state: Array
    stored: Array
    inelastic: Array


class Point(NamedTuple):
    """One section's strain and resultant, shape (4,), and its state, (fields, 1, fibres)."""

    strain: Array
    resultant: Array
    state: Array


def follow(law: SectionLaw, path: Array, *, held: Held, begin: Point | None = None) -> SectionPath:
    """Lead a section along prescribed strains while the free ones keep their resultants zero.

    All increments are halved, together, until halving them again changes no resultant by more than
    `HALVING_CHANGE`, measured as `halving_change` does; the finer result is returned.

    Parameters
    ----------
    path
        Strains to reach one after the other, shape (m, 4); columns of free strains are ignored.
    held
        Which of the four strains are prescribed.
    begin
        Where to start; the virgin section without it.

    Raises
    ------
    ValueError
        If the shapes are wrong.
    NotConvergedError
        If the free strains find no balance, or halving does not settle the resultants.
    """
    walk = _Walk(law, *_checked(path, held), _sizes(law), virgin(law) if begin is None else begin)
    before, parts, changes = walk.attempt(1), 1, []
    for _ in range(HALVINGS):
        parts *= 2
        after = walk.attempt(parts)
        if not isinstance(before, NotConvergedError) and not isinstance(after, NotConvergedError):
            changes.append(walk.change(before, after))
            if changes[-1] <= HALVING_CHANGE:
                return _collected(law, after)
        before = after
    if isinstance(before, NotConvergedError):
        raise before
    raise NotConvergedError(changes, HALVING_CHANGE)


def virgin(law: SectionLaw) -> Point:
    """Return a section without strain, resultant and history."""
    return Point(np.zeros(COMPONENTS), np.zeros(COMPONENTS), law.start(1))


def end(path: SectionPath) -> Point:
    """Return the last point of a path, from which another can begin."""
    return Point(path.strain[-1], path.resultant[-1], path.state)


def halving_change(
    law: SectionLaw, path: Array, *, held: Held, begin: Point | None = None, parts: int = 1
) -> float:
    """Return the largest change of a resultant on a path if its increments are halved.

    Each resultant is divided by the square root of its elastic stiffness, so that forces and
    moments compare; the change is relative to the largest resultant of the path.

    Parameters
    ----------
    path, held, begin
        As for `follow`.
    parts
        Into which every increment is cut before it is halved.

    Raises
    ------
    ValueError
        If the shapes are wrong.
    NotConvergedError
        If the free strains find no balance.
    """
    walk = _Walk(law, *_checked(path, held), _sizes(law), virgin(law) if begin is None else begin)
    return walk.change(walk.points(parts), walk.points(2 * parts))


@dataclass(frozen=True)
class _Walk:
    """A path to walk; strains and resultants are made alike by the elastic stiffness."""

    law: SectionLaw
    path: Array
    held: Mask
    size: Array  # square roots of the four stiffnesses
    begin: Point

    def attempt(self, parts: int) -> list[Point] | NotConvergedError:
        """Return the points of the path, or why finer increments are needed."""
        try:
            return self.points(parts)
        except NotConvergedError as error:
            return error

    def points(self, parts: int) -> list[Point]:
        """Return the points of the path, each reached in equal parts."""
        here, found = self.begin, []
        scale = self._effort(here)
        for target in self.path:
            first = here.strain
            for part in range(1, parts + 1):
                goal = target - (1 - part / parts) * (target - first)
                here = self._step(here, np.where(self.held, goal, here.strain), scale)
                scale = max(scale, self._effort(here))
            found.append(here)
        return found

    def change(self, coarse: list[Point], fine: list[Point]) -> float:
        efforts = [self._effort(point) for point in (self.begin, *coarse, *fine)]
        changes = [
            float(np.abs((one.resultant - other.resultant) / self.size).max())
            for one, other in zip(coarse, fine, strict=True)
        ]
        return max(changes) / max(efforts) if max(efforts) > 0.0 else 0.0

    def _effort(self, point: Point) -> float:
        return float(np.abs(point.resultant / self.size).max())

    def _step(self, here: Point, goal: Array, scale: float) -> Point:
        free = np.flatnonzero(~self.held)
        size = self.size[free]
        scale = max(scale, float(np.abs(self.size * (goal - here.strain)).max()))

        def strain(unknown: Array) -> Array:
            full = goal.copy()
            full[free] = unknown / size
            return full

        def system(unknown: Array) -> tuple[Array, Array]:
            response = self.law.respond(strain(unknown)[None], here.state)
            tangent = response.tangent[0][np.ix_(free, free)] / np.outer(size, size)
            return response.resultant[0][free] / size, tangent

        unknown = here.strain[free] * size
        if free.size and scale > 0.0:
            unknown = newton(system, unknown, tolerance=BALANCE * scale)
        found = strain(unknown)
        response = self.law.respond(found[None], here.state)
        return Point(found, response.resultant[0], response.state)


def _checked(path: Array, held: Held) -> tuple[Array, Mask]:
    path, mask = np.asarray(path, dtype=float), np.asarray(held, dtype=bool)
    if path.shape != (max(len(path), 1), COMPONENTS) or mask.shape != (COMPONENTS,):
        raise ValueError(
            f"needs m >= 1 points of 4 strains and 4 held flags, got {path.shape} and {mask.shape}"
        )
    return path, mask


def curvature_after_release(law: SectionLaw, peak: float, *, axis: int) -> tuple[float, Array]:
    """Return what is left of one applied curvature (or twist) after release, and the state.

    The other strains are free all the way.

    Parameters
    ----------
    peak
        Applied to the virgin section, 1/mm.
    axis
        Index of the strain, in the order of `section_response`.

    Raises
    ------
    NotConvergedError
        As `follow`.
    """
    held = np.arange(COMPONENTS) == axis
    if peak == 0.0:
        return 0.0, law.start(1)
    bent = end(follow(law, peak * held[None], held=held))

    def released(value: float) -> SectionPath:
        return follow(law, value * held[None], held=held, begin=bent)

    # past zero the resultant has turned, for every law that keeps a set of the sign of its peak
    left = _root(lambda value: released(value).resultant[0, axis], -0.1 * peak, peak)
    return left, released(left).state


def overbend(law: SectionLaw, wanted: float, *, axis: int) -> tuple[float, Array]:
    """Return what to apply so that a wanted curvature (or twist) is left, and the state then.

    Parameters
    ----------
    wanted
        Left after release, 1/mm, of either sign.
    axis
        Index of the strain, in the order of `section_response`.

    Raises
    ------
    ValueError
        If the law keeps no set, or none that large within 4096 times the wanted value.
    NotConvergedError
        As `follow`.
    """

    def missing(peak: float) -> float:
        return curvature_after_release(law, peak, axis=axis)[0] - wanted

    if wanted == 0.0:
        return 0.0, law.start(1)
    high = wanted
    for _ in range(DOUBLINGS):
        high *= 2
        if abs(missing(high) + wanted) > abs(wanted):
            break
    else:
        kept = abs(missing(high) + wanted)
        words = "no set" if kept < KEEPS_NONE * abs(high) else f"a set of only {kept:.3g} 1/mm"
        raise ValueError(
            f"cannot leave {wanted:.3g} 1/mm: the law keeps {words} after {high:.3g} 1/mm"
        )
    peak = _root(missing, wanted, high)
    return peak, curvature_after_release(law, peak, axis=axis)[1]


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    return float(root_scalar(function, bracket=(low, high), xtol=1e-13, rtol=1e-11).root)


def _sizes(law: SectionLaw) -> Array:
    response = law.respond(np.zeros((1, COMPONENTS)), law.start(1))
    return np.sqrt(np.diagonal(response.tangent[0]))


def _collected(law: SectionLaw, points: list[Point]) -> SectionPath:
    strain = np.array([point.strain for point in points]).reshape(-1, COMPONENTS)
    resultant = np.array([point.resultant for point in points]).reshape(-1, COMPONENTS)
    stored = [law.stored(point.strain[None], point.state)[0] for point in points]
    inelastic = [law.inelastic(point.state)[0] for point in points]
    return SectionPath(strain, resultant, points[-1].state, np.array(stored), np.array(inelastic))
