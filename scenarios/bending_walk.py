"""Half a wire in a three-point bend, led along deflections in increments that are small enough.

By symmetry the middle of the wire is held in a frame that moves down, and the support is one edge.
An increment is small enough when its halves give the same force; contact is one-sided: a wire that
would have to be pulled down has come off the indenter.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import root_scalar
from scipy.spatial.transform import Rotation

from gomphosis.fem.knife_edge import KnifeEdge, OverEdge, Touch, settle_over_edge
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import POINTS, Rod, RodPlace, RodState
from gomphosis.fem.rod_curve import SLOPE, centre_point
from gomphosis.fem.rod_equilibrium import Grips

INCREMENT_CHANGE = 1e-3
"""Largest change of the force, over the peak, that halving an increment may bring."""

HALVINGS = 10  # of one increment, before it counts as not converged
NOTHING = 1e-6  # N; a pull below this is round-off of a wire at rest
RELEASE = 1e-7  # mm; accuracy of the deflection at which the wire comes off


@dataclass(frozen=True)
class Station:
    """The bent wire at one deflection.

    Attributes
    ----------
    deflection, force
        Of the indenter, mm, and on the whole wire, N.
    state, touch
        Of the modelled half.
    rubbed
        Work of friction so far, whole wire, N·mm.
    pushed
        Work of the indenter so far, N·mm.
    released
        Deflection, mm, above which the wire is in contact; None while it is.
    """

    deflection: float
    force: float
    state: RodState
    touch: Touch
    rubbed: float = 0.0
    pushed: float = 0.0
    released: float | None = None


@dataclass(frozen=True)
class Walk:
    """Stations at the asked deflections, and the deflections of every increment on the way."""

    stations: tuple[Station, ...]
    increments: tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class Bench:
    """A wire, whose middle is its first node at the origin, over the edge of one support.

    Parameters
    ----------
    rod, edge
        Half of the wire, and the support.
    elements
        Of the rod without its free end.
    """

    rod: Rod
    edge: KnifeEdge
    elements: int

    def start(self) -> Station:
        """Return the straight wire that just touches."""
        return Station(0.0, 0.0, self.rod.at_rest(), Touch(float(self.edge.centre[0]), 0.0))

    def adapted(self, path: Sequence[float]) -> Walk:
        """Go along deflections, halving every increment until its halves agree with it."""
        walker = _Adapting(self)
        here, done = self.start(), 0
        while done < len(path):
            walker.advance_along(here, path[done : done + 2])
            here = walker.stations[-1]
            done = len(walker.stations)
        return Walk(tuple(walker.stations), tuple(walker.increments))

    def repeated(self, increments: Sequence[Sequence[float]]) -> Walk:
        """Go along given increments; one in which Newton fails is halved."""
        here, before, stations, gone = self.start(), None, [], []
        for group in increments:
            done: list[float] = []
            for target in group:
                last = here
                here = self._reached(here, target, before, done)
                before = last
            stations.append(here)
            gone.append(tuple(done))
        return Walk(tuple(stations), tuple(gone))

    def _reached(
        self,
        here: Station,
        target: float,
        before: Station | None,
        done: list[float],
        depth: int = 0,
    ) -> Station:
        try:
            found = self.step(here, target, guess=ahead(before, here, target))
        except NotConvergedError:
            if depth == HALVINGS:
                raise
            middle = 0.5 * (here.deflection + target)
            half = self._reached(here, middle, before, done, depth + 1)
            return self._reached(half, target, here, done, depth + 1)
        done.append(target)
        return found

    def step(self, here: Station, target: float, *, guess: RodPlace | None = None) -> Station:
        """Return the wire at a deflection in one step from a station.

        Parameters
        ----------
        guess
            Where the iteration starts; default: where the wire is.

        Raises
        ------
        NotConvergedError
            If forces do not balance.
        """
        if here.released is not None:
            if target <= here.released:
                return replace(here, deflection=target)
            # it touches again where it came off
            here, guess = replace(here, deflection=here.released, released=None), None
        found = self._solved(here, target, guess)
        if found.force >= -NOTHING:
            return found
        if here.force <= NOTHING:
            return replace(here, deflection=target, force=0.0, released=here.deflection)
        # off at the deflection where the force is nothing
        ends = (here.deflection, target)
        search = root_scalar(
            lambda d: self._solved(here, d, None).force, bracket=ends, xtol=RELEASE
        )
        off = float(search.root)
        free = self._solved(here, off, None)
        return replace(free, deflection=target, force=0.0, released=off)

    def _solved(self, here: Station, target: float, guess: RodPlace | None) -> Station:
        place = here.state.place if guess is None else guess
        found = settle_over_edge(
            self.rod,
            RodState(place, here.state.history),
            here.touch,
            edge=self.edge,
            grips=middle_grips(self.rod, target),
        )
        force = -2.0 * float(found.reaction[0, 1])
        return Station(
            target,
            force,
            found.state,
            found.touch,
            rubbed=here.rubbed + self._rubbed(here, found),
            pushed=here.pushed + 0.5 * (force + here.force) * (target - here.deflection),
        )

    def _rubbed(self, here: Station, found: OverEdge) -> float:
        """Return the work of friction of a step: drag times the way of the wire along the edge."""
        slid = found.touch.slid(here.touch, self.edge)
        return (found.touch.drag + here.touch.drag) * slid


class _Adapting:
    """Halves increments until halving changes nothing; keeps the largest force and the way gone."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.peak = self.change = 0.0  # N
        self.before: Station | None = None
        self.stations: list[Station] = []
        self.increments: list[tuple[float, ...]] = []

    def advance_along(self, here: Station, targets: Sequence[float]) -> None:
        """Go to the first target, and to the second as well if one increment spans both."""
        if len(targets) == 2 and 0.0 < _share(here, *targets) < 1.0:
            try:
                found = self._compared(here, *targets)
            except NotConvergedError:
                found = None  # tried one by one below, which raises if that fails too
            if found is not None:
                self.stations += found[1:]
                self.increments += [(target,) for target in targets]
                self.before = found[1]
                return
        gone: list[float] = []
        self.stations.append(self._halved(here, targets[0], gone))
        self.increments.append(tuple(gone))

    def _halved(self, here: Station, target: float, gone: list[float], depth: int = 0) -> Station:
        middle = 0.5 * (here.deflection + target)
        try:
            found = self._compared(here, middle, target)
            if found is not None:
                gone.append(target)
                self.before = here
                return found[0]
        except NotConvergedError:
            if depth == HALVINGS:
                raise
        if depth == HALVINGS:
            raise NotConvergedError([self.change / self.peak], INCREMENT_CHANGE)
        half = self._halved(here, middle, gone, depth + 1)
        return self._halved(half, target, gone, depth + 1)

    def _compared(
        self, here: Station, middle: float, target: float
    ) -> tuple[Station, Station, Station] | None:
        """Return the wire at target in one step, at middle, and at target in two, if they agree."""
        once = self.bench.step(here, target, guess=ahead(self.before, here, target))
        way = between(here, once, _share(here, middle, target))
        half = self.bench.step(here, middle, guess=way)
        twice = self.bench.step(half, target, guess=once.state.place)
        self.peak = max(self.peak, abs(twice.force))
        self.change = abs(once.force - twice.force)
        settled = self.change <= INCREMENT_CHANGE * self.peak
        return (once, half, twice) if settled else None


def _share(here: Station, middle: float, target: float) -> float:
    """Return how far a deflection lies on the way to a target; infinite if there is no way."""
    whole = target - here.deflection
    return (middle - here.deflection) / whole if whole != 0.0 else np.inf


def middle_grips(rod: Rod, deflection: float) -> Grips:
    """Return the frame that holds the middle of the wire, moved down, mm."""
    frame = rod.shape.place.triads[:1]
    place = np.array([[0.0, -deflection, 0.0]])
    return Grips(np.array([0]), place, frame, np.ones((1, 6), dtype=bool))


def ahead(before: Station | None, here: Station, target: float) -> RodPlace | None:
    """Return where the wire would be if it went on as before, None if it cannot tell."""
    if before is None or before.released is not None or here.released is not None:
        return None
    last, next_ = here.deflection - before.deflection, target - here.deflection
    if last == 0.0 or next_ / last <= 0.0:
        return None
    return _moved_on(before.state.place, here.state.place, next_ / last)


def between(here: Station, there: Station, share: float) -> RodPlace:
    """Return a place on the way from one station to another."""
    return _moved_on(there.state.place, here.state.place, -share)


def _moved_on(before: RodPlace, here: RodPlace, share: float) -> RodPlace:
    turn = Rotation.from_matrix(here.triads @ np.swapaxes(before.triads, 1, 2)).as_rotvec()
    triads = Rotation.from_rotvec(share * turn).as_matrix() @ here.triads
    return RodPlace(here.nodes + share * (here.nodes - before.nodes), triads)


def slope(rod: Rod, place: RodPlace, touch: Touch) -> float:
    """Return the angle of the wire where it is supported, rad."""
    along = centre_point(rod.shape, place, touch.station).path[SLOPE, 0]
    return float(np.arctan2(along[1], along[0]))


def energies(rod: Rod, state: RodState) -> tuple[float, float]:
    """Return the elastic energy and the inelastic work so far of the whole wire, N·mm."""
    strain = rod.respond(state.place, state.history).strain
    half = 0.5 * np.polynomial.legendre.leggauss(POINTS)[1]
    weight = 2.0 * (half * rod.shape.lengths[:, None]).ravel()
    stored = float(weight @ rod.section.stored(strain, state.history))
    return stored, float(weight @ rod.section.inelastic(state.history))
