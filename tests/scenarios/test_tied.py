"""Verification of the ties at points by which checks of clamped beams hold a wire."""

import numpy as np
import pytest

from gomphosis.fem.newton import NotConvergedError
from gomphosis.scenarios.arch import ArchForm, StraightLine
from gomphosis.scenarios.checks.tied import tied_wrenches
from gomphosis.scenarios.slots import Bracket
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireShape

ROUND = WireSection(0.4, 0.4, round=True)
OBLONG = WireSection(0.4, 0.6, round=False)
YOUNG, POISSON = 5e4, 0.3
SPAN = 7.0
REST = np.zeros(6)


def moved(**components):
    names = ("labial", "along", "up", "about_labial", "about_along", "about_up")
    return np.array([components.get(name, 0.0) for name in names])


def wrenches(starts, section=OBLONG, *, slot=(0.0, 0.0, 0.0), **options):
    brackets = [Bracket(SPAN * k, np.array(slot), start) for k, start in enumerate(starts)]
    law = section.elastic_section(YOUNG, POISSON)
    return tied_wrenches(
        brackets, law, WireShape(StraightLine()), twist_held=not section.round, **options
    )


@pytest.mark.parametrize(
    ("name", "index", "inertia"),
    [("up", 2, OBLONG.second_order_inertia), ("labial", 0, OBLONG.first_order_inertia)],
)
def test_middle_bracket_out_of_line_between_two_spans(name, index, inertia):
    """24 E I d / L^3 on a bracket that moves without turning between two others."""
    # small against the span, so that the nonlinear rod answers as linear theory does
    found = wrenches([REST, moved(**{name: 0.01}), REST])
    exact = 24 * YOUNG * inertia * 0.01 / SPAN**3
    np.testing.assert_allclose(found[:, index], [exact / 2, -exact, exact / 2], rtol=1e-5)


def test_twisted_bracket_between_two_spans():
    """G J (1/L_1 + 1/L_2) per rad against rigid neighbours."""
    found = wrenches([REST, moved(about_along=0.1), REST])
    torque = 0.1 * YOUNG / (2 * (1 + POISSON)) * OBLONG.torsion_constant / SPAN
    np.testing.assert_allclose(found[:, 4], [torque, -2 * torque, torque], rtol=1e-5)


def test_a_round_wire_turns_in_its_ties():
    twist = [REST, moved(about_along=0.1), REST]
    np.testing.assert_allclose(wrenches(twist, ROUND), 0.0, rtol=0, atol=1e-8)


def test_brackets_out_of_place_along_the_wire_change_the_span():
    """12 E I d / L^3 at 8 mm for brackets that should stand 7 mm apart."""
    usual = wrenches([REST, moved(up=0.01)])[1, 2]
    longer = wrenches([REST, moved(up=0.01, along=1.0)])[1, 2]
    np.testing.assert_allclose(longer / usual, (7 / 8) ** 3, rtol=1e-5)


def test_a_cinched_wire_pulls_and_a_free_one_slides():
    """E A / L times the distance by which the ends moved apart."""
    starts = [moved(along=-0.01), REST, moved(along=0.02)]
    np.testing.assert_allclose(wrenches(starts), 0.0, rtol=0, atol=1e-7)
    pull = YOUNG * OBLONG.area * 0.03 / (2 * SPAN)
    tied = wrenches(starts, cinched=True)
    np.testing.assert_allclose(tied[:, 1], [pull, 0, -pull], rtol=1e-6, atol=1e-7)


def test_wrenches_are_about_the_crest_of_each_tooth():
    """Force at the slot times the slot's place."""
    slot = np.array([4.0, 0.5, 6.0])
    starts = [REST, moved(up=0.3)]
    at_slot, at_crest = wrenches(starts), wrenches(starts, slot=slot)
    np.testing.assert_allclose(at_crest[:, :3], at_slot[:, :3], rtol=1e-12)
    np.testing.assert_allclose(
        at_crest[:, 3:], at_slot[:, 3:] + np.cross(slot, at_slot[:, :3]), rtol=1e-10
    )


def test_order_of_the_ties_does_not_matter():
    starts = [moved(up=0.2), moved(about_labial=0.1), moved(labial=-0.3, about_up=0.05)]
    brackets = [Bracket(p, REST[:3], s) for p, s in zip((0.0, 6.0, 14.0), starts, strict=True)]
    law = OBLONG.elastic_section(YOUNG, POISSON)
    one, two = (
        tied_wrenches(row, law, WireShape(StraightLine()), twist_held=True)
        for row in (brackets, brackets[::-1])
    )
    np.testing.assert_allclose(two[::-1], one, rtol=1e-9, atol=1e-9)


def test_an_arch_along_its_line_is_passive():
    brackets = [Bracket(place, REST[:3], REST) for place in (-20.0, -8.0, 4.0, 15.0)]
    law = OBLONG.elastic_section(YOUNG, POISSON)
    found = tied_wrenches(brackets, law, WireShape(ArchForm(25.0, 30.0, 0.3)), twist_held=True)
    np.testing.assert_allclose(found, 0.0, rtol=0, atol=1e-7)


def test_a_wire_that_cannot_follow_is_refused():
    with pytest.raises(NotConvergedError):
        wrenches([REST, moved(along=np.nan)])
