"""``gomphosis rates``: the calibration of the rate law."""

from typing import Any

from gomphosis.scenarios.calibration import calibrate
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.rates_report import rates_report
from gomphosis.viz.console import console, number, print_json, print_notice, table
from gomphosis.viz.tooth_command import single_tooth

COLUMNS = (
    "force\nN",
    "nominal\nkPa",
    "local\nkPa",
    "published\nµm/day",
    "fitted\nµm/day",
    "residual\n%",
    "left out\nµm/day",
    "error\n%",
    "logarithmic\nµm/day",
    "linear\nµm/day",
)


def rates_command(ligament: dict[str, Any], *, as_json: bool) -> None:
    """Print the fit to the published speeds for a ligament."""
    scenario = scenario_from(single_tooth(13, None, ligament), "command line")
    report = rates_report(calibrate(scenario.ligament))
    if as_json:
        print_json(report)
        return
    screen = console()
    law = report["law"]
    screen.print(
        f"v = v_max S / (S + S_half): v_max {law['max_speed_um_per_day']:.1f} µm/day, "
        f"S_half {law['half_stress_kPa']:.2f} kPa on the wall, reached at "
        f"{law['half_force_N']:.3f} N on a translated canine",
        markup=False,
    )
    rows = [
        [number(value, 3 if key == "force_N" else 1) for key, value in point.items()]
        for point in report["points"]
    ]
    screen.print(table("Calibration (not validation)", COLUMNS, rows))
    screen.print(f"· source: {report['source']} ({report['status']})", markup=False)
    screen.print(f"· forces: {report['forces']}", markup=False)
    screen.print(
        "· left out: speed predicted by a fit to the other four. Nominal stress (force over "
        "loaded area) and local stress on the wall are different quantities.",
        markup=False,
    )
    screen.print("· the linear law is the best one of its form; it fails.", markup=False)
    print_notice(screen)
