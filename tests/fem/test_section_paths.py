"""Paths of a section: closed forms in bending and torsion, free strains, halving, release."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from gomphosis.fem.fibre_laws import ElasticFibre, PlasticFibre, SuperelasticFibre
from gomphosis.fem.fibre_section import REFINED, FibreSection, rectangular_section, round_section
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section_paths import (
    HALVING_CHANGE,
    curvature_after_release,
    end,
    follow,
    halving_change,
    overbend,
)
from gomphosis.fem.section_response import ElasticSection, FibrewiseSection, SectionResponse

STEEL = PlasticFibre(180e3, 180e3 / 2.6, 1800)
SUPERELASTIC = SuperelasticFibre(5e4, 5e4 / 2.6, 400, 450, 200, 150, 0.05)
OBLONG = rectangular_section(0.6, 0.4)
BENDING, TORSION = np.array([0, 1, 0, 0]), np.array([0, 0, 0, 1])
YIELDS = 0.01 / 0.2  # curvature at first yield of OBLONG about its second axis, 1/mm


def stretched(place, law=STEEL):
    """Return a rectangle whose centroid lies off the axis, so that bending needs a stretch."""
    section = OBLONG
    moved = FibreSection(section.second, section.third + place, section.area, section.swirl)
    return FibrewiseSection(moved, law)


def test_bending_of_a_perfectly_plastic_rectangle():
    """Closed form: M / M_s = 3/2 - (k_s / k)^2 / 2; linear up to k_s."""
    ratios = np.array([0.5, 1.0, 1.5, 2.0, 5.0])
    path = np.outer(YIELDS * ratios, BENDING)
    found = follow(FibrewiseSection(OBLONG, STEEL), path, held=BENDING)
    yields = 1800 * 0.6 * 0.4**2 / 6
    closed = np.where(ratios <= 1, ratios, 1.5 - 0.5 / ratios**2)
    np.testing.assert_allclose(found.resultant[:, 1] / yields, closed, rtol=1e-3)
    np.testing.assert_allclose(found.resultant[:, [0, 2, 3]], 0, rtol=0, atol=1e-9)
    np.testing.assert_array_equal(found.strain[:, 1], path[:, 1])


def test_torsion_of_a_perfectly_plastic_circle():
    """Closed form: T / T_s = 4/3 (1 - (k_s / k)^3 / 4)."""
    section = FibrewiseSection(round_section(0.4, fineness=REFINED), STEEL)
    yields = 1800 / 3**0.5 / STEEL.shear / 0.2
    ratios = np.array([1.0, 1.5, 3.0])
    found = follow(section, np.outer(yields * ratios, TORSION), held=TORSION)
    first = 1800 / 3**0.5 * np.pi * 0.2**3 / 2
    closed = 4 / 3 * (1 - ratios**-3.0 / 4)
    np.testing.assert_allclose(found.resultant[:, 3] / first, closed, rtol=1e-3)


def test_free_strains_find_their_balance():
    """A section moved off its axis bends about its own centroid: same moments, some stretch."""
    path = np.outer(YIELDS * np.array([0.5, 2.0, 4.0, 1.0]), BENDING)
    middle = follow(FibrewiseSection(OBLONG, STEEL), path, held=BENDING)
    moved = follow(stretched(0.1), path, held=BENDING)
    np.testing.assert_allclose(moved.resultant[:, 1], middle.resultant[:, 1], rtol=1e-6)
    np.testing.assert_allclose(moved.resultant[:, 0], 0, rtol=0, atol=1e-6)
    np.testing.assert_allclose(moved.strain[:, 0], -0.1 * path[:, 1], rtol=1e-5)
    held = follow(stretched(0.1), path[:1], held=[True, True, True, True])
    assert abs(held.resultant[0, 0]) > 10.0


def test_a_path_goes_on_where_another_ended():
    section = FibrewiseSection(OBLONG, SUPERELASTIC)
    path = np.outer([0.1, 0.2, 0.05], BENDING)
    whole = follow(section, path, held=BENDING)
    first = follow(section, path[:2], held=BENDING)
    rest = follow(section, path[2:], held=BENDING, begin=end(first))
    np.testing.assert_allclose(rest.resultant[-1], whole.resultant[-1], rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(rest.inelastic[-1], whole.inelastic[-1], rtol=1e-12)


@pytest.mark.parametrize("law", [STEEL, SUPERELASTIC], ids=["plastic", "superelastic"])
def test_energy_of_a_bent_and_twisted_section(law):
    """Work of the resultants = stored + inelastic to 1 %; a closed cycle costs energy."""
    corners = np.array([[0, 0.15, 0, 0.1], [0, 0.05, 0, 0.2], [0, 0.1, 0, -0.1], [0, 0, 0, 0]])
    parts = np.linspace(0, 1, 41)[1:, None]
    begins = np.vstack([np.zeros(4), corners[:-1]])
    path = np.concatenate([a + parts * (b - a) for a, b in zip(begins, corners, strict=True)])
    found = follow(FibrewiseSection(OBLONG, law), path, held=[False, True, False, True])
    strain, force = (np.vstack([np.zeros(4), part]) for part in (found.strain, found.resultant))
    work = np.cumsum(np.sum(np.diff(strain, axis=0) * (force[1:] + force[:-1]) / 2, axis=1))
    books = found.stored + found.inelastic
    np.testing.assert_allclose(books, work, rtol=0, atol=0.01 * np.abs(work).max())
    assert work[-1] - found.stored[-1] > 0.1
    if law is SUPERELASTIC:
        np.testing.assert_allclose(found.resultant[-1], 0, rtol=0, atol=1e-9)


def test_increments_are_halved_until_it_changes_little():
    """Steel twisted at held bending: one large step is wrong by more than the limit, the path not.

    Independent: the same path given in 1600 small steps.
    """
    section = FibrewiseSection(OBLONG, STEEL)
    held = [False, True, False, True]
    corners = np.array([[0, 0.2, 0, 0], [0, 0.2, 0, 0.05]])
    coarse = follow(section, corners, held=held)
    bent = end(follow(section, corners[:1], held=held))
    assert halving_change(section, corners[1:], held=held, begin=bent) > 3 * HALVING_CHANGE
    assert halving_change(section, corners, held=held, parts=128) < HALVING_CHANGE
    state, strain = bent.state, corners[0]
    for part in np.linspace(0, 1, 1601)[1:]:
        strain = corners[0] + part * (corners[1] - corners[0])
        response = section.respond(strain[None], state)
        state = response.state
    # twice the bound: the error left over, of first order, is what halving still changes
    largest = np.array([coarse.resultant[0, 1], response.resultant[0, 3]])
    error = (coarse.resultant[1] - response.resultant[0])[[1, 3]] / largest
    np.testing.assert_allclose(error, 0, rtol=0, atol=2 * HALVING_CHANGE)
    once = section.respond(corners[1:], bent.state).resultant[0]
    assert abs(once[1] - response.resultant[0, 1]) > 10 * HALVING_CHANGE * largest[0]


def test_change_of_a_straight_increment_is_zero():
    section = FibrewiseSection(OBLONG, SUPERELASTIC)
    assert halving_change(section, 0.2 * BENDING[None], held=BENDING) < 1e-10
    assert halving_change(section, 0 * BENDING[None], held=BENDING) == 0.0


@pytest.mark.parametrize("size", [1.0, 10.0])
def test_change_is_relative_to_the_largest_resultant(size):
    """By hand: the resultant counts the steps, so 1 in one step and 2 in two; change 1 over 2."""
    law = Odd(lambda strain, state: size * strain * (1 + state[0]))
    assert halving_change(law, BENDING[None], held=[True] * 4) == pytest.approx(0.5, rel=1e-12)


def test_release_of_a_bent_steel_section():
    """Closed form: what is left is k - M / (E I), as release is elastic."""
    section = FibrewiseSection(OBLONG, STEEL)
    for ratio in (0.8, 1.5, 4.0):
        peak = ratio * YIELDS
        left, state = curvature_after_release(section, peak, axis=1)
        moment = follow(section, peak * BENDING[None], held=BENDING).resultant[0, 1]
        closed = peak - moment / (180e3 * 0.6 * 0.4**3 / 12)
        assert left == pytest.approx(closed, rel=1e-9, abs=1e-12)
        rest = section.respond(np.array([[0, left, 0, 0]]), state).resultant[0]
        np.testing.assert_allclose(rest, 0, rtol=0, atol=1e-8)
    assert curvature_after_release(section, 0.0, axis=1)[0] == 0.0


def test_release_of_a_superelastic_section_leaves_nothing():
    section = FibrewiseSection(OBLONG, SUPERELASTIC)
    for axis in (1, 2, 3):
        left, state = curvature_after_release(section, 0.25, axis=axis)
        assert abs(left) < 1e-12
        assert state[0].max() == 0.0
        assert state[2].max() > 0.0


@pytest.mark.parametrize("wanted", [0.02, -0.01])
@pytest.mark.parametrize("axis", [1, 2, 3])
@pytest.mark.parametrize("hardening", [0.0, 4000.0])
def test_overbending_leaves_what_was_wanted(wanted, axis, hardening):
    section = FibrewiseSection(OBLONG, replace(STEEL, hardening=hardening))
    peak, state = overbend(section, wanted, axis=axis)
    assert abs(peak) > 1.5 * abs(wanted)
    left, again = curvature_after_release(section, peak, axis=axis)
    assert left == pytest.approx(wanted, rel=1e-7)
    np.testing.assert_array_equal(state, again)


def test_overbending_needs_a_law_that_keeps_a_set():
    keeps_none = (
        ElasticSection(1e4, 100.0, 100.0, 50.0),
        FibrewiseSection(OBLONG, ElasticFibre(5e4, 2e4)),
        FibrewiseSection(OBLONG, SUPERELASTIC),
    )
    for section in keeps_none:
        with pytest.raises(ValueError, match="keeps no set"):
            overbend(section, 0.01, axis=1)
        assert overbend(section, 0.0, axis=1)[0] == 0.0


@dataclass(frozen=True)
class Odd:
    """A section law of one fibre with any resultants; the state counts the steps."""

    function: object

    def start(self, count):
        return np.zeros((1, count, 1))

    def respond(self, strain, state):
        resultant = self.function(strain, state)
        return SectionResponse(resultant, np.eye(4)[None], state + 1)

    def stored(self, strain, state):
        return np.zeros(len(strain))

    def inelastic(self, state):
        return np.zeros(state.shape[1])


def test_no_balance_of_the_free_strains_raises():
    law = Odd(lambda strain, state: strain + [1.0, 0, 0, 0] + strain**2)
    with pytest.raises(NotConvergedError, match=r"did not settle to \d\.\de-1\d"):
        follow(law, BENDING[None], held=BENDING)


def test_resultants_that_never_settle_raise():
    """The resultant counts the steps, so that halving always changes it."""
    law = Odd(lambda strain, state: strain * (1 + state[0]))
    with pytest.raises(NotConvergedError, match=r"did not settle to 2\.0e-03"):
        follow(law, BENDING[None], held=[True] * 4)


def test_wrong_shapes_raise():
    section = FibrewiseSection(OBLONG, STEEL)
    wrong = ((np.zeros((2, 3)), BENDING), (np.zeros((2, 4)), [True]), (np.zeros((0, 4)), BENDING))
    for path, held in wrong:
        with pytest.raises(ValueError, match="4 strains and 4 held flags"):
            follow(section, path, held=held)
