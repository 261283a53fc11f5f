"""State of a wire in its slots as named arrays, and the wire in its slots from such a state."""

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from gomphosis.bone.states import State, StateError, check_names
from gomphosis.fem.rod import Rod, RodPlace, RodState
from gomphosis.fem.slot_aside import Lie
from gomphosis.fem.slot_contact import Touches
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_holds import Holds
from gomphosis.fem.slot_system import SlottedState
from gomphosis.scenarios.slots import Slots
from gomphosis.scenarios.slotted_wire import ArchWire, SlottedWire, slotted_rod
from gomphosis.scenarios.wire_shape import WireMesh

HOLDS = ("node", "slot", "about", "side", "at")
NAMES = (
    *("rod.nodes", "rod.triads", "rod.history", "held", "turn", "load"),
    *(f"touches.{name}" for name in ("station", "push", "share", "beside", "roll")),
    *(f"holds.{name}" for name in HOLDS),
    *("frames.place", "frames.triads"),
)


def state_of(wire: SlottedWire) -> dict[str, npt.NDArray[Any]]:
    """Return what a wire in its slots remembers; mesh and edges follow from what it is."""
    state, holds = wire.state, wire.what.holds
    found = {
        "rod.nodes": state.rod.place.nodes,
        "rod.triads": state.rod.place.triads,
        "rod.history": state.rod.history,
        "touches.station": state.touches.station,
        "touches.push": state.touches.push,
        "touches.share": state.touches.share,
        "touches.beside": state.touches.lie.beside,
        "touches.roll": state.touches.lie.roll,
        "held": state.held,
        "turn": state.turn,
        "frames.place": wire.frames.place,
        "frames.triads": wire.frames.triads,
        "load": wire.load,
        **{f"holds.{name}": getattr(holds, name) for name in HOLDS},
    }
    return {name: np.ascontiguousarray(array) for name, array in found.items()}


def solid(wire: SlottedWire) -> SlottedWire:
    """Return the same wire with arrays that lie in memory as those of `restored` do.

    A sum over an array can differ in the last bit with the order in which it lies in memory.
    """
    state = state_of(wire)
    return replace(wire, state=_state(state), frames=_frames(state), load=state["load"])


def restored(
    state: State, wire: ArchWire, slots: Slots, *, per_span: int, mesh: WireMesh
) -> SlottedWire:
    """Return a wire left to itself in its slots, from what it remembers.

    Parameters
    ----------
    state
        As `state_of` returned it.
    per_span, mesh
        As the wire was meshed when it was first tied in.

    Raises
    ------
    StateError
        If arrays are missing or do not fit the wire and its slots.
    """
    check_names(state, NAMES)
    rod = Rod(mesh.shape, wire.law)
    holds = Holds(*(state[f"holds.{name}"] for name in HOLDS))
    what = slotted_rod(wire, rod, holds, friction=wire.friction)
    start = rod.at_rest()
    fitting = {
        "rod.nodes": start.place.nodes.shape,
        "rod.triads": start.place.triads.shape,
        "rod.history": start.history.shape,
        "touches.push": what.contact.friction.shape,
        "held": holds.node.shape,
        "turn": what.compliance.shape,
    }
    for name, shape in fitting.items():
        if state[name].shape != shape:
            raise StateError(f"{name} of this wire has shape {shape}, not {state[name].shape}")
    return SlottedWire(
        wire, slots, per_span, mesh, what, _state(state), _frames(state), state["load"]
    )


def _state(state: State) -> SlottedState:
    place = RodPlace(state["rod.nodes"], state["rod.triads"])
    lie = Lie(state["touches.beside"], state["touches.roll"])
    station, push = state["touches.station"], state["touches.push"]
    touches = Touches(station, push, state["touches.share"], lie)
    rod = RodState(place, state["rod.history"])
    return SlottedState(rod, touches, state["held"], state["turn"])


def _frames(state: State) -> SlotFrames:
    return SlotFrames(state["frames.place"], state["frames.triads"])
