"""Centre of rotation of a tooth's slice against the force, for both ligament laws."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from gomphosis.bone.rates import Linear
from gomphosis.bone.slice_run import Place, SliceCase, balance
from gomphosis.fem.section import Array
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slice_model import slice_case

FORCES = np.geomspace(0.1, 5.0, 14)  # N
RATIOS = (0.0, 5.0, 8.0)  # M/F at the bracket, mm
LAWS = ("linear", "bilinear")


@dataclass(frozen=True)
class RotationCurve:
    """Distance of the centre of rotation below the crest, at one M/F and under one law.

    Attributes
    ----------
    law
        ``linear`` or ``bilinear``.
    ratio
        M/F at the bracket, mm, counter-tipping positive.
    force
        Labial force in N, shape (n,).
    depth
        From the bone crest towards the apex, mm, shape (n,).
    """

    law: str
    ratio: float
    force: Array
    depth: Array


def single_slice(document: dict[str, Any], law: str) -> Scenario:
    """Return the scenario of one tooth, opened as a slice with a ligament law."""
    table = {"teeth": [document["tooth"][0]["number"]], "law": law}
    return scenario_from({**document, "slice": table}, "command line")


def rotation_curves(
    document: dict[str, Any], *, progress: Callable[[float, str], None] | None = None
) -> tuple[RotationCurve, ...]:
    """Return the curves of a tooth, law by law and M/F by M/F.

    Parameters
    ----------
    document
        Scenario of one tooth.
    """
    tell = progress or (lambda share, what: None)
    curves = []
    for place, law in enumerate(LAWS):
        scenario = single_slice(document, law)
        tooth = tooth_models(scenario, Linear(1.0))[0]
        case = slice_case(scenario, tooth)
        for k, ratio in enumerate(RATIOS):
            tell((place + k / len(RATIOS)) / len(LAWS), f"{law} ligament, M/F {ratio:g} mm")
            depth = _depths(case, float(tooth.slot[2]) - ratio)
            curves.append(RotationCurve(law, ratio, FORCES, depth))
    return tuple(curves)


def _depths(case: SliceCase, lever: float) -> Array:
    """Return the depth of the centre of rotation for every force with a lever about the crest."""
    state, found = None, []
    place = Place(np.zeros(3), case.bones, case.outline)
    for force in FORCES:
        load = force * np.array([1.0, 0.0, lever])
        state = balance(case, place, load, start=state)[1]
        # a point at height z moves by ux + ry z
        found.append(state.motion[0] / state.motion[2])
    return np.array(found)
