"""Verification of the curve beside a film: places, scale, and the mark that runs along it."""

import numpy as np
import pytest

from gomphosis.viz import palette
from gomphosis.viz.film_curve import Curve, round_top

DAYS = np.array([0.0, 7.0, 14.0])
CURVE = Curve(DAYS, np.array([2.0, 1.0, 0.0]), 2.0, "force, N", palette.SERIES[5], 300, 150)


@pytest.mark.parametrize(
    ("largest", "top"), [(0.3, 0.5), (0.5, 0.5), (1.01, 2.0), (7.0, 10.0), (0.012, 0.02)]
)
def test_scales_end_in_a_round_number(largest, top):
    assert round_top(largest) == pytest.approx(top, rel=1e-12)


def test_ends_of_the_curve_lie_in_the_corners_of_the_field():
    places = CURVE.pixels(DAYS, CURVE.values)
    assert np.diff(places[:, 0]) == pytest.approx([127.0, 127.0])
    assert np.diff(places[:, 1]) == pytest.approx([52.0, 52.0])


def marked(day):
    """Return the middle of the strongly coloured pixels right of the past line, px."""
    pixels = np.asarray(CURVE.picture(day)).astype(int)
    strong = np.abs(pixels - palette.rgb(palette.SERIES[5])).max(axis=-1) < 12
    strong[:24] = False  # the title
    rows, columns = np.nonzero(strong)
    last = columns > columns.max() - 9
    return np.array([columns[last].mean(), rows[last].mean()])


@pytest.mark.parametrize("day", [3.5, 7.0, 10.5])
def test_mark_stands_at_the_value_of_the_day(day):
    expected = CURVE.pixels(np.array([day]), np.array([2.0 - day / 7.0]))[0]
    assert marked(day) == pytest.approx(expected, abs=1.5)
