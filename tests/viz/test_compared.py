"""Verification of two runs compared: numbers are those of the tables, scales are shared."""

import dataclasses
import json
import re
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from PIL import Image

from gomphosis.bone.support import Resolution, motion_at
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.caution import NOTICE, SHORT
from gomphosis.scenarios.files import parse_scenario
from gomphosis.scenarios.movement_table import movement_table, write_parquet
from gomphosis.scenarios.run import run
from gomphosis.scenarios.summary import summary, summary_text
from gomphosis.scenarios.surfaces import placement, tooth_placements
from gomphosis.viz import compare_command, compared_film, compared_layout, theme
from gomphosis.viz.compare_command import FIGURES, write_compared
from gomphosis.viz.compared_curve import PairCurve, _apart
from gomphosis.viz.compared_figure import FORCE, MOVED, PRESSURE, compared_figure
from gomphosis.viz.compared_film import ComparedFilm
from gomphosis.viz.compared_key import round_below
from gomphosis.viz.compared_layout import BETWEEN, HALF, WIDTH
from gomphosis.viz.compared_runs import read_pair
from gomphosis.viz.compared_scene import ABOVE, ARROW, FRONT
from gomphosis.viz.compared_table import AT_END, compared_document, run_rows, tooth_rows
from gomphosis.viz.film_files import MOST_FRAMES, film_names
from gomphosis.viz.film_layout import FOOT, HEAD, LINE, MARGIN
from gomphosis.viz.film_views import Stage
from gomphosis.viz.report_record import report_record
from gomphosis.viz.report_store import SUMMARY, ReportError, write_record
from gomphosis.viz.wording import INVENTED

NAMES = ("wired", "lingual_pair", "forces", "lower")
RATE = '[rate]\nmax_speed = "60 um/day"\nhalf_stress = "8 kPa"\n'
WIRED = f"""
schema = 1
title = "Costs $5 and $x_1$, <b> -- 100 %"
invented = true
duration = "2 weeks"
step = "1 day"
[[tooth]]
number = 11
vertical = "-0.8 mm"
[[tooth]]
number = 21
[[wire]]
size = "0.014 in"
[[wire]]
tied_in = "1 week"
size = "0.016 in"
{RATE}
"""
LOWER = (
    'schema = 1\nduration = "1 week"\nstep = "1 day"\n'
    + "".join(f"[[tooth]]\nnumber = {n}\n" for n in (43, 42, 41, 31, 32, 33, 34))
    + "".join(
        f'[[force]]\ntooth = {n}\nforce = "{size} cN"\ndirection = "mesial"\n'
        for n, size in ((43, 30), (42, 10), (41, 5), (32, 8), (33, 25), (34, 15))
    )
    + RATE
)
COARSE = Resolution(along=8, root=2, ligament=2, bone=1, sectors=16)


@pytest.fixture(scope="module")
def wired():
    """Two teeth on a wire, and another after a week."""
    return run(parse_scenario(WIRED, "test"), resolution=COARSE)


@pytest.fixture(scope="module")
def lower():
    """Seven lower teeth, pushed by forces."""
    return run(parse_scenario(LOWER, "test"), resolution=COARSE)


@pytest.fixture(scope="module")
def folders(request, tmp_path_factory):
    """A folder for each run, with its record and its table."""
    found = {}
    for name in NAMES:
        result = request.getfixturevalue(name)
        folder = tmp_path_factory.mktemp("compared") / name
        folder.mkdir()
        (folder / SUMMARY).write_text(summary_text(summary(result)), encoding="utf-8")
        document = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
        write_record(report_record(result, document), folder, [])
        write_parquet(movement_table(result), folder / "movement.parquet")
        found[name] = folder
    return found


def pair_of(folders, first, second, *cases):
    return read_pair([folders[first], folders[second]], cases)


@pytest.fixture(scope="module")
def pair(folders):
    """Two weeks on wires beside one week of a lingual pull; teeth 11 and 21 in both."""
    return pair_of(folders, "wired", "lingual_pair")


@pytest.fixture(scope="module")
def film(pair):
    return ComparedFilm(pair)


def inside(picture, box):
    return np.asarray(picture)[box.top : box.top + box.height, box.left : box.left + box.width]


def views(film, picture, half):
    return np.concatenate([inside(picture, box) for box in film.layout.boxes[half].values()])


def said(figure):
    texts = list(figure.texts)
    for axes in figure.axes:
        texts += [*axes.texts, axes._left_title]
    return re.sub(r"\s+", " ", " ".join(text.get_text() for text in texts))


def of_table(folder, tooth, case=None):
    """Rows of a tooth, the later one of a day on which a wire is changed."""
    table = pd.read_parquet(folder / "movement.parquet")
    rows = table[(table.tooth == tooth) & (table.case == (case or table.case.iloc[0]))]
    return rows.drop_duplicates("day", keep="last").set_index("day")


def test_curves_of_the_figure_are_those_of_the_tables(folders, pair):
    figure = compared_figure(pair)
    lines = [
        {line.get_gid(): line for line in axes.get_lines() if line.get_gid()}
        for axes in figure.axes
    ]
    assert pair.shown == (11, 21)
    columns = len(pair.shown)
    for letter, name in (("A", "wired"), ("B", "lingual_pair")):
        for k, tooth in enumerate(pair.shown):
            rows = of_table(folders[name], tooth)
            force = np.linalg.norm(
                rows[[f"{word}_bracket_N" for word in ("extrusion", "labial", "mesial")]], axis=1
            )
            wanted = {
                MOVED: (rows["crown_movement_p50_mm"], 5e-4),
                FORCE: (force, 5e-4),
                PRESSURE: (rows["peak_pressure_kPa"], 5e-3),
            }
            for row, quantity in enumerate((MOVED, FORCE, PRESSURE)):
                line = lines[row * columns + k][f"{letter} {tooth}"]
                values, tolerance = wanted[quantity]
                assert 7 * line.get_xdata() == pytest.approx(list(rows.index))
                # the record keeps what a page shows: half a unit of its last digit
                assert np.asarray(line.get_ydata()) == pytest.approx(
                    np.asarray(values), abs=1.01 * tolerance
                )
                assert f"{letter} {line.get_ydata()[-1]:.{quantity.digits}f}" in said(figure)


def test_bands_reach_from_the_slow_to_the_fast(folders, pair):
    figure = compared_figure(pair)
    for axes, tooth in zip(figure.axes, pair.shown, strict=False):
        for band, name in zip(axes.collections, ("wired", "lingual_pair"), strict=True):
            rows = of_table(folders[name], tooth)
            both = rows[["crown_movement_p10_mm", "crown_movement_p50_mm", "crown_movement_p90_mm"]]
            drawn = band.get_paths()[0].vertices
            last = drawn[np.isclose(drawn[:, 0], rows.index[-1] / 7)][:, 1]
            ends = both.iloc[-1]
            assert (last.min(), last.max()) == pytest.approx((ends.min(), ends.max()), abs=6e-4)


def test_figure_names_both_runs_and_carries_caution_and_mark(pair):
    figure = compared_figure(pair)
    text = said(figure)
    assert SHORT in text.replace("\u00a0", " ")
    assert f"A: {pair.first.head['summary']['scenario']['title']}" in text
    assert "B: " in text and f"A: {INVENTED}" in text
    assert "crown moved, mm" in {axes.get_ylabel() for axes in figure.axes}
    sizes = [text.get_size() for axes in figure.axes for text in axes.texts] + [
        text.get_size() for text in figure.texts
    ]
    assert min(sizes) >= theme.SMALL


def test_mark_says_which_run_is_invented(folders):
    assert pair_of(folders, "wired", "forces").mark == INVENTED
    assert pair_of(folders, "lower", "wired").mark == f"B: {INVENTED}"
    assert pair_of(folders, "lower", "lingual_pair").mark == ""


def test_a_run_beside_itself_gives_equal_halves(folders):
    film = ComparedFilm(pair_of(folders, "wired", "wired"))
    for day in (0.0, 9.0, film.days[-1]):
        picture = film.frame(day)
        assert np.array_equal(views(film, picture, 0), views(film, picture, 1))
        assert views(film, picture, 0).std() > 10


def test_both_halves_have_one_scale(pair, film):
    assert len({id(scene.scales) for scene in film.scenes}) == 1
    assert film.layout.scales.force == max(run.largest_force for run in pair.runs)
    assert film.layout.scales.traction == max(run.largest_traction for run in pair.runs)
    wide = []
    for scene in film.scenes:
        if scene.view == FRONT:
            start = scene.place(scene.parts.start[scene.run.numbers.index(21)])
            wide.append(np.ptp(start[:, 0]))
    # tooth 21 is the same tooth in both runs, and upright
    assert wide[0] == pytest.approx(wide[1], abs=0.011 * film.layout.scales.pixels)


def test_tractions_are_coloured_to_one_scale(pair, film):
    """The run with the smaller traction is paler beside the other than beside itself."""
    alone = ComparedFilm(dataclasses.replace(pair, first=pair.second))
    first, second = (run.largest_traction for run in pair.runs)
    assert first != second
    weaker = int(second < first)
    low = min(first, second)
    scenes = [scene for scene in film.scenes if scene.view == FRONT]
    assert scenes[weaker].scales.traction > low
    assert alone.layout.scales.traction == second


@pytest.mark.parametrize(
    ("name", "view"), [("wired", FRONT), ("wired", ABOVE), ("lingual_pair", ABOVE)]
)
def test_arrows_are_proportional_to_the_force(request, pair, film, name, view):
    result = request.getfixturevalue(name)
    (case,) = result.cases
    half = ("wired", "lingual_pair").index(name)
    scene = next(s for s in film.scenes if s.run is pair.runs[half] and s.view == view)
    stage, checked = Stage(FRONT, 1), 0
    for row, day in enumerate(scene.run.days):
        record = int(np.flatnonzero(np.isclose(case.median.days, day))[-1])
        for k, tooth in enumerate(result.teeth):
            at_slot = np.linalg.solve(motion_at(tooth.slot).T, case.median.wrench[record, k])[:3]
            if view == FRONT:
                placed = placement(tooth, case.median.pose[record, k], StraightLine())
                flat = stage.flat(tooth, placed.vectors(at_slot)[None])[0]
            else:
                flat = tooth_placements(result.teeth, case, record)[k].vectors(at_slot)[:2]
            tail, head = scene.arrow(k, row)
            wanted = np.linalg.norm(flat) * film.layout.scales.pixels_per_newton
            if np.linalg.norm(flat) > film.layout.scales.least_force:
                # the record rounds to a thousandth of its longest arrow
                assert np.linalg.norm(head - tail) == pytest.approx(wanted, rel=0.01, abs=0.05)
                checked += 1
    assert checked > 2


def test_longest_arrow_and_key_have_the_printed_scale(film):
    scales = film.layout.scales
    assert scales.pixels_per_newton * scales.force == pytest.approx(ARROW * scales.pixels)
    assert [round_below(x) for x in (0.3, 1.0, 4.99, 5.0, 0.05, 19.0)] == pytest.approx(
        [0.2, 1.0, 2.0, 5.0, 0.05, 10.0]
    )


def test_frames_differ_where_a_state_does(pair, film):
    assert film.days[0] == 0.0 and film.days[-1] == pair.end
    assert len(film.days) <= MOST_FRAMES and np.all(np.diff(film.days) > 0)
    pictures = [np.asarray(film.frame(day)) for day in film.days[:9]]
    for (day, before), (later, after) in pairwise(zip(film.days, pictures, strict=False)):
        assert np.any(before != after)
        for half, shown in enumerate(pair.runs):
            rows = shown.row(day), shown.row(later)
            # a tooth that turns by less than a pixel may look the same
            moved = max(
                np.abs(np.diff(shown.drawing(k, "body")[list(rows)], axis=0)).max()
                for k in range(len(shown.numbers))
            )
            changed = np.any(views(film, before, half) != views(film, after, half))
            if moved > 0.02:
                assert changed
            if rows[0] == rows[1]:
                assert not changed


def test_frames_come_together_however_many_records_there_are(folders, monkeypatch):
    monkeypatch.setattr(compared_film, "MOST_FRAMES", 5)
    film = ComparedFilm(pair_of(folders, "wired", "lingual_pair"))
    assert len(film.days) == 5 and film.days[0] == 0.0 and film.days[-1] == film.pair.end
    assert set(film.days) <= {float(day) for run in film.pair.runs for day in run.days}


def test_a_run_that_has_ended_stays_and_says_so(pair, film):
    end = pair.second.end
    assert end == pair.common_end < pair.end
    last, later, latest = (np.asarray(film.frame(day)) for day in (end, end + 3, pair.end))
    assert np.array_equal(views(film, last, 1), views(film, later, 1))
    assert np.array_equal(views(film, last, 1), views(film, latest, 1))
    top = film.layout.boxes[1][FRONT].top
    line = np.s_[top - LINE - 6 : top - 1, MARGIN + HALF + BETWEEN :]
    assert np.all(last[line] == 255)  # no wire, not invented, not ended
    assert np.any(later[line] < 128) and np.array_equal(later[line], latest[line])
    (curve,) = (c for c in film.curves if c.number == 11 and c.quantity is MOVED)
    marks = [curve.curves["B"].mark(day) for day in (end, pair.end)]
    assert np.array_equal(*marks)
    ends = {letter: c.mark(pair.end)[0] for letter, c in curve.curves.items()}
    assert ends["A"] > ends["B"]


def test_marks_run_along_the_curves_of_the_table(folders, film):
    curve = next(c for c in film.curves if c.number == 11 and c.quantity is MOVED)
    for letter, name in (("A", "wired"), ("B", "lingual_pair")):
        rows = of_table(folders[name], 11)
        field = curve.curves[letter]._field
        x, y = curve.curves[letter].mark(5.0)
        assert x == pytest.approx(field.left + field.width * 5.0 / film.pair.end)
        share = (field.top + field.height - y) / field.height
        moved = rows.loc[5.0, "crown_movement_p50_mm"]
        assert share * curve.top == pytest.approx(moved, abs=6e-4)


def test_letters_beside_the_marks_stay_apart_and_above_the_axis():
    for heights in ({"A": 50.0, "B": 52.0}, {"A": 90.0, "B": 90.0}, {"A": 10.0, "B": 70.0}):
        placed = _apart(heights, 88.0)
        assert abs(placed["A"] - placed["B"]) >= 14.0 and max(placed.values()) <= 88.0
    assert _apart({"A": 10.0, "B": 70.0}, 88.0) == {"A": 10.0, "B": 70.0}


def test_caution_is_in_every_frame_and_headings_are_right(film):
    height = film.layout.height
    feet = [np.asarray(film.frame(day))[height - FOOT :] for day in (0.0, 7.0, film.days[-1])]
    assert all(np.array_equal(foot, feet[0]) for foot in feet)
    assert (feet[0].min(axis=-1) < 128).sum() > 500
    picture = film.frame(0.0)
    assert picture.size == (WIDTH, height)
    # A is invented and B is not
    top = film.layout.boxes[0][FRONT].top
    right = np.asarray(picture)[top - LINE - 4 : top - 2]
    assert (right[:, MARGIN + HALF - 110 : MARGIN + HALF] < 128).any()
    assert (right[:, WIDTH - MARGIN - 110 :] == 255).all()


@pytest.mark.parametrize("tallest", [430, 2000])
def test_everything_of_a_view_stays_in_its_box(folders, monkeypatch, tallest):
    """Whether height or width of the views limits their scale."""
    monkeypatch.setattr(compared_layout, "TALLEST", tallest)
    monkeypatch.setattr(compared_layout, "LARGEST", 1000.0)
    for names in (("wired", "lingual_pair"), ("lower", "forces"), ("forces", "lower")):
        film = ComparedFilm(pair_of(folders, *names))
        for scene in film.scenes:
            low, high = (scene.place(p) for p in scene.parts.reach(scene.scales.force))
            assert low[0] > scene.box.left and high[0] < scene.box.left + scene.box.width
            assert low[1] > scene.box.top and high[1] < scene.box.top + scene.box.height
        boxes = [box for half in film.layout.boxes for box in half.values()]
        assert min(box.top for box in boxes) >= HEAD + 2 * LINE
        assert film.frame(film.days[1]).size == (WIDTH, film.layout.height)


def test_captions_of_the_records_are_said(folders):
    pair = pair_of(folders, "wired", "lingual_pair")
    assert pair.first.caption(0.0).startswith("Wire 1, 0.014 in nickel-titanium, is tied in.")

    def saying(run, captions):
        record = dataclasses.replace(run.record, head={**run.head, "captions": captions})
        return dataclasses.replace(run, record=record)

    silent = dataclasses.replace(pair, first=saying(pair.first, []), second=saying(pair.second, []))
    plain = ComparedFilm(silent)
    assert compared_layout.said_lines(silent) == 0
    text = "The wire is tied in. " * 20
    first = saying(pair.first, [[0.0, text], [14, "Second."]])
    told = ComparedFilm(dataclasses.replace(silent, first=first))
    assert told.pair.first.caption(13.0) == text and told.pair.first.caption(14.0) == "Second."
    assert compared_layout.said_lines(told.pair) == 4
    assert told.layout.height > plain.layout.height
    pictures = [np.asarray(told.frame(day)) for day in (13.0, 14.0)]
    said = [p[told.layout.captions : told.layout.height - FOOT] for p in pictures]
    assert np.any(said[0][:, : MARGIN + HALF] != said[1][:, : MARGIN + HALF])
    assert np.all(said[0][:, MARGIN + HALF + BETWEEN :] == 255)
    assert np.all(said[0][4 * (LINE + 2) + 4 :] == 255)


def test_runs_without_a_common_tooth_show_their_own(folders):
    pair = pair_of(folders, "wired", "lower")
    assert pair.common == () and "no tooth in common" in pair.note
    assert len(pair.shown) == 4
    assert sum(n in pair.first.numbers for n in pair.shown) == 2
    figure = compared_figure(pair)
    letters = [{line.get_gid() for line in axes.get_lines()} for axes in figure.axes[:4]]
    assert ["A" in str(found) for found in letters] == [True, True, False, False]
    assert pair.note in said(figure)
    document = compared_document(pair)
    assert document["teeth"]["11"]["B"] is None and document["teeth"]["34"]["A"] is None
    assert any("—" in row for row in tooth_rows(document))


def test_the_teeth_that_move_most_have_curves(folders):
    pair = pair_of(folders, "lower", "lower")
    assert len(pair.shown) == 4 < len(pair.common)
    moved = {n: pair.first.series(n, "crown_band_mm")[:, 1].max() for n in pair.common}
    assert min(moved[n] for n in pair.shown) >= max(
        moved[n] for n in pair.common if n not in pair.shown
    )
    assert "4 teeth that move most, of 7" in said(compared_figure(pair))


def test_cases_are_chosen_by_name(folders):
    names = ["tipping 25 $cN$", "translation 100 $cN$"]
    pair = pair_of(folders, "forces", "forces", *names)
    assert [run.case["name"] for run in pair.runs] == names
    assert pair.first.heading.endswith("case 1 of 6: tipping 25 $cN$")
    rows = of_table(folders["forces"], 11, names[1])
    document = compared_document(pair)["teeth"]["11"]["B"]
    moved = rows["crown_movement_p50_mm"].iloc[-1]
    assert document["crown_moved_mm"]["p50"] == pytest.approx(moved, rel=1e-12)
    both = pair_of(folders, "forces", "forces", names[1])
    assert {run.index for run in both.runs} == {5}
    assert {run.index for run in pair_of(folders, "forces", "forces").runs} == {0}
    with pytest.raises(ReportError, match=r"has no case 'nine'; accepted: tipping 25 \$cN\$, "):
        pair_of(folders, "forces", "forces", "nine")


def test_table_has_the_numbers_of_the_runs(folders, pair):
    document = compared_document(pair)
    assert document["notice"] == NOTICE and document["common_teeth"] == [11, 21]
    assert document["common_weeks"] == 1.0
    for letter, name in (("A", "wired"), ("B", "lingual_pair")):
        rows = of_table(folders[name], 11)
        tooth = document["teeth"]["11"][letter]
        assert tooth["crown_moved_mm"]["p90"] == pytest.approx(
            rows["crown_movement_p90_mm"].iloc[-1], rel=1e-12
        )
        words = [f"{w}_bracket_N" for w in ("extrusion", "labial", "mesial")]
        force = np.linalg.norm(rows[words], axis=1)
        ends = tooth["force_start_N"], tooth["force_end_N"]
        assert ends == pytest.approx((force[0], force[-1]), abs=6e-4)
        pressure = rows["peak_pressure_kPa"].iloc[0]
        assert tooth["peak_pressure_start_kPa"] == pytest.approx(pressure, abs=6e-3)
        largest = rows["peak_pressure_kPa"].max()
        assert tooth["peak_pressure_kPa"] == pytest.approx(largest, rel=1e-12)
        assert tooth["movement_type"] == rows["movement_type"].iloc[-1]
        common = tooth["crown_moved_at_common_week_mm"]["p50"]
        assert common == pytest.approx(rows.loc[7.0, "crown_movement_p50_mm"], abs=6e-4)
    differing = {row["key"]: (row["A"], row["B"]) for row in document["different_inputs"]}
    assert differing["duration"] == ("14 day", "7 day")


def test_largest_force_at_start_is_that_of_the_scenario(folders):
    first = compared_document(pair_of(folders, "lower", "wired"))["runs"]["A"]
    assert first["largest_force_start_tooth"] == 43
    assert first["largest_force_start_N"] == pytest.approx(0.30, rel=1e-9)
    assert first["teeth"] == [43, 42, 41, 31, 32, 33, 34] and first["weeks"] == 1.0


def test_rows_say_units_and_differences(pair):
    document = compared_document(pair)
    rows = tooth_rows(document)
    names = [row[1] for row in rows]
    assert "crown moved by week 1, mm (10th to 90th percentile)" in names
    a, b = (document["teeth"]["11"][letter]["force_start_N"] for letter in ("A", "B"))
    row = next(row for row in rows if row[1] == "force at start, N")
    assert row[2:4] == [f"{a:.2f}", f"{b:.2f}"]
    assert float(row[4].replace("−", "-")) == pytest.approx(b - a, abs=0.0051)
    # the ends of runs of other lengths are not set against each other
    for name in AT_END:
        assert next(row for row in rows if row[1] == name)[4] == "—"
    line = next(row for row in run_rows(document) if row[0] == "neighbouring slots in line")
    assert "mm out of line" in line[1] and line[2] == "—"


@pytest.fixture(scope="module")
def written(folders, tmp_path_factory):
    """All files of a run beside itself."""
    out = tmp_path_factory.mktemp("files") / "deep" / "out"
    write_compared(pair_of(folders, "lingual_pair", "lingual_pair"), out)
    return out


def test_all_files_are_written_and_the_same_again(folders, written, tmp_path):
    pair = pair_of(folders, "lingual_pair", "lingual_pair")
    names = {*FIGURES, *film_names("compared")}
    write_compared(pair, tmp_path)
    for name in names:
        assert (tmp_path / name).read_bytes() == (written / name).read_bytes()
    assert {path.name for path in written.iterdir()} == names


def test_files_carry_the_caution(folders, written):
    assert NOTICE.encode()[:200] in (written / "compared.gif").read_bytes()
    for name in ("compared.png", "compared_sheet.png"):
        with Image.open(written / name) as picture:
            assert picture.info["Description"] == NOTICE
    assert "not a medical device" in (written / "compared.svg").read_text()
    pair = pair_of(folders, "lingual_pair", "lingual_pair")
    with Image.open(written / "compared.gif") as film:
        assert film.n_frames == len(ComparedFilm(pair).days) and film.width == WIDTH


def test_a_failure_leaves_nothing_and_takes_nothing(folders, tmp_path, monkeypatch):
    pair = pair_of(folders, "lingual_pair", "lingual_pair")
    out = tmp_path / "out"
    out.mkdir()
    (out / "compared.png").write_text("mine")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(compared_film, "save_film", full)
    for place in (out, tmp_path / "new"):
        with pytest.raises(OSError, match="No space"):
            compare_command.write_compared(pair, place)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert {p.name: p.read_text() for p in out.iterdir()} == {"compared.png": "mine"}


def test_quantities_share_their_scale_over_the_teeth(film):
    for quantity in (MOVED, FORCE):
        curves = [c for c in film.curves if c.quantity is quantity]
        assert len(curves) == 2 and all(isinstance(c, PairCurve) for c in curves)
        assert len({c.top for c in curves}) == 1
