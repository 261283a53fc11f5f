"""The summary of a run: plain data for people and programs."""

import json
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from typing import Any

import numpy as np

from gomphosis.bone.directions import FORCE_WORDS, MOMENT_WORDS, ORIENTATION_WORDS
from gomphosis.bone.rates import RateLaw, Saturating
from gomphosis.fem.section import Array
from gomphosis.scenarios.caution import NOTICE, model_limits
from gomphosis.scenarios.elastic_report import elastic_documents
from gomphosis.scenarios.flags import slice_flags, tooth_flags
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.kinematics import PLANES
from gomphosis.scenarios.model import overload_lag
from gomphosis.scenarios.persons import growth_factor
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.root_preview import root_preview
from gomphosis.scenarios.slice_result import slice_document

SUMMARY_SCHEMA = 1


def summary(result: RunResult) -> dict[str, Any]:
    """Return the summary; None stands for what does not exist, such as a centre of rotation.

    ``teeth`` holds the first case; ``cases`` is there when there are several.
    """
    teeth = {case.name: case_teeth(result, case) for case in result.cases}
    first = result.cases[0].name
    elastics = result.scenario.elastic
    return {
        "version": version("gomphosis"),
        "schema": SUMMARY_SCHEMA,
        "notice": NOTICE,
        "limits": list(model_limits(result.scenario)),
        "scenario": result.scenario.document(),
        "weeks": result.scenario.duration / 7,
        "rate": rate_document(result),
        "case": first,
        "teeth": teeth[first],
        **({"elastics": elastic_documents(result, result.cases[0])} if elastics else {}),
        **({"cases": {name: {"teeth": t} for name, t in teeth.items()}} if len(teeth) > 1 else {}),
        "wall_time_s": round(result.wall_time, 3),
    }


def summary_text(document: Mapping[str, Any]) -> str:
    """Return a summary as JSON text."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def case_teeth(result: RunResult, case: CaseResult) -> dict[str, Any]:
    """Return the summary of every tooth of a case by ISO 3950 number."""
    runs = {q: histories(result, case, quantile=q) for q in case.tracks}
    found = {
        str(tooth.number): _tooth(result, {q: runs[q][k] for q in runs}, runs[0.5], k)
        for k, tooth in enumerate(result.teeth)
    }
    for k, tooth in enumerate(result.teeth):
        preview = root_preview(result, case, k, {q: runs[q][k] for q in runs})
        found[str(tooth.number)]["root_preview"] = preview.document()
    for opened in case.slices:
        facts = found[str(opened.model.number)]
        facts["slice"] = slice_document(opened)
        facts["flags"] += [flag.document() for flag in slice_flags(opened)]
    return found


def force_system(words: Array) -> dict[str, float]:
    """Return a six-vector in trade words as named components, N and N·mm."""
    names = [f"{w}_N" for w in FORCE_WORDS] + [f"{w}_Nmm" for w in MOMENT_WORDS]
    return {name: float(value) for name, value in zip(names, words, strict=True)}


def rate_document(result: RunResult) -> dict[str, Any]:
    """Return the rate law used, in printed units, and how it was come by."""
    law: RateLaw = result.law
    rate = result.scenario.rate
    document: dict[str, Any] = {"law": rate.law}
    if isinstance(law, Saturating):
        document |= {
            "max_speed_um_per_day": 1e3 * law.max_speed,
            "half_stress_kPa": 1e3 * law.half_stress,
        }
    if result.calibration is not None:
        document["half_force_canine_N"] = result.calibration.half_force
        document["fit"] = "calibrated to published mean speeds of canine translation, 12 weeks"
    document["stimulus"] = rate.stimulus
    lag = overload_lag(rate)
    document["overload_lag"] = (
        None if lag is None else {"pressure_kPa": 1e3 * lag.pressure, "delay_days": lag.delay}
    )
    document["growth_factor"] = growth_factor(result.scenario.growing)
    return document


def _tooth(
    result: RunResult,
    by_quantile: Mapping[float, ToothHistory],
    of_case: Sequence[ToothHistory],
    index: int,
) -> dict[str, Any]:
    history = by_quantile[0.5]
    centres = {p: _number(history.rotation_centre[-1, k]) for k, p in enumerate(PLANES)}
    plane = history.plane[-1]
    return {
        "force_system_start": force_system(history.at_bracket[0]),
        "force_system_end": force_system(history.at_bracket[-1]),
        "crown_movement_mm": _named(FORCE_WORDS, history.crown[-1]),
        "apex_movement_mm": _named(FORCE_WORDS, history.apex[-1]),
        "orientation_change_deg": _named(ORIENTATION_WORDS, np.degrees(history.turn[-1])),
        "movement_type": history.movement[-1],
        "movement_plane": plane,
        "centre_of_rotation_mm": centres.get(plane),
        "centre_of_rotation_by_plane_mm": centres,
        "crown_movement_band_mm": {
            f"p{round(100 * q)}": float(np.linalg.norm(h.crown[-1]))
            for q, h in sorted(by_quantile.items())
        },
        "peak_pressure_kPa": 1e3 * float(history.peak_pressure.max()),
        "mean_pressure_start_kPa": 1e3 * float(history.mean_pressure[0]),
        "resorbed_mm3": float(history.resorbed[-1]),
        "deposited_mm3": float(history.deposited[-1]),
        "flags": [flag.document() for flag in tooth_flags(result, of_case, index)],
    }


def _named(words: Sequence[str], values: Array) -> dict[str, float]:
    return {word: float(value) for word, value in zip(words, values, strict=True)}


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
