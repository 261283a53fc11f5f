"""Elastics beyond what the checks show: slack, hooks, lines taken over, refusals. Verification."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.fem.newton import NotConvergedError
from gomphosis.scenarios.arch import ArchForm, StraightLine
from gomphosis.scenarios.checks.elastics import MOVED, attachments, chain, derivative_error, net
from gomphosis.scenarios.elastics import Attachments, ElasticError, ElasticLaw, ElasticLoads
from gomphosis.scenarios.slots import Bracket
from gomphosis.scenarios.wire_shape import WireShape

REST = np.zeros((2, 6))
SLOT = np.array([4.0, 0.0, 5.0])
STRAIGHT, ARCH = WireShape(StraightLine()), WireShape(ArchForm(25.0, 30.0, 0.3))


def pair(law, *, apart=8.0, shape=STRAIGHT, before=None, second=None):
    brackets = (
        Bracket(0.0, SLOT, np.zeros(6)),
        Bracket(apart, SLOT, np.zeros(6) if second is None else second),
    )
    return ElasticLoads(law, Attachments((0, 1), brackets, 2), shape=shape, before=before, number=3)


def on(law, **options):
    loads = pair(law, **options)
    loads.engage(REST)
    return loads


def moved(along, tooth=1):
    poses = REST.copy()
    poses[tooth, 1] = along
    return poses


# --- the law -----------------------------------------------------------------------------------


def test_force_is_lost_exponentially_and_from_the_day_it_was_put_on():
    law = ElasticLaw(2.0, 0.0, put_on=5.0, lost_share=0.6, time_constant=0.5)
    ages = np.array([0.0, 0.1, 0.5, 1.0, 50.0])
    found = [law.tension(np.zeros(1), 5.0 + age)[0] for age in ages]
    np.testing.assert_allclose(found, 2.0 * (0.4 + 0.6 * np.exp(-ages / 0.5)), rtol=1e-14)


def test_slope_is_the_derivative_and_vanishes_once_slack():
    law = ElasticLaw(1.0, 0.5, lost_share=0.5, time_constant=1.0)
    extension, step = np.array([-3.0, -2.5, -1.9, 0.0, 4.0]), 1e-6
    found = law.slope(extension, 2.0)
    ends = law.tension(extension + step, 2.0) - law.tension(extension - step, 2.0)
    np.testing.assert_allclose(found, ends / (2 * step), rtol=1e-8, atol=1e-9)
    np.testing.assert_array_equal(found > 0, [False, False, True, True, True])
    np.testing.assert_array_equal(law.tension(extension, 2.0) > 0, found > 0)


@pytest.mark.parametrize(
    "changes",
    [
        {"force": 0.0},
        {"stiffness": -0.1},
        {"lost_share": 1.1},
        {"lost_share": -0.1},
        {"time_constant": 0.0},
    ],
)
def test_laws_outside_their_bounds_are_refused(changes):
    with pytest.raises(ValueError, match="an elastic needs force > 0 N"):
        replace(ElasticLaw(1.0, 0.1), **changes)


# --- two teeth -----------------------------------------------------------------------------------


def test_two_teeth_are_pulled_towards_each_other():
    """Along a straight line by F0 + k dl; equal, opposite, with the lever of the slot."""
    loads = on(ElasticLaw(1.5, 0.25))
    wrenches = loads.evaluate(moved(2.0)).wrenches
    pull = np.array([0.0, 2.0, 0.0])
    np.testing.assert_allclose(wrenches[0], [*pull, *np.cross(SLOT, pull)], rtol=1e-14, atol=1e-14)
    np.testing.assert_allclose(wrenches[1], -wrenches[0], rtol=1e-14, atol=1e-14)


def test_line_of_pull_follows_both_teeth():
    """3 mm sideways over 8 mm: the pull leans by that, and the spring is longer by hypot."""
    loads = on(ElasticLaw(1.0, 0.5))
    poses = REST.copy()
    poses[0, 0], poses[1, 0] = -1.0, 2.0
    pull = 1.0 + 0.5 * (np.hypot(3.0, 8.0) - 8.0)
    expected = pull * np.array([3.0, 8.0, 0.0]) / np.hypot(3.0, 8.0)
    np.testing.assert_allclose(loads.evaluate(poses).wrenches[0, :3], expected, rtol=1e-14)


def test_slack_elastic_neither_pulls_nor_pushes():
    loads = on(ElasticLaw(1.0, 0.5))
    np.testing.assert_allclose(loads.evaluate(moved(-1.9)).wrenches[0, 1], 0.05, rtol=1e-12)
    slack = loads.evaluate(moved(-2.1))
    np.testing.assert_array_equal(slack.wrenches, 0.0)
    np.testing.assert_array_equal(slack.derivative, 0.0)


def test_without_stiffness_it_pulls_alike_at_any_length():
    loads = on(ElasticLaw(1.0, 0.0))
    for along in (-5.0, 0.0, 5.0):
        np.testing.assert_allclose(loads.evaluate(moved(along)).wrenches[0, 1], 1.0, rtol=1e-14)


def test_pull_as_put_on_is_where_the_teeth_stand_then():
    loads = pair(ElasticLaw(1.0, 0.5))
    loads.engage(moved(2.0))
    np.testing.assert_allclose(loads.evaluate(moved(2.0)).wrenches[0, 1], 1.0, rtol=1e-14)
    np.testing.assert_allclose(loads.evaluate(REST).wrenches[0, :3], 0.0, rtol=0, atol=1e-14)
    np.testing.assert_allclose(loads.extensions(moved(3.0)), [1.0], rtol=1e-14)


def test_day_ages_the_pull_and_its_derivative_alike():
    loads = on(ElasticLaw(1.0, 0.5, lost_share=0.5, time_constant=1.0))
    fresh = loads.evaluate(moved(1.0))
    loads.at_day(2.0)
    old = loads.evaluate(moved(1.0))
    left = 0.5 + 0.5 * np.exp(-2.0)
    np.testing.assert_allclose(old.wrenches, left * fresh.wrenches, rtol=1e-14)
    np.testing.assert_allclose(old.derivative, left * fresh.derivative, rtol=1e-14)
    np.testing.assert_allclose(loads.tensions(moved(1.0), 2.0), [1.5 * left], rtol=1e-14)


# --- a chain in an arch --------------------------------------------------------------------------


def test_links_keep_their_own_pull():
    length = [np.linalg.norm(np.diff(attachments(p), axis=0), axis=1) for p in (0 * MOVED, MOVED)]
    found = chain().tensions(MOVED, 0.0)
    np.testing.assert_allclose(found, 1.5 + 0.4 * (length[1] - length[0]), rtol=1e-13)
    assert abs(found[0] - found[1]) > 0.1
    np.testing.assert_allclose(chain().lengths(MOVED), length[1], rtol=1e-14)


def test_derivative_comes_from_an_energy():
    exact = chain().evaluate(MOVED).derivative
    np.testing.assert_allclose(exact, exact.T, rtol=0, atol=1e-12 * np.abs(exact).max())
    for poses in (0 * MOVED, -MOVED):
        assert derivative_error(poses) < 1e-6


def test_only_its_own_teeth_are_loaded():
    brackets = (Bracket(0.0, SLOT, np.zeros(6)), Bracket(8.0, SLOT, np.zeros(6)))
    loads = ElasticLoads(ElasticLaw(1.0, 0.5), Attachments((3, 1), brackets, 4), shape=STRAIGHT)
    loads.engage(np.zeros((4, 6)))
    found = loads.evaluate(np.zeros((4, 6)))
    assert loads.count == 4
    np.testing.assert_allclose(found.wrenches[[3, 1], 1], [1.0, -1.0], rtol=1e-14)
    np.testing.assert_array_equal(found.wrenches[[0, 2]], 0.0)
    blocks = found.derivative.reshape(4, 6, 4, 6)
    np.testing.assert_array_equal(blocks[[0, 2]], 0.0)
    np.testing.assert_array_equal(blocks[:, :, [0, 2]], 0.0)
    np.testing.assert_allclose(blocks[3, 1, [3, 1], 1], [-0.5, 0.5], rtol=1e-14)


def test_balance_would_show_a_pull_that_has_no_answer():
    assert net(MOVED) < 1e-12
    force = chain().evaluate(MOVED).wrenches[0, :3]
    assert np.linalg.norm(force) > 1.0


# --- from one line to the next -------------------------------------------------------------------


def test_stretch_goes_on_over_a_change_of_line():
    law = ElasticLaw(1.0, 0.5)
    straight = on(law, apart=20.0)
    arch = pair(law, apart=20.0, shape=ARCH, before=straight)
    poses = moved(1.5)
    # on the arch the chord is shorter than along the straight line
    assert arch.lengths(poses)[0] < straight.lengths(poses)[0] - 0.1
    arch.engage(poses)
    np.testing.assert_allclose(arch.extensions(poses), straight.extensions(poses), rtol=1e-13)
    np.testing.assert_allclose(arch.tensions(poses, 0.0), [1.75], rtol=1e-13)


def test_a_line_before_that_never_was_in_place_leaves_nothing():
    law = ElasticLaw(1.0, 0.5)
    later = pair(law, shape=ARCH, before=pair(law))
    later.engage(moved(1.0))
    np.testing.assert_allclose(later.tensions(moved(1.0), 0.0), [1.0], rtol=1e-14)


# --- refusals ------------------------------------------------------------------------------------


def test_attachments_that_meet_are_refused():
    near = np.array([0.0, -7.6, 0.0, 0.0, 0.0, 0.0])
    with pytest.raises(ElasticError, match=r"elastic 3 is put on attachments closer than 0\.5 mm"):
        on(ElasticLaw(1.0, 0.0), second=near)
    loads = on(ElasticLaw(1.0, 0.0))
    assert np.isfinite(loads.evaluate(moved(-7.4)).wrenches).all()
    with pytest.raises(NotConvergedError):
        loads.evaluate(moved(-7.6))


def test_it_must_be_put_on_first():
    loads = pair(ElasticLaw(1.0, 0.0))
    assert not loads.in_place
    for ask in (loads.evaluate, loads.extensions):
        with pytest.raises(RuntimeError, match="put on"):
            ask(REST)


@pytest.mark.parametrize(("teeth", "count"), [((0,), 1), ((0, 0), 2), ((0, 1), 1)])
def test_attachments_need_two_teeth_and_a_bracket_each(teeth, count):
    brackets = (Bracket(0.0, SLOT, np.zeros(6)),) * count
    with pytest.raises(ValueError, match="two or more teeth, each once"):
        Attachments(teeth, brackets, 3)
