"""Force system on every bracket before anything has moved, as plain data."""

from typing import Any

import numpy as np

from gomphosis.bone.loop import Period, settle
from gomphosis.bone.rates import Linear
from gomphosis.fem.section import Array
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.caution import NOTICE, model_limits
from gomphosis.scenarios.history import about
from gomphosis.scenarios.kinematics import PLANES, moment_to_force
from gomphosis.scenarios.model import ToothModel, tooth_models
from gomphosis.scenarios.movement_table import wire_name
from gomphosis.scenarios.run import WIRES, case_periods
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.summary import force_system


def wire_preview(scenario: Scenario) -> dict[str, Any]:
    """Return the force systems of every wire tied to the teeth as they stand at the start.

    Later wires are shown on the same unmoved teeth. Prescribed forces are shown by case.
    """
    teeth = tooth_models(scenario, Linear(1.0))
    loads: dict[str, Period] = {}
    if scenario.cases:
        loads = {name: case_periods(scenario, teeth, name)[0] for name in scenario.cases}
    else:
        for k, period in enumerate(case_periods(scenario, teeth, WIRES)):
            loads[f"{wire_name(scenario, k)}, week {period.start / 7:g}"] = period
    return {
        "notice": NOTICE,
        "limits": list(model_limits(scenario)),
        "title": scenario.title,
        "loads": {
            name: {"teeth": _teeth(teeth, period)} | _mesh(period) for name, period in loads.items()
        },
    }


def _mesh(period: Period) -> dict[str, Any]:
    """Return how finely a wire is meshed; nothing for prescribed forces."""
    if not isinstance(period.loads, WireLoads):
        return {}
    count, change = period.loads.discretisation
    return {
        "mesh": {
            "elements_between_neighbouring_slots": count,
            "change_by_twice_as_many": float(change),
        }
    }


def _teeth(teeth: tuple[ToothModel, ...], period: Period) -> dict[str, Any]:
    poses, wrenches = settle([tooth.remodelling for tooth in teeth], period.loads)
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
    return found


def _about(tooth: ToothModel, wrench: Array, point: Array) -> Array:
    return about(tooth, wrench[None], point)[0]
