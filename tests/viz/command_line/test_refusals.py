"""What is refused is refused in one line, before any work."""

import sys
from pathlib import Path
from unittest.mock import patch

import pytest

from gomphosis.fem.newton import NotConvergedError
from gomphosis.viz import run_command
from gomphosis.viz.cli import main

# what is replaced in a good scenario (nothing: all of it), by what, and part of the answer
BAD = {
    "not TOML": ("", "schema = = 1", "is not TOML"),
    "no schema": ("", 'title = "x"', "schema is missing"),
    "newer": ("schema = 1", "schema = 2", "is a newer layout"),
    "unknown key": ("step", "stepp", "stepp"),
    "bare number": ('"0.3 N"', "0.3", "force[1].force = 0.3"),
    "wrong unit": ('"0.3 N"', '"3 mm"', "a force in N"),
    "no such tooth": ("number = 11", "number = 19", "19 is no tooth"),
    "line break": ("(invented)", "\\n\\u001b[31m", "title"),
    "no teeth": ("", "schema = 1", "tooth"),
}


def check_refused(answer, part: str) -> None:
    assert answer.code == 2
    assert answer.out == ""
    (line,) = answer.err.splitlines()
    assert line.startswith("gomphosis: ")
    assert line.isprintable()
    assert part in line
    assert "accepted: " in line


@pytest.mark.parametrize(("old", "new", "part"), BAD.values(), ids=BAD)
@pytest.mark.parametrize("command", ["run", "wire"])
@pytest.mark.usefixtures("never_run")
def test_bad_scenario_is_one_line(
    old: str, new: str, part: str, command: str, *, scenario: Path, tmp_path: Path, gomphosis
):
    path = tmp_path / "bad.toml"
    path.write_text(scenario.read_text().replace(old, new) if old else new)
    out = tmp_path / "out"
    words = ["--out", out] if command == "run" else ["--json"]
    check_refused(gomphosis(command, path, *words), part)
    assert not out.exists()


@pytest.mark.usefixtures("never_run")
def test_missing_scenario_is_one_line(tmp_path: Path, gomphosis):
    check_refused(gomphosis("run", tmp_path / "x.toml", "--json"), "does not exist")
    check_refused(gomphosis("run", tmp_path, "--json"), "is a folder")
    check_refused(gomphosis("wire", "no-such-case"), "neither a file nor a shipped case")


@pytest.mark.parametrize("number", [0, 19, 51, 110])
def test_unknown_tooth_is_one_line(number: int, gomphosis):
    check_refused(gomphosis("tooth", number), "11-18, 21-28, 31-38 or 41-48")


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["tooth", 11, "--crest-loss", "2"], "a length in mm"),
        (["tooth", 11, "--crest-loss", "11 mm"], "leaves 1 mm of the root"),
        (["tooth", 11, "--young", "-1 MPa"], "at least 0.001 MPa"),
        (["rates", "--young", "soft"], "a stress in MPa"),
        (["rates", "--poisson", "0.5"], "at most 0.499"),
        (["tooth", 11, "--poisson", "nan"], "is not finite"),
    ],
    ids=str,
)
def test_bad_options_are_one_line(words: list[object], part: str, gomphosis):
    check_refused(gomphosis(*words), part)


@pytest.mark.parametrize(
    "words", [["run", "x"], ["bogus"], ["tooth", "x"], ["run"], ["tooth", 11, "--bogus"]], ids=str
)
def test_wrong_use_is_told_with_the_usage(words: list[object], gomphosis):
    answer = gomphosis(*words)
    assert (answer.code, answer.out) == (2, "")
    assert answer.err.startswith("Usage: ")
    assert "Error: " in answer.err


def test_wrong_program_is_not_called_a_wrong_scenario(monkeypatch: pytest.MonkeyPatch):
    """An error of the program itself keeps its traceback."""

    def broken(*_: object) -> None:
        raise ValueError("a slip of ours")

    monkeypatch.setattr(run_command, "find_scenario", broken)
    with (
        patch.object(sys, "argv", ["gomphosis", "run", "x", "--json"]),
        pytest.raises(ValueError, match="a slip of ours"),
    ):
        main()


def test_run_that_does_not_converge_is_one_line_and_leaves_nothing(
    scenario: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gomphosis
):
    def stalled(*_: object, **__: object) -> None:
        raise NotConvergedError([1.0, 0.5], 1e-12)

    monkeypatch.setattr(run_command, "run", stalled)
    answer = gomphosis("run", scenario, "--out", tmp_path / "out")
    assert (answer.code, answer.out) == (2, "")
    (line,) = answer.err.splitlines()
    assert line.startswith("gomphosis: did not settle to 1.0e-12 in 1 iterations")
    assert list(tmp_path.iterdir()) == []


def test_brackets_that_meet_are_one_line(tmp_path: Path, gomphosis):
    crowded = tmp_path / "crowded.toml"
    crowded.write_text(
        'schema = 1\n[[tooth]]\nnumber = 12\nmesial = "8 mm"\n[[tooth]]\nnumber = 11\n'
    )
    for command in (["wire", crowded], ["run", crowded, "--out", tmp_path / "out"]):
        answer = gomphosis(*command)
        assert (answer.code, answer.out) == (2, "")
        assert answer.err == (
            "gomphosis: two brackets leave -3.5 mm of wire between them, less than 0.5 mm\n"
        )
    assert not (tmp_path / "out").exists()
