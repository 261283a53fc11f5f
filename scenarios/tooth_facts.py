"""Facts about the support of one tooth, as plain data."""

from typing import Any

import numpy as np

from gomphosis.bone.directions import to_trade
from gomphosis.bone.library import lookup
from gomphosis.bone.rates import Linear
from gomphosis.bone.teeth import published_root_areas, tooth_citations
from gomphosis.fem.section import Array
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.model import ToothModel, tooth_models
from gomphosis.scenarios.schema import Scenario


def tooth_facts(scenario: Scenario) -> dict[str, Any]:
    """Return the support facts of the first tooth of a scenario; units stand in the names."""
    tooth = tooth_models(scenario, Linear(1.0))[0]
    return {
        "notice": NOTICE,
        "tooth": tooth.number,
        "name": tooth.anatomy.name,
        "averaged": averaging(tooth),
        "sizes_mm": sizes(tooth),
        "ligament": {
            "young_MPa": scenario.ligament.young,
            "poisson": scenario.ligament.poisson,
        },
        "embedded_root_mm": tooth.embedded,
        "bracket_above_crest_mm": float(tooth.slot[2]),
        "root_area": root_area(tooth),
        "centre_of_resistance": centre_of_resistance(tooth),
        "moment_distance_ab_mm2": tooth.support.planar.moment_distance,
        "moment_to_force_at_bracket_mm": moment_to_force_table(tooth),
        "stiffness": stiffness(tooth),
    }


def averaging(tooth: ToothModel) -> str:
    """Say what the body of revolution averages away for this tooth."""
    lost = "labiolingual and mesiodistal stiffness are averaged to one"
    if tooth.anatomy.roots > 1:
        return f"{lost}; the usual {tooth.anatomy.roots} roots are taken as one"
    return lost


def sizes(tooth: ToothModel) -> dict[str, dict[str, Any]]:
    """Return sizes in mm, each with source and status."""
    cited = tooth_citations(tooth.number)
    found = {}
    for name, entry in cited.items():
        if name == "roots":
            continue
        value = float(getattr(tooth.anatomy, name))
        given = value != entry.number
        found[name] = {
            "value": value,
            "source": "given by the user" if given else entry.source,
            "status": "given by the user" if given else entry.status,
        }
    return found


def root_area(tooth: ToothModel) -> dict[str, Any]:
    """Return the model's embedded root area beside published whole-root areas, mm^2."""
    area = tooth.support.design.root.surface_area()
    published = {
        name: {
            "value_mm2": entry.number,
            "model_less_published_percent": 100 * (area / entry.number - 1),
            "source": entry.source,
            "status": entry.status,
        }
        for name, entry in published_root_areas(tooth.number).items()
    }
    return {"model_mm2": area, "published": published}


def centre_of_resistance(tooth: ToothModel) -> dict[str, float]:
    """Return where the centre of resistance lies and what is published for a single root."""
    depth = -tooth.centre_of_resistance
    return {
        "below_crest_mm": depth,
        "share_of_embedded_root": depth / tooth.embedded,
        "published_share": lookup("centre_of_resistance.poppe").number,
        "below_bracket_mm": float(tooth.slot[2]) + depth,
    }


def moment_to_force_table(tooth: ToothModel) -> dict[str, float]:
    """Return M/F at the bracket for four centres of rotation, mm, counter-tipping positive.

    With a·b = s^2 and the bracket at distance d from the centre of resistance, the centre of
    rotation lies s^2/(d - M/F) apical of it.
    """
    square = tooth.support.planar.moment_distance
    depth = -tooth.centre_of_resistance
    distance = float(tooth.slot[2]) + depth
    return {
        "rotation_about_apex": distance - square / (tooth.embedded - depth),
        "translation": distance,
        "rotation_about_incisal_edge": distance + square / (tooth.edge_height + depth),
    }


def stiffness(tooth: ToothModel) -> dict[str, Any]:
    """Return the 6 x 6 stiffness at the crest, the slot and the centre of resistance.

    Rows and columns in trade words: extrusion, labial, mesial, angulation, inclination,
    rotation; N, mm, rad.
    """
    turn = np.stack([to_trade(tooth.number, row) for row in np.eye(6)], axis=1)
    points = {
        "crest": np.zeros(3),
        "slot": tooth.slot,
        "centre_of_resistance": np.array([0.0, 0.0, tooth.centre_of_resistance]),
    }

    def words(matrix: Array) -> list[list[float]]:
        return (turn @ matrix @ turn.T).tolist()

    planar = tooth.support.planar
    rocking = planar.moment_distance * planar.lateral
    return {
        "lateral_N_per_mm": planar.lateral,
        "axial_N_per_mm": planar.axial,
        "rocking_about_centre_of_resistance_Nmm_per_deg": np.deg2rad(rocking),
        "torsional_Nmm_per_deg": np.deg2rad(planar.torsional),
        "matrix_at": {
            name: words(tooth.support.stiffness_at(point)) for name, point in points.items()
        },
    }
