"""The table [[visit]]: values, words and refusals by itself. Verification."""

import math
import re

import pytest

from gomphosis.scenarios.files import ScenarioError, parse_scenario
from gomphosis.scenarios.schema import Scenario

HEAD = """schema = 1
duration = "10 weeks"
[[tooth]]
number = 12
[[tooth]]
number = 11
[[tooth]]
number = 21
[[wire]]
alloy = "steel"
size = "0.016 x 0.022 in"
cinched = true
[[visit]]
"""
AT = 'at = "2 weeks"\n'
RELIGATE = "religate = true\n"
REBOND = "[[visit.rebond]]\ntooth = 12\n"
BEND = '[[visit.bend]]\nbetween = [11, 21]\nby_hand = true\nkind = "twist"\ntwist_angle = "3 deg"\n'
ACTIVATE = '[[visit.activate]]\ntooth = 21\nside = "distal"\n'
BY = 'by = "0.5 mm"\n'


def parse(text: str) -> Scenario:
    return parse_scenario(HEAD + text, "a.toml")


def refusal(text: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        parse(text)
    return str(caught.value)


# --- values ----------------------------------------------------------------------------------


def test_a_visit_has_the_documented_defaults():
    (visit,) = parse(AT + RELIGATE).visit
    assert (visit.at, visit.religate) == (14.0, True)
    assert (visit.bends, visit.rebond, visit.activate) == ((), (), ())


def test_values_are_in_inside_units():
    (visit,) = parse(
        f'{AT}{REBOND}vertical = "0.03 cm"\ntorque = "2 deg"\nmesial = "-0.5 mm"\n{ACTIVATE}{BY}'
    ).visit
    (bracket,), (crimp,) = visit.rebond, visit.activate
    assert (bracket.tooth, bracket.labial, bracket.tip, bracket.rotation) == (12, 0.0, 0.0, 0.0)
    assert bracket.vertical == pytest.approx(0.3, rel=1e-15)
    assert bracket.torque == pytest.approx(math.radians(2), rel=1e-15)
    assert bracket.mesial == -0.5
    assert (crimp.tooth, crimp.side, crimp.by) == (21, "distal", 0.5)
    assert not visit.religate


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (RELIGATE, ("religated",)),
        # a wire that is bent is taken out and so tied anew
        (BEND, ("religated", "bent")),
        (f'{REBOND}tip = "1 deg"\n', ("re-bonded",)),
        (ACTIVATE + BY, ("activated",)),
        (
            f'{RELIGATE}{BEND}{REBOND}labial = "1 mm"\n{ACTIVATE}{BY}',
            ("religated", "bent", "re-bonded", "activated"),
        ),
    ],
    ids=["religate", "bend", "rebond", "activate", "all"],
)
def test_what_is_done_in_words(text: str, words: tuple):
    assert parse(AT + text).visit[0].words == words


# --- refusals --------------------------------------------------------------------------------

LENGTH, ANGLE = "a length in mm, cm, um, µm, μm or in", "an angle in deg, ° or rad"


@pytest.mark.parametrize(
    ("text", "key", "problem", "accepted"),
    [
        (AT, "visit[1].religate", "does nothing", "religate, bend, rebond, activate"),
        (f"{AT}religate = false\n", "visit[1].religate", "does nothing", "activate"),
        (RELIGATE, "visit[1].at", "is missing", "a duration in"),
        (f'at = "0 weeks"\n{RELIGATE}', "visit[1].at", "is too small", "above 0 days"),
        (f'at = "261 weeks"\n{RELIGATE}', "visit[1].at", "is too large", "at most 260 weeks"),
        (f"at = 14\n{RELIGATE}", "visit[1].at", "14", "a duration in"),
        (f"{AT}religat = true\n", "visit[1].religat", "", ""),
        (
            AT + REBOND,
            "visit[1].rebond[1].vertical",
            "moves nothing",
            "a value other than zero",
        ),
        (
            f'{AT}{REBOND}torque = "0 deg"\n',
            "visit[1].rebond[1].vertical",
            "moves nothing",
            "a value other than zero",
        ),
        (
            f'{AT}{REBOND}mesial = "-5.1 mm"\n',
            "visit[1].rebond[1].mesial",
            '"-5.1 mm" is too small',
            "at least -5 mm, at most 5 mm",
        ),
        (
            f'{AT}{REBOND}torque = "31 deg"\n',
            "visit[1].rebond[1].torque",
            '"31 deg" is too large',
            "at least -30 deg, at most 30 deg",
        ),
        (
            f'{AT}[[visit.rebond]]\ntooth = 19\ntip = "1 deg"\n',
            "visit[1].rebond[1].tooth",
            "19 is no tooth",
            "",
        ),
        (
            f"{AT}{BEND.replace('by_hand = true', '')}",
            "visit[1].bend[1].by_hand",
            "is not true, though a wire in use can only be bent by hand",
            'by_hand = true with kind "bend" or "twist"',
        ),
        (
            f'{AT}[[visit.bend]]\nbetween = [11, 21]\nkind = "step"\nocclusal = "0.3 mm"\n',
            "visit[1].bend[1].by_hand",
            "can only be bent by hand",
            'by_hand = true with kind "bend" or "twist"',
        ),
        (AT + ACTIVATE, "visit[1].activate[1].by", "is missing", "a length in"),
        (
            f'{AT}{ACTIVATE}by = "0 mm"\n',
            "visit[1].activate[1].by",
            '"0 mm" is too small',
            "above 0 mm, at most 10 mm",
        ),
        (
            f'{AT}{ACTIVATE}by = "11 mm"\n',
            "visit[1].activate[1].by",
            '"11 mm" is too large',
            "above 0 mm, at most 10 mm",
        ),
        (
            f"{AT}{ACTIVATE.replace('distal', 'left')}{BY}",
            "visit[1].activate[1].side",
            '"left"',
            '"mesial" or "distal"',
        ),
    ],
)
def test_a_visit_that_makes_no_sense_is_refused_in_one_line(
    text: str, key: str, problem: str, accepted: str
):
    answer = refusal(text)
    assert len(answer.splitlines()) == 1
    assert re.match(rf"a\.toml: {re.escape(key)}[ :=]", answer), answer
    assert problem in answer
    said, _, offered = answer.partition("accepted: ")
    assert problem in said
    assert accepted in offered
    assert offered
