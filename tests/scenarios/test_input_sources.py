"""Every input is listed once, with where it comes from."""

from gomphosis.bone.library import lookup
from gomphosis.scenarios.files import find_scenario, parse_scenario
from gomphosis.scenarios.input_sources import input_rows

PLAIN = 'schema = 1\n[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 21\nlabial = "0.5 mm"\n'


def by_key(scenario):
    rows = input_rows(scenario)
    found = {row.key: row for row in rows}
    assert len(found) == len(rows)
    return found


def test_file_library_and_default_are_told_apart():
    rows = by_key(parse_scenario(PLAIN, "test"))
    assert (rows["tooth[2].labial"].value, rows["tooth[2].labial"].origin) == ("0.5 mm", "file")
    assert (rows["tooth[1].labial"].value, rows["tooth[1].labial"].origin) == ("0 mm", "default")
    young = rows["ligament.young"]
    assert young.origin == "library" and young.value == "0.05 MPa"
    assert "Poppe" in young.source and young.status == "verified"


def test_the_default_wire_is_listed_though_no_file_names_it():
    rows = by_key(parse_scenario(PLAIN, "test"))
    assert rows["wire[1].alloy"].value == "nickel-titanium"
    assert rows["wire[1].size"].value == "0.3556 mm"


def test_numbers_behind_every_run_have_source_and_status():
    rows = by_key(find_scenario("light-and-heavy"))
    spread = rows["spread.sigma"]
    assert spread.value == f"{lookup('spread.sigma').number:g}" and spread.origin == "library"
    assert spread.status == lookup("spread.sigma").status and spread.source


def test_texts_of_the_user_are_not_inputs():
    rows = by_key(find_scenario("three-incisors"))
    assert not {"title", "note", "invented", "schema"} & set(rows)
    assert rows["wire[2].tied_in"].value == "42 day"
    assert rows["wire[2].tied_in"].origin == "file"
