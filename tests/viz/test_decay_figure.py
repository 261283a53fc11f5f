"""Verification of the figure of fading forces, against the tables of the run."""

import numpy as np
import pytest

from gomphosis.scenarios.elastic_report import elastic_table
from gomphosis.scenarios.force_fading import Fading, fadings
from gomphosis.scenarios.movement_table import movement_table
from gomphosis.viz.decay_figure import decay_figure

WORDS = ("extrusion_bracket_N", "labial_bracket_N", "mesial_bracket_N")


def totals(table, number):
    """Weeks and size of the force on a bracket, from the table."""
    rows = table[table["tooth"] == number]
    return rows["week"].to_numpy(), np.linalg.norm(rows[list(WORDS)].to_numpy(), axis=1)


def curve(axes, name):
    """A curve's weeks and values, all its stages joined."""
    lines = [ln for ln in axes.get_lines() if ln.get_label() == f"_{name}"]
    return [np.concatenate([ln.get_data()[k] for ln in lines]) for k in (0, 1)]


@pytest.mark.parametrize("shape", ["wires", "chained"])
def test_curves_are_the_table(shape, request):
    result = request.getfixturevalue(shape)
    figure = decay_figure(result)
    table, count = movement_table(result), len(result.teeth)
    for k, tooth in enumerate(result.teeth):
        weeks, force = totals(table, tooth.number)
        drawn = curve(figure.axes[k], "force")
        assert drawn[0] == pytest.approx(weeks, abs=1e-12)
        assert drawn[1] == pytest.approx(force, abs=1e-12)
        shares = curve(figure.axes[count + k], "share")
        starts = np.flatnonzero(np.concatenate([[True], np.diff(weeks) == 0]))
        since = np.searchsorted(starts, np.arange(len(weeks)), side="right") - 1
        first = force[starts][since]
        expected = np.where(first >= 0.02, 100 * force / first, np.nan)
        assert shares[1] == pytest.approx(expected, abs=1e-9, nan_ok=True)


def test_half_is_marked_where_the_curve_has_it(wires):
    figure = decay_figure(wires)
    marked = 0
    for axes, tooth in zip(figure.axes[3:6], fadings(wires, wires.cases[0]), strict=True):
        dots = [ln.get_xydata()[0] for ln in axes.get_lines() if ln.get_label() == "_half"]
        reached = [fading for fading in tooth if fading.half_after is not None]
        assert len(dots) == len(reached)
        for (week, percent), fading in zip(dots, reached, strict=True):
            assert percent == 50.0
            force = np.interp(7 * week, fading.days, fading.force)
            assert force == pytest.approx(0.5 * fading.force[0], rel=1e-9)
            marked += 1
            words = " ".join(t.get_text() for t in axes.texts)
            assert f"{fading.half_after:.1f} days" in words
    assert marked >= 3


def test_half_value_of_an_exponential_is_its_closed_form():
    """Closed form: exp(-t/tau) is a half at tau ln 2; records every hundredth of tau."""
    days = np.linspace(0.0, 12.0, 401)
    fading = Fading(11, 0, 5.0 + days, 2.0 * np.exp(-days / 3.0))
    assert fading.half_after == pytest.approx(3.0 * np.log(2.0), rel=1e-4)


def test_force_that_does_not_halve_or_was_never_there_has_no_half_value(chained):
    days = np.array([0.0, 1.0, 2.0])
    assert Fading(11, 0, days, np.array([1.0, 0.8, 0.51])).half_after is None
    weak = Fading(11, 0, days, np.array([0.01, 0.004, 0.001]))
    assert weak.half_after is None
    assert np.isnan(weak.share).all()
    assert Fading(11, 0, days, np.array([1.0, 0.4, 0.9])).half_after == pytest.approx(1.0 / 1.2)
    words = [t.get_text() for axes in decay_figure(chained).axes for t in axes.texts]
    assert any("half after" in word and "—" in word for word in words)


def test_pulls_of_elastics_are_their_table(chained):
    axes = decay_figure(chained).axes[6:8]
    table = elastic_table(chained)
    links = [rows for _, rows in table.groupby(["elastic", "between"], sort=False)]
    assert len(links) == 3
    lines = [ln for ln in axes[0].get_lines() if len(ln.get_xdata()) > 2]
    assert len(lines) == 3
    for line, rows in zip(lines, links, strict=True):
        assert line.get_xdata() == pytest.approx(rows["week"].to_numpy(), abs=1e-12)
        assert line.get_ydata() == pytest.approx(rows["force_N"].to_numpy(), abs=1e-12)
    # each share with, beside it, what age alone leaves
    lines = [ln.get_ydata() for ln in axes[1].get_lines() if len(ln.get_xdata()) > 2]
    for k, rows in enumerate(links):
        force = rows["force_N"].to_numpy()
        assert lines[2 * k] == pytest.approx(100 * force / force[0], abs=1e-9)
        assert lines[2 * k + 1] == pytest.approx(100 * rows["share_left"].to_numpy(), abs=1e-9)


def test_prescribed_forces_are_drawn_constant_and_said_not_to_fade(forces):
    figure = decay_figure(forces)
    words = " ".join(t.get_text() for t in (*figure.texts, *figure.axes[0].texts))
    assert "do not fade" in words
    lines = [ln.get_ydata() for ln in figure.axes[0].get_lines()]
    assert [line[0] for line in lines] == pytest.approx([0.25, 0.5, 1.0])
    assert all(np.ptp(line) < 1e-9 for line in lines)
    # both cases of a size stand beside its one line
    assert "0.50 N (51 gf): tipping 50 $cN$; " in words
