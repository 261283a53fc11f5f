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
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array, Index
from gomphosis.scenarios.arch import UP, PassiveLine, axes

CLOSE = 0.5  # mm
STRAIGHT = 1e-12  # rad; a wire that turns by less spins freely in its slots
PASSES, SETTLED = 40, 1e-9  # in which slots find their places along a wire, and to how many mm
RANK = 1e-6  # of the largest singular value: motions that the slots do not see
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
    station
        Place of every slot along the wire, mm, shape (n,).
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
    along
        The wire's own motion along itself at the slots per held component, shape (n, k).
    """

    station: Array
    nodes: Array
    contact: Array
    lead: Array
    carry: Array
    held: npt.NDArray[np.bool_]
    stiffness: Array
    moved: Array
    along: Array

    def motion(self, poses: Array) -> Array:
        """Return the slots' motion from the passive line at poses of shape (n, 6), (n, 6)."""
        return self.lead + np.einsum("nij,nj->ni", self.carry, poses)

    def slip(self, poses: Array) -> Array:
        """Return how far every slot has slid along the wire since it was tied, mm, shape (n,)."""
        motion = self.motion(poses)
        return motion[:, ALONG] - self.along @ motion[self.held]

    def wrenches(self, poses: Array) -> Array:
        """Return force systems on the teeth about their crests, shape (n, 6)."""
        at_slots = np.zeros(self.held.shape)
        at_slots[self.held] = -self.stiffness @ self.motion(poses)[self.held]
        return np.einsum("nij,ni->nj", self.carry, at_slots)

    @cached_property
    def derivative(self) -> Array:
        """Derivative of the wrenches by the poses, shape (6 n, 6 n)."""
        carry = np.asarray(block_diag(*self.carry))[self.held.ravel()]
        return np.asarray(-carry.T @ self.stiffness @ carry, dtype=float)


def tie(
    brackets: Sequence[Bracket], wire: ArchWire, station: Array, held: npt.NDArray[np.bool_]
) -> TiedWire:
    """Tie a wire into slots at given places along it.

    Parameters
    ----------
    station
        Place of every slot along the wire, mm, shape (n,).
    held
        Components (labial, along, occlusal, rotations about them) each slot holds, shape (n, 6).

    Raises
    ------
    ValueError
        If two brackets are closer than 0.5 mm along the wire.
    """
    line = wire.line
    aligned = np.array([bracket.place for bracket in brackets])
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
    spins = not wire.twist_held and bool(np.ptp(angle) < STRAIGHT)
    stiffness, moved = _condense(nodes, wire.section, _Ties(at, angle, held, spins))
    tangent = np.stack([axes(a)[:, ALONG] for a in angle])
    along = np.einsum("nc,nck->nk", tangent, moved.reshape(len(nodes), FREEDOMS, -1)[at, :3])
    carry = spread @ np.stack([motion_at(b.slot) for b in brackets])
    return TiedWire(station, nodes, contact, lead, carry, held, stiffness, moved, along)


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
        self._aligned = np.array([b.place for b in brackets])
        self._to_slot = np.stack([motion_at(b.slot) for b in brackets])
        self._tied = self._slid_in(np.zeros((len(brackets), FREEDOMS)))

    def engage(self, poses: Array) -> None:
        """Tie the wire in at poses: it follows the slots as a rigid body and slides through them.

        Raises
        ------
        ValueError
            If two brackets are closer than 0.5 mm.
        NotConvergedError
            If the slots do not find their places along the wire.
        """
        self._tied = self._slid_in(poses)

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return force systems about the crest points and their derivative by the poses."""
        return LoadResponse(self._tied.wrenches(poses), self._tied.derivative)

    def commit(self, poses: Array) -> None:
        """Move every slot along the wire by how far its tooth has slid along it.

        Raises
        ------
        ValueError
            If two brackets came closer than 0.5 mm.
        NotConvergedError
            If the slots do not find their places along the wire.
        """
        self._tied = self._settled(self._tied, poses)

    def rollback(self) -> None:
        """Forget nothing: trials leave no trace."""

    def centre_line(self, poses: Array) -> Array:
        """Return the deflected wire in the arch frame, mm, shape (m, 3)."""
        moved = self._tied.moved @ self._tied.motion(poses)[self._tied.held]
        return deflected(self._tied.nodes, moved.reshape(-1, FREEDOMS))

    def balance(self, wrenches: Array) -> Array:
        """Return net force and moment about the arch's origin over all brackets, shape (6,).

        Parameters
        ----------
        wrenches
            About the crests, tooth frames, N and N·mm, shape (n, 6).
        """
        turned = self.wire.line.direction(self._aligned)
        total = np.zeros(FREEDOMS)
        for i, wrench in enumerate(wrenches):
            at_slot = np.linalg.solve(self._to_slot[i].T, wrench)
            force, moment = (axes(turned[i]) @ part for part in (at_slot[:3], at_slot[3:]))
            total[:3] += force
            total[3:] += moment + np.cross(self._tied.contact[i], force)
        return total

    def _slid_in(self, poses: Array) -> TiedWire:
        """Tie the wire where the slots stand along it once it has followed them as a rigid body."""
        held = _across(len(self.brackets), self.wire)
        held[[0, -1] if self.wire.cinched else [(len(held) - 1) // 2], ALONG] = True
        start = np.stack([b.start for b in self.brackets])
        motion = start + np.einsum("nij,nj->ni", self._to_slot, poses)
        angle = self.wire.line.direction(self._aligned)
        turn = np.stack([axes(a) for a in angle])
        displacement = np.einsum("nij,nj->ni", turn, motion[:, :3])
        rigid = np.stack([motion_at(p)[:3] for p in self.wire.line.point(self._aligned)])
        # sliding along itself says nothing about where the wire lies: fit across it only
        across = turn[:, :, [LABIAL, OCCLUSAL]]
        rows = np.einsum("nic,nij->ncj", across, rigid).reshape(-1, FREEDOMS)
        wanted = np.einsum("nic,ni->nc", across, displacement).ravel()
        body = np.linalg.lstsq(rows, wanted, rcond=RANK)[0]
        left = displacement - rigid @ body
        station = self._aligned + np.einsum("ni,ni->n", turn[:, :, ALONG], left)
        return self._settled(tie(self.brackets, self.wire, station, held), poses)

    def _settled(self, tied: TiedWire, poses: Array) -> TiedWire:
        """Move the slots along the wire until none slips."""
        history = []
        for _ in range(PASSES):
            slip = tied.slip(poses)
            history.append(float(np.abs(slip).max()))
            if history[-1] < SETTLED:
                return tied
            tied = tie(self.brackets, self.wire, tied.station + slip, tied.held)
        raise NotConvergedError(history, SETTLED)


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
    basis = [np.kron(np.eye(2), axes(angle)) for angle in ties.angle]
    blocks = [slice(FREEDOMS * node, FREEDOMS * (node + 1)) for node in ties.at]
    turned = assemble_beam(nodes, section, up=UP)
    for block, turn in zip(blocks, basis, strict=True):
        turned[block] = turn.T @ turned[block]
        turned[:, block] = turned[:, block] @ turn
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
    for block, turn in zip(blocks, basis, strict=True):
        moved[block] = turn @ moved[block]
    return 0.5 * (stiff + stiff.T), moved


def _across(count: int, wire: ArchWire) -> npt.NDArray[np.bool_]:
    """Return what slots hold of a wire that slides, shape (count, 6)."""
    held = np.zeros((count, FREEDOMS), dtype=bool)
    held[:, TRANSVERSE] = True
    held[:, ABOUT_ALONG] = wire.twist_held
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
