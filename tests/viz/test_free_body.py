"""The free-body diagram: what is drawn adds up to nothing, and is what the run has.

Verification: statics of the drawn arrows and arcs, read back from the figure.
"""

import dataclasses
import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.text import Annotation

from gomphosis.bone.support import Resolution
from gomphosis.scenarios.caution import SHORT
from gomphosis.scenarios.files import parse_scenario
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.lesson_tables import Lesson
from gomphosis.scenarios.run import run
from gomphosis.viz.figures import figures_for
from gomphosis.viz.film_layout import FRONT, SIDE
from gomphosis.viz.free_body import MOST, chosen_tooth, free_bodies
from gomphosis.viz.free_body_figure import UNLOADED, free_body_figure
from gomphosis.viz.free_body_marks import ARROW, SWEEP
from gomphosis.viz.outputs import staged
from gomphosis.viz.palette import PAPER, contrast
from gomphosis.viz.theme import styled

SHAPES = ("wires", "forces", "lingual_pair", "molar")
COARSE = Resolution(along=8, root=2, ligament=2, bone=1, sectors=16)


@pytest.fixture(scope="module")
def molar():
    """A lower molar, pushed in and turned: forces along the axis and all moments."""
    text = (
        'schema = 1\nduration = "1 day"\n[rate]\nmax_speed = "60 um/day"\n'
        'half_stress = "8 kPa"\n[[tooth]]\nnumber = 46\n[[force]]\ntooth = 46\n'
        'extrusion = "-0.5 N"\nmesial = "0.1 N"\ntip_moment = "-6 N*mm"\n'
        'torque_moment = "2 N*mm"\nrotation_moment = "1 N*mm"\n'
    )
    return run(parse_scenario(text, "test"), resolution=COARSE)


def taught(result, **lesson):
    """The result of the same run as a lesson."""
    table = Lesson.model_validate({"aim": "See it", "question": "Why?", **lesson})
    scenario = result.scenario.model_copy(update={"lesson": table})
    return dataclasses.replace(result, scenario=scenario)


def arrows(axes):
    """Tail and head of every force drawn, by name, mm."""
    return {
        part.get_gid().removeprefix("force "): np.array([part.xyann, part.xy])
        for part in axes.texts
        if isinstance(part, Annotation) and (part.get_gid() or "").startswith("force ")
    }


def sweeps(axes):
    """Signed angle of every arc drawn about its own centre, by name, rad."""
    found = {}
    for line in axes.lines:
        gid = line.get_gid() or ""
        if gid.startswith("moment "):
            x, y = line.get_xydata().T
            centre = circle(x, y)
            angle = np.unwrap(np.arctan2(y - centre[1], x - centre[0]))
            found[gid.removeprefix("moment ")] = angle[-1] - angle[0]
    return found


def circle(x, y):
    """Centre of the circle through points of it: x² + y² = 2 a x + 2 b y + c."""
    rows = np.stack([2 * x, 2 * y, np.ones_like(x)], axis=1)
    return np.linalg.lstsq(rows, x**2 + y**2, rcond=None)[0][:2]


@pytest.fixture(scope="module", params=SHAPES)
def drawn(request):
    """A figure, its diagrams in pairs, and the loads they stand for in trade words."""
    result = taught(request.getfixturevalue(request.param))
    figure = free_body_figure(result)
    count = len(figure.axes) // 2
    pairs = list(zip(figure.axes[:count], figure.axes[count:], strict=True))
    return result, figure, pairs, free_bodies(result)


def scale_of(drawn_sizes, sizes):
    """The one factor between what is drawn and what it stands for."""
    drawn_sizes, sizes = np.array(drawn_sizes), np.array(sizes)
    factor = float(drawn_sizes.max() / sizes.max())
    np.testing.assert_allclose(drawn_sizes, factor * sizes, rtol=0, atol=0.01 * drawn_sizes.max())
    return factor


def in_plane(words, side):
    """Force and moment of a load in trade words that lie in the plane of view."""
    across, about = (1, 4) if side == SIDE else (2, 3)
    return float(np.hypot(words[0], words[across])), abs(float(words[about]))


def test_drawn_loads_are_in_equilibrium_and_to_scale(drawn):
    """Sum of arrows, and of arcs and arrows about the slot, within 1 % of the largest."""
    _, _, pairs, bodies = drawn
    lengths, sizes, angles, moments = [], [], [], []
    for (acting, moved), body in zip(pairs, bodies, strict=True):
        forces, arcs = arrows(acting) | arrows(moved), sweeps(acting) | sweeps(moved)
        for name, words in (
            ("bracket", body.words_bracket),
            ("ligament", -body.words_resistance),
            ("moved", body.words_resistance),
        ):
            force, moment = in_plane(words, body.side)
            lengths.append(np.linalg.norm(np.diff(forces.get(name, np.zeros((2, 2))), axis=0)))
            angles.append(abs(arcs.get(name, 0.0)))
            sizes.append(force)
            moments.append(moment)
    newton, newton_mm = 1 / scale_of(lengths, sizes), 1 / scale_of(angles, moments)
    assert max(lengths) == pytest.approx(ARROW, rel=1e-9)
    assert max(angles) == pytest.approx(np.deg2rad(SWEEP), rel=1e-6)
    for (acting, moved), body in zip(pairs, bodies, strict=True):
        forces, arcs = arrows(acting), sweeps(acting)
        total, about = np.zeros(2), 0.0
        for name in ("bracket", "ligament"):
            if name in forces:
                vector = newton * np.diff(forces[name], axis=0)[0]
                arm = forces[name][0] - body.slot
                total = total + vector
                about += arm[0] * vector[1] - arm[1] * vector[0]
            about += newton_mm * arcs.get(name, 0.0)
        np.testing.assert_allclose(total, 0, atol=0.01 * max(sizes))
        assert abs(about) < 0.01 * max(moments)
        # what is moved is the opposite of what the ligament gives back
        if "ligament" in forces:
            opposite = np.diff(arrows(moved)["moved"], axis=0) + np.diff(forces["ligament"], axis=0)
            np.testing.assert_allclose(opposite, 0, atol=1e-9)
        back = sweeps(moved).get("moved", 0.0) + arcs.get("ligament", 0.0)
        assert back == pytest.approx(0.0, abs=1e-6)


def test_systems_are_those_of_the_histories(drawn):
    result, _, _, bodies = drawn
    index = chosen_tooth(result)
    cases = result.cases if len(result.cases) > 1 else [result.cases[0]] * len(bodies)
    for body, case in zip(bodies, cases, strict=False):
        history = histories(result, case)[index]
        known = [
            k
            for k in range(len(history.days))
            if np.array_equal(history.at_bracket[k], body.words_bracket)
            and np.array_equal(history.at_resistance[k], body.words_resistance)
        ]
        assert known
    # wires are shown as they are tied in
    if result.scenario.wires:
        history = histories(result, result.cases[0])[index]
        first = [int(np.argmax(history.period == k)) for k in range(len(bodies))]
        for body, record in zip(bodies, first, strict=True):
            assert np.array_equal(body.words_bracket, history.at_bracket[record])


def test_words_work_the_couple_out(drawn):
    _, _, pairs, bodies = drawn
    for (_, moved), body in zip(pairs, bodies, strict=True):
        words = " ".join(text.get_text() for text in moved.texts)
        words = re.sub(r"\s+", " ", words)
        found = re.search(r"F·d = ([\d.]+) N × ([\d.]+) mm = (no moment|([\d.]+) N·mm)", words)
        assert found, words
        force, lever = float(found[1]), float(found[2])
        index = body.moment_index
        couple = abs(body.words_resistance[index] - body.words_bracket[index])
        # to the digits that are printed
        assert float(found[4] or 0.0) == pytest.approx(couple, abs=0.0051)
        assert force * lever == pytest.approx(couple, abs=0.0006 * lever + 0.0051 * force + 1e-9)


def test_arrows_point_where_the_words_say(forces):
    """An upper incisor is drawn crown down, labial on the right; this force is palatal."""
    figure = free_body_figure(taught(forces))
    acting, moved = figure.axes[0], figure.axes[4]
    tail, head = arrows(acting)["bracket"]
    assert head[0] < tail[0]
    assert head[1] == pytest.approx(tail[1])
    assert head[1] < 0
    tail, head = arrows(acting)["ligament"]
    assert head[0] > tail[0]
    # a single force below the centre of resistance: the ligament turns the crown to the labial,
    # which is counter-clockwise where the crown hangs down
    assert sweeps(acting)["ligament"] > 0 > sweeps(moved)["moved"]
    text = " ".join(t.get_text() for t in acting.texts)
    assert "0.25 N palatal" in re.sub(r"\s+", " ", text)
    assert "no moment" in re.sub(r"\s+", " ", text)


def test_plane_is_that_of_the_largest_part_and_the_rest_is_said(molar):
    bodies = free_bodies(taught(molar))
    assert bodies[0].side == FRONT
    acting = free_body_figure(taught(molar)).axes[0]
    words = re.sub(r"\s+", " ", " ".join(t.get_text() for t in acting.texts))
    assert "Out of this plane: torque moment +2.00 N·mm, rotation moment +1.00 N·mm." in words


def test_lesson_chooses_the_tooth(wires):
    assert wires.teeth[chosen_tooth(taught(wires, free_body=21))].number == 21
    # the middle one is out of line and loaded most
    assert wires.teeth[chosen_tooth(taught(wires))].number == 11


def test_four_diagrams_at_most(forces):
    assert len(forces.cases) == 6
    assert [body.label for body in free_bodies(forces)] == [c.name for c in forces.cases[:MOST]]
    words = " ".join(text.get_text() for text in free_body_figure(taught(forces)).texts)
    assert "First 4 of 6." in re.sub(r"\s+", " ", words)


def test_a_tooth_without_load_is_said_to_have_none(aligned):
    figure = free_body_figure(taught(aligned))
    assert [UNLOADED in " ".join(t.get_text() for t in axes.texts) for axes in figure.axes] == [
        True,
        True,
    ]
    assert arrows(figure.axes[0]) == sweeps(figure.axes[0]) == {}


def test_text_is_inside_large_enough_and_carries_the_caution(drawn):
    _, figure, _, _ = drawn
    with styled():
        figure.canvas.draw()
    found = [t for axes in figure.axes for t in (*axes.texts, axes._left_title)]
    found = [t for t in (*found, *figure.texts) if t.get_text().strip()]
    assert min(t.get_fontsize() for t in found) >= 9.0
    width, height = figure.get_size_inches() * figure.dpi
    boxes = [(t.get_text(), t.get_window_extent()) for t in found]
    out = [w for w, b in boxes if b.x0 < 0 or b.y0 < 0 or b.x1 > width or b.y1 > height]
    assert out == []
    words = re.sub(r"\s+", " ", " ".join(t.get_text() for t in found))
    assert SHORT in words
    for name in ("bone crest", "centre of resistance", "apex"):
        assert name in words
    for colour in {t.get_color() for t in found}:
        assert contrast(colour, PAPER) >= 4.5


def test_only_lessons_have_the_figure_and_an_old_one_goes(forces, tmp_path: Path):
    assert "free_body" in figures_for(taught(forces))
    assert "free_body" not in figures_for(forces)
    (tmp_path / "free_body.png").write_bytes(b"old")
    with staged(tmp_path) as folder:
        (folder / "force.png").write_bytes(b"new")
    assert [path.name for path in tmp_path.iterdir()] == ["force.png"]
