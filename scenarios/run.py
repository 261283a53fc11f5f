"""Run a scenario: every case at three rates, wire and teeth in equilibrium at every step."""

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from gomphosis.bone.checkpoint import Reached
from gomphosis.bone.loop import Period, Track, begun, simulate
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.calibration import Calibration, calibrate
from gomphosis.scenarios.model import ToothModel, force_loads, rate_law, tooth_models
from gomphosis.scenarios.periods import elastics_of, scenario_periods, wires_of
from gomphosis.scenarios.persons import MEDIAN_FIRST, QUANTILES, growth_factor, person_factor
from gomphosis.scenarios.result import MEDIAN, CaseResult, RunResult, weekly
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slice_model import SliceModel, slice_models
from gomphosis.scenarios.slice_result import SliceResult, follow_slices, kept_days
from gomphosis.scenarios.unfinished import Unfinished

Progress = Callable[[float, str], None]
"""Called with the share done, 0 to 1, and what is being done."""

WIRES = "wires"


def run(
    scenario: Scenario,
    *,
    resolution: Resolution | None = None,
    progress: Progress | None = None,
    unfinished: Unfinished | None = None,
) -> RunResult:
    """Follow a scenario's teeth over its weeks.

    Parameters
    ----------
    scenario
        As loaded by ``gomphosis.scenarios.files``.
    resolution
        Mesh of the supports; the default changes results by less than 1 % on doubling.
    progress
        Told how far the run is.
    unfinished
        Where checkpoints of this scenario at this resolution are kept at every step, and gone on
        from; slices are followed anew.

    Raises
    ------
    OSError
        If a checkpoint cannot be written.
    NotConvergedError
        If a time step fails even after halving it repeatedly.
    """
    begin = time.perf_counter()
    tell = progress or (lambda share, what: None)
    tell(0.0, "supports of the teeth")
    calibration = _calibration(scenario, resolution)
    law = rate_law(scenario.rate, calibration.law if calibration else None)
    teeth = tooth_models(scenario, law, resolution=resolution)
    opened = slice_models(scenario, teeth)
    names = case_names(scenario)
    cases = []
    for index, name in enumerate(names):

        def share(part: float, what: str, index: int = index) -> None:
            tell((index + part) / len(names), what)

        case = _run_case(scenario, teeth, name, tell=share, unfinished=unfinished)
        cases.append(replace(case, slices=_slices(scenario, opened, case, teeth, share)))
    tell(1.0, "done")
    return RunResult(scenario, teeth, law, calibration, tuple(cases), time.perf_counter() - begin)


def _calibration(scenario: Scenario, resolution: Resolution | None) -> Calibration | None:
    rate = scenario.rate
    if rate.law != "saturating" or rate.max_speed is not None:
        return None
    weight = None if rate.shear_weight == "auto" else float(rate.shear_weight)
    return calibrate(
        scenario.ligament, shear_weight=weight, stimulus=rate.stimulus, resolution=resolution
    )


def _run_case(
    scenario: Scenario,
    teeth: Sequence[ToothModel],
    name: str,
    *,
    tell: Progress,
    unfinished: Unfinished | None,
) -> CaseResult:
    tracks: dict[float, Track] = {}
    acting: list[Period] = []
    supports = [tooth.remodelling for tooth in teeth]
    start: Reached | None = None
    for index, quantile in enumerate(MEDIAN_FIRST):
        periods = case_periods(scenario, teeth, name)
        if quantile == MEDIAN and name == WIRES:
            acting = periods

        def on_day(day: float, index: int = index, quantile: float = quantile) -> None:
            share = (index + day / scenario.duration) / len(MEDIAN_FIRST)
            tell(share, f"{name}, rate quantile {quantile:g}")

        keep = unfinished.keeper(name, quantile) if unfinished else None
        resume = unfinished.checkpoint(name, quantile) if unfinished else None
        if resume is None:
            # wires are tied in to the same teeth whatever the rate, so once is enough
            start = start or begun(supports, case_periods(scenario, teeth, name)[0].loads)
            resume = start.first
            if keep is not None:
                keep(start)
        tracks[quantile] = simulate(
            supports,
            periods,
            days=scenario.duration,
            step=scenario.step,
            rate_factor=growth_factor(scenario.growing) * person_factor(quantile),
            progress=on_day,
            keep=keep,
            resume=resume,
        )
    return CaseResult(
        name,
        {q: tracks[q] for q in QUANTILES},
        wires_of(acting),
        elastics_of(acting),
    )


def _slices(
    scenario: Scenario,
    opened: Sequence[SliceModel],
    result: CaseResult,
    teeth: Sequence[ToothModel],
    tell: Progress,
) -> tuple[SliceResult, ...]:
    return follow_slices(
        opened,
        teeth,
        result.median,
        rate_factor=growth_factor(scenario.growing) * person_factor(MEDIAN),
        keep=kept_days(
            result.median, weekly(result.median), opened, len(scenario.cases) or 1
        ).tolist(),
        progress=tell,
    )


def case_names(scenario: Scenario) -> list[str]:
    """Return the names of the cases of a scenario in their order."""
    return list(scenario.cases) or [WIRES]


def open_unfinished(folder: Path, scenario: Scenario) -> Unfinished:
    """Return the checkpoints of a scenario's run in a folder, at the default resolution.

    Raises
    ------
    CheckpointError
        If those that are there cannot be gone on from.
    """
    return Unfinished(folder, scenario, case_names(scenario))


def case_periods(scenario: Scenario, teeth: Sequence[ToothModel], name: str) -> list[Period]:
    """Return the loads of a case and the days from which they act."""
    if name in scenario.cases:
        return [Period(0.0, force_loads(scenario.cases[name], teeth))]
    return scenario_periods(scenario, teeth)
