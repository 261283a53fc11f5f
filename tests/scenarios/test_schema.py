"""Verification of the scenario file: defaults, derived values, refusals, shipped cases."""

import json
import math
import re
import tomllib

import pytest
from pydantic import ValidationError

from gomphosis.bone.library import lookup
from gomphosis.scenarios.alloys import library_alloy
from gomphosis.scenarios.files import (
    LARGEST,
    ScenarioError,
    case_names,
    case_text,
    find_scenario,
    load_scenario,
    parse_scenario,
    scenario_from,
    scenario_schema,
)
from gomphosis.scenarios.refusal import listed
from gomphosis.scenarios.schema import COMPONENTS, Force, Material, Scenario, Section

HEAD = "schema = 1\n"
TWO = "[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 21\n"
ON_11 = "[[force]]\ntooth = 11\n"
PUSH = 'force = "50 cN"\ndirection = "labial"\n'
JARGON = re.compile(
    r"Input should|Field required|Extra inputs|type=|pydantic|validation error|Value error|"
    r"model_type|Refused|NoneType|Traceback|\bdict\b|\bstr\b|\bint\b|\bfloat\b|tuple"
)


def parse(text: str) -> Scenario:
    return parse_scenario(text, "a.toml")


def refusal(text: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        parse(text)
    return str(caught.value)


# --- what is accepted ------------------------------------------------------------------------


def test_scenario_of_teeth_only_has_the_documented_defaults():
    scenario = parse(HEAD + TWO)
    assert scenario.title == "untitled"
    assert (scenario.invented, scenario.note, scenario.growing) == (False, "", "unknown")
    assert (scenario.duration, scenario.step, scenario.visit_interval) == (84.0, 1.0, 42.0)
    assert (scenario.seed, scenario.pressure_limit, scenario.neutral_below) == (0, None, 5e-4)
    ligament = scenario.ligament
    assert (ligament.law, ligament.young, ligament.poisson) == ("linear", 0.05, 0.30)
    assert ligament.thickness_crest == lookup("ligament.thickness.crest").value
    assert ligament.thickness_middle == lookup("ligament.thickness.middle").value
    assert ligament.thickness_apex == lookup("ligament.thickness.apex").value
    assert scenario.bone.crest_loss == 0.0
    rate = scenario.rate
    assert (rate.law, rate.max_speed, rate.half_stress) == ("saturating", None, None)
    assert rate.shear_weight == "auto"
    slot = scenario.slot
    assert (slot.height, slot.depth, slot.width) == (0.5588, 0.7112, 3.0)
    (wire,) = scenario.wires
    assert (wire.tied_in, wire.alloy, wire.section) == (0.0, "nickel-titanium", Section(0.3556))
    assert (wire.shape, wire.cinched) == (None, False)
    assert (wire.material, wire.edge_radius, wire.strands) == (Material(), None, 1)
    assert wire.alloy_constants == library_alloy("nickel-titanium")
    assert scenario.temperature == 37.0
    assert scenario.wire == ()
    assert dict(scenario.cases) == {}


def test_tooth_has_the_documented_defaults():
    (place, _) = parse(HEAD + TWO).tooth
    assert (place.vertical, place.labial, place.mesial) == (0.0, 0.0, 0.0)
    assert (place.angulation, place.inclination, place.rotation) == (0.0, 0.0, 0.0)
    assert place.bracket_from_edge == 4.5
    assert place.slot_from_axis == place.anatomy.crown_labiolingual / 2.0
    assert place.prescription.torque == place.prescription.in_out == 0.0


def test_every_default_is_stated_in_the_schema_for_editors():
    schema = scenario_schema()
    properties = schema["properties"]
    stated = {key: node["default"] for key, node in properties.items() if "default" in node}
    assert stated == {
        "title": "untitled",
        "invented": False,
        "note": "",
        "duration": "12 weeks",
        "step": "1 day",
        "temperature": "37.0 degC",
        "visit_interval": "6 weeks",
        "growing": "unknown",
        "seed": 0,
        "neutral_below": "0.5 kPa",
        "wire": [],
        "visit": [],
        "force": [],
        "elastic": [],
    }


def test_values_are_in_inside_units_and_teeth_in_order_along_the_arch():
    text = HEAD + "".join(f"[[tooth]]\nnumber = {n}\n" for n in (21, 12, 23, 11))
    scenario = parse(text + 'vertical = "-0.1 cm"\nangulation = "5 deg"\n')
    assert [place.number for place in scenario.teeth] == [12, 11, 21, 23]
    assert [place.number for place in scenario.tooth] == [21, 12, 23, 11]
    eleven = scenario.teeth[1]
    assert eleven.vertical == -1.0
    assert eleven.angulation == pytest.approx(math.radians(5.0), rel=1e-15)
    lower = HEAD + "".join(f"[[tooth]]\nnumber = {n}\n" for n in (31, 42, 33, 41))
    assert [place.number for place in parse(lower).teeth] == [42, 41, 31, 33]


def test_sizes_of_a_tooth_can_be_given():
    text = HEAD + TWO + 'root_length = "11 mm"\ncrest_loss = "2 mm"\nbracket_from_axis = "4 mm"\n'
    first, second = parse(text).tooth
    assert second.anatomy.root_length == 11.0
    assert second.anatomy.crown_length == first.anatomy.crown_length
    assert second.slot_from_axis == 4.0
    scenario = parse(text + '[bone]\ncrest_loss = "1 mm"\n')
    crest = lookup("bone.crest_below_cervix").number
    assert scenario.embedded_root(scenario.tooth[1]) == pytest.approx(11.0 - crest - 2.0)
    assert scenario.crest_loss(scenario.tooth[0]) == 1.0


def test_later_wires_are_due_at_the_visits():
    wires = "[[wire]]\n[[wire]]\n[[wire]]\ntied_in = '9 weeks'\n"
    scenario = parse(HEAD + 'visit_interval = "4 weeks"\n' + TWO + wires)
    assert [wire.tied_in for wire in scenario.wires] == [0.0, 28.0, 63.0]


@pytest.mark.parametrize(
    ("size", "height", "width"),
    [
        ("0.014 in", 0.3556, None),
        ("0.018 in x 0.018 in", 0.4572, 0.4572),
        ("0.017 x 0.025 in", 0.4318, 0.635),
        ("0.017×0.025in", 0.4318, 0.635),
        ("0.4 mm x 0.025 in", 0.4, 0.635),
    ],
)
def test_wire_sizes(size, height, width):
    (wire,) = parse(HEAD + TWO + f'[[wire]]\nsize = "{size}"\n').wires
    assert wire.section == Section(height, width)
    assert wire.section.is_round is (width is None)
    assert wire.section.into_slot == (height if width is None else width)


def test_wire_that_just_fits_the_slot_is_accepted():
    (wire,) = parse(HEAD + TWO + '[[wire]]\nsize = "0.022 x 0.028 in"\n').wires
    assert wire.section == Section(0.5588, 0.7112)


def test_wire_may_have_an_arch_form():
    shape = 'shape = { half_width = "25 mm", depth = "30 mm", squareness = 0.3 }\n'
    (wire,) = parse(HEAD + TWO + f'[[wire]]\n{shape}alloy = "steel"\n').wires
    assert wire.shape is not None
    assert (wire.shape.half_width, wire.shape.depth, wire.shape.squareness) == (25.0, 30.0, 0.3)
    (straight,) = parse(HEAD + TWO + '[[wire]]\nshape = "straight"\nalloy = "beta-titanium"').wires
    assert straight.shape is None


def test_forces_by_direction_and_by_components():
    text = HEAD + TWO + ON_11 + 'force = "50 cN"\ndirection = "lingual"\n'
    text += ON_11 + 'case = "b"\nextrusion = "-0.2 N"\ntorque_moment = "5 N*mm"\n'
    text += ON_11 + 'case = "b"\nforce = "1 N"\ndirection = "distal"\n'
    text += 'moment_to_force = "translation"\n'
    cases = parse(text).cases
    assert list(cases) == ["forces", "b"]
    assert cases["forces"][0].components == (0.0, -0.5, 0.0, 0.0, 0.0, 0.0)
    first, second = cases["b"]
    assert dict(zip(COMPONENTS, first.components, strict=True)) == {
        "extrusion": -0.2,
        "labial": 0.0,
        "mesial": 0.0,
        "tip_moment": 0.0,
        "torque_moment": 5.0,
        "rotation_moment": 0.0,
    }
    assert (first.by_components, second.by_components) == (True, False)
    assert second.components == (0.0, 0.0, -1.0, 0.0, 0.0, 0.0)
    assert (first.moment_to_force, second.moment_to_force) == (0.0, "translation")


def test_one_tooth_under_a_force_needs_no_wire():
    assert parse(f"{HEAD}[[tooth]]\nnumber = 11\n{ON_11}{PUSH}").wires == ()


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        ('law = "linear"\nconstant = "1 um/day/kPa"', (1.0, None)),
        ('law = "dead-zone"\nconstant = "2 um/day/kPa"\nthreshold = "1 kPa"', (2.0, 0.001)),
    ],
)
def test_rate_laws(table, expected):
    rate = parse(f"{HEAD}{TWO}[rate]\n{table}\nshear_weight = 1\n").rate
    assert (rate.constant, rate.threshold) == expected
    assert rate.shear_weight == 1.0


def test_stimulus_and_lag():
    plain = parse(HEAD + TWO).rate
    assert (plain.stimulus, plain.overload_pressure, plain.overload_delay) == (
        "traction",
        None,
        None,
    )
    lag = 'overload_pressure = "5 kPa"\noverload_delay = "3 weeks"\n'
    rate = parse(f'{HEAD}{TWO}[rate]\nstimulus = "tooth"\n{lag}').rate
    assert (rate.stimulus, rate.overload_pressure, rate.overload_delay) == ("tooth", 0.005, 21.0)


def test_saturating_law_takes_both_constants():
    table = '[rate]\nmax_speed = "60 um/day"\nhalf_stress = "4 kPa"\n'
    rate = parse(HEAD + TWO + table).rate
    assert (rate.max_speed, rate.half_stress) == (0.06, 0.004)


def test_file_with_byte_order_mark_and_other_line_ends_is_read(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbf" + (HEAD + TWO).replace("\n", "\r\n").encode())
    assert load_scenario(path) == parse(HEAD + TWO)


def test_models_cannot_be_changed():
    scenario = parse(HEAD + TWO)
    with pytest.raises(ValidationError):
        scenario.step = 2.0
    assert scenario.step == 1.0


RICH = f"""{HEAD}title = "x"
pressure_limit = "5 kPa"
{TWO}crest_loss = "1 mm"
[tooth.prescription]
torque = "12 deg"
[[wire]]
shape = {{ half_width = "25 mm", depth = "30 mm" }}
[[wire]]
size = "0.017 x 0.025 in"
[rate]
law = "linear"
constant = "1 um/day/kPa"
shear_weight = 0.5
"""


@pytest.mark.parametrize("text", [HEAD + TWO, RICH, *map(case_text, case_names())])
def test_document_reads_back_as_the_same_scenario(text):
    scenario = parse(text)
    document = json.loads(json.dumps(scenario.document()))
    again = scenario_from(document, "again")
    assert again == scenario
    assert again.document() == document


# --- what is refused -------------------------------------------------------------------------

DURATIONS = "a duration in days, weeks or hours"
WIRE_SIZES = (
    'a round wire "0.014 in", or height (in the slot) x width "0.017 x 0.025 in", '
    "each at least 0.1 mm and at most 1.5 mm"
)
RATIOS = (
    'a length in mm, in or um, at least -1000 mm, at most 1000 mm, such as "8 mm"; or "translation"'
)
PARTS = "(extrusion, labial, mesial, tip_moment, torque_moment or rotation_moment)"
NUMBERS = "an ISO 3950 number of a permanent tooth: 11-18, 21-28, 31-38 or 41-48"

REFUSALS = {
    # the file as a whole
    "": "schema is missing; accepted: schema = 1",
    "schema = 2": "schema = 2 is a newer layout than this program reads; accepted: schema = 1",
    "schema = 0": "schema = 0 is an older layout than this program reads; accepted: schema = 1",
    "schema = '1'": 'schema = "1" is not a version; accepted: schema = 1',
    "schema = true": "schema = true is not a version; accepted: schema = 1",
    HEAD: "tooth is missing; accepted: tables [[tooth]], at least 1, at most 16",
    f"{HEAD}titel = 'x'\n{TWO}": 'titel = "x" is not a known key here; accepted: title',
    f"{HEAD}title = 3\n{TWO}": "title = 3 is not text in quotes; accepted: text in quotes, "
    "with 1 or more characters, at most 200 characters",
    f'{HEAD}title = "a\\nb"\n{TWO}': 'title = "a\\nb" has a line break or another control '
    "character; accepted: text in quotes, with 1 or more characters, at most 200 characters",
    f"{HEAD}invented = 'yes'\n{TWO}": 'invented = "yes" is not true or false; '
    "accepted: true or false",
    f"{HEAD}growing = true\n{TWO}": "growing = true is not one of the options; "
    'accepted: "yes", "no" or "unknown"',
    f"{HEAD}seed = -1\n{TWO}": "seed = -1 is too small; "
    "accepted: a whole number, at least 0, below 4294967296",
    f"{HEAD}seed = 1.5\n{TWO}": "seed = 1.5 is not a whole number; "
    "accepted: a whole number, at least 0, below 4294967296",
    # times
    f"{HEAD}duration = 12\n{TWO}": f"duration = 12 has no unit; accepted: {DURATIONS}, "
    'above 0 days, at most 260 weeks, such as "6 weeks"',
    f"{HEAD}duration = '12 mm'\n{TWO}": 'duration = "12 mm" has the unit "mm", which is not that '
    f'of a duration; accepted: {DURATIONS}, above 0 days, at most 260 weeks, such as "6 weeks"',
    f"{HEAD}step = '8 days'\n{TWO}": f'step = "8 days" is too large; accepted: {DURATIONS}, '
    'at least 0.01 days, at most 7 days, such as "1 day"',
    f"{HEAD}duration = '3 days'\nstep = '4 days'\n{TWO}": 'step = "4 days" is longer than the '
    "duration; accepted: at most the duration of 3 days",
    f"{HEAD}duration = '250 weeks'\nstep = '0.01 days'\n{TWO}": 'step = "0.01 days" makes more '
    "than 20000 time steps; accepted: at least 0.0875 days for this duration",
    # teeth
    f"{HEAD}tooth = []": "tooth (a list) is empty; accepted: one or more tables [[tooth]]",
    f"{HEAD}[tooth]\nnumber = 11": "tooth (a table) is not a list of tables; "
    "accepted: tables [[tooth]], at least 1, at most 16",
    f"{HEAD}[[tooth]]\nnumber = 19": f"tooth[1].number = 19 is no tooth; accepted: {NUMBERS}",
    f"{HEAD}[[tooth]]\nnumber = true": f"tooth[1].number = true is no tooth; accepted: {NUMBERS}",
    f"{HEAD}[[tooth]]\nvertical = '1 mm'": f"tooth[1].number is missing; accepted: {NUMBERS}",
    f"{HEAD}{TWO}[[tooth]]\nnumber = 11": "tooth[3].number = 11 occurs twice; "
    "accepted: each tooth number once",
    f"{HEAD}{TWO}[[tooth]]\nnumber = 31": "tooth[3].number = 31 is not in the jaw of tooth 11; "
    "accepted: upper teeth only",
    f"{HEAD}{TWO}anglation = '5 deg'": 'tooth[2].anglation = "5 deg" is not a known key here; '
    "accepted: angulation or inclination",
    f"{HEAD}{TWO}angulation = '5'": 'tooth[2].angulation = "5" has no unit; accepted: an angle '
    'in deg or rad, at least -45 deg, at most 45 deg, such as "5 deg"',
    f"{HEAD}{TWO}angulation = '5 mm'": 'tooth[2].angulation = "5 mm" has the unit "mm", which is '
    "not that of an angle; accepted: an angle in deg or rad, at least -45 deg, at most 45 deg, "
    'such as "5 deg"',
    f"{HEAD}{TWO}vertical = 'nan mm'": 'tooth[2].vertical = "nan mm" is not finite; accepted: '
    'a length in mm, in or um, at least -10 mm, at most 10 mm, such as "1 mm"',
    f"{HEAD}{TWO}vertical = '11 mm'": 'tooth[2].vertical = "11 mm" is too large; accepted: '
    'a length in mm, in or um, at least -10 mm, at most 10 mm, such as "1 mm"',
    f"{HEAD}{TWO}crown_length = '10 mm'\nbracket_from_edge = '10 mm'": "tooth[2]."
    'bracket_from_edge = "10 mm" puts the slot beyond the crown of tooth 21; '
    "accepted: less than its crown length of 10 mm",
    f"{HEAD}{TWO}root_length = '12 mm'\ncrest_loss = '8 mm'": 'tooth[2].crest_loss = "8 mm" '
    "leaves 3 mm of the root of tooth 21 within bone; accepted: at most 7 mm, "
    "which leaves 4 mm",
    f"{HEAD}{TWO}root_length = '4.5 mm'": 'tooth[2].root_length = "4.5 mm" leaves 3.5 mm of the '
    "root of tooth 21 within bone; accepted: at least 4 mm of root within bone",
    f"{HEAD}{TWO}[tooth.prescription]\ntork = '1 deg'": "tooth[2].prescription.tork = "
    '"1 deg" is not a known key here; accepted: torque',
    f"{HEAD}[[tooth]]\nnumber = 11": "tooth (a list) has one tooth only, which no wire can join; "
    "accepted: two or more [[tooth]], or a [[force]] on the tooth",
    # tissue
    f"{HEAD}ligament = 3\n{TWO}": "ligament = 3 is not a table; accepted: a table with law, "
    "young, poisson, thickness_crest, thickness_middle and thickness_apex",
    f"{HEAD}{TWO}[ligament]\npoisson = 0.5": "ligament.poisson = 0.5 is too large; "
    "accepted: a number without a unit, at least 0.0, at most 0.499",
    f"{HEAD}{TWO}[ligament]\npoisson = nan": "ligament.poisson = nan is not finite; "
    "accepted: a number without a unit, at least 0.0, at most 0.499",
    f"{HEAD}{TWO}[ligament]\nlaw = 'bilinear'": 'ligament.law = "bilinear" is not one of the '
    'options; accepted: "linear"',
    f"{HEAD}{TWO}[rate]\nlaw = 'linear'": 'rate.constant is missing, which law "linear" needs; '
    'accepted: constant = "1.0 um/day/kPa"',
    f"{HEAD}{TWO}[rate]\nthreshold = '1 kPa'": 'rate.threshold = "1 kPa" does not belong to law '
    '"saturating"; accepted: only with law = "dead-zone"',
    f"{HEAD}{TWO}[rate]\nmax_speed = '60 um/day'": "rate.half_stress is missing beside max_speed; "
    'accepted: half_stress = "5 kPa", or neither of the two',
    f"{HEAD}{TWO}[rate]\noverload_pressure = '5 kPa'": "rate.overload_delay is missing beside "
    'overload_pressure; accepted: overload_delay = "21 days", or neither of the two',
    f"{HEAD}{TWO}[rate]\noverload_delay = '5 days'": "rate.overload_pressure is missing beside "
    'overload_delay; accepted: overload_pressure = "5 kPa", or neither of the two',
    f"{HEAD}{TWO}[rate]\nstimulus = 'strain'": 'rate.stimulus = "strain" is not one of the '
    'options; accepted: "traction", "pressure" or "tooth"',
    f"{HEAD}{TWO}[rate]\nstimulus = 'tooth'\n[slice]\nteeth = [11]": 'rate.stimulus = "tooth" '
    "does not go with [slice], whose wall moves by the traction on it and never stops; "
    "accepted: the default, or no [slice]",
    f"{HEAD}{TWO}[rate]\noverload_pressure = '5 kPa'\noverload_delay = '5 days'\n[slice]\n"
    "teeth = [11]": 'rate.overload_pressure = "5 kPa" does not go with [slice], '
    "whose wall moves by the traction on it and never stops; accepted: the default, or no [slice]",
    f"{HEAD}{TWO}speed_factor = 0": "tooth[2].speed_factor = 0 is too small; accepted: a number "
    "without a unit, at least 0.01, at most 10.0",
    f"{HEAD}{TWO}[rate]\nshear_weight = -1": "rate.shear_weight = -1 is out of range; "
    'accepted: a number from 0 to 1000, or "auto" for the ratio M/G of the ligament',
    # wires
    f"{HEAD}{TWO}[[wire]]\nsize = '0.025 in'": 'wire[1].size = "0.025 in" does not fit the slot; '
    "accepted: at most 0.5588 mm high and 0.7112 mm deep",
    f"{HEAD}{TWO}[[wire]]\nsize = '0.018 x 0.030 in'": 'wire[1].size = "0.018 x 0.030 in" does '
    "not fit the slot; accepted: at most 0.5588 mm high and 0.7112 mm deep",
    f"{HEAD}{TWO}[[wire]]\nsize = '0.018'": 'wire[1].size = "0.018" has no unit; '
    f"accepted: {WIRE_SIZES}",
    f"{HEAD}{TWO}[[wire]]\nsize = '1 x 1 x 1 mm'": 'wire[1].size = "1 x 1 x 1 mm" has more than '
    f"two sizes; accepted: {WIRE_SIZES}",
    f"{HEAD}{TWO}[[wire]]\nalloy = 'gold'": 'wire[1].alloy = "gold" is not one of the options; '
    'accepted: "steel", "beta-titanium" or "nickel-titanium"',
    f"{HEAD}{TWO}[[wire]]\nshape = 'curved'": 'wire[1].shape = "curved" is not a shape of wire; '
    'accepted: "straight", or a table such as { half_width = "25 mm", depth = "30 mm" }',
    f"{HEAD}{TWO}[[wire]]\nshape = {{ half_width = '25 mm', depth = '30 mm', q = 1 }}": "wire[1]."
    "shape.q = 1 is not a known key here; accepted: half_width, depth, squareness or points",
    f"{HEAD}{TWO}[[wire]]\ntied_in = '1 week'": 'wire[1].tied_in = "1 week" is not the start; '
    'accepted: "0 weeks" for the first wire',
    f"{HEAD}{TWO}[[wire]]\n[[wire]]\n[[wire]]\ntied_in = '6 weeks'": "wire[3].tied_in = "
    '"6 weeks" is not after the wire before; accepted: later than 42 days',
    f"{HEAD}{TWO}[[wire]]\n[[wire]]\n[[wire]]": "wire[3].tied_in is not within the duration; "
    "accepted: earlier than 84 days",
    # forces
    f"{HEAD}{TWO}[[wire]]\n{ON_11}{PUSH}": "force (a list) stands beside [[wire]]; "
    "accepted: [[force]] or [[wire]]",
    f"{HEAD}{TWO}{ON_11}force = '1 N'": "force[1].direction is missing; accepted: direction = "
    f'"labial", or components {PARTS}',
    f"{HEAD}{TWO}{ON_11}direction = 'labial'": "force[1].force is missing; accepted: force = "
    f'"50 cN", or components {PARTS}',
    f"{HEAD}{TWO}{ON_11}{PUSH}mesial = '1 N'": 'force[1].mesial = "1 N" does not go with force '
    f"and direction; accepted: force with direction, or components {PARTS}",
    f"{HEAD}{TWO}{ON_11}force = '1 N'\ndirection = 'up'": 'force[1].direction = "up" is not one '
    'of the options; accepted: "labial", "lingual", "mesial", "distal", "extrusion" or '
    '"intrusion"',
    f"{HEAD}{TWO}{ON_11}{PUSH}moment_to_force = '8'": 'force[1].moment_to_force = "8" has no '
    f"unit; accepted: {RATIOS}",
    f"{HEAD}{TWO}{ON_11}force = '1 N'\ndirection = 'extrusion'\nmoment_to_force = '8 mm'": "force"
    '[1].moment_to_force = "8 mm" does not go with direction "extrusion"; accepted: 0 mm, or a '
    "direction of labial, lingual, mesial or distal",
    f"{HEAD}{TWO}{ON_11}labial = '1 N'\nmoment_to_force = 'translation'": "force[1]."
    'moment_to_force = "translation" does not go with components; accepted: 0 mm, or a direction '
    "of labial, lingual, mesial or distal",
    f"{HEAD}{TWO}[[force]]\ntooth = 12\n{PUSH}": "force[1].tooth = 12 is not among the teeth of "
    "this scenario; accepted: 11 or 21",
    f"{HEAD}{TWO}{ON_11}force = '0 N'\ndirection = 'labial'": 'force[1].force = "0 N" is too '
    'small; accepted: a force in N, cN or gf, above 0 N, at most 100 N, such as "50 cN"',
}


@pytest.mark.parametrize("text", REFUSALS, ids=lambda text: text[len(HEAD) :].replace(TWO, ""))
def test_bad_scenario_is_refused_in_one_line(text):
    message = refusal(text)
    assert message == f"a.toml: {REFUSALS[text]}"
    assert message.isprintable()
    assert not JARGON.search(message)


def test_further_findings_are_counted_and_misspelt_keys_come_first():
    text = f"{HEAD}duration = 12\nsed = 3\nstep = 1\n{TWO}"
    assert refusal(text) == "a.toml: sed = 3 is not a known key here; accepted: seed (and 2 more)"


def test_key_like_none_lists_all_keys():
    assert refusal(f"{HEAD}{TWO}[bone]\nzzz = 1\n").endswith("known key here; accepted: crest_loss")


def test_line_breaks_in_keys_and_values_are_escaped():
    message = refusal(f'{HEAD}"a\\nb" = 1\n{TWO}')
    assert message.startswith("a.toml: a\\nb = 1 is not a known key here")
    assert "\n" not in message


WRONG = ["zz", -7.5, True, [1], {"a": 1}, tomllib.loads("d = 1979-05-27")["d"]]


def _places(node, schema, path):
    """Yield every place of the scenario file as a path, from its JSON schema."""
    for choice in node.get("anyOf", [node]):
        reference = choice.get("$ref")
        table = schema["$defs"][reference.split("/")[-1]] if reference else choice
        for key, child in table.get("properties", {}).items():
            yield (*path, key)
            entry = child.get("items", child)
            step = (*path, key, 0) if "items" in child else (*path, key)
            yield from _places(entry, schema, step)


def _full():
    """Return a document that has every table of the layout."""
    shape = {"half_width": "25 mm", "depth": "30 mm"}
    bend = {"kind": "bend", "between": [11, 21], "occlusal_angle": "5 deg"}
    return {
        "schema": 1,
        "ligament": {},
        "bone": {},
        "rate": {},
        "slot": {},
        "tooth": [{"number": 11, "prescription": {}}, {"number": 21}],
        "wire": [
            {
                "shape": shape,
                "material": {},
                "bend": [bend],
                "ligation": {"kind": "active", "lost": [{"tooth": 11, "after": "1 day"}]},
                "stop": [{"tooth": 11, "side": "mesial"}],
            }
        ],
        "visit": [
            {
                "at": "1 week",
                "bend": [bend | {"by_hand": True}],
                "rebond": [{"tooth": 11, "tip": "1 deg"}],
                "activate": [{"tooth": 11, "side": "mesial", "by": "1 mm"}],
            }
        ],
        "force": [{"tooth": 11, "force": "1 N", "direction": "labial"}],
        "elastic": [
            {
                "kind": "elastic",
                "teeth": [11, 21],
                "force": "1 N",
                "stiffness": "0 N/mm",
                "decay": {},
            }
        ],
        "slice": {
            "teeth": [11],
            "front": {},
            "back": {},
            "adaptation": {"rate": "0.01 day^-1", "reference": "0.01 kPa"},
        },
        "lesson": {"aim": "a", "question": "q", "caption": [{"at": "1 day", "text": "t"}]},
    }


PLACES = list(_places(scenario_schema(), scenario_schema(), ()))


def test_all_places_of_the_layout_were_collected():
    assert len(PLACES) > 70
    assert ("tooth", 0, "prescription", "in_out") in PLACES
    assert ("wire", 0, "shape", "squareness") in PLACES


@pytest.mark.parametrize("place", PLACES, ids=lambda place: ".".join(map(str, place)))
def test_no_value_of_a_wrong_type_gets_through_or_leaks_the_wording_of_a_library(place):
    texts = {
        ("title",),
        ("note",),
        ("lesson", "aim"),
        ("lesson", "question"),
        ("lesson", "caption", 0, "text"),
        ("lesson", "caption", 0, "case"),
        ("force", 0, "case"),
        ("slice", "outline"),
        ("slice", "mesh"),
    }
    refused = 0
    for value in WRONG:
        if (value == "zz" and place in texts) or (value is True and place[-1] in FLAGS):
            continue
        document = _full()
        table = document
        for part in place[:-1]:
            table = table[part]
        table[place[-1]] = value
        with pytest.raises(ScenarioError) as caught:
            scenario_from(document, "a.toml")
        message = str(caught.value)
        path = re.sub(r"\.0\b", "[1]", ".".join(map(str, place)))
        # A table of the wrong contents is told by the key inside it.
        assert re.match(rf"a\.toml: {re.escape(path)}(\[|\.a | )", message)
        assert "; accepted: " in message
        assert message.isprintable()
        assert not JARGON.search(message)
        refused += 1
    assert refused >= 5


FLAGS = {"invented", "cinched", "turnover", "by_hand", "religate"}


# --- files -----------------------------------------------------------------------------------


def _file_refusal(path, call=load_scenario):
    with pytest.raises(ScenarioError) as caught:
        call(path)
    return str(caught.value)


def test_missing_file_and_folder_are_refused(tmp_path):
    path = tmp_path / "none.toml"
    assert _file_refusal(path) == f"{path}: does not exist; accepted: a scenario file in TOML"
    assert _file_refusal(tmp_path) == f"{tmp_path}: is a folder; accepted: a scenario file in TOML"


def test_text_that_is_not_utf8_is_refused(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b'title = "\xe9"')
    assert (
        _file_refusal(path) == f"{path}: is not UTF-8 text (byte 10); accepted: TOML saved as UTF-8"
    )


def test_text_that_is_not_toml_is_refused_with_its_place():
    message = refusal("schema = 1\nstep = 1 day\n")
    assert message.startswith("a.toml: is not TOML: ")
    assert "(at line 2, column 10)" in message


def test_deep_nesting_is_refused():
    message = refusal("a = " + "[" * 100_000)
    assert message == "a.toml: is nested too deeply; accepted: tables and lists of tables"


def test_huge_file_is_refused(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * (LARGEST + 1))
    assert _file_refusal(path) == f"{path}: is too large; accepted: at most {LARGEST} bytes"


def test_unknown_case_is_refused_with_the_names():
    names = listed(case_names())
    assert _file_refusal("three", case_text) == f"three: is no shipped case; accepted: {names}"
    assert _file_refusal("three", find_scenario) == (
        f"three: is neither a file nor a shipped case; accepted: a scenario file (.toml), {names}"
    )


# --- JSON schema and cases -------------------------------------------------------------------


def _tables(schema):
    return {"Scenario": schema} | schema["$defs"]


def test_schema_for_editors_describes_every_key():
    schema = scenario_schema()
    json.dumps(schema)
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert set(schema["properties"]) == {
        field.alias or name for name, field in Scenario.model_fields.items()
    }
    assert schema["required"] == ["schema", "tooth"]
    tables = _tables(schema)
    assert len(tables) == 25
    for table in tables.values():
        assert table["additionalProperties"] is False
        for node in table["properties"].values():
            assert node["description"]
            assert "accepted" not in node
            assert "null" not in json.dumps(node)


def test_schema_for_editors_names_units_and_its_examples_are_accepted():
    tables = _tables(scenario_schema())
    node = tables["ToothPlace"]["properties"]["angulation"]
    assert node["type"] == "string"
    assert node["default"] == "0 deg"
    assert "an angle in deg or rad, at least -45 deg, at most 45 deg" in node["description"]
    checked = 0
    for name, table in tables.items():
        for key, node in table["properties"].items():
            for text in node.get("examples", []):
                assert not _refused_at(name, key, text), (name, key, text)
                if "pattern" in node:
                    assert re.fullmatch(node["pattern"], text)
                checked += 1
    assert checked > 40


TABLE_PLACES = {
    "Scenario": (),
    "Ligament": ("ligament",),
    "Bone": ("bone",),
    "Rate": ("rate",),
    "Slot": ("slot",),
    "ToothPlace": ("tooth", 0),
    "Prescription": ("tooth", 0, "prescription"),
    "Wire": ("wire", 0),
    "Material": ("wire", 0, "material"),
    "ArchForm": ("wire", 0, "shape"),
    "WireBend": ("wire", 0, "bend", 0),
    "LigationTable": ("wire", 0, "ligation"),
    "LostTie": ("wire", 0, "ligation", "lost", 0),
    "StopTable": ("wire", 0, "stop", 0),
    "Visit": ("visit", 0),
    "Rebond": ("visit", 0, "rebond", 0),
    "Activation": ("visit", 0, "activate", 0),
    "AdaptationTable": ("slice", "adaptation"),
    "PlateTable": ("slice", "front"),
    "SliceTable": ("slice",),
    "Force": ("force", 0),
    "Elastic": ("elastic", 0),
    "Decay": ("elastic", 0, "decay"),
    "Lesson": ("lesson",),
    "Caption": ("lesson", "caption", 0),
}


def _refused_at(name, key, value):
    """Return whether the value itself is refused under the key of a table."""
    document = _full()
    table = document
    for part in TABLE_PLACES[name]:
        table = table[part]
    table[key] = value
    with pytest.raises(ScenarioError) as caught:
        scenario_from(document, "a.toml")  # wires and forces together: never accepted as a whole
    bad = rf" = {re.escape(json.dumps(value))} (is too|is not|has )"
    return re.search(rf"[ .]{key}{bad}", str(caught.value)) is not None


def test_refusal_of_one_key_is_told_from_that_of_the_whole():
    assert _refused_at("Material", "young", "5 kPa")
    assert not _refused_at("Material", "young", "50 GPa")


def test_shipped_cases_load_and_say_that_they_are_invented():
    assert {"bone-loss", "canine-retraction", "light-and-heavy", "thin-plate"} < set(case_names())
    for name in case_names():
        scenario = find_scenario(name)
        assert scenario.invented
        assert "(invented)" in scenario.title
        assert "nvented" in scenario.note


def test_three_incisors_case():
    scenario = find_scenario("three-incisors")
    assert [place.number for place in scenario.teeth] == [12, 11, 21]
    middle = scenario.teeth[1]
    assert (middle.vertical, round(math.degrees(middle.angulation), 9)) == (-1.0, 5.0)
    assert [wire.tied_in for wire in scenario.wires] == [0.0, 42.0]
    assert [wire.section for wire in scenario.wires] == [Section(0.3556), Section(0.4572)]


def test_light_and_heavy_case():
    cases = find_scenario("light-and-heavy").cases
    assert len(cases) == 10
    for name, (force,) in cases.items():
        assert isinstance(force, Force)
        kind, size, unit = name.split()
        assert (unit, force.tooth, force.direction) == ("cN", 11, "lingual")
        assert force.force == pytest.approx(float(size) / 100.0, rel=1e-15)
        assert force.moment_to_force == (0.0 if kind == "tipping" else "translation")


def test_file_is_found_by_path(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(case_text("three-incisors"), encoding="utf-8")
    assert find_scenario(path) == find_scenario("three-incisors")
