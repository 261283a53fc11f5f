"""Verification of the figure of M/F and centre of rotation, against the table of the run."""

import numpy as np
import pytest

from gomphosis.scenarios.movement_table import movement_table
from gomphosis.viz.turned_teeth import beyond_words
from gomphosis.viz.turning_figure import turning_figure, unbroken

PLANES = ("labial", "mesial")


def column(table, number, name):
    return table[table["tooth"] == number][name].to_numpy()


def drawn(axes, plane):
    (line,) = [ln for ln in axes.get_lines() if ln.get_label() == f"_{plane}"]
    return line.get_data()


@pytest.mark.parametrize("shape", ["wires", "chained", "lower_slice"])
def test_curves_are_the_table(shape, request):
    result = request.getfixturevalue(shape)
    figure = turning_figure(result)
    table, count = movement_table(result), len(result.teeth)
    for k, tooth in enumerate(result.teeth):
        for plane in PLANES:
            for row, name in enumerate(("moment_to_force_mm", "centre_of_rotation_mm")):
                weeks, values = drawn(figure.axes[2 * row * (count > 4) + row * count + k], plane)
                kept = np.isfinite(weeks)
                expected = column(table, tooth.number, f"{plane}_{name}")
                assert values[kept] == pytest.approx(expected, abs=1e-12, nan_ok=True)
                assert weeks[kept] == pytest.approx(column(table, tooth.number, "week"))


def test_blank_where_the_force_is_too_small(wires):
    figure = turning_figure(wires)
    _, values = drawn(figure.axes[1], "labial")
    force = column(movement_table(wires), 11, "labial_bracket_N")
    assert np.isnan(values[np.abs(force) < 0.02]).all()
    assert np.isfinite(values[np.abs(force) >= 0.02]).all()


def test_axis_runs_down_the_tooth_and_its_places_are_named(wires):
    figure = turning_figure(wires)
    for axes, tooth in zip(figure.axes[3:6], wires.teeth, strict=True):
        low, high = axes.get_ylim()
        assert low > tooth.embedded > 0.0 > high
        words = [t.get_text() for t in axes.texts]
        for name, depth in (
            ("crest", 0.0),
            ("resistance", -tooth.centre_of_resistance),
            ("apex", tooth.embedded),
        ):
            assert f"{name} {depth:.1f}" in words
        levels = [ln.get_ydata()[0] for ln in axes.get_lines() if list(ln.get_xdata()) == [0, 1]]
        assert sorted(levels) == pytest.approx([0.0, -tooth.centre_of_resistance, tooth.embedded])


def test_wild_values_are_told_and_do_not_set_the_scale(wires):
    for axes in turning_figure(wires).axes[:3]:
        low, high = axes.get_ylim()
        assert -20.0 < low < high < 32.0
    assert beyond_words(np.array([np.nan, -56.2, 4.1]), (-20.0, 20.0)) == "−56 to +4 mm"
    assert beyond_words(np.array([np.nan, -16.2, 4.1]), (-20.0, 20.0)) == ""


def test_curve_through_infinity_has_a_gap():
    weeks, values = np.arange(5.0), np.array([1.0, 90.0, -70.0, np.nan, 3.0])
    across, up = unbroken(weeks, values, (-10.0, 20.0))
    assert across == pytest.approx([0, 1, np.nan, 2, 3, 4], nan_ok=True)
    assert up == pytest.approx([1, 90, np.nan, -70, np.nan, 3], nan_ok=True)
    # a curve that comes back through the scale has none
    assert len(unbroken(weeks, np.array([1.0, 90.0, 5.0, -70.0, 3.0]), (-10.0, 20.0))[0]) == 5


def test_cases_stand_in_rows_and_a_translation_is_called_far(forces):
    ratios, centres = turning_figure(forces).axes[:2]
    marks = [ln.get_xydata()[0] for ln in ratios.get_lines() if ln.get_label() == "_labial"]
    table = movement_table(forces)
    ends = [table[table["case"] == case.name].iloc[-1] for case in forces.cases]
    expected = [row["labial_moment_to_force_mm"] for row in ends]
    assert [mark[0] for mark in marks] == pytest.approx(expected, abs=1e-12)
    assert [mark[1] for mark in marks] == list(range(6))
    turned = [ln.get_xydata()[0] for ln in centres.get_lines() if ln.get_label() == "_labial"]
    expected = [row["labial_centre_of_rotation_mm"] for row in ends]
    assert np.isnan(expected[3:]).all()
    assert [mark[0] for mark in turned] == pytest.approx(expected[:3], abs=1e-12)
    words = [t.get_text() for t in centres.texts]
    assert words.count("labial far: translation") == 3
