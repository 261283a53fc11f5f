"""A wire in slots: what it is, where it is and what it touches. In the arch frame.

The mesh belongs to the wire's material: slots slide over it and the history of the sections stays
where it is.
"""

from dataclasses import dataclass, replace

import numpy as np

from gomphosis.fem.rod import Rod, RodPlace
from gomphosis.fem.section import Array
from gomphosis.fem.section_response import SectionLaw
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_equilibrium import between, reach
from gomphosis.fem.slot_holds import Holds
from gomphosis.fem.slot_system import SlottedRod, SlottedState, Trial, Unknowns
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize, edge_contact, wall_heights
from gomphosis.scenarios.slots import Slots
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireError, WireMesh, WireShape

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
    tied_before
        Age of the ties when the wire was tied in or worked on last, day.
    """

    law: SectionLaw
    section: WireSection
    shape: WireShape
    sizes: tuple[SlotSize, ...]
    ties: tuple[Ligation, ...]
    friction: float = 0.0
    stops: tuple[Stop, ...] = ()
    released: float = 0.0
    tied_before: float = 0.0

    def __post_init__(self) -> None:
        if len(self.sizes) != len(self.ties):
            raise ValueError(f"{len(self.sizes)} slots are closed by {len(self.ties)} ties")

    @property
    def width(self) -> float:
        """Longest slot along the wire, mm."""
        return max(size.width for size in self.sizes)

    def ages(self, day: float) -> Array:
        """Return the age of every tie, day, shape (n,)."""
        return np.full(len(self.ties), self.tied_before + day)


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
        On every slot when the wire had been drawn in, about the wire's own centre there, N and
        N·mm, shape (n, 6): where nothing else holds a wire, it may lie anywhere within its play.
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

    @property
    def slot_stations(self) -> Array:
        """Station of the wire's material at every slot's centre, mm, shape (n,)."""
        slot, station = self.what.contact.edges.slot, self.state.touches.station
        count = np.bincount(slot)
        return np.bincount(slot, weights=station) / count

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
            If a slot has slid off the wire's end or onto a bend.
        """
        state = trial.kept()
        ends = self.what.rod.shape.stations[[0, -1]]
        off = (state.touches.station < ends[0] + LEFT) | (state.touches.station > ends[1] - LEFT)
        if np.any(off & (state.touches.push > 0)):
            raise WireError("an end of the wire has slid out of its last slot")
        self._check_bends(state)
        if self.wire.released > 0:
            share = (1.0 - self.wire.released) * state.touches.share
            state = replace(state, touches=replace(state.touches, share=share))
        return replace(self, state=state, frames=trial.frames)

    def _check_bends(self, state: SlottedState) -> None:
        stations = self.what.rod.shape.stations
        slot, station = self.what.contact.edges.slot, state.touches.station
        for first, last in stations[self.mesh.bent]:
            for index in range(len(self.wire.sizes)):
                own = station[slot == index]
                if own.min() < last and own.max() > first:
                    raise WireError(
                        f"slot {index + 1} has slid onto the bend at {first:.4g} mm along the wire"
                    )


def slotted_rod(wire: ArchWire, rod: Rod, holds: Holds, *, friction: float) -> SlottedRod:
    """Return a wire that is a given rod, with the edges of its slots and what holds it."""
    ages = wire.ages(0.0)
    contact = edge_contact(wire.section, wire.sizes, wire.ties, friction=friction, ages=ages)
    return SlottedRod(rod, contact, holds, np.array([size.give for size in wire.sizes]))
