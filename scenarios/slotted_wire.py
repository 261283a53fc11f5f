"""A wire in slots: laid along them, drawn in, and what it does to them. In the arch frame.

The mesh belongs to the wire's material: slots slide over it and the history of the sections stays
where it is.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import Rod, RodPlace, RodState
from gomphosis.fem.rod_equilibrium import Grips
from gomphosis.fem.rod_equilibrium import settle as held_fast
from gomphosis.fem.section import Array
from gomphosis.fem.section_paths import overbend
from gomphosis.fem.section_response import SectionLaw
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_equilibrium import between, reach, untouched
from gomphosis.fem.slot_holds import Holds
from gomphosis.fem.slot_system import SlottedRod, SlottedState, Trial, Unknowns
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize, edge_contact, wall_heights
from gomphosis.scenarios.slots import Slots
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireError, WireMesh, WireShape

PART = 0.015  # 1/mm of curvature (or rad/mm of twist) of a bend made by hand at once
STRIDE, SWING = 0.5, 0.2  # mm and rad of a slot in the first step of drawing a wire in
LEAST_SHARE = 1 / 32  # of the first step
NEARBY = 6.0  # mm; from a slot's centre, where a crimp beside it may be
LEFT = 1e-6  # mm that an end of the wire is off its last slot at least


@dataclass(frozen=True)
class Stop:
    """A crimp on the wire beside a slot.

    Parameters
    ----------
    slot
        Index of the slot.
    side
        +1 beyond the slot along the wire, -1 before it: where the crimp sits.
    """

    slot: int
    side: int


@dataclass(frozen=True)
class ArchWire:
    """A wire as tied in.

    Parameters
    ----------
    law
        Of its cross-section; second axis occlusal, third labial.
    section
        Outline of the cross-section.
    shape
        Without stress.
    sizes, ties
        Sizes of every slot and what closes it, n each.
    friction
        Coulomb's coefficient in the slots.
    stops
        Crimps; a wire that is cinched back has one behind either end.
    released
        Share of friction that chewing takes away before every step, 0 to 1.
    """

    law: SectionLaw
    section: WireSection
    shape: WireShape
    sizes: tuple[SlotSize, ...]
    ties: tuple[Ligation, ...]
    friction: float = 0.0
    stops: tuple[Stop, ...] = ()
    released: float = 0.0

    def __post_init__(self) -> None:
        if len(self.sizes) != len(self.ties):
            raise ValueError(f"{len(self.sizes)} slots are closed by {len(self.ties)} ties")

    @property
    def width(self) -> float:
        """Longest slot along the wire, mm."""
        return max(size.width for size in self.sizes)

    def ages(self, day: float) -> Array:
        """Return the age of every tie, day, shape (n,)."""
        return np.full(len(self.ties), day)


@dataclass(frozen=True)
class SlottedWire:
    """A wire in its slots.

    Attributes
    ----------
    wire
        As tied in.
    slots
        That it runs through.
    per_span
        Least number of elements between neighbouring slots.
    mesh
        Of the wire.
    what
        Wire, edges and holds.
    state
        Of the wire, at the end of the last step.
    frames
        Where the slots were then.
    load
        On every slot about its point when the wire had been drawn in, N and N·mm, shape (n, 6).
    """

    wire: ArchWire
    slots: Slots
    per_span: int
    mesh: WireMesh
    what: SlottedRod
    state: SlottedState
    frames: SlotFrames
    load: Array

    @property
    def place(self) -> RodPlace:
        """Where the wire is."""
        return self.state.rod.place

    def trial(
        self, frames: SlotFrames, *, day: float = 0.0, guess: Unknowns | None = None
    ) -> Trial:
        """Return the equilibrium with the slots elsewhere, in one step from here if it can.

        Parameters
        ----------
        day
            Since the wire was tied in: ties fade.
        """
        return reach(self.aged(day), self.state, between(self.frames, frames), guess=guess)

    def aged(self, day: float) -> SlottedRod:
        """Return wire, edges and holds some days after the wire was tied in."""
        wire = self.wire
        heights = wall_heights(wire.section, wire.sizes, wire.ties, ages=wire.ages(day))
        contact = self.what.contact
        if np.array_equal(heights, contact.edges.height):
            return self.what
        edges = replace(contact.edges, height=heights)
        return replace(self.what, contact=replace(contact, edges=edges))

    def kept(self, trial: Trial) -> "SlottedWire":
        """Return the wire after a step that ended in a trial.

        Raises
        ------
        WireError
            If a slot has slid off the wire's end.
        """
        state = trial.kept()
        ends = self.what.rod.shape.stations[[0, -1]]
        off = (state.touches.station < ends[0] + LEFT) | (state.touches.station > ends[1] - LEFT)
        if np.any(off & (state.touches.push > 0)):
            raise WireError("an end of the wire has slid out of its last slot")
        if self.wire.released > 0:
            share = (1.0 - self.wire.released) * state.touches.share
            state = replace(state, touches=replace(state.touches, share=share))
        return replace(self, state=state, frames=trial.frames)


def drawn_in(wire: ArchWire, slots: Slots, poses: Array, *, per_span: int) -> SlottedWire:
    """Return a new wire tied into slots: drawn in without friction, which acts from then on.

    Raises
    ------
    NotConvergedError
        If the wire finds no equilibrium.
    WireError
        If bends meet slots, or the wire does not go into them.
    """
    _check_fit(wire)
    mesh = wire.shape.mesh(slots.aligned, per_span=per_span, width=wire.width)
    rod = Rod(mesh.shape, wire.law)
    end = slots.at(poses)
    state = _fitted(_as_bent(rod, mesh), mesh, end)
    start = SlotFrames(state.place.nodes[mesh.slots], state.place.triads[mesh.slots])
    compliance = np.array([size.give for size in wire.sizes])
    contact = edge_contact(wire.section, wire.sizes, wire.ties, friction=0.0)
    eased = SlottedRod(rod, contact, _eased(wire, mesh), compliance)
    found = _along(eased, untouched(eased, state, start), start, end)
    rubs = np.full_like(contact.friction, wire.friction)
    kept = found.kept()
    holds = _holds(wire, mesh, found)
    loose = SlottedRod(rod, replace(contact, friction=rubs), holds, compliance)
    forces = dict(zip(_names(eased.holds), kept.held, strict=True))
    held = np.array([forces.get(name, 0.0) for name in _names(loose.holds)])
    state = replace(kept, held=held)
    return SlottedWire(wire, slots, per_span, mesh, loose, state, end, found.on_slots)


def _check_fit(wire: ArchWire) -> None:
    tall = max(size.height for size in wire.sizes)
    for index, size in enumerate(wire.sizes):
        if wire.section.height > size.height:
            raise WireError(
                f"a wire {wire.section.height:.4g} mm high does not go into slot {index + 1}, "
                f"which is {size.height:.4g} mm high (the highest is {tall:.4g} mm)"
            )
        if wire.section.width > size.depth and wire.ties[index].seating is None:
            raise WireError(
                f"a wire {wire.section.width:.4g} mm wide cannot be closed into slot {index + 1}, "
                f"which is {size.depth:.4g} mm deep"
            )


def _along(what: SlottedRod, state: SlottedState, start: SlotFrames, end: SlotFrames) -> Trial:
    """Follow the slots from where the wire lies to where they are, in steps that suit it."""
    way = between(start, end)
    turn = Rotation.from_matrix(end.triads @ np.swapaxes(start.triads, 1, 2)).magnitude()
    far = np.linalg.norm(end.place - start.place, axis=1)
    length = min(1.0, 1.0 / max(far.max() / STRIDE, turn.max() / SWING, 1.0))
    done, least = 0.0, LEAST_SHARE * length
    while True:
        share = min(1.0, done + length)
        try:
            found = reach(what, state, _part(way, done, share))
        except NotConvergedError:
            length *= 0.5
            if length < least:
                raise
            continue
        if share == 1.0:
            return found
        state, done, length = found.kept(), share, 1.5 * length


def _part(
    way: Callable[[float], SlotFrames], start: float, end: float
) -> Callable[[float], SlotFrames]:
    return lambda share: way((1.0 - share) * start + share * end)


def _anchor(count: int) -> int:
    """Return the slot that takes away what nothing else holds: the middle one."""
    return (count - 1) // 2


def _spin(wire: ArchWire, mesh: WireMesh) -> Holds:
    """Return what keeps a round wire from rolling: no contact does, and no moment is needed."""
    if not wire.section.round:
        return Holds.none()
    slot = _anchor(len(mesh.slots))
    node = mesh.slots[slot]
    return Holds(*(np.array([v]) for v in (node, slot, True, 0.0, 0.0)))


def _sliding(mesh: WireMesh) -> Holds:
    """Return what keeps a wire without friction from sliding along the arch."""
    slot = _anchor(len(mesh.slots))
    return Holds(*(np.array([v]) for v in (mesh.slots[slot], slot, False, 0.0, 0.0)))


def _eased(wire: ArchWire, mesh: WireMesh) -> Holds:
    return _spin(wire, mesh) + _sliding(mesh)


def _holds(wire: ArchWire, mesh: WireMesh, found: Trial) -> Holds:
    """Return spin, stops, and the anchor where neither stops nor friction hold the wire along."""
    holds, place, frames = _spin(wire, mesh), found.unknowns.place, found.frames
    for stop in wire.stops:
        away = place.nodes - frames.place[stop.slot]
        along = away @ frames.triads[stop.slot, :, 0]
        near = np.linalg.norm(away, axis=1) < NEARBY
        beside = np.abs(along - 0.5 * stop.side * wire.sizes[stop.slot].width)
        node = int(np.argmin(np.where(near, beside, np.inf)))
        # a crimp sits where the wire is, beside the slot
        values = (node, stop.slot, False, -float(stop.side), float(along[node]))
        holds = holds + Holds(*(np.array([v]) for v in values))
    both_ways = {stop.side for stop in wire.stops} == {1, -1}
    if wire.friction == 0.0 and not both_ways:
        holds = holds + _sliding(mesh)
    return holds


def _names(holds: Holds) -> list[tuple[float, ...]]:
    return list(zip(holds.node, holds.slot, holds.about, holds.side, strict=True))


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
        state = held_fast(rod, RodState(state.place, share * history), one).state
    return RodState(state.place, history)


def _fitted(state: RodState, mesh: WireMesh, frames: SlotFrames) -> RodState:
    """Return the wire moved as a rigid body as near to the slots as it gets."""
    nodes, own = state.place.nodes[mesh.slots], state.place.triads[mesh.slots]
    # the slots' axes count like arms of one millimetre to either side: they fix the turn about a
    # straight wire, and leave mirror images alike
    ours, theirs = _arms(nodes, own), _arms(frames.place, frames.triads)
    middle, target = ours.mean(axis=0), theirs.mean(axis=0)
    turn = Rotation.align_vectors(theirs - target, ours - middle)[0].as_matrix()
    moved = RodPlace((state.place.nodes - middle) @ turn.T + target, turn @ state.place.triads)
    return RodState(moved, state.history)


def _arms(place: Array, triads: Array) -> Array:
    axes = np.swapaxes(triads, 1, 2)
    return np.concatenate([place[:, None] + side * axes for side in (1, -1)]).reshape(-1, 3)
