"""Every command by itself: JSON that parses, text with the caution, options that count.

Verification.
"""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import find_scenario
from gomphosis.viz import check_command
from gomphosis.viz.cli import cli

COMMANDS = (
    *("run", "tooth", "wire", "bend", "fit-wire", "rates", "rate-study", "check", "cases"),
    *("schema", "report", "compare"),
)
ELSEWHERE = ("schema", "fit-wire", "report", "compare")
"""Tested by themselves: no text beside the JSON; a fit takes a minute (see `test_bend`); a page
needs a finished run (see `test_report`), a comparison two (see `test_compare`)."""


def calls(scenario: Path) -> dict[str, list[object]]:
    return {
        "run": ["run", scenario],
        "tooth": ["tooth", 11],
        "wire": ["wire", scenario],
        "bend": ["bend", "--kind", "torsion"],
        "rates": ["rates"],
        "rate-study": ["rate-study"],
        "check": ["check", "--quick"],
        "cases": ["cases"],
    }


def test_every_command_is_tested_here(scenario: Path):
    assert set(cli.commands) == set(COMMANDS) == {*calls(scenario), *ELSEWHERE}


@pytest.mark.parametrize("command", [c for c in COMMANDS if c not in ELSEWHERE])
@pytest.mark.usefixtures("three_checks")
def test_json_parses_and_carries_the_caution(command: str, scenario: Path, gomphosis):
    answer = gomphosis(*calls(scenario)[command], "--json")
    assert (answer.code, answer.err) == (0, "")
    assert json.loads(answer.out)["notice"] == NOTICE


@pytest.mark.parametrize("command", [c for c in COMMANDS if c not in (*ELSEWHERE, "run")])
@pytest.mark.usefixtures("three_checks")
def test_text_carries_the_caution(command: str, scenario: Path, gomphosis):
    answer = gomphosis(*calls(scenario)[command])
    assert (answer.code, answer.err) == (0, "")
    assert NOTICE in answer.words


def test_text_of_a_run_carries_the_caution(written):
    assert NOTICE in written.answer.words


def test_schema_is_json_with_the_caution(gomphosis):
    answer = gomphosis("schema")
    document = json.loads(answer.out)
    assert document["$comment"] == NOTICE
    assert document["$schema"].endswith("2020-12/schema")
    assert "tooth" in document["properties"]


def test_tooth_takes_its_ligament_and_crest_from_the_command_line(gomphosis):
    plain = json.loads(gomphosis("tooth", 11, "--json").out)
    words = ["--crest-loss", "2 mm", "--young", "100 kPa", "--poisson", "0.4"]
    given = json.loads(gomphosis("tooth", 11, *words, "--json").out)
    assert given["ligament"] == {"young_MPa": pytest.approx(0.1), "poisson": 0.4}
    assert given["embedded_root_mm"] == pytest.approx(plain["embedded_root_mm"] - 2)
    text = gomphosis("tooth", 11, *words).words
    assert f"{given['moment_to_force_at_bracket_mm']['translation']:.1f}" in text


def test_rates_print_the_fit(gomphosis):
    report = json.loads(gomphosis("rates", "--json").out)
    text = gomphosis("rates").words
    assert f"v_max {report['law']['max_speed_um_per_day']:.1f} µm/day" in text
    assert "Calibration (not validation)" in text
    assert report["source"] in text
    for point in report["points"]:
        assert f"{point['fitted_um_per_day']:.1f}" in text


def test_cases_list_what_can_be_run(gomphosis):
    document = json.loads(gomphosis("cases", "--json").out)
    names = [case["name"] for case in document["cases"]]
    assert names == [
        "bone-loss",
        "canine-retraction",
        "lesson-bone-loss",
        "lesson-light-forces",
        "lesson-tipping-and-bodily",
        "lesson-torque-and-play",
        "lesson-two-brackets",
        "light-and-heavy",
        "thin-plate",
        "three-incisors",
        "upper-arch",
    ]
    assert all(case["invented"] for case in document["cases"])
    plain, lessons = gomphosis("cases").words.split("Lessons (invented)")
    for case in document["cases"]:
        assert ("lesson" in case) == case["name"].startswith("lesson-")
        assert (f"│ {case['name']} " in lessons) == ("lesson" in case)
        assert (f"│ {case['name']} " in plain) == ("lesson" not in case)
        if "lesson" in case:
            scenario = find_scenario(case["name"])
            assert case["lesson"]["question"] == scenario.lesson.question
            assert case["lesson"]["aim"] == scenario.lesson.aim
            assert case["lesson"]["aim"].split()[0] in lessons


def test_quick_check_leaves_out_the_slow_ones(three_checks: tuple, gomphosis):
    document = json.loads(gomphosis("check", "--quick", "--json").out)
    assert [c["name"] for c in document["checks"]] == [c.name for c in three_checks[:2]]
    counts = {key: document[key] for key in ("passed", "failed", "not_judged", "left_out")}
    assert counts == {"passed": 2, "failed": 0, "not_judged": 0, "left_out": 1}
    assert len(json.loads(gomphosis("check", "--json").out)["checks"]) == 3


def test_failed_check_is_told_and_is_the_exit_code(three_checks: tuple, monkeypatch, gomphosis):
    good = three_checks[0]
    outcome = good.compute()
    bad = replace(good, name="bad", compute=lambda: replace(outcome, ours=2 * outcome.theirs))
    monkeypatch.setattr(check_command, "all_checks", lambda: (good, bad))
    for words in (["check"], ["check", "--json"]):
        answer = gomphosis(*words)
        assert answer.code == 1
    assert json.loads(answer.out)["failed"] == 1
    assert "FAILED" in gomphosis("check").out
