"""The command line called in this process, or started in one of its own."""

import io
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, replace
from pathlib import Path
from unittest.mock import patch

import pytest

from gomphosis.scenarios.checks import all_checks
from gomphosis.viz import check_command, run_command
from gomphosis.viz.cli import main
from gomphosis.viz.scene_probe import trouble

SCENARIO = """
schema = 1
title = "Tipped for a week (invented)"
duration = "1 week"
step = "1 day"
rate = { max_speed = "60 um/day", half_stress = "1 kPa" }
[[tooth]]
number = 11
[[force]]
tooth = 11
force = "0.3 N"
direction = "lingual"
"""
IN_THE_BACKGROUND = (
    # a shell's background jobs ignore Ctrl-C, and hand that down
    "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from gomphosis.viz.cli import main; main()"
)


@dataclass(frozen=True)
class Answer:
    code: int
    out: str
    err: str

    @property
    def words(self) -> str:
        """What was printed, without line breaks."""
        return " ".join(self.out.split())


def call(*words: object) -> Answer:
    out, err = io.StringIO(), io.StringIO()
    with (
        patch.object(sys, "argv", ["gomphosis", *map(str, words)]),
        redirect_stdout(out),
        redirect_stderr(err),
        pytest.raises(SystemExit) as left,
    ):
        main()
    # where no OpenGL library works every run says so; other tests see to that
    flat = f"gomphosis: arch film drawn flat: {trouble()}\n"
    return Answer(int(left.value.code or 0), out.getvalue(), err.getvalue().replace(flat, ""))


def start(*words: object, **options: object) -> subprocess.Popen[str]:
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "encoding": "utf-8"}
    line = [sys.executable, "-c", IN_THE_BACKGROUND, *map(str, words)]
    return subprocess.Popen(line, **{**pipes, **options})


@pytest.fixture(scope="session")
def gomphosis():
    """Return a function that calls the command line with words and returns its answer."""
    return call


@pytest.fixture(scope="session")
def started():
    """Return a function that starts the command line with words and returns the process."""
    return start


@pytest.fixture(scope="session")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scenario") / "tipped.toml"
    path.write_text(SCENARIO)
    return path


@dataclass(frozen=True)
class Written:
    answer: Answer
    folder: Path


@pytest.fixture(scope="session")
def written(scenario: Path, tmp_path_factory: pytest.TempPathFactory) -> Written:
    """Return a finished run and its folder, which must not be changed."""
    folder = tmp_path_factory.mktemp("runs") / "deep" / "out"
    return Written(call("run", scenario, "--out", folder), folder)


@pytest.fixture
def never_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a run fail: what is refused must be refused before the work."""

    def run(*_: object, **__: object) -> None:
        raise AssertionError("the run was started")

    monkeypatch.setattr(run_command, "run", run)


@pytest.fixture
def three_checks(monkeypatch: pytest.MonkeyPatch) -> tuple:
    """Leave the first two quick checks and a slow one."""
    few = [check for check in all_checks() if not check.slow][:2]
    some = (*few, replace(few[0], name="slow", slow=True))
    monkeypatch.setattr(check_command, "all_checks", lambda: some)
    return some
