"""Force system on every bracket before anything has moved, as plain data."""

from typing import Any

import numpy as np

from gomphosis.bone.loop import Period, settle
from gomphosis.bone.rates import Linear
from gomphosis.fem.section import Array
from gomphosis.scenarios.bonding import bonded_on
from gomphosis.scenarios.caution import NOTICE, model_limits
from gomphosis.scenarios.contact_report import contact_document, slot_contacts
from gomphosis.scenarios.elastic_report import acting_documents
from gomphosis.scenarios.history import about
from gomphosis.scenarios.kinematics import PLANES, moment_to_force
from gomphosis.scenarios.model import ToothModel, tooth_models
from gomphosis.scenarios.movement_table import wire_name
from gomphosis.scenarios.periods import elastics_of, wires_of
from gomphosis.scenarios.play import play
from gomphosis.scenarios.run import WIRES, case_periods
from gomphosis.scenarios.schema import Scenario, Slot, Wire
from gomphosis.scenarios.stages import stages
from gomphosis.scenarios.summary import force_system


def wire_preview(scenario: Scenario) -> dict[str, Any]:
    """Return the force systems of every wire tied to the teeth as they stand at the start.

    Later wires are shown on the same unmoved teeth, in slots as they are bonded by then. Each
    wire has beside it the elastics that act on the day on which it is tied in, as aged as they
    are then. Prescribed forces are shown by case.
    """
    teeth = tooth_models(scenario, Linear(1.0))
    loads: dict[str, dict[str, Any]] = {}
    if scenario.cases:
        for name in scenario.cases:
            loads[name] = {"teeth": _teeth(teeth, case_periods(scenario, teeth, name)[0])}
    else:
        periods = case_periods(scenario, teeth, WIRES)
        first = {stage.wire: k for k, stage in reversed(list(enumerate(stages(scenario))))}
        for k, wire in enumerate(scenario.wires):
            period = periods[first[k]]
            name = f"{wire_name(scenario, k)}, week {period.start / 7:g}"
            there = tuple(bonded_on(scenario, tooth, period.start) for tooth in teeth)
            loads[name] = {"teeth": _teeth(there, period)} | _mesh(period)
            loads[name]["play"] = _play(wire, scenario.slot)
            if scenario.elastic:
                loads[name]["elastics"] = acting_documents(
                    elastics_of([period])[0], scenario.elastic, period.start
                )
    return {
        "notice": NOTICE,
        "limits": list(model_limits(scenario)),
        "title": scenario.title,
        "loads": loads,
    }


def _mesh(period: Period) -> dict[str, Any]:
    """Return how finely a wire is meshed."""
    count, change = wires_of([period])[0].discretisation
    return {
        "mesh": {
            "elements_between_neighbouring_slots": count,
            "change_by_half_as_many": float(change),
        }
    }


def _play(wire: Wire, slot: Slot) -> dict[str, Any]:
    """Return how far the wire turns before it touches, one direction; null: it turns freely."""
    found = play(wire.cross_section, slot_height=slot.height, slot_width=slot.width)
    torsion = float(np.rad2deg(found.torsion))
    return {
        "torsion_deg": torsion if np.isfinite(torsion) else None,
        "tip_deg": float(np.rad2deg(found.tip)),
    }


def _teeth(teeth: tuple[ToothModel, ...], period: Period) -> dict[str, Any]:
    poses, wrenches = settle([tooth.remodelling for tooth in teeth], period.loads, day=period.start)
    found = {}
    for tooth, pose, wrench in zip(teeth, poses, wrenches, strict=True):
        resistance = np.array([0.0, 0.0, tooth.centre_of_resistance])
        at_slot = _about(tooth, wrench, tooth.slot)
        ratios = moment_to_force(at_slot)
        found[str(tooth.number)] = {
            "force_system_at_bracket": force_system(at_slot),
            "force_system_at_centre_of_resistance": force_system(_about(tooth, wrench, resistance)),
            "moment_to_force_mm": {
                plane: float(ratio) if np.isfinite(ratio) else None
                for plane, ratio in zip(PLANES, ratios, strict=True)
            },
            "elastic_give_at_crest_mm": float(np.linalg.norm(pose[:3])),
        }
    for loads in wires_of([period]):
        contacts = slot_contacts(loads.wire, loads.trial(poses))
        for tooth, contact in zip(teeth, contacts, strict=True):
            found[str(tooth.number)]["slot"] = contact_document(contact, tooth.place)
    return found


def _about(tooth: ToothModel, wrench: Array, point: Array) -> Array:
    return about(tooth, wrench[None], point)[0]
