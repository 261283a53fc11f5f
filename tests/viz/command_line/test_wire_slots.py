"""What a wire touches in every slot, on the command line: table, JSON, refusals. Verification."""

import json
import re
from pathlib import Path

import pytest

from gomphosis.scenarios.play import play
from gomphosis.scenarios.wire import WireSection
from gomphosis.viz.wire_command import play_words, slot_rows

HEAD = """
schema = 1
title = "Tipped and low (invented)"
duration = "2 weeks"
rate = { max_speed = "60 um/day", half_stress = "1 kPa" }
"""
ROUND = """
[[tooth]]
number = 11
angulation = "10 deg"
[[tooth]]
number = 21
[[wire]]
alloy = "nickel-titanium"
size = "0.016 in"
"""
VISIT = '[[visit]]\nat = "1 week"\n'


@pytest.fixture(scope="module")
def tipped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scenario") / "tipped.toml"
    path.write_text(HEAD + ROUND)
    return path


@pytest.fixture(scope="module")
def shown(tipped: Path, gomphosis) -> dict:
    answer = gomphosis("wire", tipped, "--json")
    assert (answer.code, answer.err) == (0, "")
    (load,) = json.loads(answer.out)["loads"].values()
    return load


def test_json_has_a_slot_for_every_tooth_and_the_play(shown: dict):
    found = play(WireSection(0.4064, 0.4064, round=True), slot_height=0.5588, slot_width=3.0)
    assert shown["play"]["torsion_deg"] is None
    assert shown["play"]["tip_deg"] == pytest.approx(found.tip * 57.29577951308232, rel=1e-12)
    assert list(shown["teeth"]) == ["11", "21"]
    for facts in shown["teeth"].values():
        slot = facts["slot"]
        assert list(slot) == ["state", "binds", "play_left", "touches"]
        assert slot["play_left"]["torsion_deg"] is None
    slot = shown["teeth"]["11"]["slot"]
    walls = {(touch["wall"], touch["end"]) for touch in slot["touches"]}
    # the crown is tipped mesially, so its slot sinks mesially
    assert {("occlusal", "mesial"), ("gingival", "distal")} <= walls
    assert "two-point in tip" in slot["state"]
    for touch in slot["touches"]:
        assert touch["push_N"] > 0.0
        assert 0.0 <= touch["friction_used"] <= 1.0
    pushes = [touch["push_N"] for touch in slot["touches"]]
    across = abs(shown["teeth"]["11"]["force_system_at_bracket"]["extrusion_N"])
    assert sum(pushes) > across


def test_terminal_shows_the_same_slots_and_the_play(tipped: Path, shown: dict, gomphosis):
    answer = gomphosis("wire", tipped)
    assert (answer.code, answer.err) == (0, "")
    for heading in ("edges touched", "torsional play", "tip play", "friction"):
        assert heading in answer.words
    assert "the wire turns freely about itself and tips by 2.9 degrees before it touches" in (
        answer.words
    )
    plain = re.sub(r"[│┃\s]+", " ", answer.out)
    for tooth, facts in shown["teeth"].items():
        left = f"{facts['slot']['play_left']['tip_deg']:.1f}"
        assert re.search(rf" {tooth} {facts['slot']['state'].split(',')[0]}.* free {left} ", plain)


# --- cells -----------------------------------------------------------------------------------

TOUCH = {
    "wall": "occlusal",
    "end": "mesial",
    "push_N": 1.234,
    "friction_along_N": 0.1,
    "friction_aside_N": 0.0,
    "friction_used": 0.25,
    "slips": False,
}


def slot(state: str, touches: list, torsion: float | None, tip: float) -> dict:
    left = {"torsion_deg": torsion, "tip_deg": tip}
    return {"slot": {"state": state, "binds": False, "play_left": left, "touches": touches}}


def test_cells_of_a_slot():
    other = {**TOUCH, "wall": "floor", "end": "distal", "push_N": 0.5, "friction_used": 0.996}
    teeth = {
        "11": slot("seated, slips", [TOUCH, other], 7.26, 0.04),
        "21": slot("open", [], None, 2.9),
    }
    assert slot_rows(teeth) == [
        [
            "11",
            "seated, slips",
            "occlusal mesial 1.23 N; floor distal 0.50 N",
            "7.3",
            "0.0",
            "100 %",
        ],
        ["21", "open", "—", "free", "2.9", "—"],
    ]


def test_words_of_the_play():
    told = play_words({"torsion_deg": 7.242, "tip_deg": 1.452})
    assert "engagement angle in one direction" in told
    assert told.endswith("the wire turns by 7.2 degrees and tips by 1.5 degrees before it touches")
    free = play_words({"torsion_deg": None, "tip_deg": 2.86})
    assert "the wire turns freely about itself and tips by 2.9 degrees" in free


# --- refusals --------------------------------------------------------------------------------

BAD = {
    "does nothing": (VISIT, "visit[1].religate does nothing", "religate, bend, rebond, activate"),
    "no such tooth": (
        f'{VISIT}[[visit.rebond]]\ntooth = 12\ntorque = "2 deg"\n',
        "visit[1].rebond[1].tooth = 12 is not among the teeth",
        "11 or 21",
    ),
    "after the end": (
        f"{VISIT.replace('1 week', '2 weeks')}religate = true\n",
        'visit[1].at = "2 weeks" is not within the duration',
        "earlier than 14 days",
    ),
    "no crimp": (
        f'{VISIT}[[visit.activate]]\ntooth = 11\nside = "distal"\nby = "1 mm"\n',
        'visit[1].activate[1].side = "distal" has no crimp',
        "a side with a [[wire.stop]]",
    ),
    "not kept": (
        f'{VISIT}[[visit.bend]]\nkind = "bend"\nbetween = [11, 21]\nocclusal_angle = "5 deg"\n'
        "by_hand = true\n",
        "visit[1].bend[1].by_hand = true is not kept by a wire of behaviour",
        "an alloy whose behaviour is plastic",
    ),
}


@pytest.mark.parametrize(("text", "problem", "accepted"), BAD.values(), ids=BAD)
@pytest.mark.parametrize("command", ["run", "wire"])
@pytest.mark.usefixtures("never_run")
def test_a_bad_visit_is_one_line(
    text: str, problem: str, accepted: str, command: str, *, tmp_path: Path, gomphosis
):
    path = tmp_path / "bad.toml"
    path.write_text(HEAD + ROUND + text)
    out = tmp_path / "out"
    answer = gomphosis(command, path, *(["--out", out] if command == "run" else ["--json"]))
    assert (answer.code, answer.out) == (2, "")
    (line,) = answer.err.splitlines()
    assert line.startswith("gomphosis: ")
    assert "bad.toml: " in line
    said, _, offered = line.partition("accepted: ")
    assert problem in said
    assert accepted in offered
    assert not out.exists()
