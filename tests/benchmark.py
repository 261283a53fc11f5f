"""Measure run times of the product; run by hand: python tests/benchmark.py [--repeat N].

Prints one line a figure: median, smallest and largest of N runs in seconds. Numbers belong to
the machine they were measured on, so none is kept here and no test is timed.
"""

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from gomphosis.bone.loop import simulate
from gomphosis.bone.support import Resolution, support
from gomphosis.scenarios.files import find_scenario
from gomphosis.scenarios.persons import QUANTILES, person_factor
from gomphosis.scenarios.run import WIRES, case_periods, run

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


def main() -> None:
    """Measure the figures one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=5)
    repeat = parser.parse_args().repeat
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
    measure("three incisors: time loop, three quantile runs", time_loop, repeat)
    measure("three incisors: run without files", lambda: run(scenario), repeat)
    measure("three incisors: whole process with all files", whole_case, repeat)
    measure("gomphosis --help, whole process", program("--help"), repeat)


if __name__ == "__main__":
    main()
