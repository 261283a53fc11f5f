"""Figures of one wire: what is drawn is what was computed, and every curve has its words."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gomphosis.bone.library import lookup
from gomphosis.scenarios.alloys import library_alloy
from gomphosis.scenarios.bend_trial import SectionTrial, Specimen, ThreePointTrial
from gomphosis.scenarios.bending_numbers import permanent_deflection, unloading_forces
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.fit_wire import BendTest, WireFit
from gomphosis.scenarios.measured_curve import MeasuredCurve
from gomphosis.scenarios.wire import WireSection
from gomphosis.viz import bend_figure, theme
from gomphosis.viz.one_wire import wire_document
from gomphosis.viz.wording import force_text

ROUND = WireSection(0.4064, 0.4064, round=True)
SCENARIO = scenario_from(wire_document({}), "command line")


def specimen(alloy: str) -> Specimen:
    return Specimen(f"0.016 in {alloy}", ROUND, library_alloy(alloy), 37.0)


@pytest.fixture(scope="module")
def superelastic() -> ThreePointTrial:
    return ThreePointTrial(specimen("nickel-titanium"), span=10.0, deflection=1.6)


@pytest.fixture(scope="module")
def steel() -> ThreePointTrial:
    return ThreePointTrial(specimen("steel"), span=10.0, deflection=1.6)


def texts(axes) -> list[str]:
    return [text.get_text() for text in axes.texts]


def test_both_contacts_are_drawn_and_the_band_is_named(superelastic):
    figure = bend_figure.three_point_figure(SCENARIO, superelastic)
    (axes,) = figure.axes
    for line, curve in zip(axes.lines, superelastic.curves.values(), strict=False):
        assert line.get_ydata().max() == curve.force.max()
        assert line.get_xdata()[-1] == 0.0
    words = texts(axes)
    low, high = lookup("three_point.published.unloading_band").numbers
    assert any(f"{low:g}–{high:g} N" in word and "not stated" in word for word in words)
    for word in ("loading", "unloading", *bend_figure.NAMES.values()):
        assert words.count(word) == 1
    dots = unloading_forces(superelastic.curves["surface"])
    assert list(dots) == [1.0, 0.5]
    assert {force_text(force) for force in dots.values()} <= set(words)
    places = {(line.get_xdata()[0], line.get_ydata()[0]) for line in axes.lines[2:]}
    assert places == set(dots.items())


def test_named_sets_are_drawn_beside_where_asked_for(superelastic):
    beside = replace(superelastic, beside=True)
    (axes,) = bend_figure.three_point_figure(SCENARIO, beside).axes
    # the wire is of set B itself
    assert list(beside.sets) == ["a"]
    assert texts(axes).count("set A") == 1
    drawn = [line.get_ydata().max() for line in axes.lines]
    assert beside.sets["a"].force.max() in drawn
    assert beside.sets["a"].force.max() > beside.curves["surface"].force.max()
    assert superelastic.sets == {}
    assert ThreePointTrial(specimen("steel"), 10.0, 1.6, beside=True).sets == {}


def test_set_of_steel_is_marked_and_no_band_is_drawn(steel):
    (axes,) = bend_figure.three_point_figure(SCENARIO, steel).axes
    left = permanent_deflection(steel.curves["surface"])
    assert left > 0.1
    assert axes.lines[-1].get_xdata()[0] == left
    words = texts(axes)
    assert f"stays at {left:.3g} mm" in words
    assert not any("published" in word for word in words)
    assert not axes.patches


def test_labels_do_not_meet_and_stay_on_the_page(superelastic):
    figure = bend_figure.three_point_figure(SCENARIO, superelastic)
    (axes,) = figure.axes
    renderer = figure.canvas.get_renderer()
    page = figure.bbox
    boxes = [t.get_window_extent(renderer) for t in axes.texts if t.get_text()]
    for k, box in enumerate(boxes):
        assert page.x0 <= box.x0 and box.x1 <= page.x1
        assert not any(box.overlaps(other) for other in boxes[:k])


@pytest.mark.parametrize(("torsion", "unit"), [(True, "rad/mm"), (False, "1/mm")])
def test_section_figures_show_the_path_and_what_is_left(torsion, unit):
    trial = SectionTrial(specimen("steel"), 0.3, torsion)
    (axes,) = bend_figure.section_figure(SCENARIO, trial).axes
    assert axes.lines[0].get_ydata().max() == trial.moment.max()
    assert f"stays at {trial.left:.3g} {unit}" in texts(axes)
    assert axes.get_xlabel().endswith(unit)


def test_fit_figure_shows_points_and_model():
    deflection = np.concatenate([np.linspace(0.0, 3.0, 10), np.linspace(2.8, 0.0, 9)])
    curve = MeasuredCurve(deflection, np.sqrt(deflection), "invented.csv")
    test = BendTest(curve, ROUND, None, 37.0)
    fit = WireFit(
        alloy=library_alloy("nickel-titanium"),
        curve=test.curve,
        force=np.sqrt(deflection) + 0.01,
        residual=0.01,
        errors={},
        undetermined=(),
        remarks=(),
        iterations=1,
    )
    figure = bend_figure.fit_figure(SCENARIO, fit, specimen("nickel-titanium"))
    (axes,) = figure.axes
    points, line = axes.lines
    assert points.get_linestyle() == "None"
    np.testing.assert_array_equal(points.get_ydata(), curve.force)
    np.testing.assert_array_equal(line.get_ydata(), fit.force)
    assert {"measured", "fitted"} <= set(texts(axes))
    page = " ".join(" ".join(text.get_text() for text in figure.texts).split())
    assert "Calibration, not validation." in page


@pytest.mark.parametrize(
    ("name", "start"), [("a.png", b"\x89PNG"), ("a.svg", b"<?xml"), ("a.PDF", b"%PDF")]
)
def test_every_kind_of_file_carries_the_caution_and_is_the_same_twice(name, start, tmp_path: Path):
    trial = SectionTrial(specimen("steel"), 0.1)
    contents = []
    for folder in ("one", "two"):
        path = tmp_path / folder / name
        path.parent.mkdir()
        theme.save_figure(bend_figure.section_figure(SCENARIO, trial), path)
        contents.append(path.read_bytes())
    assert contents[0].startswith(start)
    assert contents[0] == contents[1]
    if not name.endswith(".PDF"):
        assert NOTICE[:40].encode() in contents[0]
    else:
        assert NOTICE[:40].encode("utf-16-be") in contents[0] or NOTICE[:40].encode() in contents[0]
