"""Every external check, one test each; and that a check can fail."""

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from gomphosis.bone.library import lookup
from gomphosis.scenarios.checks import AGREES, DISAGREES, KINDS, SHOWN, Check, Outcome, all_checks
from gomphosis.scenarios.checks.layer import annulus_stiffness
from gomphosis.scenarios.checks.rates import fitted, movement_ratio, translation_ratio
from gomphosis.scenarios.checks.two_brackets import (
    LABIAL,
    OCCLUSAL,
    PLANES,
    displaced,
    two_brackets,
)

CHECKS = all_checks()
PARAMETERS = [
    pytest.param(check, id=check.name, marks=[pytest.mark.slow] if check.slow else [])
    for check in CHECKS
]
LEAST = {
    ("calibration", AGREES): 20,
    ("calibration", DISAGREES): 5,
    ("calibration", SHOWN): 12,
    ("validation", AGREES): 3,
    ("validation", DISAGREES): 13,
    ("validation", SHOWN): 36,
    ("verification", AGREES): 333,
    ("verification", SHOWN): 29,
}


@pytest.mark.parametrize(("plane", "force"), [("second order", OCCLUSAL), ("first order", LABIAL)])
def test_angles_of_two_brackets_lie_in_the_plane_that_is_named(plane, force):
    """A round wire answers alike in both, so that the checks themselves cannot tell them apart."""
    turned = displaced(PLANES[plane], 0.01)
    at_a, at_b = two_brackets(7.0, turned, turned)
    across = OCCLUSAL + LABIAL - force
    assert abs(at_a[force]) > 0.1
    assert abs(at_a[across]) < 1e-6
    np.testing.assert_allclose(at_a[force], -at_b[force], rtol=1e-6)
    # alike angles: both moments as one, and the forces' couple against them
    np.testing.assert_allclose(at_a[PLANES[plane]], at_b[PLANES[plane]], rtol=1e-6)
    couple = abs(at_a[force]) * 7.0
    np.testing.assert_allclose(abs(2 * at_a[PLANES[plane]]), couple, rtol=1e-3)


@pytest.mark.parametrize("check", PARAMETERS)
def test_check(check):
    report = check.run()
    assert math.isfinite(report.ours)
    assert math.isfinite(report.theirs)
    assert report.passed is (True if check.expected == AGREES else None), (
        f"{check.quantity}: {report.ours:.6g} against {report.theirs:.6g} {check.unit}, "
        f"error {report.error:.3g}, tolerance {check.tolerance:.3g} ({check.measure})"
    )


def test_all_three_kinds_exist_and_none_got_lost():
    counts = Counter((check.kind, check.expected) for check in CHECKS)
    assert {kind for kind, _ in counts} == set(KINDS)
    # raise the numbers when checks are added: none may vanish unseen
    assert [key for key, least in LEAST.items() if counts[key] < least] == []
    assert len({check.name for check in CHECKS}) == len(CHECKS)


def test_sources_and_words_are_complete():
    for check in CHECKS:
        assert check.source.strip() and check.quantity.strip() and check.unit.strip(), check.name
        if check.expected == DISAGREES:
            assert check.note, check.name


def test_a_known_disagreement_still_is_one():
    """A known disagreement that came to agree should be looked at again."""
    for check in CHECKS:
        if check.expected == DISAGREES and not check.name.startswith("speed-linear"):
            assert abs(check.run().error) > 0.05, check.name


def test_force_ratio_in_translation_is_between_one_and_a_fifth_and_one_and_a_half():
    assert 1.2 < translation_ratio() < 1.5


def test_saturation_and_not_the_rule_splits_tipping_from_translation():
    """Far below half speed the law is linear, and the ratio returns to the linear one."""
    half = fitted().half_force
    assert movement_ratio(1.0) < 0.5
    np.testing.assert_allclose(movement_ratio(1e-3 * half), 0.975, rtol=0, atol=0.01)


def test_no_linear_law_passes_as_a_fit():
    misses = [abs(c.run().error) for c in CHECKS if c.name.startswith("speed-linear")]
    assert len(misses) == 5
    assert max(misses) > 0.5


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.49])
def test_bonded_annulus_against_its_differential_equations(poisson):
    """Verification of the closed form: harmonic 1 of plane strain, integrated numerically.

    Unknowns U, V and the traction amplitudes r s_rr, r s_rt; balance in polar coordinates.
    """
    inner, outer, mu = 3.0, 3.6, 1.0
    lam = 2 * mu * poisson / (1 - 2 * poisson)

    def slopes(r, y):
        u, v, radial, shear = y
        hoop = (u + v) / r
        u_r = (radial / r - lam * hoop) / (lam + 2 * mu)
        s_tt = lam * u_r + (lam + 2 * mu) * hoop
        v_r = shear / r / mu + (v + u) / r
        return np.stack([u_r, v_r, s_tt - shear / r, s_tt - shear / r])

    def ends(a, b):
        return np.array([a[0] - 1, a[1] + 1, b[0], b[1]])

    start = np.zeros((4, 41))
    found = solve_bvp(slopes, ends, np.linspace(inner, outer, 41), start, tol=1e-10)
    assert found.success
    # force along x on the inside: pi times (r s_rt - r s_rr) of the amplitudes
    force = np.pi * (found.y[3, 0] - found.y[2, 0])
    young = 2 * mu * (1 + poisson)
    closed = annulus_stiffness(inner=inner, outer=outer, young=young, poisson=poisson)
    np.testing.assert_allclose(force, closed, rtol=1e-7)


# A check that cannot fail is none


def plain(**changes):
    fields = {
        "name": "plain",
        "quantity": "two",
        "unit": "1",
        "kind": "verification",
        "source": "arithmetic",
        "status": "closed form",
        "tolerance": 0.01,
        "compute": lambda: Outcome(2.0, 2.0),
    }
    return Check(**(fields | changes))


@pytest.mark.parametrize(
    ("ours", "theirs", "measure", "passed"),
    [
        (2.01, 2.0, "relative", True),
        (2.03, 2.0, "relative", False),
        (-2.01, -2.0, "relative", True),
        (2.009, 2.0, "absolute", True),
        (2.02, 2.0, "absolute", False),
        (1.98, 2.0, "band half-width", False),
        (math.nan, 2.0, "relative", False),
        (math.nan, 2.0, "absolute", False),
        (2.0, 0.0, "relative", False),
    ],
)
def test_verdict(ours, theirs, measure, passed):
    report = plain(measure=measure, compute=lambda: Outcome(ours, theirs)).run()
    assert report.passed is passed
    assert report.seconds >= 0


@pytest.mark.parametrize("expected", [DISAGREES, SHOWN])
def test_disagreements_and_shown_numbers_neither_pass_nor_fail(expected):
    check = plain(expected=expected, tolerance=math.inf)
    assert check.run().passed is None
    assert check.run().error == 0.0


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"kind": "proof"}, "'proof' is not one of"),
        ({"status": "heard"}, "'heard' is not one of"),
        ({"measure": "by eye"}, "'by eye' is not one of"),
        ({"expected": "hope"}, "'hope' is not one of"),
        ({"tolerance": math.inf}, "tolerance inf does not fit 'agrees'"),
        ({"tolerance": 0.0}, "tolerance 0.0 does not fit"),
        ({"expected": DISAGREES}, "tolerance 0.01 does not fit 'known disagreement'"),
        ({"status": "from memory, unverified"}, "never decides"),
    ],
)
def test_checks_that_contradict_themselves_are_refused(changes, message):
    with pytest.raises(ValueError, match=message):
        plain(**changes)


def test_numbers_from_memory_may_be_shown():
    check = plain(status="from memory, unverified", expected=SHOWN, tolerance=math.inf)
    assert check.run().passed is None
    assert replace(check, name="again").name == "again"


def test_published_numbers_come_from_the_library():
    """A check that quotes the library carries its entry's status and source along."""
    for name, key in (
        ("step-bend-moment-printed", "two_bracket.step_bend_1988.moment"),
        ("centre-in-vivo", "centre_of_resistance.yoshida"),
        ("tipped-premolar", "speed.dudic_2013.movement"),
        ("root-area-11-jepsen", "root_area.jepsen.U1"),
    ):
        check = next(check for check in CHECKS if check.name == name)
        cited = lookup(key)
        assert (check.source, check.status) == (cited.source, cited.status)
        assert check.run().theirs == cited.number
