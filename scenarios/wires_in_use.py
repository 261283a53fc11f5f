"""From the wires and visits of a scenario to loads: every wire as tied in and after each visit."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from gomphosis.scenarios.alloys import section_law
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.bonding import bonded_on
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.schema import Scenario, Wire
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slotted_wire import ArchWire, Stop
from gomphosis.scenarios.stages import Stage, visits_of
from gomphosis.scenarios.tying import Work
from gomphosis.scenarios.visit_tables import Activation
from gomphosis.scenarios.wire_bends import wire_shape
from gomphosis.scenarios.wire_shape import WireShape


class WiresInUse:
    """Loads of a scenario's wires, each made once for every visit it goes through.

    Parameters
    ----------
    scenario
        With wires.
    teeth
        In order along the arch.
    """

    def __init__(self, scenario: Scenario, teeth: Sequence[ToothModel]) -> None:
        self._scenario = scenario
        self._teeth = tuple(teeth)
        self._made: dict[tuple[int, int], WireLoads] = {}

    def at(self, stage: Stage) -> WireLoads:
        """Return the loads of the wire in place at a stage; the same ones until the next visit."""
        key = (stage.wire, len(stage.visits))
        if key not in self._made:
            self._made[key] = self._loads(stage)
        return self._made[key]

    def shape(self, index: int) -> WireShape:
        """Return the stress-free shape of a wire."""
        place = {tooth.number: tooth.place for tooth in self._teeth}
        visits = [self._scenario.visit[k] for k in visits_of(self._scenario, index)]
        return wire_shape(self._scenario.wires[index], place, visits)

    def teeth(self, stage: Stage) -> tuple[ToothModel, ...]:
        """Return the teeth with their brackets where they are bonded at a stage."""
        return tuple(bonded_on(self._scenario, tooth, stage.start) for tooth in self._teeth)

    def _loads(self, stage: Stage) -> WireLoads:
        brackets = [tooth.bracket for tooth in self.teeth(stage)]
        wire = self._arch_wire(stage.wire)
        if not stage.visits:
            return WireLoads(brackets, wire)
        before = self.at(replace(stage, visits=stage.visits[:-1]))
        visit = self._scenario.visit[stage.visits[-1]]
        pulled = tuple((self._stop(crimp), crimp.by) for crimp in visit.activate)
        work = Work(len(stage.visits), pulled)
        if not (visit.religate or visit.bends):
            # the ties are those that were there, as old as they are
            wire = replace(wire, tied_before=stage.start - self._tied(stage))
        return WireLoads(brackets, wire, before=before, work=work)

    def _tied(self, stage: Stage) -> float:
        """Return the day on which the ties in place were tied."""
        days = [self._scenario.wires[stage.wire].tied_in or 0.0]
        for k in stage.visits:
            visit = self._scenario.visit[k]
            if visit.religate or visit.bends:
                days.append(visit.at)
        return max(days)

    def _arch_wire(self, index: int) -> ArchWire:
        wire, slot = self._scenario.wires[index], self._scenario.slot
        size = SlotSize(slot.height, slot.depth, slot.width, slot.give)
        section = wire.cross_section
        law = section_law(section, wire.alloy_constants, temperature=self._scenario.temperature)
        return ArchWire(
            law,
            section,
            self.shape(index),
            sizes=len(self._teeth) * (size,),
            ties=tuple(wire.ligation.tie(tooth.number) for tooth in self._teeth),
            friction=wire.coefficient,
            stops=self._stops(wire),
            released=wire.released,
        )

    def _stops(self, wire: Wire) -> tuple[Stop, ...]:
        """Return crimps and cinched ends."""
        places = [tooth.place for tooth in self._teeth]
        ends = (Stop(int(np.argmin(places)), -1), Stop(int(np.argmax(places)), 1))
        stops = [*ends] if wire.cinched else []
        stops += [Stop(*self._beside(stop.tooth, stop.side)) for stop in wire.stops]
        return tuple(dict.fromkeys(stops))

    def _stop(self, crimp: Activation) -> Stop:
        return Stop(*self._beside(crimp.tooth, crimp.side))

    def _beside(self, number: int, side: str) -> tuple[int, int]:
        slot = [tooth.number for tooth in self._teeth].index(number)
        # places count from the midline, where mesial is
        towards = 1 if self._teeth[slot].place < 0 else -1
        return slot, towards if side == "mesial" else -towards
