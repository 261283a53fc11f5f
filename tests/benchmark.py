"""Measure run times of the product; run by hand: python tests/benchmark.py [--repeat N].

Prints one line a figure: median, smallest and largest of N runs in seconds. Numbers belong to
the machine they were measured on, so none is kept here and no test is timed.
"""

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from gomphosis.bone.loop import simulate
from gomphosis.bone.rates import Saturating
from gomphosis.bone.slice_run import SliceTrack, follow_slice
from gomphosis.bone.support import Resolution, support
from gomphosis.fem.cholesky import best_factorise
from gomphosis.scenarios.files import find_scenario
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.persons import QUANTILES, person_factor
from gomphosis.scenarios.run import WIRES, case_periods, run
from gomphosis.scenarios.slice_model import SliceModel, slice_models

PROGRAM = [sys.executable, "-c", "from gomphosis.viz.cli import main; main()"]


def measure(name: str, task: Callable[[], object], repeat: int) -> None:
    """Run a task once unmeasured and then N times; print its times."""
    task()
    seconds = []
    for _ in range(repeat):
        begin = time.perf_counter()
        task()
        seconds.append(time.perf_counter() - begin)
    median = statistics.median(seconds)
    print(f"{name:<60} {median:8.3f} {min(seconds):8.3f} {max(seconds):8.3f}")


def program(*arguments: str) -> Callable[[], object]:
    """Return a task that runs the command line in a process of its own."""
    return lambda: subprocess.run([*PROGRAM, *arguments], check=True, capture_output=True)


def whole_case() -> None:
    """Run the three incisors with all outputs."""
    with tempfile.TemporaryDirectory() as folder:
        program("run", "three-incisors", "--out", str(Path(folder) / "out"))()


def opened() -> SliceModel:
    """Return the slice of the shipped case of a thin plate, default mesh and map."""
    scenario = find_scenario("thin-plate")
    return slice_models(scenario, tooth_models(scenario, Saturating(0.06, 0.0014)))[0]


def twelve_weeks(model: SliceModel) -> SliceTrack:
    """Follow a slice for twelve weeks of daily steps, a frame a week: 0.3 N, M/F 8 mm, 7 mm up."""
    days = np.arange(85.0)
    load = np.tile([0.3, 0.0, 0.3 * (7.0 - 8.0)], (len(days), 1))
    keep = days[::7].tolist()
    track = follow_slice(model.case, days, load, keep=keep, factorise=best_factorise())
    if track.stopped or len(track.frames) != len(keep):
        raise RuntimeError(f"the slice did not last twelve weeks: {track.stopped}")
    return track


def peak_memory() -> float:
    """Return the peak memory of this process so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000


def main() -> None:
    """Measure the figures one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=5)
    repeat = parser.parse_args().repeat
    # first, while the process has done nothing else
    model = opened()
    before = peak_memory()
    twelve_weeks(model)
    memory = f"peak memory {peak_memory():.0f} MB, {before:.0f} MB of it before the first step"
    scenario = find_scenario("three-incisors")
    result = run(scenario)
    design = result.teeth[0].support.design
    models = [tooth.remodelling for tooth in result.teeth]

    def time_loop() -> None:
        for quantile in QUANTILES:
            periods = case_periods(scenario, result.teeth, WIRES)
            simulate(
                models,
                periods,
                days=scenario.duration,
                step=scenario.step,
                rate_factor=person_factor(quantile),
            )

    print(f"{'':<60} {'median':>8} {'least':>8} {'most':>8}")
    measure("support of one tooth, default mesh", lambda: support(design), repeat)
    fine = Resolution().doubled()
    measure("support of one tooth, doubled mesh", lambda: support(design, fine), repeat)
    measure("slice: time loop of twelve weeks", lambda: twelve_weeks(model), repeat)
    print(f"slice of twelve weeks, with map and weekly frames: {memory}")
    measure("three incisors: time loop, three quantile runs", time_loop, repeat)
    measure("three incisors: run without files", lambda: run(scenario), repeat)
    measure("three incisors: whole process with all files", whole_case, repeat)
    measure("gomphosis --help, whole process", program("--help"), repeat)


if __name__ == "__main__":
    main()
