"""``wire --sweep``: what is printed is what was computed; refusals and Ctrl-C leave nothing.

Verification.
"""

import json
import signal
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from gomphosis.scenarios import wire_sweep as library
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.wire_sweep import HISTORY
from gomphosis.viz import theme
from gomphosis.viz.staging import STAGE

WIRED = """
schema = 1
title = "Three teeth, two wires (invented)"
invented = true
[[tooth]]
number = 12
[[tooth]]
number = 11
vertical = "-0.5 mm"
[[tooth]]
number = 21
[[wire]]
size = "0.014 in"
[[wire]]
tied_in = "2 weeks"
size = "0.016 x 0.022 in"
alloy = "steel"
"""
SWEEP = "tooth[11].vertical=-0.5 mm:-0.25 mm:2"


@pytest.fixture(scope="module")
def wired(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("wired") / "wired.toml"
    path.write_text(WIRED)
    return path


@pytest.fixture
def never_tied(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a preview fail: what is refused must be refused before the work."""

    def preview(_: object) -> None:
        raise AssertionError("a wire was tied in")

    monkeypatch.setattr(library, "wire_preview", preview)


def test_sweep_agrees_with_the_plain_command(wired: Path, gomphosis):
    plain = json.loads(gomphosis("wire", wired, "--json").out)
    answer = gomphosis("wire", wired, "--sweep", SWEEP, "--json")
    assert (answer.code, answer.err) == (0, "")
    document = json.loads(answer.out)
    assert document["values_mm"] == [-0.5, -0.25]
    assert list(document["loads"]) == list(plain["loads"])
    for name, load in plain["loads"].items():
        for number, facts in load["teeth"].items():
            swept = document["loads"][name]["teeth"][number]["force_system_at_bracket"]
            first = {part: values[0] for part, values in swept.items()}
            assert first == pytest.approx(facts["force_system_at_bracket"], rel=1e-9, abs=1e-9)
            assert [len(values) for values in swept.values()] == [2] * 6
    assert (document["notice"], document["limits"][0]) == (NOTICE, HISTORY)
    for name, load in plain["loads"].items():
        play = document["loads"][name]["play"]
        assert play == {key: [value] * 2 for key, value in load["play"].items()}
    assert (document["tooth"], document["anything_changes"]) == (11, True)


def test_text_shows_the_tooth_at_every_value_with_limits(wired: Path, gomphosis):
    document = json.loads(gomphosis("wire", wired, "--sweep", SWEEP, "--json").out)
    answer = gomphosis("wire", wired, "--sweep", SWEEP)
    assert (answer.code, answer.err) == (0, "")
    for name, load in document["loads"].items():
        assert f"Tooth 11 at its bracket: {name}" in answer.words
        forces = load["teeth"]["11"]["force_system_at_bracket"]["extrusion_N"]
        for value, force in zip(("−0.5", "−0.25"), forces, strict=True):
            rows = [line for line in answer.out.splitlines() if line.startswith(f"│ {value} ")]
            assert any(f" {force:.2f} (" in row for row in rows)
    assert "Tooth 12" not in answer.words
    # a round wire and a rectangular one, neither changed by the sweep
    assert answer.words.count("the wire turns freely about itself") == 1
    assert answer.words.count("before it touches") == 2
    assert "half as many change the forces by" in answer.words
    assert NOTICE in answer.words
    assert all(limit in answer.words for limit in document["limits"])


def test_play_that_changes_is_told_at_both_ends(wired: Path, gomphosis):
    answer = gomphosis("wire", wired, "--sweep", "slot.height=0.018 in:0.022 in:2")
    assert "at 0.018 in: play by itself" in answer.words
    assert "at 0.022 in: play by itself" in answer.words
    assert answer.words.count("before it touches") == 4


def test_input_without_effect_is_told(wired: Path, gomphosis):
    answer = gomphosis("wire", wired, "--sweep", "rate.shear_weight=0:1:2")
    assert answer.code == 0
    assert "No force or moment changes over these values of rate.shear_weight." in answer.words


def test_files_hold_every_tooth_with_the_caution(wired: Path, tmp_path: Path, gomphosis):
    figure, table = tmp_path / "new" / "a.svg", tmp_path / "other" / "a.csv"
    words = ["wire", wired, "--sweep", SWEEP, "--figure", figure, "--csv", table, "--json"]
    answer = gomphosis(*words)
    assert (answer.code, answer.err) == (0, "")
    assert figure.read_bytes().startswith(b"<?xml")
    assert table.read_text().splitlines()[0] == f"# {NOTICE.splitlines()[0]}"
    frame = pd.read_csv(table, comment="#")
    assert len(frame) == 2 * 3 * 2
    assert set(frame["wire_tied_in"]) == {"new at every value, no history"}
    for (wire, number), rows in frame.groupby(["wire", "tooth"]):
        teeth = json.loads(answer.out)["loads"][wire]["teeth"]
        assert rows["tooth[11].vertical_mm"].tolist() == [-0.5, -0.25]
        for name, values in teeth[str(number)]["force_system_at_bracket"].items():
            np.testing.assert_allclose(rows[name], values, rtol=1e-12)
    assert {p.name for p in tmp_path.rglob("*")} == {"new", "other", "a.svg", "a.csv"}


@pytest.mark.parametrize(
    ("sweep", "part"),
    [
        ("tooth[11].vertical", "is not of the form; accepted: KEY=FROM:TO:N"),
        ("=0 mm:1 mm:3", "KEY=FROM:TO:N"),
        ("tooth[11].vertical=0 mm:1 mm", "KEY=FROM:TO:N"),
        ("tooth[11].vertical=0 mm:1 mm:3:4", "KEY=FROM:TO:N"),
        ("tooth[11].vertical=0 mm::3", "KEY=FROM:TO:N"),
        ("tooth[11].vertical=0 mm:1 mm:many", "has no whole number of values"),
        ("tooth[11].vertical=0 mm:1 mm:2.5", "has no whole number of values"),
        ("tooth[11].vertical=0 mm:1 mm:1", "accepted: 2 to 200"),
        ("tooth[11].vertical=0 mm:1 mm:201", "accepted: 2 to 200"),
        ("tooth[11].vertical=0 mm:1 mm:-3", "accepted: 2 to 200"),
        ("tooth[11].vertical=0:1:3", "has no unit"),
        ("tooth[11].vertcal=0 mm:1 mm:3", "accepted: tooth[11].vertical"),
        ("tooth[13].vertical=0 mm:1 mm:3", "teeth go by ISO 3950 number"),
        ("tooth[11].vertical=0 mm:30 mm:3", 'vertical = "15 mm" is too large'),
        ("wire[1].size=0.014 in:0.018 in:3", "holds no quantity"),
        ("wire[1].material.poisson=0.3 mm:0.4:3", "is not a number"),
    ],
    ids=str,
)
@pytest.mark.usefixtures("never_tied")
def test_bad_sweeps_are_one_line(sweep: str, part: str, wired: Path, tmp_path: Path, gomphosis):
    words = ["--figure", tmp_path / "a" / "b.png", "--csv", tmp_path / "c.csv"]
    answer = gomphosis("wire", wired, "--sweep", sweep, *words)
    assert (answer.code, answer.out) == (2, "")
    (line,) = answer.err.splitlines()
    assert line.startswith("gomphosis: ")
    assert part in line
    assert "; accepted: " in line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["light-and-heavy", "--sweep", "temperature=5 degC:9 degC:3"], "[[wire]]"),
        (["no-such-case", "--sweep", SWEEP], "neither a file nor a shipped case"),
        (["three-incisors", "--sweep", SWEEP, "--figure", "a.gif"], ".png, .svg or .pdf"),
        (
            ["three-incisors", "--sweep", SWEEP, "--figure", "a.png", "--csv", "a.png"],
            "another name",
        ),
    ],
    ids=str,
)
@pytest.mark.usefixtures("never_tied")
def test_other_refusals_are_one_line(words, part: str, tmp_path, monkeypatch, gomphosis):
    monkeypatch.chdir(tmp_path)
    answer = gomphosis("wire", *words)
    assert (answer.code, answer.out) == (2, "")
    (line,) = answer.err.splitlines()
    assert part in line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("option", ["--figure", "--csv"])
def test_files_without_a_sweep_are_wrong_use(option: str, wired: Path, gomphosis):
    answer = gomphosis("wire", wired, option, "a.png")
    assert (answer.code, answer.out) == (2, "")
    assert answer.err.startswith("Usage: ")
    assert "give --sweep as well" in answer.err


def test_value_that_fails_on_the_way_leaves_nothing(wired: Path, tmp_path: Path, gomphosis):
    table = tmp_path / "new" / "a.csv"
    sweep = "tooth[11].mesial=0 mm:9 mm:2"
    answer = gomphosis("wire", wired, "--sweep", sweep, "--csv", table)
    assert (answer.code, answer.out) == (2, "")
    (line,) = answer.err.splitlines()
    assert "tooth[11].mesial at 9 mm: cannot be computed: two brackets leave -3.5 mm" in line
    assert list(tmp_path.iterdir()) == []


def test_interrupt_on_the_way_leaves_what_was_there(wired: Path, tmp_path: Path, started):
    table = tmp_path / "out" / "a.csv"
    table.parent.mkdir()
    table.write_text("mine")
    figure = tmp_path / "figures" / "a.png"
    sweep = "tooth[11].vertical=0 mm:-3 mm:200"
    process = started("wire", wired, "--sweep", sweep, "--figure", figure, "--csv", table)
    deadline = time.monotonic() + 120
    while not any(table.parent.glob(f"{STAGE}*")) and process.poll() is None:
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.02)
    time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=120)
    assert (process.returncode, out) == (130, "")
    assert err.lstrip("\n") == "gomphosis: interrupted; no partial file was left\n"
    assert {p.name for p in tmp_path.rglob("*")} == {"out", "a.csv"}
    assert table.read_text() == "mine"


def test_interrupt_while_the_figure_is_drawn(wired: Path, tmp_path: Path, monkeypatch, gomphosis):
    def pressed(_: object, path: Path) -> None:
        path.write_bytes(b"half")
        raise KeyboardInterrupt

    monkeypatch.setattr(theme, "save_figure", pressed)
    words = ["--figure", tmp_path / "a" / "b.png", "--csv", tmp_path / "c.csv"]
    answer = gomphosis("wire", wired, "--sweep", SWEEP, *words)
    assert (answer.code, answer.out) == (130, "")
    assert list(tmp_path.iterdir()) == []


def test_progress_is_shown_on_a_terminal(wired: Path, monkeypatch, gomphosis):
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    answer = gomphosis("wire", wired, "--sweep", SWEEP, "--json")
    assert answer.code == 0
    assert json.loads(answer.out)["key"] == "tooth[11].vertical"
    assert "100 %" in answer.err
