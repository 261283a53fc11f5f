"""Verification of the table of slices in the scenario file: defaults and refusals."""

import pytest

from gomphosis.bone.library import lookup
from gomphosis.scenarios.files import ScenarioError, parse_scenario
from gomphosis.scenarios.slice_tables import PlateTable

HEAD = "schema = 1\n[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 21\n"


def parse(table: str):
    return parse_scenario(f"{HEAD}[slice]\n{table}\n", "a.toml").slice


def test_a_table_of_teeth_only_has_the_documented_defaults():
    table = parse("teeth = [11]")
    assert table is not None
    assert (table.teeth, table.plane, table.law, table.spacing) == (
        (11,),
        "labiolingual",
        "linear",
        pytest.approx(0.1, rel=1e-12),
    )
    assert table.cortex == lookup("bone_layer.cortex").number
    assert table.trabecular == lookup("bone_layer.trabecular_density").number
    assert (table.front, table.back, table.turnover) == (PlateTable(), PlateTable(), False)
    assert (table.outline, table.mesh) == (None, None)


def test_no_table_opens_no_slice():
    assert parse_scenario(HEAD, "a.toml").slice is None


def test_lengths_are_converted_from_their_units():
    table = parse('teeth = [11, 21]\nspacing = "80 um"\nfront = { crest = "0.02 in" }')
    assert table is not None
    assert table.spacing == pytest.approx(0.08, rel=1e-12)
    assert table.front.crest == pytest.approx(0.508, rel=1e-12)
    assert table.front.middle is None


@pytest.mark.parametrize("spacing", ["0.02 mm", "0.2 mm"])
def test_bounds_of_the_spacing_belong_to_it(spacing):
    table = parse(f'teeth = [11]\nspacing = "{spacing}"')
    assert table is not None
    assert table.spacing == pytest.approx(float(spacing.split()[0]), rel=1e-12)


@pytest.mark.parametrize(
    ("table", "place", "said"),
    [
        ('teeth = [11]\ncolour = "red"', "slice.colour", "is not a known key here"),
        ("teeth = [12]", "slice.teeth[1] = 12", "is not among the teeth of this scenario"),
        ("teeth = [11, 11]", "slice.teeth", "names a tooth twice; accepted: each tooth once"),
        ("teeth = [19]", "slice.teeth[1] = 19", "is no tooth"),
        ("", "slice.teeth", "is missing"),
        ('teeth = [11]\nspacing = "0.21 mm"', "slice.spacing", "is too large"),
        ('teeth = [11]\nspacing = "19 um"', "slice.spacing", "at least 0.02 mm, at most 0.2 mm"),
        ("teeth = [11]\nspacing = 0.1", "slice.spacing", "has no unit"),
        ('teeth = [11]\nplane = "sagittal"', "slice.plane", '"labiolingual" or "mesiodistal"'),
        ('teeth = [11]\nlaw = "cubic"', "slice.law", '"linear" or "bilinear"'),
        ('teeth = [11]\nfront = { crest = "-1 mm" }', "slice.front.crest", "is too small"),
        ('teeth = [11]\nback = { root = "1 mm" }', "slice.back.root", "crest, middle or apex"),
        ("teeth = [11]\ntrabecular = 1.5", "slice.trabecular", "at most 1.0"),
    ],
)
def test_refusals_take_one_line_and_name_the_place(table, place, said):
    with pytest.raises(ScenarioError) as caught:
        parse(table)
    message = str(caught.value)
    assert message.startswith(f"a.toml: {place}")
    assert said in message
    assert "\n" not in message
