"""Periods of a run: a wire goes on while elastics are put on, taken off or lost, and at visits."""

from collections.abc import Sequence

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.bone.joint_loads import Continued, Together, parts
from gomphosis.bone.loads import Loads
from gomphosis.bone.loop import Period
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.elastic_tables import Elastic
from gomphosis.scenarios.elastics import Attachments, ElasticLaw, ElasticLoads
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slots import Bracket
from gomphosis.scenarios.stages import stages
from gomphosis.scenarios.wire_shape import WireShape
from gomphosis.scenarios.wires_in_use import WiresInUse


def scenario_periods(scenario: Scenario, teeth: Sequence[ToothModel]) -> list[Period]:
    """Return the periods of a scenario's wires, visits and elastics, one for every stage."""
    wires = WiresInUse(scenario, teeth)
    tied: dict[tuple[int, int], Continued] = {}
    on: dict[tuple[int, int, int], Continued] = {}
    latest: dict[int, ElasticLoads] = {}
    periods = []
    for stage in stages(scenario):
        key = (stage.wire, len(stage.visits))
        if key not in tied:
            tied[key] = Continued(wires.at(stage))
        acting: list[Loads] = [tied[key]]
        for k in stage.elastics:
            if (k, *key) not in on:
                # another wire has another plain line, on which the same stretch goes on
                latest[k] = elastic_loads(
                    k + 1,
                    scenario.elastic[k],
                    wires.teeth(stage),
                    wires.shape(stage.wire),
                    latest.get(k),
                )
                on[k, *key] = Continued(latest[k])
            acting.append(on[k, *key])
        periods.append(Period(stage.start, acting[0] if len(acting) == 1 else Together(acting)))
    return periods


def elastic_loads(
    number: int,
    table: Elastic,
    teeth: Sequence[ToothModel],
    shape: WireShape,
    before: ElasticLoads | None,
) -> ElasticLoads:
    """Return an elastic between teeth that stand along a wire.

    Parameters
    ----------
    number
        Of its table, from 1.
    table
        Of the scenario.
    shape
        Of the wire in place.
    before
        The same elastic on the line of the wire before.
    """
    indices = {tooth.number: index for index, tooth in enumerate(teeth)}
    own = tuple(indices[name] for name in table.teeth)
    law = ElasticLaw(
        table.force,
        table.stiffness,
        put_on=table.put_on,
        lost_share=table.lost_share,
        time_constant=table.time_constant,
    )
    brackets = tuple(
        attachment(teeth[index], height) for index, height in zip(own, table.heights, strict=True)
    )
    return ElasticLoads(
        law, Attachments(own, brackets, len(teeth)), shape=shape, before=before, number=number
    )


def attachment(tooth: ToothModel, height: float) -> Bracket:
    """Return where an elastic is hung: the slot's centre, or a hook above it on the long axis.

    Parameters
    ----------
    height
        Above the slot's centre towards the edge, tooth frame, mm.
    """
    arm = np.array([0.0, 0.0, height])
    slot = tooth.bracket
    start = slot.start.copy()
    # the arm stands as the tooth does, whatever is built into its slot
    start[:3] += Rotation.from_rotvec(tooth.start[3:]).as_matrix() @ arm
    return Bracket(slot.place, slot.slot + arm, start)


def wires_of(periods: Sequence[Period]) -> tuple[WireLoads, ...]:
    """Return the wire of every period; empty where forces are prescribed."""
    return tuple(
        load for period in periods for load in parts(period.loads) if isinstance(load, WireLoads)
    )


def elastics_of(periods: Sequence[Period]) -> tuple[tuple[ElasticLoads, ...], ...]:
    """Return the elastics of every period."""
    return tuple(
        tuple(load for load in parts(period.loads) if isinstance(load, ElasticLoads))
        for period in periods
    )
