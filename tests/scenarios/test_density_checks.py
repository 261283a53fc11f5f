"""The checks of bone density pass, and are what they say."""

import pytest

from gomphosis.scenarios.checks import all_checks
from gomphosis.scenarios.checks.check import SHOWN
from gomphosis.scenarios.checks.density import checks, worst_residual

DECIDED = [check for check in checks() if check.expected != SHOWN]


def test_they_are_registered():
    names = {check.name for check in all_checks()}
    assert names >= {check.name for check in checks()}
    assert len(DECIDED) == 11


@pytest.mark.parametrize("check", DECIDED, ids=lambda check: check.name)
def test_each_passes(check):
    report = check.run()
    assert report.passed, (report.ours, report.theirs, report.error)


def test_plate_shows_the_published_patterns():
    shown = {check.name: check.run() for check in checks() if check.expected == SHOWN}
    assert all(report.passed is None for report in shown.values())
    assert shown["plate-checkerboard-elements"].ours > 0.1
    assert shown["plate-checkerboard-nodes"].ours == 0.0
    assert shown["plate-struts-nodes"].ours > 0.98 > shown["plate-struts-elements"].ours


def test_residuals_are_round_off():
    # sums of 90 000 cells of some 1e-2 mm^2
    assert 0.0 < worst_residual(6) < 1e-11
