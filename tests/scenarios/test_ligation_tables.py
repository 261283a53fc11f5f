"""Verification of keys for what closes slots, rubs in them and keeps a wire from sliding.

What is read, what is filled in, and what is refused in one line.
"""

import re

import numpy as np
import pytest

from gomphosis.bone.library import lookup
from gomphosis.bone.rates import Linear
from gomphosis.scenarios.files import ScenarioError, parse_scenario, scenario_from, scenario_schema
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.periods import wires_of
from gomphosis.scenarios.run import WIRES, case_periods
from gomphosis.scenarios.tooth_tables import along_arch

TWO = "schema = 1\n[[tooth]]\nnumber = 12\n[[tooth]]\nnumber = 21\n"
ACTIVE = "[wire.ligation]\nkind = 'active'\n"


def scenario(text):
    return parse_scenario(f"{TWO}[[wire]]\n{text}", "a.toml")


def wire(text):
    (found,) = scenario(text).wires
    return found


def refusal(text):
    with pytest.raises(ScenarioError) as caught:
        scenario(text)
    message = str(caught.value)
    assert message.isprintable()
    return message


def stops_of(text, teeth=(12, 21)):
    head = "schema = 1\n" + "".join(f"[[tooth]]\nnumber = {tooth}\n" for tooth in teeth)
    whole = parse_scenario(f"{head}[[wire]]\n{text}", "a.toml")
    (loads,) = wires_of(case_periods(whole, tooth_models(whole, Linear(1.0)), WIRES))
    # teeth stand from the patient's right to the left, places along the wire may fall that way
    numbers = sorted(teeth, key=along_arch)
    way = np.sign(loads.brackets[-1].place - loads.brackets[0].place)
    return {
        (numbers[stop.slot], "left" if stop.side == way else "right") for stop in loads.wire.stops
    }


# --- what is accepted ------------------------------------------------------------------------


def test_slots_are_closed_by_lids_unless_told_otherwise():
    found = wire("")
    assert found.ligation.tie(12) == Ligation()
    assert (found.released, found.cinched, found.stops) == (0.0, False, ())


def test_a_tie_takes_its_force_from_the_library_and_its_stiffness_by_default():
    found = wire(ACTIVE).ligation.tie(12)
    assert found == Ligation(lookup("ligation.normal_force").number, 5.0, 1.0, 1.0)


def test_every_key_of_a_tie_is_in_inside_units():
    found = wire(
        f"{ACTIVE}seating = '200 cN'\nstiffness = '0.8 N/mm'\nlasting = 0.4\nfading = '36 hours'\n"
        "lost = [{ tooth = 21, after = '2 weeks' }, { tooth = 21, after = '10 days' }]\n"
    ).ligation
    assert found.tie(12) == Ligation(2.0, 0.8, 0.4, 1.5)
    # the first loss counts
    assert found.tie(21) == Ligation(2.0, 0.8, 0.4, 1.5, lost=10.0)


def test_a_seating_force_of_zero_is_not_the_librarys():
    assert wire(f"{ACTIVE}seating = '0 N'\n").ligation.tie(12).seating == 0.0


def test_a_lid_can_be_lost():
    found = wire("[wire.ligation]\nlost = [{ tooth = 12, after = '5 days' }]\n").ligation
    assert (found.tie(12), found.tie(21)) == (Ligation(lost=5.0), Ligation())


@pytest.mark.parametrize("alloy", ["steel", "nickel-titanium", "beta-titanium"])
def test_friction_is_that_of_the_alloy_unless_given(alloy):
    usual = lookup(f"friction.{alloy.replace('-', '_')}").number
    assert wire(f"alloy = '{alloy}'\n").coefficient == usual > 0
    assert wire(f"alloy = '{alloy}'\nfriction = 0.0\n").coefficient == 0.0
    assert wire(f"alloy = '{alloy}'\nfriction = 0.31\n").coefficient == 0.31


def test_share_that_chewing_releases():
    assert wire("released = 0.25\n").released == 0.25


def test_give_of_a_slot_is_in_rad_per_moment():
    assert scenario("").slot.give == 0.0
    found = parse_scenario(f"{TWO}[slot]\ngive = '0.2 deg/N/mm'\n[[wire]]\n", "a").slot.give
    np.testing.assert_allclose(found, np.deg2rad(0.2), rtol=1e-14)


@pytest.mark.parametrize("teeth", [(12, 21), (42, 31)], ids=["upper", "lower"])
def test_ends_bent_back_are_distal_of_the_last_slots(teeth):
    """Seen from the patient: beyond the last tooth on either side."""
    right, left = teeth
    assert stops_of("cinched = true\n", teeth) == {(right, "right"), (left, "left")}


@pytest.mark.parametrize("teeth", [(12, 21), (42, 31)], ids=["upper", "lower"])
def test_crimps_are_mesial_or_distal_of_their_slots(teeth):
    right, left = teeth
    for tooth, mesial, distal in ((right, "left", "right"), (left, "right", "left")):
        for side, expected in (("mesial", mesial), ("distal", distal)):
            text = f"[[wire.stop]]\ntooth = {tooth}\nside = '{side}'\n"
            assert stops_of(text, teeth) == {(tooth, expected)}


def test_a_crimp_where_the_end_is_bent_back_is_one():
    text = "cinched = true\n[[wire.stop]]\ntooth = 21\nside = 'distal'\n"
    assert stops_of(text) == stops_of("cinched = true\n")


def test_document_reads_back_as_an_equal_scenario():
    text = (
        f"friction = 0.2\nreleased = 0.5\n{ACTIVE}seating = '1 N'\nfading = '1 week'\n"
        "lost = [{ tooth = 21, after = '2 weeks' }]\n[[wire.stop]]\ntooth = 12\nside = 'distal'\n"
    )
    whole = parse_scenario(f"{TWO}[slot]\ngive = '0.2 deg/N/mm'\n[[wire]]\n{text}", "a.toml")
    assert scenario_from(whole.document(), "b.toml") == whole
    written = whole.document()["wire"][0]
    assert written["ligation"]["fading"] == "7.0 day"
    assert written["stop"] == [{"tooth": 12, "side": "distal"}]


# --- what is refused -------------------------------------------------------------------------

ONLY = 'does not belong to a lid; accepted: only with kind = "active"'
LIGATION = "[wire.ligation]\n"
STOP = "[[wire.stop]]\n"
NEWTON = "a force in N, cN or gf, at least 0 N, at most 20 N"
DAYS = "a duration in days, weeks or hours"
SHARE = "a number without a unit, at least 0.0, at most 1.0"
REFUSALS = {
    f"{LIGATION}seating = '1 N'": f'wire[1].ligation.seating = "1 N" {ONLY}',
    f"{LIGATION}stiffness = '5 N/mm'": f'wire[1].ligation.stiffness = "5 N/mm" {ONLY}',
    f"{LIGATION}lasting = 1.0": f"wire[1].ligation.lasting = 1.0 {ONLY}",
    f"{LIGATION}kind = 'passive'\nfading = '1 day'": f'wire[1].ligation.fading = "1 day" {ONLY}',
    f"{LIGATION}kind = 'elastic'": 'wire[1].ligation.kind = "elastic" is not one of the options; '
    'accepted: "passive" or "active"',
    f"{ACTIVE}seating = '21 N'": f'wire[1].ligation.seating = "21 N" is too large; accepted: '
    f'{NEWTON}, such as "1.5 N"',
    f"{ACTIVE}seating = '-1 N'": f'wire[1].ligation.seating = "-1 N" is too small; accepted: '
    f'{NEWTON}, such as "1.5 N"',
    f"{ACTIVE}seating = 1.5": f"wire[1].ligation.seating = 1.5 has no unit; accepted: {NEWTON}, "
    'such as "1.5 N"',
    f"{ACTIVE}stiffness = '0 N/mm'": 'wire[1].ligation.stiffness = "0 N/mm" is too small; '
    "accepted: a stiffness in N/mm, cN/mm or gf/mm, at least 0.1 N/mm, at most 1000 N/mm, "
    'such as "5 N/mm"',
    f"{ACTIVE}lasting = 1.1": f"wire[1].ligation.lasting = 1.1 is too large; accepted: {SHARE}",
    f"{ACTIVE}fading = '0 days'": 'wire[1].ligation.fading = "0 days" is too small; accepted: '
    f'{DAYS}, above 0 days, at most 260 weeks, such as "6 weeks"',
    f"{LIGATION}lost = [{{ tooth = 12 }}]": "wire[1].ligation.lost[1].after is missing",
    f"{LIGATION}lost = [{{ tooth = 12, after = '-1 day' }}]": "wire[1].ligation.lost[1].after = "
    f'"-1 day" is too small; accepted: {DAYS}, at least 0 days, at most 260 weeks, '
    'such as "6 weeks"',
    f"{LIGATION}tight = true": "wire[1].ligation.tight = true is not a known key here",
    "friction = -0.1": "wire[1].friction = -0.1 is too small; accepted: a number without a unit, "
    "at least 0.0, at most 2.0",
    "friction = 2.1": "wire[1].friction = 2.1 is too large; accepted: a number without a unit, "
    "at least 0.0, at most 2.0",
    "friction = '0.2'": 'wire[1].friction = "0.2" is not a number',
    "released = 1.5": f"wire[1].released = 1.5 is too large; accepted: {SHARE}",
    "cinched = 'both'": 'wire[1].cinched = "both" is not true or false',
    f"{STOP}tooth = 12": "wire[1].stop[1].side is missing",
    f"{STOP}tooth = 12\nside = 'left'": 'wire[1].stop[1].side = "left" is not one of the options; '
    'accepted: "mesial" or "distal"',
    f"{STOP}tooth = 13\nside = 'distal'": "wire[1].stop[1].tooth = 13",
    f"{LIGATION}lost = [{{ tooth = 13, after = '1 day' }}]": "wire[1].ligation.lost[1].tooth = 13",
}


@pytest.mark.parametrize("text", REFUSALS, ids=lambda text: re.sub(r"\W+", " ", text))
def test_bad_keys_of_a_wire_are_refused_in_one_line(text):
    assert refusal(text).startswith(f"a.toml: {REFUSALS[text]}")


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("-0.1 deg/N/mm", "is too small"),
        ("11 deg/N/mm", "is too large"),
        ("0.2 deg", 'has the unit "deg", which is not that of'),
        ("0.2", "has no unit"),
    ],
)
def test_bad_give_is_refused(text, problem):
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(f"{TWO}[slot]\ngive = '{text}'\n[[wire]]\n", "a.toml")
    message = str(caught.value)
    assert message.startswith(f'a.toml: slot.give = "{text}" {problem}')
    assert "at least 0 deg/N/mm, at most 10 deg/N/mm" in message


def test_schema_for_editors_has_the_keys():
    tables = scenario_schema()["$defs"]
    assert {"ligation", "friction", "released", "stop", "cinched"} <= set(
        tables["Wire"]["properties"]
    )
    assert tables["LigationTable"]["properties"]["kind"]["enum"] == ["passive", "active"]
    assert "give" in tables["Slot"]["properties"]
