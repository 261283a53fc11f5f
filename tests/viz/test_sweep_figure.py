"""Figure of a sweep: what is drawn is what was computed, and every curve has its words.

Verification.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gomphosis.scenarios.caution import NOTICE, SHORT
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.wire_sweep import DRAWN_IN, Sweep, SweptWire
from gomphosis.viz import palette, theme
from gomphosis.viz.sweep_figure import MOST_MARKED, sweep_figure

VALUES = np.linspace(0.0, 20.0, 11)
KEY = "tooth[11].prescription.torque"


def made(
    count: int = 1, key: str = KEY, values: np.ndarray = VALUES, *, near: float = 0.0
) -> Sweep:
    """Return a sweep with made-up curves; the last tooth has a rotation moment only."""
    share = np.linspace(0.0, 1.0, len(values))
    systems = np.zeros((len(values), 3, 6))
    systems[:, 1, 0] = 1.3 * np.minimum(2 * share, 1.0)
    systems[:, 1, 1] = -4.0 * share
    systems[:, 1, 2] = near * share
    systems[:, 1, 3:5] = np.stack([0.001 * share, 55.0 * share], axis=1)
    systems[:, 2, 5] = -7.0 * share
    play = np.stack([np.full(len(values), 5.26), np.linspace(1.0, 2.0, len(values))], axis=1)
    wires = tuple(
        SweptWire(f"wire {k}, week {k}", k * systems, 4, 0.002 * k, play)
        for k in range(1, count + 1)
    )
    wire = {"size": "0.014 in"}
    scenario = scenario_from(
        {
            "schema": 1,
            "title": "Costs $5 and $x_1$ (invented)",
            "invented": True,
            "duration": "52 weeks",
            "tooth": [{"number": 12}, {"number": 11}, {"number": 21}],
            "wire": [wire | {"tied_in": f"{k} weeks"} for k in range(count)],
        },
        "made",
    )
    return Sweep(key, "deg", values, scenario, wires, ("a limit",))


def texts(axes) -> list[str]:
    return [text.get_text() for text in axes.texts]


def words(figure) -> str:
    return " ".join(" ".join(text.get_text() for text in figure.texts).split())


def curves(axes) -> list[np.ndarray]:
    """Return what is drawn but the line of zero."""
    return [line.get_xydata() for line in axes.lines if len(line.get_xdata()) > 2]


def test_forces_and_moments_of_the_tooth_are_drawn():
    sweep = made()
    force, moment = sweep_figure(sweep).axes
    system = sweep.wires[0].systems[:, 1]
    for axes, parts in ((force, (0, 1)), (moment, (4,))):
        for drawn, part in zip(curves(axes), parts, strict=True):
            np.testing.assert_array_equal(drawn, np.stack([VALUES, system[:, part]], axis=1))
        assert axes.get_xlim() == (0.0, 20.0)
        low, high = axes.get_ylim()
        assert low < 0.0 < high
    told = "play: about itself 5.3°, tip 1.0°–2.0°"
    assert texts(force) == [told, "labial −4.00", "extrusion +1.30"]
    assert texts(moment) == ["torque +55.00"]
    assert moment.get_xlabel() == f"{KEY}, deg"
    assert force.get_ylabel() == "force, N (gf)"
    assert force.yaxis.get_major_formatter()(-1.0, None) == "−1 (−102)"
    assert moment.get_ylabel() == "moment, N·mm"


def test_every_component_has_a_colour_and_dashes_of_its_own():
    sweep = made(key="tooth[21].labial")
    everything = np.tile(VALUES[:, None, None], (1, 3, 6)) * np.arange(1, 7)
    wire = replace(sweep.wires[0], systems=everything)
    force, moment = sweep_figure(replace(sweep, wires=(wire,))).axes
    lines = [line for axes in (force, moment) for line in axes.lines if len(line.get_xdata()) > 2]
    names = [
        text for axes in (force, moment) for text in axes.texts if text.get_text()[:4] != "play"
    ]
    assert [name.get_text().split()[0] for name in names] == [
        *("extrusion", "labial", "mesial"),
        *("tip", "torque", "rotation"),
    ]
    for axes in (force, moment):
        colours = [line.get_color() for line in axes.lines[1:]]
        patterns = {str(getattr(line, "_dash_pattern")) for line in axes.lines[1:]}  # noqa: B009 - no public way
        assert len(set(colours)) == len(patterns) == 3
        assert set(colours) <= set(palette.SERIES)
    for line, name in zip(lines, names, strict=True):
        assert line.get_color() == name.get_color()


def test_page_says_tooth_way_and_cautions():
    figure = sweep_figure(made())
    page = words(figure)
    assert "Force system on tooth 11 before anything has moved" in page
    assert "tied in new at every value: no history from value to value" in page
    assert "change the forces by up to 0.2 % of the largest" in page
    assert "Costs $5 and $x_1$" in page
    assert "INVENTED DATA" in page
    assert " ".join(SHORT.split()) in page.replace("\u00a0", " ")
    assert "numerical" not in page
    sweep = replace(made(), limits=(DRAWN_IN,))
    assert "Small jumps from value to value are numerical." in words(sweep_figure(sweep))


def test_axis_runs_as_the_sweep_does_and_labels_stand_at_its_end():
    sweep = made(values=np.linspace(0.0, -3.0, 7))
    force, _ = sweep_figure(sweep).axes
    assert force.get_xlim() == (0.0, -3.0)
    assert all(text.xy[0] == -3.0 for text in force.texts[1:])


def test_wires_stand_side_by_side_on_one_scale():
    figure = sweep_figure(made(2))
    forces, moments = figure.axes[:2], figure.axes[2:]
    for row in (forces, moments):
        assert row[0].get_ylim() == row[1].get_ylim()
    titles = [axes.get_title(loc="left") for axes in forces]
    assert titles == ["wire 1, week 1", "wire 2, week 2"]
    assert curves(forces[1])[1][-1, 1] == -8.0
    assert "of the largest. The first" not in words(figure)


def test_one_wires_own_input_shows_that_wire():
    force, moment = sweep_figure(made(2, key="wire[2].material.young")).axes
    assert force.get_title(loc="left") == "wire 2, week 2"
    assert curves(moment)[0][-1, 1] == 110.0


def test_many_wires_are_cut_and_it_is_said():
    figure = sweep_figure(made(5))
    assert len(figure.axes) == 6
    assert "The first 3 of 5 wires." in words(figure)


def test_many_values_have_no_marks():
    for count, mark in ((MOST_MARKED, "o"), (MOST_MARKED + 1, "")):
        force, _ = sweep_figure(made(values=np.linspace(0.0, 1.0, count))).axes
        assert force.lines[1].get_marker() in (mark, mark or "None")


def test_aligned_teeth_draw_no_curve():
    sweep = made()
    wire = replace(sweep.wires[0], systems=np.zeros((11, 3, 6)))
    for axes in sweep_figure(replace(sweep, wires=(wire,))).axes:
        assert curves(axes) == []


@pytest.mark.parametrize("count", [1, 2, 3])
def test_words_do_not_meet_and_stay_on_the_page(count: int):
    figure = sweep_figure(made(count, near=1.25))
    figure.canvas.draw()
    page = figure.bbox
    panels = [axes.get_tightbbox() for axes in figure.axes]
    written = [text.get_window_extent() for text in figure.texts]
    labels = [text.get_window_extent() for axes in figure.axes for text in axes.texts]
    assert (len(panels), len(labels)) == (2 * count, 5 * count)
    for boxes in (panels + written, labels):
        for k, box in enumerate(boxes):
            assert page.x0 <= box.x0 and box.x1 <= page.x1
            assert page.y0 <= box.y0 and box.y1 <= page.y1
            assert not any(box.overlaps(other) for other in boxes[:k])


@pytest.mark.parametrize(
    ("name", "start"), [("a.png", b"\x89PNG"), ("a.svg", b"<?xml"), ("a.pdf", b"%PDF")]
)
def test_files_carry_the_caution_and_are_the_same_twice(name: str, start: bytes, tmp_path: Path):
    contents = []
    for folder in ("one", "two"):
        path = tmp_path / folder / name
        path.parent.mkdir()
        theme.save_figure(sweep_figure(made()), path)
        contents.append(path.read_bytes())
    assert contents[0].startswith(start)
    assert contents[0] == contents[1]
    caution = NOTICE[:40]
    assert any(caution.encode(code) in contents[0] for code in ("utf-8", "utf-16-be"))
