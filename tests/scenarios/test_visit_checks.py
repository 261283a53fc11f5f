"""Visits, crimps and ties against the other tables of a scenario. Verification."""

import math
from typing import Any

import pytest

from gomphosis.scenarios.files import ScenarioError, parse_scenario
from gomphosis.scenarios.schema import Scenario

STEEL = 'alloy = "steel"\nsize = "0.016 x 0.022 in"\n'
CINCHED = f"{STEEL}cinched = true\n"
TWIST = '[[visit.bend]]\nkind = "twist"\ntwist_angle = "3 deg"\nby_hand = true\n'


def parse(rest: str, *, numbers: tuple = (12, 11, 21), wire: str = CINCHED) -> Scenario:
    teeth = "".join(f"[[tooth]]\nnumber = {number}\n" for number in numbers)
    wires = f"[[wire]]\n{wire}" if wire else ""
    return parse_scenario(f'schema = 1\nduration = "10 weeks"\n{teeth}{wires}{rest}', "a.toml")


def refusal(rest: str, **options: Any) -> str:
    with pytest.raises(ScenarioError) as caught:
        parse(rest, **options)
    answer = str(caught.value)
    assert len(answer.splitlines()) == 1
    return answer


def visit(rest: str = "religate = true\n", at: str = "2 weeks") -> str:
    return f'[[visit]]\nat = "{at}"\n{rest}'


def activate(tooth: int, side: str = "distal") -> str:
    return visit(f'[[visit.activate]]\ntooth = {tooth}\nside = "{side}"\nby = "0.3 mm"\n')


def stop(tooth: int, side: str = "distal") -> str:
    return f'[[wire.stop]]\ntooth = {tooth}\nside = "{side}"\n'


AMONG = "is not among the teeth of this scenario; accepted: 12, 11 or 21"


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        (stop(13), "wire[1].stop[1].tooth", 13),
        (stop(12) + stop(22), "wire[1].stop[2].tooth", 22),
        (
            '[wire.ligation]\nlost = [{ tooth = 23, after = "3 days" }]\n',
            "wire[1].ligation.lost[1].tooth",
            23,
        ),
        (
            visit('[[visit.rebond]]\ntooth = 13\ntorque = "2 deg"\n'),
            "visit[1].rebond[1].tooth",
            13,
        ),
        (visit() + activate(22).replace("2 weeks", "3 weeks"), "visit[2].activate[1].tooth", 22),
    ],
    ids=["stop", "second stop", "lost tie", "rebond", "activate"],
)
def test_teeth_that_are_not_there(text: str, key: str, value: int):
    assert refusal(text) == f"a.toml: {key} = {value} {AMONG}"


@pytest.mark.parametrize("at", ["10 weeks", "11 weeks"])
def test_a_visit_after_the_end(at: str):
    assert refusal(visit(at=at)) == (
        f'a.toml: visit[1].at = "{at}" is not within the duration; accepted: earlier than 70 days'
    )


@pytest.mark.parametrize(
    ("text", "wire", "key"),
    [
        (visit() + visit(at="14 days"), CINCHED, "visit[2].at"),
        (visit(), f'{CINCHED}[[wire]]\ntied_in = "2 weeks"\n{STEEL}', "visit[1].at"),
        # when a later wire does not say when it is due, it is after six weeks
        (visit(at="6 weeks"), f"{CINCHED}[[wire]]\n{STEEL}", "visit[1].at"),
    ],
    ids=["two visits", "a new wire", "a new wire by default"],
)
def test_two_things_on_one_day(text: str, wire: str, key: str):
    day = "6 weeks" if "6 weeks" in text else "14 days" if "14 days" in text else "2 weeks"
    assert refusal(text, wire=wire) == (
        f'a.toml: {key} = "{day}" is the day of another visit or of a new wire; accepted: one '
        "[[visit]] on a day on which no wire is tied in"
    )


def test_visits_beside_prescribed_forces():
    push = '[[force]]\ntooth = 11\nforce = "50 cN"\ndirection = "labial"\n'
    assert refusal(visit() + push, wire="") == (
        "a.toml: visit (a list) stands beside [[force]]; accepted: [[visit]] or [[force]]"
    )


def test_visits_to_the_default_wire():
    made = parse(visit(), wire="")
    assert [v.at for v in made.visit] == [14.0]
    assert len(made.wires) == 1


# --- crimps ----------------------------------------------------------------------------------

RIGHT, BOTH = (15, 14, 13), (12, 11, 21)
# teeth, outer sides of the end teeth
CINCHED_AT = [
    (BOTH, {(12, "distal"), (21, "distal")}),
    ((41, 31), {(41, "distal"), (31, "distal")}),
    (RIGHT, {(15, "distal"), (13, "mesial")}),
    ((23, 24), {(23, "mesial"), (24, "distal")}),
    ((44, 43), {(44, "distal"), (43, "mesial")}),
    ((33, 34), {(33, "mesial"), (34, "distal")}),
]
SIDES = [
    (numbers, tooth, side, (tooth, side) in ends)
    for numbers, ends in CINCHED_AT
    for tooth in numbers
    for side in ("mesial", "distal")
]


@pytest.mark.parametrize(("numbers", "tooth", "side", "there"), SIDES)
def test_cinched_ends_are_on_the_outer_sides(
    numbers: tuple,
    tooth: int,
    side: str,
    there: bool,
):
    if there:
        (crimp,) = parse(activate(tooth, side), numbers=numbers).visit[0].activate
        assert (crimp.tooth, crimp.side) == (tooth, side)
        return
    assert refusal(activate(tooth, side), numbers=numbers) == (
        f'a.toml: visit[1].activate[1].side = "{side}" has no crimp or cinched end of the wire in '
        "place; accepted: a side with a [[wire.stop]], or the outer side of an end tooth of a "
        "cinched wire"
    )


def test_a_crimp_must_be_on_the_wire_in_place_at_that_visit():
    second = f'[[wire]]\ntied_in = "4 weeks"\n{STEEL}'
    late = activate(11).replace("2 weeks", "5 weeks")
    parse(activate(11), wire=STEEL + stop(11) + second)
    assert "has no crimp" in refusal(late, wire=STEEL + stop(11) + second)
    parse(late, wire=STEEL + second + stop(11))
    assert "has no crimp" in refusal(activate(11, "mesial"), wire=STEEL + stop(11))
    assert "has no crimp" in refusal(activate(12), wire=STEEL + stop(11))


# --- bends -----------------------------------------------------------------------------------


@pytest.mark.parametrize("between", [(12, 21), (11, 11), (11, 13)])
def test_bends_are_between_neighbours(between: tuple):
    assert refusal(visit(f"{TWIST}between = {list(between)}\n")) == (
        "a.toml: visit[1].bend[1].between (a list) does not name two neighbouring teeth; "
        "accepted: neighbours among 12, 11 or 21"
    )


@pytest.mark.parametrize(
    ("alloy", "behaviour"), [("nickel-titanium", "superelastic"), ("steel", None)]
)
def test_only_a_plastic_wire_keeps_a_bend(alloy: str, behaviour: str | None):
    text = visit(f"{TWIST}between = [12, 11]\n")
    wire = f'alloy = "{alloy}"\nsize = "0.016 x 0.022 in"\n'
    if behaviour is None:
        assert parse(text, wire=wire).visit[0].bends[0].twist_angle == math.radians(3)
        return
    assert refusal(text, wire=wire) == (
        "a.toml: visit[1].bend[1].by_hand = true is not kept by a wire of behaviour "
        f'"{behaviour}"; accepted: only with an alloy whose behaviour is plastic'
    )


def test_the_wire_in_place_at_the_visit_must_keep_the_bend():
    first = '[[wire]]\ntied_in = "4 weeks"\n'
    light = 'alloy = "nickel-titanium"\nsize = "0.014 in"\n'
    text = visit(f"{TWIST}between = [12, 11]\n", at="5 weeks")
    parse(text, wire=light + first + STEEL)
    assert "visit[1].bend[1].by_hand = true is not kept" in refusal(
        text, wire=STEEL + first + light
    )


def test_bends_that_meet_each_other_or_a_slot():
    """Over two visits of one wire they are bends of one wire."""
    one = f"{TWIST}between = [12, 11]\n"
    text = visit(one) + visit(one, at="4 weeks")
    answer = refusal(text)
    assert answer.startswith("a.toml: visit[1].bend (a list) does not fit: bends at ")
    assert answer.endswith("mm from the midline meet; accepted: bends apart from each other and "
                           "from slots")  # fmt: skip
    moved = text.rstrip("\n") + '\ndistance = "2.4 mm"\n'
    assert len(parse(moved).visit) == 2
    later = visit(one) + visit(one, at="7 weeks")
    parse(later, wire=f'{STEEL}[[wire]]\ntied_in = "6 weeks"\n{STEEL}')
    close = visit(one + 'distance = "1 mm"\n')
    assert "does not fit: a slot at " in refusal(close)
    beside = '[[wire.bend]]\nkind = "bend"\nocclusal_angle = "5 deg"\nbetween = [12, 11]\n'
    assert "does not fit: bends at" in refusal(visit(one), wire=STEEL + beside)
