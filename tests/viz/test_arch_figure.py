"""Verification of the figure of the arch: arrows and arcs are the force system, sense and size.

The senses on the screen are written down here by hand for every quadrant, after the definitions of
the trade words; the sizes are read from the figure's own key.
"""

import re

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.bone.directions import from_trade, to_trade
from gomphosis.scenarios.history import histories
from gomphosis.viz import theme
from gomphosis.viz.arch_figure import arch_figure, shown_moments
from gomphosis.viz.load_marks import RADIUS, Scale

# the patient's right (quadrants 1 and 4) is on the left, so mesial is to the right there
RIGHT = {1: 1, 2: -1, 3: -1, 4: 1}
# upper crowns point down; seen from the biting side, the upper lip is up and the lower one down
CROWN_UP = {1: -1, 2: -1, 3: 1, 4: 1}
LABIAL_UP = {1: 1, 2: 1, 3: -1, 4: -1}
# anticlockwise: an upper crown, which is below, goes to the right; a lower one to the left
TIP = {1: 1, 2: -1, 3: 1, 4: -1}
TORQUE = {1: 1, 2: 1, 3: -1, 4: -1}
# the mesial side turns inward: down on the right in quadrant 1
ROTATION = {1: -1, 2: 1, 3: -1, 4: 1}


def expected(kind, history, record):
    """Force to the right and up, and moment anticlockwise, from the words of the table."""
    number = history.number
    quadrant = number // 10
    # the tooth stands tilted: components along its own axes are turned to the upright ones
    turn = Rotation.from_rotvec(from_trade(number, history.position[record])[3:])
    local = from_trade(number, history.at_bracket[record])
    upright = np.concatenate([turn.apply(local[:3]), turn.apply(local[3:])])
    extrusion, labial, mesial, tip, torque, rotation = to_trade(number, upright)
    if kind == "front":
        force = (RIGHT[quadrant] * mesial, CROWN_UP[quadrant] * extrusion)
        return np.array(force), TIP[quadrant] * tip
    if kind == "side":
        return np.array([labial, CROWN_UP[quadrant] * extrusion]), TORQUE[quadrant] * torque
    force = (RIGHT[quadrant] * mesial, LABIAL_UP[quadrant] * labial)
    return np.array(force), ROTATION[quadrant] * rotation


@pytest.mark.slow
def test_views_of_a_whole_arch_fill_the_page(whole_arch):
    """Fourteen columns of numbers make the page wide; teeth must not stay small beside them."""
    figure = arch_figure(whole_arch)
    wide, _ = figure.get_size_inches()
    front, above = (axes.get_position().width * wide for axes in figure.axes[:2])
    assert front + above > 0.75 * (wide - 2 * theme.MARGIN)
    assert front > 0.5 * wide - theme.MARGIN


def arrows(axes):
    """Drawn arrows by name, mm."""
    return {
        t.get_label().removeprefix("_force "): np.subtract(t.xy, t.xyann)
        for t in axes.texts
        if str(t.get_label()).startswith("_force ")
    }


def arcs(axes):
    """Drawn arcs by name: angle swept, anticlockwise, rad."""
    found = {}
    for line in axes.get_lines():
        if line.get_label().startswith("_moment "):
            path = line.get_xydata()
            spokes = path - (path[0] - (0.0, RADIUS))
            assert np.linalg.norm(spokes, axis=1) == pytest.approx(RADIUS, abs=1e-9)
            angle = np.unwrap(np.arctan2(spokes[:, 1], spokes[:, 0]))
            found[line.get_label().removeprefix("_moment ")] = angle[-1] - angle[0]
    return found


def key(figure):
    """N to a mm and N·mm to a rad, from the words beside the key's own arrow and arc."""
    axes = figure.axes[-1]
    words = " ".join(t.get_text() for t in axes.texts)
    newton = float(re.search(r"force ([\d.]+) N", words).group(1))
    moment = float(re.search(r"moment ([\d.]+) N·mm", words).group(1))
    assert arcs(axes)["key"] == pytest.approx(np.pi / 2, abs=1e-9)
    return newton / np.linalg.norm(arrows(axes)["key"]), moment / (np.pi / 2)


def check(axes, kind, found, record, scale):
    newton, moment = scale
    drawn, swept = arrows(axes), arcs(axes)
    for history in found:
        force, turning = expected(kind, history, record)
        name = f"{kind} {history.number}"
        if name in drawn:
            atol = 0.01 * np.linalg.norm(force)
            assert newton * drawn[name] == pytest.approx(force, rel=0, abs=atol), name
        if name in swept:
            assert moment * swept[name] == pytest.approx(turning, rel=0.01), name
    return len(drawn), len(swept)


@pytest.mark.parametrize("shape", ["wires", "arch", "chained"])
def test_arrows_and_arcs_are_the_force_system(shape, request):
    result = request.getfixturevalue(shape)
    figure = arch_figure(result)
    found = histories(result, result.cases[0])
    moments, _ = shown_moments(result)
    assert len(figure.axes) == 2 * len(moments) + 1
    scale = key(figure)
    for row, moment in enumerate(moments):
        for column, kind in enumerate(("front", "above")):
            check(figure.axes[2 * row + column], kind, found, moment.record, scale)
    # as the first wire is tied in, something pulls and turns in both views of the upper teeth
    if shape == "wires":
        assert len(arrows(figure.axes[0])) == len(arcs(figure.axes[0])) == 3
        assert {name.split()[1] for name in arrows(figure.axes[0])} == {"11", "12", "21"}


def test_cases_are_seen_from_the_side_with_their_torque(forces):
    figure = arch_figure(forces)
    scale = key(figure)
    assert len(figure.axes) == len(forces.cases) + 1
    counts = [
        check(axes, "side", histories(forces, case), 0, scale)
        for axes, case in zip(figure.axes, forces.cases, strict=False)
    ]
    # the pull alone, then with the couple that makes a translation of it
    assert counts == [(1, 0)] * 3 + [(1, 1)] * 3


def test_lower_tooth_pulled_mesially(lower_slice):
    figure = arch_figure(lower_slice)
    check(figure.axes[0], "front", histories(lower_slice, lower_slice.cases[0]), 0, key(figure))
    # tooth 31 stands to the right of the midline, so mesial is to the left
    across, up = arrows(figure.axes[0])["front 31"]
    assert across < -1.0
    assert abs(up) < 0.02 * abs(across)


def test_millimetres_are_the_same_in_all_views_and_the_key(wires):
    figure = arch_figure(wires)
    width, height = figure.get_size_inches()
    scales = []
    for axes in figure.axes:
        box = axes.get_position()
        scales += [width * box.width / np.ptp(axes.get_xlim())]
        scales += [height * box.height / np.ptp(axes.get_ylim())]
    assert scales == pytest.approx([scales[0]] * len(scales), rel=1e-9)


def test_marks_stay_inside_their_views(wires, arch, forces):
    for result in (wires, arch, forces):
        for axes in arch_figure(result).axes[:-1]:
            low, high = np.array([axes.get_xlim(), axes.get_ylim()]).T
            for text in axes.texts:
                if text.get_label().startswith("_force"):
                    assert np.all((np.array(text.xy) >= low) & (np.array(text.xy) <= high))


def test_numbers_beside_the_teeth_are_those_of_the_table(wires):
    figure = arch_figure(wires)
    written = [t.get_text() for t in figure.texts]
    moments, _ = shown_moments(wires)
    found = histories(wires, wires.cases[0])
    for moment in moments:
        for history in found:
            values = [float(v) for v in history.at_bracket[moment.record]]
            texts = [f"{v:+.2f} ({v / 9.80665e-3:+.0f})" for v in values[:3]]
            texts += [f"{v:+.1f}" for v in values[3:]]
            for text in texts:
                parts = [p if float(p.strip("()")) else p.strip("+-") for p in text.split(" (")]
                plain = [re.sub(r"^[+-](?=0(\.0*)?\)?$)", "", p) for p in parts]
                assert " (".join(plain).replace("-", "−") in written, text


def test_rows_are_the_first_and_the_last_wire_and_the_end(wires, chained):
    moments, left = shown_moments(wires)
    assert [m.name.partition(":")[0] for m in moments] == ["week 0", "week 2", "week 4"]
    assert left == ""
    days = wires.cases[0].median.days
    assert [days[m.record] for m in moments] == pytest.approx([0.0, 14.0, 28.0])
    assert wires.cases[0].median.period[moments[1].record] == 1
    moments, left = shown_moments(chained)
    assert left == "Left out: wire 2."
    days = chained.cases[0].median.days
    assert [days[m.record] for m in moments] == pytest.approx([0.0, 14.0, 21.0])
    assert "Left out: wire 2." in " ".join(t.get_text() for t in arch_figure(chained).texts)


@pytest.mark.parametrize("largest", [0.012, 0.33, 1.0, 2.4, 19.0])
def test_scale_keeps_the_largest_on_the_picture(largest):
    scale = Scale(largest, largest)
    assert np.linalg.norm(scale.arrow(np.array([0.0, largest]))) == pytest.approx(6.5)
    assert 0.4 * largest <= scale.force_step <= largest
    # three quarters of a turn and a little more at most
    assert 0.7 * np.pi / 2 < scale.sweep(largest) <= 3.6 * np.pi / 2
    assert scale.sweep(-largest) == -scale.sweep(largest)
