"""Verification of the figures: what they plot, what they say, and that it can be read."""

import re
import struct

import matplotlib
import numpy as np
import pytest
from matplotlib._pylab_helpers import Gcf
from matplotlib.colors import to_hex

from gomphosis.scenarios.caution import NOTICE, SHORT
from gomphosis.scenarios.history import histories
from gomphosis.viz.figures import (
    FIGURES,
    figures_for,
    movement_figure,
    save_figure,
    zones_figure,
)
from gomphosis.viz.force_figure import bracket_systems, force_figure
from gomphosis.viz.movement_figure import case_styles, movement_words, movements
from gomphosis.viz.palette import contrast
from gomphosis.viz.theme import label_ends, page, printable, spread, styled
from gomphosis.viz.zone_panels import shown_weeks, zone_panels

SHAPES = ("wires", "forces", "arch", "lingual_pair", "aligned")
EVERY = [(name, shape) for name in FIGURES for shape in SHAPES]
EVERY += [(name, "chained") for name in ("arch", "decay", "turning")]
EVERY += [(name, "lower_slice") for name in ("arch", "decay", "turning")]
EVERY += [("slice", shape) for shape in ("slices", "lower_slice")]
MANY = [(name, "whole_arch") for name in FIGURES if name != "slice"]
EVERY += [pytest.param(pair, marks=pytest.mark.slow) for pair in MANY]


@pytest.fixture(scope="module", params=EVERY, ids="-".join)
def drawn(request):
    name, shape = request.param
    result = request.getfixturevalue(shape)
    figure = figures_for(result)[name](result)
    return name, result, figure, texts(figure)


def texts(figure):
    """All texts that are drawn."""
    with styled():
        figure.canvas.draw()
    found = list(figure.texts)
    for axes in figure.axes:
        for part in (axes, *axes.child_axes):
            found += [*part.texts, part.title, part._left_title, part._right_title]
            found += axis_texts(part.xaxis) + axis_texts(part.yaxis)
    return [text for text in found if text.get_visible() and text.get_text().strip()]


def axis_texts(axis):
    """Name of an axis and the labels of its ticks in view."""
    low, high = sorted(axis.get_view_interval())
    ticks = zip(axis.get_ticklocs(), axis.get_major_ticks(), strict=True)
    shown = [tick for place, tick in ticks if low - 1e-9 <= place <= high + 1e-9]
    labels = [label for tick in shown for label in (tick.label1, tick.label2)]
    return [axis.label, *labels]


def extent(text):
    """Box of a text in px, without an empty first line."""
    box = text.get_window_extent()
    if text.get_text().startswith("\n"):
        box.y1 = 0.5 * (box.y0 + box.y1)
    return box


def joined(found):
    return re.sub(r"\s+", " ", " ".join(t.get_text() for t in found))


def said(figure):
    return joined(texts(figure))


def lines_of(axes):
    return [line.get_ydata() for line in axes.get_lines() if len(line.get_ydata()) > 2]


def test_caution_title_and_mark_are_on_every_figure(drawn):
    _, result, _, found = drawn
    words = joined(found)
    assert SHORT in words
    assert result.scenario.title in words
    assert ("INVENTED DATA" in words) == result.scenario.invented


def test_text_is_at_least_nine_points(drawn):
    assert min(t.get_fontsize() for t in drawn[3]) >= 9.0


def test_text_stands_out_from_what_is_behind_it(drawn):
    """Against the median of the drawn pixels behind each text. Bar: WCAG 2.2, 1.4.3, 4.5:1."""
    _, _, figure, found = drawn
    boxes = [(text, extent(text)) for text in found]
    for text in found:
        text.set_visible(False)
    with styled():
        figure.canvas.draw()
    pixels = np.array(figure.canvas.buffer_rgba())[::-1, :, :3]
    for text in found:
        text.set_visible(True)
    # titles find their places only as they are drawn
    texts(figure)
    poor = []
    for text, box in boxes:
        behind = pixels[int(box.y0) : int(box.y1) + 1, int(box.x0) : int(box.x1) + 1]
        middle = np.median(behind.reshape(-1, 3), axis=0)
        if contrast(to_hex(text.get_color()), to_hex(middle / 255)) < 4.5:
            poor.append((text.get_text(), text.get_color(), middle))
    assert poor == []


def test_user_text_is_not_read_as_mathematics(drawn):
    assert not any(t.get_parse_math() for t in drawn[3])


def test_texts_are_inside_and_do_not_run_into_each_other(drawn):
    _, _, figure, found = drawn
    boxes = [(t.get_text(), extent(t)) for t in found]
    width, height = figure.get_size_inches() * figure.dpi
    assert [w for w, b in boxes if b.x0 < 0 or b.y0 < 0 or b.x1 > width or b.y1 > height] == []
    clashes = [
        (a, b)
        for i, (a, first) in enumerate(boxes)
        for b, second in boxes[i + 1 :]
        if min(first.x1, second.x1) - max(first.x0, second.x0) > 1.0
        and min(first.y1, second.y1) - max(first.y0, second.y0) > 2.0
    ]
    assert clashes == []


def test_axes_say_their_units(drawn):
    name, _, _, found = drawn
    words = joined(found)
    expected = {
        "arch": ("force ", " N (", "gf", "N·mm"),
        "decay": ("total force, N", "gf", "time, weeks"),
        "turning": ("M/F, mm", "below the bone crest, mm"),
        "movement": ("mm", "time, weeks"),
        "force": ("force, N", "gf", "N·mm"),
        "zones": ("normal traction, kPa", "depth from crest, mm"),
        "slice": ("normal traction, kPa", "2 mm", "least plate, mm", "mm²"),
    }
    assert [unit for unit in expected[name] if unit not in words] == []


def test_no_figure_is_left_open(drawn):
    assert drawn[2].canvas.manager is None
    assert Gcf.get_all_fig_managers() == []


def test_saved_bytes_are_the_same_and_hold_no_words_but_the_cautions(wires, tmp_path):
    one, two = tmp_path / "one.png", tmp_path / "two.png"
    save_figure(movement_figure(wires), one)
    save_figure(movement_figure(wires), two)
    data = one.read_bytes()
    assert data == two.read_bytes()
    words, at = {}, 8
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        words[data[at + 4 : at + 8]] = data[at + 8 : at + 8 + length]
        at += 12 + length
    assert set(words) <= {b"IHDR", b"pHYs", b"tEXt", b"IDAT", b"IEND"}
    assert words[b"tEXt"] == b"Description\0" + NOTICE.encode("latin-1")


def test_reader_settings_do_not_change_the_figure(wires, tmp_path):
    one, two = tmp_path / "one.png", tmp_path / "two.png"
    save_figure(movement_figure(wires), one)
    with matplotlib.rc_context({"font.size": 30, "lines.linewidth": 9, "axes.facecolor": "red"}):
        assert matplotlib.rcParams["font.size"] == 30
        save_figure(movement_figure(wires), two)
        assert matplotlib.rcParams["font.size"] == 30
    assert one.read_bytes() == two.read_bytes()


def test_movement_curves_are_those_of_the_histories(wires):
    figure = movement_figure(wires)
    for k, quantile in enumerate((0.1, 0.9, 0.5)):
        history = histories(wires, wires.cases[0], quantile=quantile)
        for column, tooth in enumerate(history):
            curve = lines_of(figure.axes[column])[k]
            assert curve == pytest.approx(np.linalg.norm(tooth.crown, axis=1), abs=1e-12)
    parts = lines_of(figure.axes[3])[:3]
    crown = histories(wires, wires.cases[0])[0].crown
    assert np.stack(parts, axis=1) == pytest.approx(crown, abs=1e-12)


def test_band_encloses_all_three_runs(wires):
    movement = movements(wires, wires.cases[0])[0]
    slow, middle, fast = movement.distance
    # the neighbour goes out and comes back, at the fast rate first: the curves cross
    assert np.any((middle > slow + 1e-3) & (middle > fast + 1e-3))
    axes = movement_figure(wires).axes[0]
    band = axes.collections[0].get_paths()[0].vertices
    for k, week in enumerate(movement.weeks):
        heights = band[np.isclose(band[:, 0], week), 1]
        same = np.isclose(movement.weeks, week)
        assert heights.min() <= movement.distance[:, k].min() + 1e-12
        assert heights.max() == pytest.approx(movement.distance[:, same].max(), abs=1e-12)


def test_change_of_wire_is_marked_in_its_week(wires):
    for axes in (*movement_figure(wires).axes[:3], *force_figure(wires).axes[:3]):
        upright = [ln for ln in axes.get_lines() if list(ln.get_ydata()) == [0, 1]]
        assert [float(line.get_xdata()[0]) for line in upright] == pytest.approx([2.0])


def test_force_curves_jump_where_the_wire_changes(wires):
    axes = force_figure(wires).axes[1]
    system = bracket_systems(wires, wires.cases[0])[:, 1, :3]
    total = next(ln for ln in axes.get_lines() if len(ln.get_ydata()) > 2)
    assert total.get_ydata() == pytest.approx(np.linalg.norm(system, axis=1), abs=1e-12)
    weeks = total.get_xdata()
    twice = np.flatnonzero(np.diff(weeks) == 0)
    assert weeks[twice] == pytest.approx([2.0])
    assert abs(np.diff(total.get_ydata())[twice][0]) > 1e-3


def test_gram_force_stands_beside_newton(wires):
    figure = force_figure(wires)
    with styled():
        figure.canvas.draw()
    labels = [t.get_text() for t in figure.axes[0].get_yticklabels()]
    pairs = [re.fullmatch(r"(−?[\d.]+) \((−?\d+)\)", label) for label in labels]
    values = [[float(g.replace("−", "-")) for g in p.groups()] for p in pairs if p]
    # 1 gf = 9.80665 mN exactly
    assert len(values) > 3
    assert [g for _, g in values] == pytest.approx([n / 9.80665e-3 for n, _ in values], abs=0.5)


def test_cases_stand_side_by_side(forces):
    figure = movement_figure(forces)
    curves, bars = figure.axes[:2]
    assert len(lines_of(curves)) == len(forces.cases) == 6
    marks = [ln for ln in bars.get_lines() if ln.get_marker() == "D"]
    ends = [histories(forces, case)[0].crown[-1] for case in forces.cases]
    assert [m.get_xdata()[0] for m in marks] == pytest.approx(np.linalg.norm(ends, axis=1))
    bars = force_figure(forces).axes[0]
    assert [p.get_width() for p in bars.patches] == pytest.approx([0.25, 0.5, 1.0] * 2)
    assert "0.50 N (51 gf) palatal" in said(force_figure(forces))


def test_cases_of_one_kind_share_a_hue_and_a_dash():
    colours, dashes = case_styles(["tip 25 cN", "tip 50 cN", "slide 25 cN"])
    assert dashes[0] == dashes[1] != dashes[2]
    assert len(set(colours)) == 3


def test_type_of_movement_is_marked_where_it_was_not_measured(wires, arch):
    assert "extrapolated" not in movement_words(histories(wires, wires.cases[0])[1])
    canine = histories(arch, arch.cases[0])[0]
    assert canine.number == 43
    assert movement_words(canine).endswith(("(extrapolated)", "none"))


def test_zones_have_one_colour_scale_and_the_walls_values(wires):
    figure = zones_figure(wires)
    panels, columns = zone_panels(wires)
    assert columns == len(shown_weeks(28.0)) == 4
    assert len(panels) == 4 * len(wires.teeth)
    largest = max(np.abs(p.normal).max() for p in panels)
    for axes, panel in zip(figure.axes, panels, strict=False):
        mesh = axes.collections[0]
        assert mesh.get_clim() == (-1.0, 1.0)
        share = np.asarray(mesh.get_array())
        assert np.sign(share) * share**2 * largest == pytest.approx(panel.normal, abs=1e-9)
    words = said(figure)
    assert "4.7 kPa" in words
    assert "another quantity than the traction" in words
    assert "secondary source" in words
    # the middle tooth at the start is loaded most
    assert np.argmax([np.abs(p.normal).max() for p in panels]) == columns


def test_zones_carry_a_pattern_of_their_own(wires):
    hatched = {
        h for c in zones_figure(wires).axes[4].collections for h in getattr(c, "hatches", [])
    }
    assert {"////", ".."} <= hatched


def test_zones_of_constant_forces_are_shown_once(forces, lingual_pair):
    panels, columns = zone_panels(forces)
    assert [p.label for p in panels] == [c.name for c in forces.cases]
    assert columns == 3
    # a tooth without load is left out
    assert [p.label for p in zone_panels(lingual_pair)[0]] == ["tooth 11"]


@pytest.mark.parametrize(
    ("days", "weeks"),
    [
        (84.0, [0, 1, 3, 6, 12]),
        (10.0, [0, 1, 10 / 7]),
        (28.0, [0, 1, 3, 4]),
        (168.0, [0, 1, 3, 6, 24]),
    ],
)
def test_shown_weeks_end_with_the_run(days, weeks):
    assert shown_weeks(days) == pytest.approx(weeks)


def test_labels_are_moved_apart():
    assert spread([0.5, 0.5, 0.5], 0.1) == pytest.approx([0.4, 0.5, 0.6], abs=1e-3)
    assert spread([0.1, 0.9], 0.1) == [0.1, 0.9]
    low = spread([0.0, 0.0], 0.2)
    assert low[0] >= -1e-3
    assert low[1] - low[0] >= 0.2 - 1e-3
    assert spread([], 0.1) == []


def test_labels_keep_the_order_of_their_curves(wires):
    with styled():
        axes = page(wires.scenario, heading="h", width=7.0, body=3.0).figure.add_subplot()
        axes.set_ylim(0.0, 1.0)
        label_ends(axes, [(0.51, "b", "#000000"), (0.50, "a", "#000000")], at=1.0)
    places = {t.get_text(): t.xy[1] for t in axes.texts}
    assert places["a"] < places["b"]


def test_signs_that_the_font_lacks_are_replaced():
    assert printable("a 漢 b") == "a ? b"
    assert printable("é · − µ") == "é · − µ"
