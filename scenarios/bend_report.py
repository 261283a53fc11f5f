"""What a test of a wire showed, as plain data and as a table; units stand in the names."""

from typing import Any

import numpy as np
import pandas as pd

from gomphosis.bone.library import lookup
from gomphosis.fem.fibre_section import REFINED
from gomphosis.fem.section_response import CURVATURE_SECOND, CURVATURE_THIRD
from gomphosis.scenarios.alloys import Alloy
from gomphosis.scenarios.bend_trial import SectionTrial, Specimen, ThreePointTrial
from gomphosis.scenarios.bending import BendCurve
from gomphosis.scenarios.bending_numbers import (
    bending_rate,
    loading_forces,
    offset_force,
    permanent_deflection,
    section_error,
    unloading_forces,
)
from gomphosis.scenarios.caution import NOTICE

ALWAYS = (
    "The wire is straight and free of stress before the test, and of one temperature throughout.",
    "The law of the alloy is the same in tension and compression and at every speed.",
    "Shear of the section and flattening at the places of contact are left out.",
)
OF_ALLOY = {
    "elastic": "The alloy is linear elastic: no plateau and no permanent bend.",
    "plastic": "The alloy hardens alike in all directions, so bending back is too stiff.",
    "superelastic": "The alloy has one phase fraction: no intermediate phase, no change from "
    "cycle to cycle, no fatigue.",
}
CONSTANTS = (
    "Constants of the alloy that no file gives are those of the library, which are no product's; "
    "the command fit-wire fits them to a measured curve."
)
FIXTURE = (
    "Edge radius and usual span are those of the ISO 15841 fixture, from memory, unverified; "
    "supports do not give, and friction on the wire's surface acts on its centre line."
)


def trial_limits(alloy: Alloy, *, three_point: bool, fitted: bool = False) -> tuple[str, ...]:
    """Say what a test of a wire leaves out, one sentence each.

    Parameters
    ----------
    three_point
        Whether it is one over supports.
    fitted
        Whether the constants of the alloy were fitted to the wire.
    """
    limits = (*ALWAYS, OF_ALLOY[alloy.behaviour])
    if not fitted:
        limits = (*limits, CONSTANTS)
    return (*limits, FIXTURE) if three_point else limits


def three_point_report(trial: ThreePointTrial) -> dict[str, Any]:
    """Return forces, energies and errors of a three-point bend in both kinds of contact."""
    wire, setup = trial.wire, trial.setup()
    return {
        "notice": NOTICE,
        "limits": list(trial_limits(wire.alloy, three_point=True)),
        "kind": "three-point",
        **_of_wire(wire),
        "setup": {
            "span_mm": setup.span,
            "edge_radius_mm": setup.radius,
            "wire_thickness_mm": setup.thickness,
            "deflection_mm": trial.deflection,
            "friction": setup.friction,
        },
        "contact": {mode: _mode(curve) for mode, curve in trial.curves.items()},
        **_against_published(trial),
        "section_error_percent": 100 * three_point_section_error(trial),
    }


def _against_published(trial: ThreePointTrial) -> dict[str, Any]:
    """Return unloading forces outside the published band, of the wire and of the named sets."""
    if trial.wire.alloy.behaviour != "superelastic":
        return {}
    low, high = lookup("three_point.published.unloading_band").numbers
    curves = {"this wire": trial.curves["surface"]}
    curves |= {f"set {name.upper()}": curve for name, curve in trial.sets.items()}
    return {
        "published_unloading_band_N": [low, high],
        "against_published_band": {
            name: {
                f"{place:g} mm": {
                    "unloading_N": force,
                    "lies": "under" if force < low else "above" if force > high else "inside",
                }
                for place, force in unloading_forces(curve).items()
            }
            for name, curve in curves.items()
        },
    }


def three_point_section_error(trial: ThreePointTrial) -> float:
    """Return the error of the fibres where the wire is bent most, relative."""
    axis = CURVATURE_THIRD if trial.wire.axis == "third" else CURVATURE_SECOND
    peak = max(curve.curvature for curve in trial.curves.values())
    return section_error(trial.wire.law(), trial.wire.law(REFINED), peak, axis=axis)


def section_report(trial: SectionTrial) -> dict[str, Any]:
    """Return moments, energies and errors of pure bending or torsion."""
    wire, unit = trial.wire, "rad_per_mm" if trial.torsion else "per_mm"
    error = section_error(wire.law(), wire.law(REFINED), trial.peak, axis=trial.component)
    path, top = trial.path, int(np.argmax(trial.applied))
    there = np.concatenate([[[0.0], [0.0]], _points(trial)[:, : top + 1]], axis=1)
    shares = (0.25, 0.5, 0.75, 1.0)
    return {
        "notice": NOTICE,
        "limits": list(trial_limits(wire.alloy, three_point=False)),
        "kind": "torsion" if trial.torsion else "bending",
        **_of_wire(wire),
        f"peak_{unit}": trial.peak,
        "moments": [
            {
                f"at_{unit}": share * trial.peak,
                "loading_Nmm": float(np.interp(share * trial.peak, *there)),
                "unloading_Nmm": _coming_back(trial, share, top),
            }
            for share in shares
        ],
        f"left_{unit}": trial.left,
        "stored_at_peak_Nmm_per_mm": float(path.stored[top]),
        "inelastic_Nmm_per_mm": float(path.inelastic[-1]),
        "section_error_percent": 100 * error,
        "curve": _columns(section_table(trial)),
    }


def three_point_table(trial: ThreePointTrial) -> pd.DataFrame:
    """Return the curves of both kinds of contact, one row per deflection."""
    frames = []
    for mode, curve in trial.curves.items():
        frame = _curve_table(curve)
        frame.insert(0, "contact", mode)
        frames.append(frame)
    return pd.concat(frames, ignore_index=True)


def section_table(trial: SectionTrial) -> pd.DataFrame:
    """Return the path of a section, one row per point."""
    applied = "twist_rad_per_mm" if trial.torsion else "curvature_per_mm"
    return pd.DataFrame(
        {
            applied: trial.applied,
            "torque_Nmm" if trial.torsion else "moment_Nmm": trial.moment,
            "stored_Nmm_per_mm": trial.path.stored,
            "inelastic_Nmm_per_mm": trial.path.inelastic,
        }
    )


def _curve_table(curve: BendCurve) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "deflection_mm": curve.deflection,
            "force_N": curve.force,
            "support_from_middle_mm": curve.station,
            "stored_Nmm": curve.stored,
            "inelastic_Nmm": curve.inelastic,
            "friction_Nmm": curve.friction,
            "external_Nmm": curve.external,
        }
    )


def _columns(table: pd.DataFrame) -> dict[str, list[float]]:
    return {str(name): [float(value) for value in table[name]] for name in table}


def _of_wire(wire: Specimen) -> dict[str, Any]:
    return {
        "wire": wire.name,
        "behaviour": wire.alloy.behaviour,
        "temperature_degC": wire.temperature,
        "order_of_bending": wire.order,
    }


def _mode(curve: BendCurve) -> dict[str, Any]:
    return {
        "loading_N": {f"{d:g} mm": force for d, force in loading_forces(curve).items()},
        "unloading_N": {f"{d:g} mm": force for d, force in unloading_forces(curve).items()},
        "peak_N": float(curve.force.max()),
        "permanent_deflection_mm": permanent_deflection(curve),
        "bending_rate_N_per_mm": bending_rate(curve),
        "force_at_0.1_mm_offset_N": offset_force(curve),
        "external_Nmm": float(curve.external[-1]),
        "stored_Nmm": float(curve.stored[-1]),
        "inelastic_Nmm": float(curve.inelastic[-1]),
        "friction_Nmm": float(curve.friction[-1]),
        "elements": curve.elements,
        "element_error_percent": 100 * curve.element_change,
        "increments": sum(len(group) for group in curve.increments),
        "curve": _columns(_curve_table(curve)),
    }


def _points(trial: SectionTrial) -> np.ndarray:
    return np.stack([trial.applied, trial.moment])


def _coming_back(trial: SectionTrial, share: float, top: int) -> float | None:
    if not trial.left <= share * trial.peak < trial.peak:
        return None
    return float(np.interp(share * trial.peak, *_points(trial)[:, top:][:, ::-1]))
