"""Tying a wire into slots: laid along them and drawn in, or eased, bent and tied in again.

While hands are at work friction does not act; it acts from then on.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import Rod, RodPlace, RodState
from gomphosis.fem.rod_curve import VALUE, Curves
from gomphosis.fem.rod_line import resampled
from gomphosis.fem.section import Array
from gomphosis.fem.slot_edges import ALONG, SlotFrames
from gomphosis.fem.slot_equilibrium import between, reach, untouched
from gomphosis.fem.slot_holds import Holds
from gomphosis.fem.slot_system import SlottedRod, SlottedState, Trial
from gomphosis.scenarios.hand_bends import bent_by_hand, freed
from gomphosis.scenarios.slots import Slots
from gomphosis.scenarios.slotted_wire import ArchWire, SlottedWire, Stop, slotted_rod
from gomphosis.scenarios.wire_holds import Lie, anchored, crimps, in_use, some, still_in_use
from gomphosis.scenarios.wire_shape import WireError

STRIDE, SWING = 0.5, 0.2  # mm and rad of a slot in the first step of drawing a wire in
PULL = 0.25  # mm of a crimp's way at once
LEAST_SHARE = 1 / 32  # of the first step


def drawn_in(wire: ArchWire, slots: Slots, poses: Array, *, per_span: int) -> SlottedWire:
    """Return a new wire tied into slots.

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
    loose = bent_by_hand(rod, rod.at_rest(), mesh, visit=0)
    nodes = mesh.slots
    state = _fitted(loose, SlotFrames(loose.place.nodes[nodes], loose.place.triads[nodes]), end)
    start = SlotFrames(state.place.nodes[nodes], state.place.triads[nodes])
    eased = _eased(wire, rod, Lie(state.place, start))
    found = _along(eased, untouched(eased, state, start), start, end)
    holds = in_use(wire, Lie(found.unknowns.place, end))
    held = SlottedWire(wire, slots, per_span, mesh, eased, found.kept(), end, about_wire(found))
    return _left(held, found, holds)


@dataclass(frozen=True)
class Work:
    """What is done to a wire in use at a visit.

    Parameters
    ----------
    visit
        Its number, from 1 for every wire; says which bends are made.
    pulled
        Crimps that are moved along the wire, away from their slots, and how far, mm.
    """

    visit: int
    pulled: tuple[tuple[Stop, float], ...] = ()


def tied_again(
    before: SlottedWire, wire: ArchWire, slots: Slots, poses: Array, *, work: Work
) -> SlottedWire:
    """Return a wire in use after a visit: history of its material kept, ties and friction new.

    A wire that gets bends is taken out, which unloads it, bent, and drawn in again where its slots
    stood on it. Otherwise it is eased to where its slots are now.

    Parameters
    ----------
    wire, slots
        With new ties, and brackets where they are bonded now.

    Raises
    ------
    NotConvergedError
        If the wire finds no equilibrium.
    WireError
        If it does not take a bend, or a slot has slid to where one is to be made.
    """
    end, rod = slots.at(poses), before.what.rod
    stops = crimps(before.what.holds)
    if any(bend.visit == work.visit for _, _, bend in before.mesh.by_hand):
        _check_room(before, work.visit)
        out = bent_by_hand(rod, freed(before), before.mesh, visit=work.visit)
        stations = before.slot_stations
        own = resampled(rod.shape, out.place, stations)
        state = _fitted(out, SlotFrames(own.nodes, own.triads), end)
        own = resampled(rod.shape, state.place, stations)
        start = SlotFrames(own.nodes, own.triads)
        eased = _eased(wire, rod, Lie(state.place, start))
        found = _along(eased, untouched(eased, state, start), start, end)
    else:
        eased = _eased(wire, rod, Lie(before.place, before.frames))
        settled = replace(before.state, held=np.zeros(len(eased.holds.node)))
        found = _along(eased, settled, before.frames, end)
    eased_wire = replace(before, wire=wire, slots=slots, what=eased, state=found.kept(), frames=end)
    found, stops = _pulled(eased_wire, found, stops, work)
    holds = stops + still_in_use(wire, Lie(found.unknowns.place, end))
    return _left(eased_wire, found, holds)


def _eased(wire: ArchWire, rod: Rod, lie: Lie) -> SlottedRod:
    """Return a wire without friction, held where it lies."""
    return slotted_rod(wire, rod, anchored(wire, lie), friction=0.0)


def _left(wire: SlottedWire, found: Trial, holds: Holds) -> SlottedWire:
    """Return a wire that has been tied in and is left to itself: friction acts, crimps hold."""
    contact = wire.what.contact
    rubs = replace(contact, friction=np.full_like(contact.friction, wire.wire.friction))
    kept = found.kept()
    forces = dict(zip(_names(found.what.holds), kept.held, strict=True))
    held = np.array([forces.get(name, 0.0) for name in _names(holds)])
    touches = replace(kept.touches, share=np.zeros_like(kept.touches.share))
    return replace(
        wire,
        what=replace(wire.what, contact=rubs, holds=holds),
        state=replace(kept, held=held, touches=touches),
        load=about_wire(found),
    )


def about_wire(found: Trial) -> Array:
    """Return the loads on the slots about the wire's own centre in them, N and N·mm, shape (n, 6).

    Where a wire lies within its play does not change them, unlike moments about the slots.
    """
    slot, station = found.contact.law.edges.slot, found.contact.touches.station
    middle = np.bincount(slot, weights=station) / np.bincount(slot)
    curves = Curves(found.what.rod.shape, np.zeros((len(middle), 2)))
    centre = curves.at(found.unknowns.place, middle).path[VALUE]
    load = found.on_slots.copy()
    load[:, 3:] -= np.cross(centre - found.frames.place, load[:, :3])
    return load


def _names(holds: Holds) -> list[tuple[float, ...]]:
    return list(zip(holds.node, holds.slot, holds.about, holds.side, strict=True))


def _pulled(wire: SlottedWire, found: Trial, stops: Holds, work: Work) -> tuple[Trial, Holds]:
    """Pull the wire through slots until its crimps have gone their way, bit by bit."""
    way = np.zeros(len(stops.node))
    for stop, by in work.pulled:
        mine = (stops.slot == stop.slot) & (stops.side == -stop.side)
        way = way + np.where(mine, stop.side * by, 0.0)
    if not np.any(way):
        return found, stops
    steps = int(np.ceil(np.abs(way).max() / PULL))
    holds = wire.what.holds
    # a crimp that pulls slides the wire, so the anchor lets go
    spin = some(holds, holds.about)
    state = found.kept()
    state = replace(state, held=np.zeros(len(stops.node) + len(spin.node)))
    here = _along_slots(stops, Lie(found.unknowns.place, wire.frames))
    for share in np.arange(1, steps + 1) / steps:
        moved = _led(replace(stops, at=stops.at + share * way), way, here)
        what = replace(wire.what, holds=moved + spin)
        found = reach(what, state, between(wire.frames, wire.frames))
        state = found.kept()
    return found, replace(stops, at=stops.at + way)


def _along_slots(holds: Holds, lie: Lie) -> Array:
    """Return where nodes that are held are along their slots, mm, shape (h,)."""
    away = lie.place.nodes[holds.node] - lie.frames.place[holds.slot]
    return np.sum(away * lie.frames.triads[holds.slot, :, ALONG], axis=1)


def _led(stops: Holds, way: Array, here: Array) -> Holds:
    """Return crimps that have been moved, the first of them holding both ways if none pulls back.

    Without a crimp that pulls back the wire would be free to slide further than it is pulled.
    """
    if len(set(stops.side)) > 1:
        return stops
    side, at, first = stops.side.copy(), stops.at.copy(), int(np.argmax(np.abs(way)))
    # a crimp that had stood off its slot pulls when it has come up to it
    further = np.maximum if way[first] > 0 else np.minimum
    side[first], at[first] = 0.0, further(at[first], here[first])
    return replace(stops, side=side, at=at)


def _check_fit(wire: ArchWire) -> None:
    for index, size in enumerate(wire.sizes):
        if wire.section.height > size.height:
            raise WireError(
                f"a wire {wire.section.height:.4g} mm high does not go into slot {index + 1}, "
                f"which is {size.height:.4g} mm high"
            )
        if wire.section.width > size.depth and wire.ties[index].seating is None:
            raise WireError(
                f"a wire {wire.section.width:.4g} mm wide cannot be closed into slot {index + 1}, "
                f"which is {size.depth:.4g} mm deep"
            )


def _check_room(wire: SlottedWire, visit: int) -> None:
    stations = wire.what.rod.shape.stations
    for first, last, bend in wire.mesh.by_hand:
        if bend.visit != visit:
            continue
        for index, station in enumerate(wire.slot_stations):
            half = 0.5 * wire.wire.sizes[index].width
            if stations[first] < station + half and station - half < stations[last]:
                raise WireError(
                    f"slot {index + 1} has slid to {station:.4g} mm along the wire, where a bend "
                    f"is to be made between {stations[first]:.4g} and {stations[last]:.4g} mm"
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


def _fitted(state: RodState, own: SlotFrames, frames: SlotFrames) -> RodState:
    """Return the wire moved as a rigid body, its own frames as near to the slots as they get."""
    # the slots' axes count like arms of one millimetre to either side: they fix the turn about a
    # straight wire, and leave mirror images alike
    ours, theirs = _arms(own), _arms(frames)
    middle, target = ours.mean(axis=0), theirs.mean(axis=0)
    turn = Rotation.align_vectors(theirs - target, ours - middle)[0].as_matrix()
    moved = RodPlace((state.place.nodes - middle) @ turn.T + target, turn @ state.place.triads)
    return RodState(moved, state.history)


def _arms(frames: SlotFrames) -> Array:
    axes = np.swapaxes(frames.triads, 1, 2)
    both = [frames.place[:, None] + side * axes for side in (1, -1)]
    return np.concatenate(both).reshape(-1, 3)
