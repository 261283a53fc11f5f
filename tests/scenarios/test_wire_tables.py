"""Verification of the keys of a wire's alloy, edges and strands, and of the wire's temperature."""

import re
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.library import lookup
from gomphosis.scenarios.alloys import NAMED_SETS, USUAL, Alloy, library_alloy
from gomphosis.scenarios.files import ScenarioError, parse_scenario, scenario_from, scenario_schema
from gomphosis.scenarios.material_table import material_text
from gomphosis.scenarios.schema import Material
from gomphosis.scenarios.wire import WireSection

TWO = "schema = 1\n[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 21\n"
STEEL = "alloy = 'steel'\n"
NITI = "alloy = 'nickel-titanium'\n"
OBLONG = "size = '0.016 x 0.022 in'\n"
TABLE = "[wire.material]\n"


def wire(text):
    (found,) = parse_scenario(f"{TWO}[[wire]]\n{text}", "a.toml").wires
    return found


def refusal(text, head=""):
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(f"{head}{TWO}[[wire]]\n{text}", "a.toml")
    message = str(caught.value)
    assert message.isprintable()
    return message


# --- what is accepted ------------------------------------------------------------------------


@pytest.mark.parametrize("name", USUAL)
def test_without_a_table_the_library_holds(name):
    found = wire(f"alloy = '{name}'\n")
    assert found.alloy_constants == library_alloy(name)


def test_every_key_of_a_superelastic_wire_takes_the_place_of_the_library():
    found = wire(f"""{TABLE}young = "60 GPa"\npoisson = 0.30\nshear_ratio = 2.0
        forward_start = "520 MPa"\nforward_finish = "600 MPa"
        reverse_start = "300 MPa"\nreverse_finish = "200 MPa"
        transformation_strain = 0.075\ntemperature_slope = "7 MPa/K"
        reference_temperature = "309.15 K"\n""").alloy_constants
    assert found == Alloy(
        "superelastic",
        60e3,
        0.30,
        ratio=2.0,
        forward_start=520.0,
        forward_finish=600.0,
        reverse_start=300.0,
        reverse_finish=200.0,
        strain=0.075,
        slope=7.0,
        reference_temperature=36.0,
    )


def test_single_keys_leave_the_rest_to_the_library():
    found = wire(f"{STEEL}{TABLE}yield_stress = '1.9 GPa'\n").alloy_constants
    assert (found.yield_stress, found.hardening) == (1900.0, 3000.0)
    assert wire(f"{STEEL}{TABLE}hardening = '0 MPa'\n").alloy_constants.hardening == 0.0


def test_any_alloy_may_be_elastic():
    for name in USUAL:
        found = wire(f"alloy = '{name}'\n{TABLE}behaviour = 'elastic'\n").alloy_constants
        usual = library_alloy(name)
        assert found == Alloy("elastic", usual.young, usual.poisson, usual.ratio)


def test_a_behaviour_that_the_library_has_no_numbers_for_can_be_given():
    found = wire(
        f"{NITI}{TABLE}behaviour = 'plastic'\nyield_stress = '1 GPa'\nhardening = '2 GPa'\n"
    ).alloy_constants
    assert (found.behaviour, found.young, found.yield_stress) == ("plastic", 50e3, 1000.0)


def test_edges_and_strands_reach_the_section():
    assert wire("size = '0.016 in'\n").cross_section == WireSection(0.4064, 0.4064, round=True)
    assert wire(OBLONG).cross_section == WireSection(0.4064, 0.5588, round=False)
    assert wire(OBLONG).cross_section.rounding == lookup("wire.edge_radius").number
    sharp = wire(f"{OBLONG}edge_radius = '0 mm'\n").cross_section
    np.testing.assert_allclose(sharp.area, 0.4064 * 0.5588, rtol=1e-12)
    bundle = wire("size = '0.0175 in'\nstrands = 3\n").cross_section
    assert (bundle.strands, bundle.round) == (3, True)


def test_thinnest_wire_takes_the_edges_of_the_library():
    assert wire("size = '0.1 x 0.5 mm'\n").cross_section.rounding == 0.05


def test_temperature_holds_for_the_scenario():
    assert parse_scenario(TWO, "a").temperature == lookup("mouth.temperature").number == 37.0
    assert parse_scenario(f'temperature = "10 degC"\n{TWO}', "a").temperature == 10.0
    assert parse_scenario(f'temperature = "50 °F"\n{TWO}', "a").temperature == 10.0
    assert parse_scenario(f'temperature = "-20 degC"\n{TWO}', "a").temperature == -20.0


def test_document_reads_back_as_an_equal_scenario():
    text = f"temperature = '300 K'\n{TWO}[[wire]]\n{OBLONG}edge_radius = '0.07 mm'\n"
    text += f"{TABLE}young = '60 GPa'\ntemperature_slope = '7 MPa/K'\nshear_ratio = 1.9\n"
    scenario = parse_scenario(text, "a.toml")
    again = scenario_from(scenario.document(), "b.toml")
    assert again == scenario
    assert again.wire[0].material == Material(
        young="60 GPa",  # pyright: ignore[reportArgumentType] - as a file writes it
        temperature_slope="7 MPa/K",  # pyright: ignore[reportArgumentType] - as a file writes it
        shear_ratio=1.9,
    )
    assert scenario.document()["wire"][0]["material"]["temperature_slope"] == "7.0 MPa/K"
    assert scenario.document()["temperature"] == "26.85 degC"


@pytest.mark.parametrize("name", USUAL)
def test_text_of_a_table_reads_back_as_the_alloy(name):
    alloy = library_alloy(name)
    text = material_text(alloy, digits=17)
    assert wire(f"{STEEL}{TABLE}{text}").alloy_constants == alloy
    assert text.splitlines()[0] == f'behaviour = "{alloy.behaviour}"'


def test_text_of_a_table_is_rounded_and_has_units():
    alloy = replace(NAMED_SETS["a"], forward_start=519.96, young=61_237.0)
    assert material_text(alloy).splitlines() == [
        'behaviour = "superelastic"',
        'young = "61240.0 MPa"',
        "poisson = 0.3",
        "shear_ratio = 1.732",
        'forward_start = "520.0 MPa"',
        'forward_finish = "600.0 MPa"',
        'reverse_start = "300.0 MPa"',
        'reverse_finish = "200.0 MPa"',
        "transformation_strain = 0.075",
        'temperature_slope = "6.5 MPa/K"',
        'reference_temperature = "37.0 degC"',
    ]


# --- what is refused -------------------------------------------------------------------------

RISING = "reverse_finish <= reverse_start <= forward_start <= forward_finish"
REFUSALS = {
    f"{STEEL}{TABLE}forward_start = '400 MPa'": 'wire[1].material.forward_start = "400 MPa" does '
    'not belong to behaviour "plastic"; accepted: only with behaviour = "superelastic"',
    f"{NITI}{TABLE}yield_stress = '400 MPa'": 'wire[1].material.yield_stress = "400 MPa" does '
    'not belong to behaviour "superelastic"; accepted: only with behaviour = "plastic"',
    f"{STEEL}{TABLE}behaviour = 'elastic'\nhardening = '0 MPa'": "wire[1].material.hardening = "
    '"0 MPa" does not belong to behaviour "elastic"; accepted: only with behaviour = "plastic"',
    f"{NITI}{TABLE}transformation_strain = 0.05\nbehaviour = 'elastic'": "wire[1].material."
    'transformation_strain = 0.05 does not belong to behaviour "elastic"; '
    'accepted: only with behaviour = "superelastic"',
    f"{NITI}{TABLE}behaviour = 'plastic'\nyield_stress = '1 GPa'": "wire[1].material.hardening "
    'is missing, which behaviour "plastic" of nickel-titanium needs; accepted: a value, or '
    "another alloy: steel or beta-titanium",
    f"{STEEL}{TABLE}behaviour = 'superelastic'": "wire[1].material.forward_start is missing, "
    'which behaviour "superelastic" of steel needs; accepted: a value, or another alloy: '
    "nickel-titanium",
    f"{TABLE}forward_start = '500 MPa'": 'wire[1].material.forward_start = "500 MPa" puts the '
    "stresses of transformation out of order: 150, 200, 500, 450 MPa; "
    f"accepted: {RISING}",
    f"{TABLE}forward_start = '190 MPa'": 'wire[1].material.forward_start = "190 MPa" puts the '
    "stresses of transformation out of order: 150, 200, 190, 450 MPa; "
    f"accepted: {RISING}",
    f"{TABLE}reverse_finish = '250 MPa'\nreverse_start = '240 MPa'": "wire[1].material."
    'reverse_finish = "250 MPa" puts the stresses of transformation out of order: '
    f"250, 240, 400, 450 MPa; accepted: {RISING}",
    f"{TABLE}temperature_slope = '6.5 MPa'": 'wire[1].material.temperature_slope = "6.5 MPa" has '
    'the unit "MPa", which is not that of a stress per kelvin; accepted: a stress per kelvin in '
    'MPa/K or MPa/degC, at least 0 MPa/K, at most 20 MPa/K, such as "6.5 MPa/K"',
    f"{TABLE}reference_temperature = '37'": 'wire[1].material.reference_temperature = "37" has no '
    "unit; accepted: a temperature in degC or K, at least -20 degC, at most 70 degC, "
    'such as "37 degC"',
    f"{TABLE}shear_ratio = 0.5": "wire[1].material.shear_ratio = 0.5 is too small; "
    "accepted: a number without a unit, at least 1.0, at most 3.0",
    f"{TABLE}transformation_strain = 5": "wire[1].material.transformation_strain = 5 is too "
    "large; accepted: a number without a unit, at least 0.001, at most 0.12",
    f"{TABLE}behaviour = 'springy'": 'wire[1].material.behaviour = "springy" is not one of the '
    'options; accepted: "elastic", "plastic" or "superelastic"',
    f"{TABLE}yung = '50 GPa'": 'wire[1].material.yung = "50 GPa" is not a known key here; '
    "accepted: young",
    "young = '50 GPa'": 'wire[1].young = "50 GPa" belongs to the table material of the wire; '
    "accepted: young under [wire.material]",
    f"{STEEL}hardening = '50 GPa'": 'wire[1].hardening = "50 GPa" belongs to the table material '
    "of the wire; accepted: hardening under [wire.material]",
    "poisson = 0.3\nyoung = '50 GPa'": "wire[1].poisson = 0.3 belongs to the table material of "
    "the wire; accepted: poisson under [wire.material]",
    "size = '0.016 in'\nedge_radius = '0.05 mm'": 'wire[1].edge_radius = "0.05 mm" does not '
    'belong to a round wire; accepted: only with a rectangular size such as "0.017 x 0.025 in"',
    f"{OBLONG}edge_radius = '0.21 mm'": 'wire[1].edge_radius = "0.21 mm" is more than half of the '
    "shorter side; accepted: at most 0.2032 mm",
    f"{OBLONG}strands = 3": "wire[1].strands = 3 does not go with a rectangular size; "
    'accepted: 1, or a round size such as "0.0175 in"',
    "strands = 2": "wire[1].strands = 2 is not a number of strands in a round bundle; "
    "accepted: 1, 3 or 7",
    "strands = 3.0": "wire[1].strands = 3.0 is not a number of strands in a round bundle; "
    "accepted: 1, 3 or 7",
}


@pytest.mark.parametrize("text", REFUSALS, ids=lambda text: re.sub(r"\W+", " ", text))
def test_bad_wire_is_refused_in_one_line(text):
    assert refusal(text) == f"a.toml: {REFUSALS[text]}"


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("71 degC", "is too large"),
        ("-21 degC", "is too small"),
        ("37 C", 'has the unit "C", which is not that of a temperature'),
        ("37 mdegC", 'has the unknown unit "mdegC"'),
        ("37", "has no unit"),
    ],
)
def test_bad_temperature_is_refused(text, problem):
    accepted = "a temperature in degC or K, at least -20 degC, at most 70 degC"
    expected = f'a.toml: temperature = "{text}" {problem}; accepted: {accepted}, such as "37 degC"'
    assert refusal("", head=f"temperature = '{text}'\n") == expected


# --- schema for editors ----------------------------------------------------------------------


def test_schema_for_editors_has_the_keys_of_the_table():
    tables = scenario_schema()["$defs"]
    assert set(tables["Material"]["properties"]) == set(Material.model_fields)
    assert tables["Wire"]["properties"]["strands"]["enum"] == [1, 3, 7]
    assert (
        "at least 0 mm, at most 0.5 mm"
        in (tables["Wire"]["properties"]["edge_radius"]["description"])
    )
    # material's own wording names the behaviour that each key belongs to
    owners = {"yield_stress": "Plastic", "forward_start": "Superelastic", "young": "Young"}
    for key, word in owners.items():
        assert tables["Material"]["properties"][key]["description"].startswith(word)


def test_table_can_be_written_in_one_line():
    inline = tomllib.loads('material = { young = "60 GPa" }')
    document = tomllib.loads(TWO) | {"wire": [inline]}
    assert scenario_from(document, "a").wires[0].alloy_constants.young == 60_000.0
