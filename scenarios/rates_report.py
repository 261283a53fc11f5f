"""The calibration as plain data, beside the law it rejects and the alternative."""

from typing import Any

from gomphosis.bone.library import lookup
from gomphosis.scenarios.calibration import Calibration
from gomphosis.scenarios.caution import NOTICE


def rates_report(found: Calibration) -> dict[str, Any]:
    """Return fit, residuals, leave-one-out errors and alternatives in printed units."""
    data = lookup("speed.nickel_2014.speed")
    stress = lookup("speed.nickel_2014.stress")
    rows = [
        {
            "force_N": float(found.force[k]),
            "nominal_stress_kPa": float(stress.numbers[k]),
            "local_stress_kPa": 1e3 * float(found.local_stress[k]),
            "published_um_per_day": 1e3 * float(found.published[k]),
            "fitted_um_per_day": 1e3 * float(found.fitted[k]),
            "residual_percent": 100 * float(found.residual[k]),
            "left_out_um_per_day": 1e3 * float(found.left_out[k]),
            "left_out_error_percent": 100 * float(found.left_out_error[k]),
            "logarithmic_um_per_day": 1e3 * float(found.logarithmic_speed[k]),
            "linear_um_per_day": 1e3 * float(found.linear[k]),
        }
        for k in range(len(found.force))
    ]
    return {
        "notice": NOTICE,
        "kind": "calibration",
        "source": data.source,
        "status": data.status,
        "forces": "published stress times a loaded area of 45 mm², inferred from two points",
        "law": {
            "max_speed_um_per_day": 1e3 * found.law.max_speed,
            "half_stress_kPa": 1e3 * found.law.half_stress,
            "half_force_N": found.half_force,
        },
        "logarithmic": {
            "offset_um_per_day": 1e3 * found.logarithmic[0],
            "slope_um_per_day": 1e3 * found.logarithmic[1],
        },
        "worst_residual_percent": float(abs(100 * found.residual).max()),
        "points": rows,
    }
