"""Where brackets are bonded in every period of a run, and loads about their slots.

At a visit a bracket may be bonded anew: from then on its slot stands elsewhere on the tooth.
Whatever needs the slot of a tooth at some time takes it from here.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.bone.directions import from_trade
from gomphosis.bone.loop import Track
from gomphosis.bone.support import motion_at
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.stages import stages
from gomphosis.scenarios.visit_tables import Rebond


def rebonded(tooth: ToothModel, rebond: Rebond) -> ToothModel:
    """Return a tooth whose bracket has been bonded elsewhere."""
    shift = (rebond.vertical, rebond.labial, rebond.mesial)
    turn = (rebond.tip, rebond.torque, rebond.rotation)
    moved = from_trade(tooth.number, np.array([*shift, *turn]))
    # the slot moves with the tooth as it stands, so its place out of line changes
    start = tooth.start.copy()
    start[:3] += Rotation.from_rotvec(tooth.start[3:]).as_matrix() @ moved[:3]
    prescription = tooth.prescription.copy()
    prescription[3:] += moved[3:]
    return replace(
        tooth,
        slot=tooth.slot + moved[:3],
        start=start,
        prescription=prescription,
        # what is built in turns the tooth in an aligned slot, so the slot on the tooth turns back
        slot_turn=tooth.slot_turn - moved[3:],
    )


def bonded_on(scenario: Scenario, tooth: ToothModel, day: float) -> ToothModel:
    """Return a tooth with its bracket where it is bonded from a day on.

    Parameters
    ----------
    tooth
        As at the start; it is returned itself where its bracket has not been bonded anew.
    """
    for visit in scenario.visit:
        if visit.at <= day:
            for rebond in visit.rebond:
                if rebond.tooth == tooth.number:
                    tooth = rebonded(tooth, rebond)
    return tooth


def bonded(scenario: Scenario, tooth: ToothModel) -> tuple[ToothModel, ...]:
    """Return a tooth with its bracket where it is bonded in every period of a run.

    Parameters
    ----------
    tooth
        As at the start.
    """
    found = [tooth]
    for stage in stages(scenario)[1:]:
        after = bonded_on(scenario, tooth, stage.start)
        # the same one for as long as nothing is bonded anew
        same = np.array_equal(after.bracket.start, found[-1].bracket.start)
        found.append(found[-1] if same else after)
    return tuple(found)


def bonded_rows(
    bonds: Sequence[ToothModel], period: np.ndarray
) -> Iterator[tuple[ToothModel, np.ndarray]]:
    """Yield every place in which a bracket was bonded, and which records it holds for.

    Parameters
    ----------
    bonds
        As `bonded` returns them.
    period
        Of every record, shape (T,).
    """
    places = list({id(tooth): tooth for tooth in bonds}.values())
    which = np.array([next(k for k, p in enumerate(places) if p is tooth) for tooth in bonds])
    for index, tooth in enumerate(places):
        yield tooth, which[period] == index


def carried(wrench: Array, point: Array) -> Array:
    """Return wrenches about the crest, shape (T, 6) or (6,), about another point, tooth frame."""
    return np.asarray(np.linalg.solve(motion_at(point).T, wrench.T).T, dtype=float)


def at_slot(bonds: Sequence[ToothModel], period: np.ndarray, wrench: Array) -> Array:
    """Return force systems about the slot as it is bonded at each record, tooth frame, (T, 6).

    Parameters
    ----------
    bonds
        As `bonded` returns them.
    period
        Of every record, shape (T,).
    wrench
        About the crest, N and N·mm, shape (T, 6).
    """
    found = np.empty_like(wrench)
    for tooth, rows in bonded_rows(bonds, period):
        found[rows] = carried(wrench[rows], tooth.slot)
    return found


def at_slots(scenario: Scenario, teeth: Sequence[ToothModel], track: Track) -> Array:
    """Return force systems about the slots as they are bonded at each record, tooth frames.

    Returns
    -------
    N and N·mm, shape (T, teeth, 6).
    """
    systems = [
        at_slot(bonded(scenario, tooth), track.period, track.wrench[:, k])
        for k, tooth in enumerate(teeth)
    ]
    return np.stack(systems, axis=1)
