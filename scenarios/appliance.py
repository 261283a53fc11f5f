"""A wire in the slots of n brackets: from poses of the teeth to the force system on each.

First form: linear elastic, small rotations, no play. Every slot holds the wire in transverse
displacement and in first- and second-order rotation, and a rectangular wire also in torsion; the
wire slides freely along every slot but the anchored one. Without play, torque is overestimated.

Frames are those of the aligned teeth; rotations are small and added.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve

from gomphosis.bone.loads import LoadResponse
from gomphosis.bone.support import motion_at
from gomphosis.fem.beam import FREEDOMS, BeamSection, assemble_beam, deflected
from gomphosis.fem.section import Array
from gomphosis.scenarios.arch import UP, PassiveLine, axes

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
        For fewer than two brackets, or brackets out of order.
    """

    def __init__(self, brackets: Sequence[Bracket], wire: ArchWire) -> None:
        if len(brackets) < 2:
            raise ValueError(f"a wire needs at least 2 brackets, got {len(brackets)}")
        self.brackets = tuple(brackets)
        self.wire = wire
        aligned = np.array([b.place for b in brackets])
        self._turns = [axes(angle) for angle in wire.line.direction(aligned)]
        self._to_slot = np.stack([motion_at(b.slot) for b in brackets])
        self._aligned = aligned
        self.commit(np.zeros((len(brackets), FREEDOMS)))

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return force systems about the crest points and their derivative by the poses."""
        lead = self._lead + np.einsum("nij,nj->ni", self._carry, poses)
        force = -(self._stiffness @ lead[self._held]).ravel()
        full = np.zeros((len(poses), FREEDOMS))
        full[self._held] = force
        return LoadResponse(np.einsum("nij,ni->nj", self._carry, full), self._derivative)

    def commit(self, poses: Array) -> None:
        """Move every slot along the wire to where its tooth now stands."""
        self._set_stations(self._slot_motion(poses))

    def rollback(self) -> None:
        """Forget nothing: trials leave no trace."""

    def centre_line(self, poses: Array) -> Array:
        """Return the deflected wire in the arch frame, mm, shape (m, 3)."""
        lead = self._lead + np.einsum("nij,nj->ni", self._carry, poses)
        free = self._follow @ lead[self._held]
        moved = np.zeros(self._nodes.shape[0] * FREEDOMS)
        moved[self._held_freedoms] = lead[self._held]
        moved[self._free_freedoms] = free
        return deflected(self._nodes, (self._basis @ moved).reshape(-1, FREEDOMS))

    def balance(self, wrenches: Array) -> Array:
        """Return net force and moment about the arch's origin over all brackets, shape (6,)."""
        total = np.zeros(FREEDOMS)
        for i, wrench in enumerate(wrenches):
            at_slot = np.linalg.solve(self._to_slot[i].T, wrench)
            turn = self._turns[i]
            force, moment = turn @ at_slot[:3], turn @ at_slot[3:]
            total[:3] += force
            total[3:] += moment + np.cross(self._contact[i], force)
        return total

    def _slot_motion(self, poses: Array) -> Array:
        """Slot displacement and rotation from the passive line, tooth frames, shape (n, 6)."""
        start = np.stack([b.start for b in self.brackets])
        return start + np.einsum("nij,nj->ni", self._to_slot, poses)

    def _set_stations(self, motion: Array) -> None:
        line = self.wire.line
        station = self._aligned + motion[:, ALONG]
        if np.any(np.sign(self._aligned[-1] - self._aligned[0]) * np.diff(station) <= 0.5):
            raise ValueError("two brackets came closer than 0.5 mm along the wire")
        angle = line.direction(station)
        self._contact = line.point(station)
        self._nodes, at = _mesh(line, station)
        relative = [axes(a).T @ turn for a, turn in zip(angle, self._turns, strict=True)]
        spread = np.stack([np.kron(np.eye(2), r) for r in relative])
        self._carry = spread @ self._to_slot
        self._lead = np.einsum("nij,nj->ni", spread, np.stack([b.start for b in self.brackets]))
        # the aligned slot seen from where the wire now passes
        offset = line.point(self._aligned) - self._contact
        yaw = line.direction(self._aligned) - angle
        for i in range(len(station)):
            self._lead[i, :3] += axes(angle[i]).T @ offset[i]
            self._lead[i, ABOUT_OCCLUSAL] -= yaw[i]
        self._condense(at, angle)

    def _condense(self, at: Array, angle: Array) -> None:
        size = FREEDOMS * len(self._nodes)
        self._held = self._held_components()
        full = assemble_beam(self._nodes, self.wire.section, up=UP)
        self._basis = np.eye(size)
        for node, a in zip(at, angle, strict=True):
            block = slice(FREEDOMS * node, FREEDOMS * (node + 1))
            self._basis[block, block] = np.kron(np.eye(2), axes(a))
        turned = self._basis.T @ full @ self._basis
        freedoms = FREEDOMS * at[:, None] + np.arange(FREEDOMS)
        self._held_freedoms = freedoms[self._held]
        gauge = freedoms[0, ABOUT_ALONG] if self._spins() else -1
        released = ~np.isin(np.arange(size), [*self._held_freedoms, gauge])
        self._free_freedoms = np.flatnonzero(released)
        h, f = self._held_freedoms, self._free_freedoms
        self._follow = -solve(turned[np.ix_(f, f)], turned[np.ix_(f, h)], assume_a="pos")
        stiff = turned[np.ix_(h, h)] + turned[np.ix_(h, f)] @ self._follow
        self._stiffness = 0.5 * (stiff + stiff.T)
        self._derivative = self._pose_derivative()

    def _pose_derivative(self) -> Array:
        n = len(self.brackets)
        whole = np.zeros((n * FREEDOMS, n * FREEDOMS))
        held = np.flatnonzero(self._held.ravel())
        whole[np.ix_(held, held)] = self._stiffness
        carry = np.zeros_like(whole)
        for i in range(n):
            block = slice(FREEDOMS * i, FREEDOMS * (i + 1))
            carry[block, block] = self._carry[i]
        return -carry.T @ whole @ carry

    def _held_components(self) -> Array:
        held = np.zeros((len(self.brackets), FREEDOMS), dtype=bool)
        held[:, TRANSVERSE] = True
        if self.wire.twist_held:
            held[:, ABOUT_ALONG] = True
        if self.wire.cinched:
            held[[0, -1], ALONG] = True
        else:
            held[(len(self.brackets) - 1) // 2, ALONG] = True
        return held

    def _spins(self) -> bool:
        """Whether the wire can turn about itself without strain (straight and not held)."""
        direction = self.wire.line.direction(self._aligned)
        return not self.wire.twist_held and bool(np.ptp(direction) < 1e-12)


def _mesh(line: PassiveLine, station: Array) -> tuple[Array, Array]:
    """Return nodes, shape (m, 3), and the node at each station; spans split by their turn."""
    direction = line.direction(station)
    places = [station[:1]]
    at = [0]
    for k in range(len(station) - 1):
        count = max(1, int(np.ceil(abs(direction[k + 1] - direction[k]) / TURN)))
        places.append(np.linspace(station[k], station[k + 1], count + 1)[1:])
        at.append(at[-1] + count)
    return line.point(np.concatenate(places)), np.array(at)
