"""``gomphosis fit-wire``: constants of a superelastic wire from its measured bending curve."""

from pathlib import Path
from typing import Any

import numpy as np

from gomphosis.scenarios.bend_report import trial_limits
from gomphosis.scenarios.bend_trial import ThreePointTrial
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.fit_wire import FITTED, BendTest, WireFit, fit_wire, read_curve
from gomphosis.scenarios.material_table import material_text
from gomphosis.viz.console import console, number, print_json, print_notice, progress, table
from gomphosis.viz.one_wire import (
    NAME,
    SPAN,
    check_figure,
    check_steepness,
    friction,
    option_value,
    specimen,
    wire_document,
)
from gomphosis.viz.whole_files import whole_files

DIGITS = 6  # of a fitted constant in TOML
USUAL_RUNS = 20  # half of the bends that a fit takes; the bar slows down, as none knows the end


def fit_command(
    source: Path,
    wire: dict[str, str | None],
    options: dict[str, Any],
    *,
    figure: Path | None,
    as_json: bool,
) -> None:
    """Fit a wire's constants to a curve, draw it if wanted, and print them.

    Parameters
    ----------
    wire
        ``size``, ``temperature``, ``order`` as given.
    options
        ``span`` and ``friction`` as given.
    """
    check_figure(figure)
    warm = wire.get("temperature")
    document = wire_document(wire) | ({} if warm is None else {"temperature": warm})
    scenario = scenario_from(document, NAME)
    one = specimen(scenario, 0, wire.get("order") or "second")
    span = option_value("span", options.get("span") or SPAN.example, SPAN)
    curve = read_curve(source)
    check_steepness(curve.peak, span)
    trial = ThreePointTrial(one, span, curve.peak, friction(options.get("friction")))
    with whole_files(figure) as (place,):
        with progress("fit") as tell:
            test = BendTest(curve, one.section, trial.setup(), one.temperature)
            fit = fit_wire(test, progress=lambda n: tell(n / (n + USUAL_RUNS), f"bend {n}"))
        if place is not None:
            from gomphosis.viz import bend_figure, theme

            theme.save_figure(bend_figure.fit_figure(scenario, fit, one), place)
    report = fit_report(fit)
    if as_json:
        print_json(report)
    else:
        _print(fit, report)


def fit_report(fit: WireFit) -> dict[str, Any]:
    """Return a fit as plain data."""
    return {
        "notice": fit.notice,
        "limits": list(trial_limits(fit.alloy, three_point=True, fitted=True)),
        "curve": fit.curve.name,
        "points": int(fit.force.size),
        "constants_MPa": {name: float(getattr(fit.alloy, name)) for name in FITTED},
        "standard_errors_MPa": dict(fit.errors),
        "undetermined": list(fit.undetermined),
        "remarks": list(fit.remarks),
        "residual_N": fit.residual,
        "largest_residual_N": float(np.abs(fit.force - fit.curve.force).max()),
        "iterations": fit.iterations,
        "toml": f"[wire.material]\n{material_text(fit.alloy, digits=DIGITS)}",
    }


def _print(fit: WireFit, report: dict[str, Any]) -> None:
    screen = console()
    screen.print(f"{report['curve']}: {report['points']} points", style="bold", markup=False)
    rows = [
        [
            name.replace("_", " "),
            number(report["constants_MPa"][name], 1),
            "not determined" if error is None else number(error, 1),
        ]
        for name, error in report["standard_errors_MPa"].items()
    ]
    title = "Fitted constants (calibration, not validation)"
    screen.print(table(title, ("constant", "MPa", "standard error\nMPa"), rows))
    screen.print(
        f"· model less measured force: {report['residual_N']:.3f} N root mean square, "
        f"{report['largest_residual_N']:.3f} N at most, after {fit.iterations} iterations",
        markup=False,
    )
    for remark in (*fit.remarks, *report["limits"]):
        screen.print(f"· {remark}", markup=False)
    screen.print("For a scenario file, below the [[wire]]:", style="bold", markup=False)
    screen.print(report["toml"], end="", markup=False)
    print_notice(screen)
