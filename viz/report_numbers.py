"""Numbers of every tooth on the days of a report, as `gomphosis.scenarios.history` gives them."""

from typing import Any

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.result import MEDIAN, CaseResult, RunResult
from gomphosis.scenarios.vtu import KILO
from gomphosis.viz.report_packing import Packing
from gomphosis.viz.wording import side_words


def tooth_numbers(
    packing: Packing, result: RunResult, case: CaseResult, rows: dict[float, np.ndarray]
) -> list[dict[str, Any]]:
    """Return the numbers of every tooth of a case, arrays packed.

    Parameters
    ----------
    packing
        Where arrays go.
    result, case
        A finished run and one of its cases.
    rows
        For each quantile of the rate, its records on the days of the report.
    """
    found = {q: histories(result, case, quantile=q) for q in QUANTILES}
    return [
        {
            "number": tooth.number,
            "sides": list(side_words(tooth.anatomy)),
            "measured_on_incisors": tooth.number % 10 <= 2,
            **_numbers(packing, {q: found[q][k] for q in QUANTILES}, rows),
        }
        for k, tooth in enumerate(result.teeth)
    ]


def _numbers(
    packing: Packing, of_tooth: dict[float, ToothHistory], rows: dict[float, np.ndarray]
) -> dict[str, Any]:
    history, at = of_tooth[MEDIAN], rows[MEDIAN]
    band = [np.linalg.norm(of_tooth[q].crown[rows[q]], axis=1) for q in QUANTILES]

    def kept(values: Array, step: float) -> dict[str, Any]:
        return packing.add(values[at], step=step)

    return {
        "crown_band_mm": packing.add(np.stack(band, axis=1), step=0.001),
        "crown_mm": kept(history.crown, 0.001),
        "apex_mm": kept(history.apex, 0.001),
        "turn_deg": kept(np.degrees(history.turn), 0.01),
        "force_N": kept(np.linalg.norm(history.at_bracket[:, :3], axis=1), 0.001),
        "forces_N": kept(history.at_bracket[:, :3], 0.001),
        "moments_Nmm": kept(history.at_bracket[:, 3:], 0.01),
        "moment_to_force_mm": kept(history.moment_to_force, 0.01),
        "rotation_centre_mm": kept(history.rotation_centre, 0.01),
        "peak_pressure_kPa": kept(KILO * history.peak_pressure, 0.01),
        "zone_area_mm2": kept(history.zone_area, 0.1),
        "above_line_percent": kept(100 * history.above_line, 0.1),
    }
