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


def test_torque_is_an_overestimate_only_with_a_rectangular_wire():
    assert "Torque" not in limits(TWO + '[[wire]]\nsize = "0.016 in"\n')
    assert "overestimate" in limits(TWO + '[[wire]]\nsize = "0.016 x 0.022 in"\n')


def test_wire_limits_are_left_out_where_forces_are_prescribed():
    assert "Wires" not in limits(ONE)
    assert "constant" in limits(ONE)


def test_roots_and_neighbours():
    assert "several roots" in limits(ONE)
    assert "do not touch" not in limits(ONE)
    assert "several roots" not in limits(TWO)
    assert "do not touch" in limits(TWO)


def test_longer_than_the_study_is_said():
    assert "Times beyond" not in limits('duration = "12 weeks"\n' + ONE)
    assert "Times beyond" in limits('duration = "13 weeks"\n' + ONE)
