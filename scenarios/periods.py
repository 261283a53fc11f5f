"""Periods of a run with elastics: a wire goes on while elastics are put on, taken off or lost."""

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
from gomphosis.scenarios.wire_bends import wire_shape
from gomphosis.scenarios.wire_shape import WireShape


def with_elastics(
    scenario: Scenario, teeth: Sequence[ToothModel], wires: Sequence[Period]
) -> list[Period]:
    """Return the periods of a scenario's wires and elastics together, one for every stage.

    Parameters
    ----------
    wires
        One period for every wire.
    """
    if not scenario.elastic:
        return list(wires)
    place = {tooth.number: tooth.place for tooth in teeth}
    shapes = [wire_shape(wire, place) for wire in scenario.wires]
    tied = [Continued(period.loads) for period in wires]
    on: dict[tuple[int, int], Continued] = {}
    latest: dict[int, ElasticLoads] = {}
    periods = []
    for stage in stages(scenario):
        acting: list[Loads] = [tied[stage.wire]]
        for k in stage.elastics:
            if (k, stage.wire) not in on:
                # another wire has another plain line, on which the same stretch goes on
                latest[k] = elastic_loads(
                    k + 1, scenario.elastic[k], teeth, shapes[stage.wire], latest.get(k)
                )
                on[k, stage.wire] = Continued(latest[k])
            acting.append(on[k, stage.wire])
        periods.append(Period(stage.start, Together(acting)))
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
