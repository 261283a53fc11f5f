"""A wire in the slots of n brackets: from poses of the teeth to the force system on each.

First form: linear elastic, small rotations, no play. Every slot holds the wire in transverse
displacement and in first- and second-order rotation, and a rectangular wire also in torsion; the
wire slides freely along every slot but the anchored one. Without play, torque is overestimated.

Frames are those of the aligned teeth; rotations are small and added.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.linalg import block_diag, solve

from gomphosis.bone.loads import LoadResponse
from gomphosis.bone.support import motion_at
from gomphosis.fem.beam import FREEDOMS, BeamSection, assemble_beam, deflected
from gomphosis.fem.section import Array, Index
from gomphosis.scenarios.arch import UP, PassiveLine, axes

CLOSE = 0.5  # mm
STRAIGHT = 1e-12  # rad
TURN = np.deg2rad(2.0)  # a curved span is followed by straight elements that turn by less
LABIAL, ALONG, OCCLUSAL, ABOUT_LABIAL, ABOUT_ALONG, ABOUT_OCCLUSAL = range(FREEDOMS)
TRANSVERSE = (LABIAL, OCCLUSAL, ABOUT_LABIAL, ABOUT_OCCLUSAL)


@dataclass(frozen=True)
class Bracket:
    """Slot of one tooth.

    Parameters
    ----------
    place
        Arc length of the aligned slot along the wire, mm.
    slot
        Slot centre (x, y, z) in the tooth frame, mm.
    start
        Slot's displacement and rotation from the passive line at the start, tooth frame, mm and
        rad, shape (6,): malposition less prescription.
    """

    place: float
    slot: Array
    start: Array


@dataclass(frozen=True)
class ArchWire:
    """A wire as tied in.

    Parameters
    ----------
    section
        Beam stiffness.
    line
        Passive shape.
    twist_held
        True if slots hold the wire's rotation about its own axis (rectangular wires).
    cinched
        True if the wire is tied at both end slots; otherwise it is anchored at one.
    """

    section: BeamSection
    line: PassiveLine
    twist_held: bool
    cinched: bool = False


@dataclass(frozen=True)
class TiedWire:
    """A wire condensed to the slots it is tied in, at fixed places along it.

    Everything is in the axes (labial, along, occlusal) of the wire where it passes each slot.

    Attributes
    ----------
    nodes
        Passive line in the arch frame, mm, shape (m, 3).
    contact
        Its points at the slots, shape (n, 3).
    lead
        Displacement and rotation of each slot from the passive line before any tooth moves,
        shape (n, 6).
    carry
        From a tooth's pose to the motion of its slot, shape (n, 6, 6).
    held
        Components that a slot holds, shape (n, 6).
    stiffness
        Between held components, shape (k, k), k = held.sum().
    moved
        Motion of all nodes per held component, arch frame, shape (6 m, k).
    """

    nodes: Array
    contact: Array
    lead: Array
    carry: Array
    held: npt.NDArray[np.bool_]
    stiffness: Array
    moved: Array

    def slots(self, poses: Array) -> Array:
        """Return held components of the slots' motion at poses of shape (n, 6), shape (k,)."""
        motion = self.lead + np.einsum("nij,nj->ni", self.carry, poses)
        return motion[self.held]

    def wrenches(self, poses: Array) -> Array:
        """Return force systems on the teeth about their crests, shape (n, 6)."""
        at_slots = np.zeros(self.held.shape)
        at_slots[self.held] = -self.stiffness @ self.slots(poses)
        return np.einsum("nij,ni->nj", self.carry, at_slots)

    @cached_property
    def derivative(self) -> Array:
        """Derivative of the wrenches by the poses, shape (6 n, 6 n)."""
        carry = np.asarray(block_diag(*self.carry))[self.held.ravel()]
        return np.asarray(-carry.T @ self.stiffness @ carry, dtype=float)


def tie(brackets: Sequence[Bracket], wire: ArchWire, motion: Array) -> TiedWire:
    """Tie a wire into slots that have moved from the passive line.

    Parameters
    ----------
    motion
        Displacement and rotation of each slot, tooth frames, mm and rad, shape (n, 6).

    Raises
    ------
    ValueError
        If two brackets came closer than 0.5 mm along the wire.
    """
    line = wire.line
    aligned = np.array([bracket.place for bracket in brackets])
    station = aligned + motion[:, ALONG]
    if np.any(np.sign(aligned[-1] - aligned[0]) * np.diff(station) <= CLOSE):
        raise ValueError(f"two brackets came closer than {CLOSE} mm along the wire")
    angle, turned = line.direction(station), line.direction(aligned)
    contact = line.point(station)
    relative = np.stack([axes(a).T @ axes(b) for a, b in zip(angle, turned, strict=True)])
    spread = np.stack([np.kron(np.eye(2), r) for r in relative])
    lead = np.einsum("nij,nj->ni", spread, np.stack([b.start for b in brackets]))
    # the aligned slot seen from where the wire now passes
    offset = line.point(aligned) - contact
    lead[:, :3] += np.stack([axes(a).T @ o for a, o in zip(angle, offset, strict=True)])
    lead[:, ABOUT_OCCLUSAL] += angle - turned
    nodes, at = _mesh(line, station)
    held = _held_components(len(brackets), wire)
    spins = not wire.twist_held and bool(np.ptp(angle) < STRAIGHT)
    stiffness, moved = _condense(nodes, wire.section, _Ties(at, angle, held, spins))
    carry = spread @ np.stack([motion_at(b.slot) for b in brackets])
    return TiedWire(nodes, contact, lead, carry, held, stiffness, moved)


class WireLoads:
    """Load teeth by a wire; the places of the slots along it are updated at every commit.

    Between commits the force systems are linear in the poses, so the derivative is exact.

    Parameters
    ----------
    brackets
        In order along the wire, from either end, at least two.
    wire
        The wire as tied in.

    Raises
    ------
    ValueError
        For fewer than two brackets, or brackets closer than 0.5 mm.
    """

    def __init__(self, brackets: Sequence[Bracket], wire: ArchWire) -> None:
        if len(brackets) < 2:
            raise ValueError(f"a wire needs at least 2 brackets, got {len(brackets)}")
        self.brackets = tuple(brackets)
        self.wire = wire
        self._start = np.stack([b.start for b in brackets])
        self._to_slot = np.stack([motion_at(b.slot) for b in brackets])
        self._tied = tie(self.brackets, wire, self._start)

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return force systems about the crest points and their derivative by the poses."""
        return LoadResponse(self._tied.wrenches(poses), self._tied.derivative)

    def commit(self, poses: Array) -> None:
        """Move every slot along the wire to where its tooth now stands.

        Raises
        ------
        ValueError
            If two brackets came closer than 0.5 mm.
        """
        motion = self._start + np.einsum("nij,nj->ni", self._to_slot, poses)
        self._tied = tie(self.brackets, self.wire, motion)

    def rollback(self) -> None:
        """Forget nothing: trials leave no trace."""

    def centre_line(self, poses: Array) -> Array:
        """Return the deflected wire in the arch frame, mm, shape (m, 3)."""
        moved = self._tied.moved @ self._tied.slots(poses)
        return deflected(self._tied.nodes, moved.reshape(-1, FREEDOMS))

    def balance(self, wrenches: Array) -> Array:
        """Return net force and moment about the arch's origin over all brackets, shape (6,).

        Parameters
        ----------
        wrenches
            About the crests, tooth frames, N and N·mm, shape (n, 6).
        """
        turned = self.wire.line.direction(np.array([b.place for b in self.brackets]))
        total = np.zeros(FREEDOMS)
        for i, wrench in enumerate(wrenches):
            at_slot = np.linalg.solve(self._to_slot[i].T, wrench)
            force, moment = (axes(turned[i]) @ part for part in (at_slot[:3], at_slot[3:]))
            total[:3] += force
            total[3:] += moment + np.cross(self._tied.contact[i], force)
        return total


@dataclass(frozen=True)
class _Ties:
    """Nodes at the slots, the wire's direction there, what is held, and whether it spins."""

    at: Index
    angle: Array
    held: npt.NDArray[np.bool_]
    spins: bool


def _condense(nodes: Array, section: BeamSection, ties: _Ties) -> tuple[Array, Array]:
    """Return stiffness between held components and the motion of all nodes per component."""
    size = FREEDOMS * len(nodes)
    basis = np.eye(size)
    for node, a in zip(ties.at, ties.angle, strict=True):
        block = slice(FREEDOMS * node, FREEDOMS * (node + 1))
        basis[block, block] = np.kron(np.eye(2), axes(a))
    turned = basis.T @ assemble_beam(nodes, section, up=UP) @ basis
    freedoms = FREEDOMS * ties.at[:, None] + np.arange(FREEDOMS)
    held = freedoms[ties.held]
    # a straight round wire turns about itself without strain: one node's twist is set to zero
    gauge = [freedoms[0, ABOUT_ALONG]] if ties.spins else []
    free = np.setdiff1d(np.arange(size), [*held, *gauge])
    follow = solve(turned[np.ix_(free, free)], turned[free][:, held], assume_a="pos")
    stiff = turned[np.ix_(held, held)] - turned[held][:, free] @ follow
    moved = np.zeros((size, len(held)))
    moved[held, np.arange(len(held))] = 1.0
    moved[free] = -follow
    return 0.5 * (stiff + stiff.T), basis @ moved


def _held_components(count: int, wire: ArchWire) -> npt.NDArray[np.bool_]:
    held = np.zeros((count, FREEDOMS), dtype=bool)
    held[:, TRANSVERSE] = True
    held[:, ABOUT_ALONG] = wire.twist_held
    held[[0, -1] if wire.cinched else [(count - 1) // 2], ALONG] = True
    return held


def _mesh(line: PassiveLine, station: Array) -> tuple[Array, Index]:
    """Return nodes, shape (m, 3), and the node at each station; spans split by their turn."""
    direction = line.direction(station)
    turns = np.abs(np.diff(direction)) / TURN
    counts = np.maximum(1, np.ceil(turns)).astype(np.int64)
    pieces = [
        np.linspace(a, b, count + 1)[1:]
        for a, b, count in zip(station[:-1], station[1:], counts, strict=True)
    ]
    nodes = line.point(np.concatenate([station[:1], *pieces]))
    return nodes, np.concatenate([[0], np.cumsum(counts)])
