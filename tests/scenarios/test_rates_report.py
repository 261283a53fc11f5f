"""The report of the calibration: the published data, and errors recomputed from its own columns.

Calibration data: the five points are what the law is fitted to, not evidence for it.
"""

import json

import numpy as np
import pytest
from scipy.optimize import curve_fit

from gomphosis.bone.library import lookup
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.calibration import Calibration, calibrate
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.rates_report import rates_report
from gomphosis.scenarios.schema import Ligament

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
# Nickel et al., AJODO 2014;145(4 Suppl):S74-S81: stresses; forces are those times 45 mm^2
NOMINAL = [4.0, 13.0, 26.0, 52.0, 78.0]


@pytest.fixture(scope="module")
def found() -> Calibration:
    return calibrate(Ligament(), resolution=COARSE)


@pytest.fixture(scope="module")
def report(found: Calibration) -> dict:
    return rates_report(found)


def column(report: dict, name: str) -> np.ndarray:
    return np.array([point[name] for point in report["points"]])


def test_points_are_the_published_ones(report: dict):
    np.testing.assert_allclose(column(report, "nominal_stress_kPa"), NOMINAL, rtol=1e-12)
    # kPa times mm^2 is mN
    np.testing.assert_allclose(column(report, "force_N"), np.array(NOMINAL) * 0.045, rtol=1e-3)
    speed = lookup("speed.nickel_2014.speed").numbers
    np.testing.assert_allclose(column(report, "published_um_per_day"), speed, rtol=1e-12)


def test_it_is_called_a_calibration_with_its_source(report: dict):
    data = lookup("speed.nickel_2014.speed")
    assert report["kind"] == "calibration"
    assert (report["source"], report["status"]) == (data.source, data.status)
    assert "inferred" in report["forces"]
    assert report["notice"] == NOTICE
    assert json.loads(json.dumps(report, allow_nan=False)) == report


def test_errors_follow_from_the_columns(report: dict):
    published = column(report, "published_um_per_day")
    for speeds, errors in (
        ("fitted_um_per_day", "residual_percent"),
        ("left_out_um_per_day", "left_out_error_percent"),
    ):
        expected = 100 * (column(report, speeds) / published - 1)
        np.testing.assert_allclose(column(report, errors), expected, rtol=1e-9, atol=1e-9)
    worst = np.abs(column(report, "residual_percent")).max()
    np.testing.assert_allclose(report["worst_residual_percent"], worst, rtol=1e-12)
    assert 0 < worst < np.abs(column(report, "left_out_error_percent")).max()


def test_fit_against_a_direct_one_in_terms_of_force(report: dict):
    """Translation loads the wall nearly evenly, so v = v_max F/(F + F_half) fits nearly alike.

    A least-squares fit of log speeds by scipy's ``curve_fit``. Bar 5 %: the stimulus varies
    along a root whose ligament varies in thickness.
    """

    def logs(force, v_max, half):
        return np.log(v_max * force / (force + half))

    force, published = column(report, "force_N"), column(report, "published_um_per_day")
    (v_max, half), _ = curve_fit(logs, force, np.log(published), p0=(60.0, 0.2))
    np.testing.assert_allclose(report["law"]["max_speed_um_per_day"], v_max, rtol=0.05)
    np.testing.assert_allclose(report["law"]["half_force_N"], half, rtol=0.05)
    np.testing.assert_allclose(
        column(report, "fitted_um_per_day"), v_max * force / (force + half), rtol=0.02
    )


def test_local_stress_is_in_proportion_to_force_and_not_the_nominal_one(report: dict):
    force, local = column(report, "force_N"), column(report, "local_stress_kPa")
    law = report["law"]
    np.testing.assert_allclose(
        local, law["half_stress_kPa"] / law["half_force_N"] * force, rtol=1e-9
    )
    assert np.all(local < 0.5 * column(report, "nominal_stress_kPa"))


def test_logarithmic_and_linear_alternatives(report: dict):
    """Normal equations of v = a + b ln F, and of v = c F, by hand."""
    force, published = column(report, "force_N"), column(report, "published_um_per_day")
    x = np.log(force)
    slope = np.sum((x - x.mean()) * published) / np.sum((x - x.mean()) ** 2)
    offset = published.mean() - slope * x.mean()
    np.testing.assert_allclose(report["logarithmic"]["slope_um_per_day"], slope, rtol=1e-9)
    np.testing.assert_allclose(report["logarithmic"]["offset_um_per_day"], offset, rtol=1e-9)
    np.testing.assert_allclose(
        column(report, "logarithmic_um_per_day"), offset + slope * x, rtol=1e-9
    )
    linear = column(report, "linear_um_per_day")
    np.testing.assert_allclose(linear, (force @ published) / (force @ force) * force, rtol=1e-9)
    # the linear law fails: more than a factor of two off at the lightest force
    assert linear[0] < 0.5 * published[0]
