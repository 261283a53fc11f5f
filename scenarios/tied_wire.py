"""A wire in rigid ties: where the slots stand, the wire through them, and what it does to them.

A slot holds the wire across itself and in first- and second-order rotation, a rectangular wire in
torsion too; along itself it lets the wire slide unless it is the anchor. Everything here is in the
arch frame.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.spatial.transform import Rotation

from gomphosis.bone.support import motion_at
from gomphosis.fem.chain import FREEDOMS
from gomphosis.fem.rod import Rod, RodPlace, RodState
from gomphosis.fem.rod_element import skew
from gomphosis.fem.rod_equilibrium import Equilibrium, Grips, between, reach, settle
from gomphosis.fem.rod_line import resampled
from gomphosis.fem.section import Array
from gomphosis.fem.section_paths import overbend
from gomphosis.fem.section_response import SectionLaw
from gomphosis.scenarios.arch import axes
from gomphosis.scenarios.wire_shape import WireError, WireMesh, WireShape

PART = 0.015  # 1/mm of curvature (or rad/mm of twist) of a bend made by hand at once
TRIAD = [1, 2, 0]  # columns (along, occlusal, labial) of axes (labial, along, occlusal)


@dataclass(frozen=True)
class Bracket:
    """Slot of one tooth.

    Parameters
    ----------
    place
        Arc length of the aligned slot along the wire's plain line, mm.
    slot
        Slot centre (x, y, z) in the tooth frame, mm.
    start
        Slot's displacement and rotation from the plain line at the start, tooth frame, mm and
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
        Law of its cross-section; second axis occlusal, third labial.
    shape
        Without stress.
    twist_held
        True if slots hold the wire's rotation about its own axis (rectangular wires).
    cinched
        True if the wire is tied at both end slots; otherwise it is anchored at one.
    """

    section: SectionLaw
    shape: WireShape
    twist_held: bool
    cinched: bool = False


class Slots:
    """Places of slots in the arch frame as functions of the teeth's poses.

    Parameters
    ----------
    brackets
        In order along the wire.
    shape
        Of the wire: aligned slots stand on its plain line.
    """

    def __init__(self, brackets: Sequence[Bracket], shape: WireShape) -> None:
        self.aligned = np.array([bracket.place for bracket in brackets])
        self._frame = np.stack([axes(angle) for angle in shape.line.direction(self.aligned)])
        self._origin = shape.line.point(self.aligned)
        self._start = np.stack([bracket.start for bracket in brackets])
        self._to_slot = np.stack([motion_at(bracket.slot) for bracket in brackets])

    def at(self, poses: Array) -> tuple[Array, Array]:
        """Return places, mm, (n, 3), and triads (along, occlusal, labial), (n, 3, 3)."""
        motion = self._motion(poses)
        turn = Rotation.from_rotvec(motion[:, 3:]).as_matrix()
        place = self._origin + np.einsum("nij,nj->ni", self._frame, motion[:, :3])
        return place, (self._frame @ turn)[:, :, TRIAD]

    def along(self, poses: Array) -> Array:
        """Return places along the plain line, to the first order in the poses, mm, (n,)."""
        return self.aligned + self._motion(poses)[:, 1]

    def follow(self, poses: Array) -> Array:
        """Return displacement and spin of the slots per pose, arch frame, shape (n, 6, 6)."""
        motion = self._motion(poses)
        spread = np.zeros((len(motion), FREEDOMS, FREEDOMS))
        spread[:, :3, :3] = self._frame
        spread[:, 3:, 3:] = self._frame @ left_jacobian(motion[:, 3:])
        return spread @ self._to_slot

    @property
    def to_crest(self) -> Array:
        """From force and moment at the slots, arch frame, to wrenches on the teeth, (n, 6, 6)."""
        back = np.zeros_like(self._to_slot)
        back[:, :3, :3] = back[:, 3:, 3:] = np.swapaxes(self._frame, 1, 2)
        return np.swapaxes(self._to_slot, 1, 2) @ back

    def _motion(self, poses: Array) -> Array:
        return self._start + np.einsum("nij,nj->ni", self._to_slot, poses)


def left_jacobian(vector: Array) -> Array:
    """Return the spin in space per change of rotation vectors (n, 3), shape (n, 3, 3)."""
    angle = np.linalg.norm(vector, axis=1)[:, None, None]
    small = angle < 1e-4
    safe = np.where(small, 1.0, angle)
    first = np.where(small, 0.5 - angle**2 / 24, (1 - np.cos(safe)) / safe**2)
    second = np.where(small, 1 / 6 - angle**2 / 120, (safe - np.sin(safe)) / safe**3)
    cross = skew(vector)
    return np.eye(3) + first * cross + second * cross @ cross


@dataclass(frozen=True)
class TiedWire:
    """A wire in its ties.

    Attributes
    ----------
    wire
        As tied in.
    station
        Place of every slot along the plain line, mm, shape (n,).
    per_span
        Least number of elements between neighbouring slots.
    mesh, rod
        At these places.
    equilibrium
        Of the wire in the ties.
    """

    wire: ArchWire
    station: Array
    per_span: int
    mesh: WireMesh
    rod: Rod
    equilibrium: Equilibrium

    @property
    def place(self) -> RodPlace:
        """Where the wire is."""
        return self.equilibrium.state.place

    def slip(self) -> Array:
        """Return how far every slot has slid along the wire since it was meshed, mm, (n,)."""
        grips, nodes = self.equilibrium.grips, self.place.nodes
        apart = grips.place - nodes[grips.nodes]
        slip = np.einsum("ni,ni->n", apart, grips.triads[:, :, 0])
        return self._back(np.where(grips.held[:, 0], 0.0, slip))

    def way(self, slots: tuple[Array, Array]) -> Callable[[float], Grips]:
        """Return the way of the ties from where they are to places and triads of the slots."""
        grips = self.equilibrium.grips
        place, triads = (part[self._order] for part in slots)
        return between(grips, grips.at(place, triads))

    def moved(self, way: Callable[[float], Grips], guess: RodPlace | None = None) -> "TiedWire":
        """Return the wire after its ties have gone a way, in one step from this state if it can."""
        found = reach(self.rod, self.equilibrium.state, way, guess=guess)
        return replace(self, equilibrium=found)

    def slid(self, slip: Array) -> "TiedWire":
        """Return the wire meshed anew where the slots stand after sliding along it.

        The history of the sections goes with the mesh, not with the material: a section keeps its
        share of the way between two slots.
        """
        mesh = self.wire.shape.mesh(
            self.station + slip, per_span=self.per_span, counts=self.mesh.counts
        )
        rod = Rod(mesh.shape, self.wire.section)
        state = self.equilibrium.state
        guess = resampled(self.rod.shape, state.place, mesh.shape.stations)
        found = settle(rod, RodState(guess, state.history), self.equilibrium.grips)
        return replace(self, station=self.station + slip, mesh=mesh, rod=rod, equilibrium=found)

    def on_slots(self) -> tuple[Array, Array]:
        """Return force and moment on every slot about its centre, arch frame, and derivative.

        Returns
        -------
        load
            N and N·mm, shape (n, 6).
        slope
            By displacement and spin of every slot, shape (n, 6, n, 6).
        """
        found = self.equilibrium
        grips, count = found.grips, len(self.station)
        motion, change = found.by_grips()
        nodes = grips.nodes
        lever = self.place.nodes[nodes] - grips.place
        force = found.reaction[:, :3]
        load = -found.reaction
        load[:, 3:] -= np.cross(lever, force)
        apart = motion[nodes, :3].reshape(count, 3, count, FREEDOMS)
        apart[range(count), :, range(count), :3] -= np.eye(3)
        slope = -change.reshape(count, FREEDOMS, count, FREEDOMS)
        slope[:, 3:] += np.einsum("kij,kjlm->kilm", skew(force), apart)
        slope[:, 3:] -= np.einsum("kij,kjlm->kilm", skew(lever), -slope[:, :3])
        order = np.argsort(self._order)
        return load[order], slope[order][:, :, order]

    @property
    def _order(self) -> npt.NDArray[np.int64]:
        """Indices of the slots in the order of their nodes."""
        return np.argsort(self.mesh.slots)

    def _back(self, values: Array) -> Array:
        return values[np.argsort(self._order)]


def laid(wire: ArchWire, slots: Slots, poses: Array, *, per_span: int) -> TiedWire:
    """Lay a wire without history along slots as a rigid body, in ties where it lies.

    Raises
    ------
    NotConvergedError
        If a wire with bends made by hand finds no shape.
    """
    place, triads = slots.at(poses)
    mesh = wire.shape.mesh(slots.aligned, per_span=per_span)
    rod = Rod(mesh.shape, wire.section)
    state = _fitted(_as_bent(rod, mesh), mesh, place, triads)
    order = np.argsort(mesh.slots)
    held = _held(wire, len(mesh.slots))
    nodes = mesh.slots[order]
    grips = Grips(nodes, state.place.nodes[nodes], state.place.triads[nodes], held[order])
    return TiedWire(wire, slots.aligned, per_span, mesh, rod, settle(rod, state, grips))


def _held(wire: ArchWire, count: int) -> npt.NDArray[np.bool_]:
    held = np.ones((count, FREEDOMS), dtype=bool)
    anchor = (count - 1) // 2
    held[:, 0] = False
    held[[0, -1] if wire.cinched else [anchor], 0] = True
    # a round wire along a straight line rolls without strain: one tie takes that freedom away,
    # without a moment unless the wire has bends or a history
    held[:, 3] = wire.twist_held
    held[anchor, 3] |= wire.shape.rolls
    return held


def _as_bent(rod: Rod, mesh: WireMesh) -> RodState:
    """Return the wire free of load, with the history of its bends made by hand."""
    state = rod.at_rest()
    if not mesh.by_hand:
        return state
    history, points = state.history.copy(), len(rod.point_stations) // len(mesh.shape.lengths)
    most = 0.0
    for first, last, turn in mesh.by_hand:
        length = float(mesh.shape.lengths[first:last].sum())
        strain = np.concatenate([[0.0], turn[[1, 2, 0]]]) / length
        axis = int(np.argmax(np.abs(strain)))
        most = max(most, abs(float(strain[axis])))
        try:
            _, bent = overbend(rod.section, float(strain[axis]), axis=axis)
        except ValueError as error:
            raise WireError(str(error)) from None
        history[:, points * first : points * last] = bent
    one = Grips(
        np.array([0]), state.place.nodes[:1], state.place.triads[:1], np.ones((1, 6), dtype=bool)
    )
    # what is left of the bends grows by parts small enough not to yield before the wire follows
    steps = int(np.ceil(most / PART))
    for share in np.arange(1, steps + 1) / steps:
        state = settle(rod, RodState(state.place, share * history), one).state
    return RodState(state.place, history)


def _fitted(state: RodState, mesh: WireMesh, place: Array, triads: Array) -> RodState:
    """Return the wire moved as a rigid body as near to the slots as it gets."""
    nodes, own = state.place.nodes[mesh.slots], state.place.triads[mesh.slots]
    # the slots' axes count like arms of one millimetre to either side: they fix the turn about a
    # straight wire, and leave mirror images alike
    ours, theirs = _arms(nodes, own), _arms(place, triads)
    middle, target = ours.mean(axis=0), theirs.mean(axis=0)
    turn = Rotation.align_vectors(theirs - target, ours - middle)[0].as_matrix()
    moved = RodPlace((state.place.nodes - middle) @ turn.T + target, turn @ state.place.triads)
    return RodState(moved, state.history)


def _arms(place: Array, triads: Array) -> Array:
    axes = np.swapaxes(triads, 1, 2)
    return np.concatenate([place[:, None] + side * axes for side in (1, -1)]).reshape(-1, 3)
