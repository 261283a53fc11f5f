"""Stress-free shape of a wire in space: a line in its plane, with bends, steps, twists and loops.

Teeth stand along the plain line; what is bent into a wire makes it leave that line. Triads are
(along, occlusal, labial), so a turn about the third axis lifts the wire occlusally, one about
minus the second carries it labially, and one about the first gives crown-labial torque to what
lies beyond, as seen from the patient's right.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import RodPlace, RodShape
from gomphosis.fem.section import Array, Index, graded
from gomphosis.scenarios.arch import PassiveLine, StraightLine, triads

TURN = np.deg2rad(6.0)  # by which an element of a curved shape turns at most, on average
# mm of wire beyond the last slots, free of stress, and share of the wire: what slides in comes from
# there
TAIL, TAIL_SHARE = 3.0, 0.03
GRADED = 2.0  # how much shorter than even the elements at the ends of a long piece are
LEAST = 0.05  # mm between a slot and the next bend
ALONG, OCCLUSAL, LABIAL = range(3)


class WireError(ValueError):
    """Raised when a wire cannot lie as asked: slots or bends meet, or it does not keep a bend."""


@dataclass(frozen=True)
class Bend:
    """A sharp bend or twist.

    Parameters
    ----------
    place
        On the plain line, mm from the midline.
    turn
        Rotation vector of what lies beyond (towards greater places), in the wire's own triad, rad.
    over
        Length of wire that is bent cold by hand, mm; None: a stress-free kink.
    visit
        Number of the visit, after the wire has been tied in, at which it is bent by hand; 0:
        before.
    """

    place: float
    turn: Array
    over: float | None = None
    visit: int = 0

    @property
    def ends(self) -> tuple[float, ...]:
        """Places on the plain line at which the mesh needs a node."""
        if self.over is None:
            return (self.place,)
        return (self.place - 0.5 * self.over, self.place + 0.5 * self.over)


@dataclass(frozen=True)
class Loop:
    """A polyline bent into the wire, stress-free.

    Parameters
    ----------
    place
        Where it begins on the plain line, mm from the midline.
    points
        In the wire's triad there (along, occlusal, labial), mm, the first one (0, 0, 0); the last
        one's first component is the length of plain line that the loop replaces.
    """

    place: float
    points: Array

    @property
    def ends(self) -> tuple[float, ...]:
        """Places on the plain line at which the mesh needs a node."""
        return (self.place, self.place + float(self.points[-1, ALONG]))


def step(place: float, offset: tuple[float, float], run: float) -> tuple[Bend, Bend]:
    """Return two bends that offset what lies beyond without turning it.

    Parameters
    ----------
    offset
        Occlusally and labially, mm.
    run
        Length of wire between the bends, mm.

    Raises
    ------
    WireError
        If the wire between the bends is not longer than the offset.
    """
    size = float(np.hypot(*offset))
    if not size < run:
        raise WireError(f"a step of {size:g} mm needs more than {run:g} mm of wire")
    share = np.arcsin(size / run) / size if size > 0 else 0.0
    turn = share * np.array([0.0, -offset[1], offset[0]])
    return Bend(place - 0.5 * run, turn), Bend(place + 0.5 * run, -turn)


@dataclass(frozen=True)
class WireMesh:
    """A meshed shape.

    Attributes
    ----------
    shape
        Nodes, triads, lengths and kinks without stress.
    slots
        Node at every slot, in the order of the slots, shape (n,).
    by_hand
        Elements of each bend made by hand, first and one past the last, and the bend.
    bent
        Nodes between which each bend or loop of the stress-free shape lies, shape (b, 2).
    """

    shape: RodShape
    slots: Index
    by_hand: tuple[tuple[int, int, Bend], ...]
    bent: Index


@dataclass(frozen=True)
class WireShape:
    """A plain line with what is bent into it.

    Parameters
    ----------
    line
        Plain line, on which aligned slots lie.
    features
        Bends and loops.

    Raises
    ------
    WireError
        If two of them meet.
    """

    line: PassiveLine
    features: tuple[Bend | Loop, ...] = ()
    _sorted: tuple[Bend | Loop, ...] = field(init=False, repr=False, default=())

    def __post_init__(self) -> None:
        order = tuple(sorted(self.features, key=lambda feature: feature.ends[0]))
        for one, other in pairwise(order):
            if other.ends[0] - one.ends[-1] < LEAST:
                raise WireError(
                    f"bends at {one.place:.4g} and {other.place:.4g} mm from the midline meet"
                )
        object.__setattr__(self, "_sorted", order)

    @property
    def rolls(self) -> bool:
        """True if a round wire of this shape can turn about its line at next to no cost."""
        return isinstance(self.line, StraightLine)

    def mesh(self, stations: Array, *, per_span: int, width: float = 0.0) -> WireMesh:
        """Mesh the wire with a node at every slot's centre and ends.

        Parameters
        ----------
        stations
            Places of the slots' centres on the plain line, mm, shape (n,), monotone.
        per_span
            Least number of elements between neighbouring slots, and within a slot.
        width
            Of the slots along the wire, mm; 0 for ties at points.

        Raises
        ------
        WireError
            If a slot meets a bend or stands in a loop.
        """
        centres = np.sort(stations)
        slots = np.unique(np.concatenate([centres - 0.5 * width, centres + 0.5 * width]))
        breaks = self._breaks(slots, centres, 0.5 * width)
        numbers = self._counts(breaks, slots, per_span)
        walk = _Walk(self.line, breaks[0])
        at_break = [0]
        by_hand, bent = [], []
        for start, end, count in zip(breaks[:-1], breaks[1:], numbers, strict=True):
            feature = self._starting(start)
            here = len(walk.nodes) - 1
            if isinstance(feature, Loop):
                walk.loop(feature, max(1, per_span // 2))
            elif feature is not None and feature.over is None:
                walk.turn(feature.turn)
            elif feature is not None:
                by_hand.append((here, here + count, feature))
            if not (isinstance(feature, Loop) and end == feature.ends[-1]):
                walk.go(start, end, count)
            if isinstance(feature, Loop) or (feature is not None and feature.visit == 0):
                sharp = isinstance(feature, Bend) and feature.over is None
                bent.append((here, here if sharp else len(walk.nodes) - 1))
            at_break.append(len(walk.nodes) - 1)
        places = dict(zip(breaks, at_break, strict=True))
        nodes = np.array([places[float(place)] for place in stations])
        return WireMesh(
            walk.shape(breaks[0]), nodes, tuple(by_hand), np.array(bent, dtype=int).reshape(-1, 2)
        )

    def _starting(self, place: float) -> Bend | Loop | None:
        return next((f for f in self._sorted if place == f.ends[0]), None)

    def _breaks(self, slots: Array, centres: Array, half: float) -> list[float]:
        marks = [end for feature in self._sorted for end in feature.ends]
        for feature in self._sorted:
            first, last = feature.ends[0] - half - LEAST, feature.ends[-1] + half + LEAST
            met = centres[(centres > first) & (centres < last)]
            if len(met):
                raise WireError(
                    f"a slot at {met[0]:.4g} mm from the midline meets the bend at "
                    f"{feature.place:.4g} mm"
                )
        ends = min(slots[0], *marks, np.inf), max(slots[-1], *marks, -np.inf)
        tail = max(TAIL, TAIL_SHARE * (ends[1] - ends[0]))
        outer = [ends[0] - tail, ends[1] + tail]
        return sorted(
            {*map(float, slots), *map(float, centres), *map(float, marks), *map(float, outer)}
        )

    def _counts(self, breaks: list[float], slots: Array, per_span: int) -> tuple[int, ...]:
        counts = []
        for start, end in pairwise(breaks):
            ends = np.array([start, end])
            turn = float(np.abs(np.diff(self.line.direction(ends)))[0])
            after = int(np.searchsorted(slots, 0.5 * (start + end)))
            share = 0.0
            if 0 < after < len(slots):
                share = (end - start) / float(slots[after] - slots[after - 1])
            feature = self._starting(start)
            if isinstance(feature, Bend) and feature.over is not None:
                share = max(share, float(np.linalg.norm(feature.turn)) / (TURN * per_span))
            counts.append(max(1, int(np.ceil(turn / TURN)), int(np.ceil(per_span * share - 1e-9))))
        return tuple(counts)


class _Walk:
    """Nodes laid one after the other along the line, each bend turning all that follows."""

    def __init__(self, line: PassiveLine, start: float) -> None:
        self._line = line
        self._rotation, self._shift = np.eye(3), np.zeros(3)
        self.nodes = [line.point(np.array([start]))[0]]
        self.triads = [triads(line, np.array([start]))[0]]
        self._lengths: list[float] = []
        self._kinks: list[tuple[Array, Array]] = []
        self._next = np.eye(3)  # from the last node's triad to the start of the next element

    def turn(self, vector: Array) -> None:
        """Bend at the last node."""
        kink = Rotation.from_rotvec(vector).as_matrix()
        triad, pivot = self.triads[-1], self.nodes[-1]
        spin = triad @ kink @ triad.T
        self._rotation = spin @ self._rotation
        self._shift = pivot + spin @ (self._shift - pivot)
        self._next = self._next @ kink

    def go(self, start: float, end: float, count: int) -> None:
        """Follow the line from a place to another."""
        # bending is strongest where a piece ends: at slots and bends
        places = start + (end - start) * graded(count, ratio=GRADED)
        lengths = np.diff(places)
        points, axes = self._line.point(places[1:]), triads(self._line, places[1:])
        for point, triad, length in zip(points, axes, lengths, strict=True):
            self._add(self._rotation @ point + self._shift, self._rotation @ triad, float(length))

    def loop(self, loop: Loop, count: int) -> None:
        """Follow a loop from the last node; afterwards the line goes on from the loop's end."""
        frame = self.triads[-1] @ self._next
        origin = self.nodes[-1]
        corners = origin + loop.points @ frame.T
        own = frame
        for begin, corner in pairwise(corners):
            leg = corner - begin
            size = float(np.linalg.norm(leg))
            turned = _towards(own, leg / size)
            # every leg is straight: a kink at its first node
            self._next = self.triads[-1].T @ turned
            for k in range(count):
                self._add(begin + leg * (k + 1) / count, turned, size / count)
            own = turned
        end = np.array([loop.ends[-1]])
        beyond = self._rotation @ triads(self._line, end)[0]
        self._next = self.triads[-1].T @ beyond
        self._shift = self.nodes[-1] - self._rotation @ self._line.point(end)[0]

    def _add(self, node: Array, triad: Array, length: float) -> None:
        self.nodes.append(node)
        self.triads.append(triad)
        self._lengths.append(length)
        self._kinks.append((self._next, np.eye(3)))
        self._next = np.eye(3)

    def shape(self, origin: float) -> RodShape:
        """Return the shape laid so far."""
        kinks = np.array(self._kinks)
        smooth = np.allclose(kinks, np.eye(3), rtol=0, atol=1e-14)
        place = RodPlace(np.array(self.nodes), np.array(self.triads))
        return RodShape(place, np.array(self._lengths), None if smooth else kinks, origin)


def _towards(frame: Array, direction: Array) -> Array:
    """Return a triad turned by the least angle so that its first axis has a direction."""
    axis = np.cross(frame[:, 0], direction)
    sine, cosine = float(np.linalg.norm(axis)), float(frame[:, 0] @ direction)
    if sine < 1e-12 and cosine < 0:
        return np.stack([-frame[:, 0], frame[:, 1], -frame[:, 2]], axis=1)
    vector = axis * (np.arctan2(sine, cosine) / sine if sine > 0 else 1.0)
    return Rotation.from_rotvec(vector).as_matrix() @ frame
