"""Runs that were killed or interrupted go on when they are called again. Verification."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from gomphosis.viz import outputs, run_command
from gomphosis.viz.run_command import UNFINISHED

DONE = "gomphosis: goes on from day 7 of 7 (3 of 3 tracks done)\n"
PLAIN = "--no-films"  # films are moved into place like everything else
FEW_PICTURES = (
    # so are figures, which take most of the time of so short a run
    "from gomphosis.viz import figures, outputs; from gomphosis.viz.cli import main; "
    "outputs.figures_for = lambda _: {'force': figures.force_figure}; main()"
)
NOT_AT_HOME = {"FORCE_COLOR": "", "OPENBLAS_NUM_THREADS": "1"}

WIRED = """
schema = 1
title = "Two incisors for some days (invented)"
invented = true
duration = "3 days"
step = "1 day"
rate = { max_speed = "60 um/day", half_stress = "1 kPa" }
[[tooth]]
number = 11
vertical = "-0.4 mm"
[[tooth]]
number = 21
labial = "0.3 mm"
[[wire]]
size = "0.016 in"
alloy = "steel"
friction = 0.15
ligation = { kind = "active", seating = "1 N", lasting = 0.5 }
[[elastic]]
kind = "chain"
teeth = [11, 21]
force = "0.5 N"
stiffness = "0.2 N/mm"
put_on = "1 day"
[[visit]]
at = "2 days"
religate = true
"""


def files(folder: Path) -> dict[str, bytes]:
    """Return all files of a run; the time it took, which its summary holds, is left out."""
    found = {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    summary = json.loads(found["summary.json"])
    assert summary.pop("wall_time_s") >= 0
    return {**found, "summary.json": json.dumps(summary).encode()}


@pytest.fixture(scope="module")
def plain(scenario: Path, tmp_path_factory: pytest.TempPathFactory, gomphosis) -> Path:
    """Return the folder of a whole run without films, which must not be changed."""
    folder = tmp_path_factory.mktemp("plain")
    assert gomphosis("run", scenario, "--out", folder, PLAIN).code == 0
    return folder


@pytest.fixture
def interrupted(scenario: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gomphosis) -> Path:
    """Return the folder of a run that was interrupted once all steps had been made."""

    def pressed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(outputs, "write_report", pressed)
        assert gomphosis("run", scenario, "--out", tmp_path / "out", PLAIN).code == 130
    return tmp_path / "out"


def test_an_interrupted_run_ends_as_one_that_was_not(
    interrupted: Path, scenario: Path, plain: Path, gomphosis
):
    answer = gomphosis("run", scenario, "--out", interrupted, PLAIN)
    assert (answer.code, answer.err) == (0, DONE)
    assert files(interrupted) == files(plain)
    # nothing is left to go on from
    again = gomphosis("run", scenario, "--out", interrupted, PLAIN)
    assert (again.code, again.err) == (0, "")


def test_json_tells_it_apart_from_the_results(interrupted: Path, scenario: Path, gomphosis):
    answer = gomphosis("run", scenario, "--out", interrupted, PLAIN, "--json")
    assert (answer.code, answer.err) == (0, DONE)
    assert json.loads(answer.out)["weeks"] == 1


def test_afresh_begins_anew(interrupted: Path, scenario: Path, plain: Path, gomphosis):
    path = interrupted / UNFINISHED / "case-1-rate-50.a"
    path.write_bytes(b"of another program")
    answer = gomphosis("run", scenario, "--out", interrupted, PLAIN, "--afresh")
    assert (answer.code, answer.err) == (0, "")
    assert files(interrupted) == files(plain)


def test_afresh_is_about_a_folder(scenario: Path, gomphosis):
    answer = gomphosis("run", scenario, "--json", "--afresh")
    assert answer.code == 2
    assert "give --out" in answer.err


def test_another_scenario_and_damage_are_refused_in_one_line(
    interrupted: Path, scenario: Path, tmp_path: Path, request: pytest.FixtureRequest, gomphosis
):
    request.getfixturevalue("never_run")
    before = {path: path.read_bytes() for path in (interrupted / UNFINISHED).iterdir()}
    assert len(before) == 9
    other = tmp_path / "other.toml"
    other.write_text(scenario.read_text().replace("0.3 N", "0.4 N"))
    answer = gomphosis("run", other, "--out", interrupted, PLAIN)
    assert (answer.code, answer.out) == (2, "")
    (line,) = answer.err.splitlines()
    assert line.startswith(f"gomphosis: {interrupted}/{UNFINISHED}/case-1-rate-50.")
    assert ": is of another scenario; accepted: " in line
    assert {path: path.read_bytes() for path in (interrupted / UNFINISHED).iterdir()} == before
    for ending in "ab":
        path = interrupted / UNFINISHED / f"case-1-rate-10.{ending}"
        path.write_bytes(path.read_bytes()[:-8])
    answer = gomphosis("run", scenario, "--out", interrupted, PLAIN)
    assert (answer.code, answer.out) == (2, "")
    (line,) = answer.err.splitlines()
    assert line.endswith(
        "case-1-rate-10.b: is damaged; accepted: delete the folder, or run with --afresh to begin "
        "anew"
    )


def test_a_run_that_fails_leaves_nothing_to_go_on_from(
    scenario: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gomphosis
):
    real = run_command.run

    def failing(*words: object, **options: object) -> None:
        real(*words, **options)
        raise ArithmeticError("no rest")

    monkeypatch.setattr(run_command, "run", failing)
    with pytest.raises(ArithmeticError, match="no rest"):
        run_command.run_command(str(scenario), tmp_path / "out", as_json=False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", [4, 5])  # two halves, for two processes
def test_runs_killed_at_10_random_moments_end_alike(seed: int, tmp_path: Path):
    scenario, whole = tmp_path / "wired.toml", tmp_path / "whole"
    scenario.write_text(WIRED)
    environment = {**os.environ, **NOT_AT_HOME}

    def start(out: Path):
        words = ["run", str(scenario), "--out", str(out), PLAIN]
        line = [sys.executable, "-c", FEW_PICTURES, *words]
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "encoding": "utf-8"}
        return subprocess.Popen(line, env=environment, **pipes)

    def end(process) -> str:
        _, err = process.communicate(timeout=300)
        assert process.returncode == 0, err
        return err

    begin = time.monotonic()
    assert end(start(whole)) == ""
    duration = time.monotonic() - begin
    wanted = files(whole)
    assert {"movement.csv", "movement.parquet", "fields/weeks.pvd"} < set(wanted)
    random, kills, gone_on = np.random.default_rng(seed), 0, 0
    while kills < 10:
        out, moment = tmp_path / f"out-{kills}", duration * random.uniform()
        process = start(out)
        time.sleep(moment)
        process.send_signal(signal.SIGKILL)
        process.communicate(timeout=60)
        if process.returncode == 0:
            # it had ended before: the machine has become faster
            duration *= 0.9
            continue
        kills += 1
        err = end(start(out))
        gone_on += "goes on from day" in err
        assert files(out) == wanted, f"killed after {moment:.2f} s of {duration:.2f} s: {err}"
        assert not list(out.glob(".*"))
    assert gone_on >= 3
