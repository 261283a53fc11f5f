"""Verification: cautions say their four points, and limits fit the run."""

import pytest

from gomphosis.scenarios.caution import NOTICE, SHORT, model_limits
from gomphosis.scenarios.files import parse_scenario

TWO = "schema = 1\n[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 21\n"
ONE = 'schema = 1\n[[tooth]]\nnumber = 16\n[[force]]\ntooth = 16\nmesial = "50 cN"\n'
POINTS = ("medical device", "canine translation", "root resorption", "licensed practitioner")


def limits(text):
    return " ".join(model_limits(parse_scenario(text, "test")))


@pytest.mark.parametrize("text", [NOTICE, SHORT])
def test_every_point_is_made(text):
    assert [point for point in POINTS if point not in text] == []
    assert "\n" not in text


def test_spin_is_said_of_round_wires_only():
    spin = "round wire's spin about itself starts as the wire is tied in"
    assert spin in limits(TWO + '[[wire]]\nsize = "0.016 in"\n')
    oblong = '[[wire]]\nsize = "0.016 x 0.022 in"\n'
    assert spin not in limits(TWO + oblong)
    assert spin in limits(TWO + oblong + '[[wire]]\nsize = "0.018 in"\n')


SLOT_POINTS = (
    "straight, rigid walls",
    "nothing between the two ends of a slot",
    "Friction is Coulomb's, the same at rest and in motion",
    "does not act while a wire is being tied in",
)


def test_wire_limits_are_left_out_where_forces_are_prescribed():
    without = limits(ONE)
    assert not any(point in without for point in ("Wires", "wire is", "Chewing", *SLOT_POINTS))
    assert "constant" in without
    with_wire = limits(TWO)
    assert [point for point in SLOT_POINTS if point not in with_wire] == []
    assert "constant:" not in with_wire


def test_what_keeps_a_wire_without_friction_is_said_where_one_is():
    kept = "without friction is kept from sliding along the arch by the middle slot"
    assert kept not in limits(TWO)
    assert kept not in limits(TWO + "[[wire]]\nfriction = 0.1\n")
    assert kept in limits(TWO + "[[wire]]\nfriction = 0.1\n[[wire]]\nfriction = 0.0\n")


def test_friction_that_chewing_releases_is_said_of_all_wires():
    assert "Chewing releases no friction." in limits(TWO)
    half = TWO + "[[wire]]\nreleased = 0.5\n"
    said = limits(half)
    assert "Chewing releases 50 % of the friction at rest between two steps: an assumption" in said
    assert "releases no friction" not in said
    assert "releases 0 %, 50 % of" in limits(half + "[[wire]]\n")


LAWS = {
    "elastic": "no plateau, no hysteresis",
    "plastic": "harden linearly and isotropically",
    "superelastic": "one phase fraction",
}


@pytest.mark.parametrize("behaviour", LAWS)
def test_laws_of_the_wires_in_use_are_said(behaviour):
    alloy = "nickel-titanium" if behaviour == "superelastic" else "steel"
    text = f"{TWO}[[wire]]\nalloy = '{alloy}'\nmaterial = {{ behaviour = '{behaviour}' }}\n"
    said = limits(text)
    assert {name for name, words in LAWS.items() if words in said} == {behaviour}
    assert ("R-phase" in said) == ("no fatigue" in said) == (behaviour == "superelastic")
    assert [point for point in SLOT_POINTS if point not in said] == []
    both = limits(f"{text}[[wire]]\nmaterial = {{ behaviour = 'elastic' }}\n")
    assert {name for name, words in LAWS.items() if words in both} == {behaviour, "elastic"}


def test_temperature_is_said_where_it_matters():
    warm = "temperature = '35 degC'\n" + TWO
    assert "one temperature, 35 degC" in limits(warm)
    assert "35 degC" not in limits(f"{warm}[[wire]]\nalloy = 'steel'\n")


def test_equivalent_of_several_strands_is_said():
    assert "strands" not in limits(TWO)
    assert "strands" in limits(TWO + "[[wire]]\nsize = '0.0175 in'\nstrands = 3\n")


def test_roots_and_neighbours():
    assert "several roots" in limits(ONE)
    assert "do not touch" not in limits(ONE)
    assert "several roots" not in limits(TWO)
    assert "do not touch" in limits(TWO)


def test_longer_than_the_study_is_said():
    assert "Times beyond" not in limits('duration = "12 weeks"\n' + ONE)
    assert "Times beyond" in limits('duration = "13 weeks"\n' + ONE)


SLICED = ONE.replace("16", "11") + "[slice]\nteeth = [11]\n"
GIVEN = '{ crest = "1 mm", middle = "1 mm", apex = "1 mm" }'


def test_limits_of_slices_are_said_where_there_are_slices():
    points = (
        "do not depend on where the slice goes",
        "walls beside the plane",
        "drifts as a rigid body",
        "modulus of 0.05 MPa",
        "0.1 of full cortical density",
    )
    assert not any(point in limits(ONE) for point in points)
    assert [point for point in points if point not in limits(SLICED)] == []


def test_source_of_the_plates_is_said_where_a_default_is_taken():
    assert "cone-beam study" in limits(SLICED)
    assert "cone-beam study" in limits(SLICED + f"front = {GIVEN}\n")
    assert "cone-beam study" not in limits(SLICED + f"front = {GIVEN}\nback = {GIVEN}\n")
    mesial = limits(SLICED + 'plane = "mesiodistal"\n')
    assert "cone-beam study" not in mesial
    assert "palatal side of upper incisors" in mesial


def test_other_law_of_the_slice_is_said():
    assert "stiffens with strain" not in limits(SLICED)
    assert "stiffens with strain" in limits(SLICED + 'law = "bilinear"\n')
