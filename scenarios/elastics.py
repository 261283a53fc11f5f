r"""Elastics, elastomeric chains and closed coil springs: tension from tooth to tooth.

Every link pulls two attachments straight towards each other with

.. math:: T = \max(0, F_0 + k\,(l - l_0))\,(1 - s\,(1 - e^{-t/\tau})),

l the distance between the attachments as the teeth stand, l_0 that at which it was put on, t the
time since. Attachments follow the poses as slots do (`scenarios.slots.Slots`), so a link
derives from an energy and its derivative by the poses is exact and symmetric.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.bone.loads import LoadResponse
from gomphosis.bone.states import State, StateError, check_names
from gomphosis.fem.chain import FREEDOMS
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array
from gomphosis.scenarios.slots import Bracket, Slots
from gomphosis.scenarios.wire_shape import WireShape

CLOSEST = 0.5  # mm between two attachments, below which a link has no direction worth the name


class ElasticError(ValueError):
    """An elastic that cannot be put on."""


@dataclass(frozen=True)
class ElasticLaw:
    """Tension of one link against its stretch and its age.

    Parameters
    ----------
    force
        F_0, as put on, N.
    stiffness
        k, N/mm; 0 for a force that does not depend on the stretch.
    put_on
        Day on which it is put on.
    lost_share
        s: share of the force that is lost in the end, 0 to 1.
    time_constant
        tau of the loss, day.

    Raises
    ------
    ValueError
        If a number is outside these bounds.
    """

    force: float
    stiffness: float
    put_on: float = 0.0
    lost_share: float = 0.0
    time_constant: float = 1.0

    def __post_init__(self) -> None:
        fits = self.force > 0 and self.stiffness >= 0 and self.time_constant > 0
        if not (fits and 0 <= self.lost_share <= 1):
            raise ValueError(
                "an elastic needs force > 0 N, stiffness >= 0 N/mm, lost_share 0 to 1 and "
                f"time_constant > 0 day; got {self}"
            )

    def left(self, day: float) -> float:
        """Return the share of the force that is left at a constant stretch."""
        return 1.0 + self.lost_share * float(np.expm1(-(day - self.put_on) / self.time_constant))

    def tension(self, extension: Array, day: float) -> Array:
        """Return the tension, N, at lengths beyond that at which it was put on, mm."""
        pull = self.force + self.stiffness * extension
        return self.left(day) * pull * (pull > 0)

    def slope(self, extension: Array, day: float) -> Array:
        """Return the derivative of the tension by the length, N/mm; 0 once slack."""
        taut = self.force + self.stiffness * extension > 0
        return np.where(taut, self.left(day) * self.stiffness, 0.0)


@dataclass(frozen=True)
class Attachments:
    """Where an elastic is hung.

    Parameters
    ----------
    teeth
        Indices of its teeth in the order in which it runs from one to the next.
    brackets
        One for each of them; their slots are the attachments.
    count
        Number of teeth of the scenario.

    Raises
    ------
    ValueError
        For fewer than two teeth, a tooth twice, or not one bracket each.
    """

    teeth: tuple[int, ...]
    brackets: tuple[Bracket, ...]
    count: int

    def __post_init__(self) -> None:
        twice = len(set(self.teeth)) < len(self.teeth)
        if len(self.teeth) < 2 or twice or len(self.brackets) != len(self.teeth):
            raise ValueError(f"an elastic needs two or more teeth, each once; got {self.teeth}")


class ElasticLoads:
    """Load teeth by one elastic, one tension per link.

    Parameters
    ----------
    law
        Of every link.
    attachments
        In the order in which the elastic runs.
    shape
        Of the wire along whose plain line aligned slots stand.
    before
        The same elastic on the line of the wire before, whose stretch goes on where this one
        takes over; None where it is put on.
    number
        Of its table in the scenario, from 1.
    """

    def __init__(
        self,
        law: ElasticLaw,
        attachments: Attachments,
        *,
        shape: WireShape,
        before: "ElasticLoads | None" = None,
        number: int = 1,
    ) -> None:
        self.law = law
        self.number = number
        self._teeth = np.array(attachments.teeth)
        self._count = attachments.count
        self._slots = Slots(attachments.brackets, shape)
        self._before = before
        self._day = law.put_on
        self._length_on: Array | None = None

    @property
    def count(self) -> int:
        """Number of teeth of the scenario."""
        return self._count

    def at_day(self, day: float) -> None:
        """Take the trials from here on to be at this day."""
        self._day = day

    def engage(self, poses: Array) -> None:
        """Put the elastic on at poses, or take it over from the line of the wire before.

        Raises
        ------
        ElasticError
            If two attachments are closer than 0.5 mm.
        """
        length = self.lengths(poses)
        if length.min() < CLOSEST:
            raise ElasticError(
                f"elastic {self.number} is put on attachments closer than {CLOSEST} mm"
            )
        if self._before is not None and self._before.in_place:
            length = length - self._before.extensions(poses)
        self._length_on = length

    @property
    def in_place(self) -> bool:
        """Whether the elastic has been put on."""
        return self._length_on is not None

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return force systems about the crest points and their derivative by the poses.

        Raises
        ------
        NotConvergedError
            If two attachments come closer than 0.5 mm.
        """
        own = poses[self._teeth]
        force, slope = self._on_attachments(own)
        to_crest = self._slots.to_crest[:, :, :3]
        follow = self._slots.follow(own)[:, :3]
        wrenches = np.zeros((self._count, FREEDOMS))
        wrenches[self._teeth] = np.einsum("nij,nj->ni", to_crest, force)
        derivative = np.zeros((self._count, FREEDOMS, self._count, FREEDOMS))
        block = np.einsum("nij,njml,mlk->nmik", to_crest, slope, follow, optimize=True)
        derivative[self._teeth[:, None], :, self._teeth[None, :], :] = block
        size = FREEDOMS * self._count
        return LoadResponse(wrenches, derivative.reshape(size, size))

    def commit(self, poses: Array) -> None:
        """Keep nothing: the force depends on where the teeth stand and on the day alone."""

    def rollback(self) -> None:
        """Forget nothing."""

    def state(self) -> State:
        """Return the day, and the lengths at which the links were put on."""
        if self._length_on is None:
            raise RuntimeError("an elastic has no state before it is put on")
        return {"day": np.array([self._day]), "length_on": self._length_on}

    def restore(self, state: State) -> None:
        """Go on as put on before.

        Raises
        ------
        StateError
            If it is not the state of an elastic with as many links.
        """
        check_names(state, ("day", "length_on"))
        links = len(self._teeth) - 1
        if state["length_on"].shape != (links,):
            raise StateError(f"an elastic of {links} links got {len(state['length_on'])} lengths")
        self._day = float(state["day"][0])
        self._length_on = state["length_on"]

    def lengths(self, poses: Array) -> Array:
        """Return the length of every link at poses of all teeth, mm."""
        return np.linalg.norm(np.diff(self._slots.at(poses[self._teeth]).place, axis=0), axis=1)

    def extensions(self, poses: Array) -> Array:
        """Return how much longer every link is than when it was put on, mm.

        Raises
        ------
        RuntimeError
            If it is not on.
        """
        if self._length_on is None:
            raise RuntimeError("an elastic has no stretch before it is put on")
        return self.lengths(poses) - self._length_on

    def tensions(self, poses: Array, day: float) -> Array:
        """Return the tension of every link, N."""
        return self.law.tension(self.extensions(poses), day)

    def _on_attachments(self, own: Array) -> tuple[Array, Array]:
        """Return forces, (m, 3), and their derivative by the attachments, (m, 3, m, 3)."""
        if self._length_on is None:
            raise RuntimeError("an elastic must be put on before it pulls")
        span = np.diff(self._slots.at(own).place, axis=0)
        length = np.linalg.norm(span, axis=1)
        if length.min() < CLOSEST:
            raise NotConvergedError([float(length.min())], CLOSEST)
        extension = length - self._length_on
        tension = self.law.tension(extension, self._day)
        slope = self.law.slope(extension, self._day)
        along = span / length[:, None]
        pull = tension[:, None] * along
        count = len(own)
        force = np.zeros((count, 3))
        force[:-1] += pull
        force[1:] -= pull
        line = along[:, :, None] * along[:, None, :]
        stiff = slope[:, None, None] * line + (tension / length)[:, None, None] * (np.eye(3) - line)
        return force, _between_neighbours(stiff)


def _between_neighbours(stiff: Array) -> Array:
    """Return the derivative of forces on attachments in a row from that of every link's pull."""
    count = len(stiff) + 1
    change = np.zeros((count, 3, count, 3))
    for k, block in enumerate(stiff):
        for i, j, sign in ((k, k, -1), (k, k + 1, 1), (k + 1, k, 1), (k + 1, k + 1, -1)):
            change[i, :, j, :] += sign * block
    return change
