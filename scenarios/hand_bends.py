"""Bends made cold by hand: what the wire's fibres go through, in a new wire or a used one."""

import numpy as np

from gomphosis.fem.rod import Rod, RodPlace, RodState
from gomphosis.fem.rod_equilibrium import Grips, settle
from gomphosis.fem.section_paths import overbend
from gomphosis.scenarios.slotted_wire import SlottedWire
from gomphosis.scenarios.wire_shape import WireError, WireMesh

PART = 0.015  # 1/mm of curvature (or rad/mm of twist) of a bend made by hand at once
EASINGS = 8  # steps in which a wire is let go


def freed(wire: SlottedWire) -> RodState:
    """Return a wire taken out of its slots: the loads on it let go step by step, one node held.

    Raises
    ------
    NotConvergedError
        If it finds no shape.
    """
    rod, state = wire.what.rod, wire.state.rod
    load = rod.respond(state.place, state.history).force
    held = _one(state.place, len(load) // 2)
    for share in 1.0 - np.arange(1, EASINGS + 1) / EASINGS:
        state = settle(rod, state, held, load=share * load).state
    return state


def bent_by_hand(rod: Rod, state: RodState, mesh: WireMesh, *, visit: int) -> RodState:
    """Return a free wire with the bends of one visit made in it, and free again.

    Where a bend is made, nothing but the bend is remembered of what the fibres went through.

    Raises
    ------
    WireError
        If the wire does not keep a bend.
    NotConvergedError
        If it finds no shape.
    """
    points = len(rod.point_stations) // len(mesh.shape.lengths)
    bends = [row for row in mesh.by_hand if row[2].visit == visit]
    if not bends:
        return state
    target, most = state.history.copy(), 0.0
    start = state.history
    for first, last, bend in bends:
        length = float(mesh.shape.lengths[first:last].sum())
        strain = np.concatenate([[0.0], bend.turn[[1, 2, 0]]]) / length
        axis = int(np.argmax(np.abs(strain)))
        most = max(most, abs(float(strain[axis])))
        try:
            _, bent = overbend(rod.section, float(strain[axis]), axis=axis)
        except ValueError as error:
            raise WireError(str(error)) from None
        target[:, points * first : points * last] = bent
    # what is left of the bends grows by parts small enough not to yield before the wire follows
    held = _one(state.place, 0)
    steps = int(np.ceil(most / PART))
    for share in np.arange(1, steps + 1) / steps:
        history = (1.0 - share) * start + share * target
        state = settle(rod, RodState(state.place, history), held).state
    return RodState(state.place, target)


def _one(place: RodPlace, node: int) -> Grips:
    nodes = np.array([node])
    return Grips(nodes, place.nodes[nodes], place.triads[nodes], np.ones((1, 6), dtype=bool))
