"""Ctrl-C, pipes and terminals, in processes of their own where it takes one. Verification."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from gomphosis.viz import outputs, run_command
from gomphosis.viz.run_command import UNFINISHED
from gomphosis.viz.staging import STAGE


def until(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 120
    while not condition():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.02)


def interrupted(out: Path, scenario: Path, started):
    """Press Ctrl-C during a long run, once its first steps are kept."""
    long = scenario.with_name("long.toml")
    long.write_text(
        scenario.read_text().replace('"1 week"', '"260 weeks"').replace('"1 day"', '"0.1 days"')
    )
    process = started("run", long, "--out", out)
    kept = out / UNFINISHED / "case-1-rate-50.b"
    until(lambda: kept.exists() or process.poll() is not None)
    time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    text, err = process.communicate(timeout=120)
    return process.returncode, text, err


def check_interrupted(code: int, out: str, err: str, where: str) -> None:
    assert code == 130
    assert out == ""
    # an empty line leaves the one on which the terminal shows the key
    said = "gomphosis: interrupted; no partial file was left" + where
    assert re.fullmatch(said + "\n", err.lstrip("\n")), err


ON_THE_WAY = (
    r", and the same command goes on from day [0-9.]+ of 1820 "
    r"\(.* at rate quantile 0\.5; 0 of 3 tracks done\)"
)
KEPT = {f"case-1-rate-50.{ending}" for ending in ("a", "b", "rows")}


def test_interrupt_leaves_what_it_takes_to_go_on(tmp_path: Path, scenario: Path, started):
    out = tmp_path / "new" / "out"
    check_interrupted(*interrupted(out, scenario, started), ON_THE_WAY)
    assert [path.name for path in out.iterdir()] == [UNFINISHED]
    assert {path.name for path in (out / UNFINISHED).iterdir()} == KEPT


def test_interrupt_keeps_older_outputs(tmp_path: Path, scenario: Path, started):
    out = tmp_path / "out"
    (out / "fields").mkdir(parents=True)
    old = {"summary.json": "old", "fields/week_000.vtu": "old", "notes.txt": "mine"}
    for name, text in old.items():
        (out / name).write_text(text)
    check_interrupted(*interrupted(out, scenario, started), ON_THE_WAY)
    assert {name: (out / name).read_text() for name in old} == old
    names = {"summary.json", "fields", "notes.txt", UNFINISHED}
    assert {p.name for p in out.iterdir()} == names


def test_interrupt_before_the_first_step_leaves_no_folder(
    scenario: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gomphosis
):
    def pressed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(run_command, "run", pressed)
    answer = gomphosis("run", scenario, "--out", tmp_path / "new" / "out")
    check_interrupted(answer.code, answer.out, answer.err, "")
    assert list(tmp_path.iterdir()) == []


def test_interrupt_while_the_last_file_is_written(
    scenario: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gomphosis
):
    def pressed(_: object, folder: Path, __: object) -> None:
        (folder / "teeth.gif").write_bytes(b"half")
        raise KeyboardInterrupt

    monkeypatch.setattr(outputs, "save_animation", pressed)
    answer = gomphosis("run", scenario, "--out", tmp_path / "out")
    where = r", and the same command goes on from day 7 of 7 \(3 of 3 tracks done\)"
    check_interrupted(answer.code, answer.out, answer.err, where)
    assert [path.name for path in (tmp_path / "out").iterdir()] == [UNFINISHED]
    assert not list((tmp_path / "out" / UNFINISHED).glob(f"{STAGE}*"))


@pytest.mark.parametrize("words", [["cases"], ["cases", "--json"]], ids=str)
def test_reader_of_a_pipe_that_has_gone(words: list[str], started):
    with started(*words) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == ""
    assert process.returncode == 1


def test_terminal_without_signs_of_the_trade(gomphosis, started):
    """A minus sign must not get lost where only ASCII can be printed."""
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    process = started("tooth", "11", env=environment)
    out, err = process.communicate(timeout=120)
    assert (process.returncode, err) == (0, "")
    facts = json.loads(gomphosis("tooth", 11, "--json").out)
    percents = [s["model_less_published_percent"] for s in facts["root_area"]["published"].values()]
    assert min(percents) < -1
    for percent in percents:
        assert f" {percent:.0f} " in out
    assert "?" not in out


def test_json_where_only_ascii_can_be_printed(gomphosis, started):
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    process = started("rates", "--json", env=environment)
    out, err = process.communicate(timeout=120)
    assert (process.returncode, err) == (0, "")
    assert json.loads(out) == json.loads(gomphosis("rates", "--json").out)
    assert "mm²" in json.loads(out)["forces"]


def test_progress_is_shown_on_a_terminal_and_apart_from_the_results(
    scenario: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gomphosis
):
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    answer = gomphosis("run", scenario, "--out", tmp_path, "--no-films", "--json")
    assert answer.code == 0
    assert json.loads(answer.out)["weeks"] == 1
    assert "100 %" in answer.err


HEAVY = ("numpy", "scipy", "pandas", "pyarrow", "matplotlib", "skfem", "pydantic", "pint", "rich")


@pytest.mark.parametrize("words", [["--help"], ["run", "--help"], ["--version"]], ids=str)
def test_help_imports_nothing_heavy(words: list[str]):
    code = (
        "import json, sys\n"
        "from gomphosis.viz.cli import main\n"
        "try:\n    main()\n"
        "except SystemExit as left:\n    code = left.code\n"
        "print(json.dumps([code, sorted(sys.modules)]), file=sys.stderr)\n"
    )
    process = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, encoding="utf-8", check=True
    )
    exit_code, modules = json.loads(process.stderr)
    assert exit_code == 0
    assert process.stdout
    assert "click" in modules
    assert [name for name in HEAVY if name in modules] == []


def test_help_says_what_it_is_not(gomphosis):
    assert "Not a medical device." in gomphosis("--help").words
