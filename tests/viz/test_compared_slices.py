"""Verification of slices of two runs side by side: numbers and areas are those of the runs."""

import json
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.summary import summary, summary_text
from gomphosis.viz import (
    compare_command,
    compared_figure,
    compared_film,
    compared_slices,
    palette,
    slice_numbers,
    theme,
)
from gomphosis.viz.compare_command import FIGURES, write_compared
from gomphosis.viz.compared_layout import BETWEEN, HALF, WIDTH
from gomphosis.viz.compared_runs import Pair, read_pair
from gomphosis.viz.compared_slices import ComparedSlices
from gomphosis.viz.compared_table import compared_document
from gomphosis.viz.console import console
from gomphosis.viz.film_files import film_names
from gomphosis.viz.film_layout import FOOT, HEAD, LINE, MARGIN
from gomphosis.viz.report_record import report_record
from gomphosis.viz.report_store import SUMMARY, write_record
from gomphosis.viz.slice_figure import largest_traction
from gomphosis.viz.slice_numbers import numbers_height
from gomphosis.viz.slice_pairs import missing_slices, slice_pairs, slices_note
from gomphosis.viz.slice_scene import SliceScene
from gomphosis.viz.slice_view import ARROW, slice_views
from gomphosis.viz.wording import INVENTED

NAMES = ("slices", "pressed", "lower_slice", "lingual_pair")
DAYS = (0.0, 3.0, 8.0, 10.0, 12.0)
OF_SLICES = film_names("compared_slices")


@pytest.fixture(scope="module")
def folders(request, tmp_path_factory):
    """A folder for each run, with its record."""
    found = {}
    for name in NAMES:
        result = request.getfixturevalue(name)
        folder = tmp_path_factory.mktemp("sliced") / name
        folder.mkdir()
        (folder / SUMMARY).write_text(summary_text(summary(result)), encoding="utf-8")
        document = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
        write_record(report_record(result, document), folder, [])
        found[name] = folder
    return found


def pair_of(folders, first, second):
    return read_pair([folders[first], folders[second]])


@pytest.fixture(scope="module")
def pair(folders):
    """Twelve days of teeth 11 and 21 beside eight days of tooth 11."""
    return pair_of(folders, "slices", "pressed")


@pytest.fixture(scope="module")
def film(pair):
    return ComparedSlices(pair)


@pytest.fixture(scope="module")
def views(slices, pressed):
    """Tooth 11 of both runs, as the finished runs show it."""
    return slice_views(slices)[0], slice_views(pressed)[0]


def inside(picture, box):
    return np.asarray(picture)[box.top : box.top + box.height, box.left : box.left + box.width]


def with_slices(run, found):
    """The run with other slices in its record; None leaves one as it is."""
    case = {**run.case, "slices": found}
    record = replace(run.record, head={**run.head, "cases": [case]})
    return replace(run, record=record)


# --- the record shows what the run shows ------------------------------------------------------


def test_states_of_the_record_are_those_of_the_run(film, views):
    for (_, shown, _, _), view in zip(film.scenes, views, strict=True):
        assert (shown.sides, shown.up, shown.raster) == (view.sides, view.up, view.raster)
        assert list(shown.days) == [frame.day for frame in view.opened.track.frames]
        assert shown.start == pytest.approx(view.start, abs=0.5001e-3)
        for row in (0, 4, len(shown.days) - 1):
            kept, live = shown.state(row), view.state(row)
            for (ours, colour), (theirs, other) in zip(kept.parts, live.parts, strict=True):
                assert colour == other
                assert ours == pytest.approx(theirs, abs=0.5001e-3)
            for name in ("ribbon", "strokes", "dots"):
                values = getattr(live, name)
                assert getattr(kept, name) == pytest.approx(values, abs=0.5001e-3)
            assert kept.traction == pytest.approx(live.traction, abs=0.5001e-2)
            # a twentieth of the share of bone, rounded: two or three of 255
            np.testing.assert_allclose(kept.colours, live.colours, rtol=0, atol=4.0)
            for name in ("resorbed", "laid_down"):
                assert np.array_equal(getattr(kept, name), getattr(live, name) >= 0.5)
            assert [side for side, _ in kept.openings] == [side for side, _ in live.openings]
            for (_, ours), (_, theirs) in zip(kept.openings, live.openings, strict=True):
                assert ours == pytest.approx(theirs, abs=0.5001e-3)
            assert kept.opening_texts == live.opening_texts
            assert (kept.plate, kept.areas, kept.force) == (live.plate, live.areas, live.force)


def test_a_picture_of_the_record_is_that_of_the_run(film, views):
    """The same pixels but where a colour is rounded or half a cell is counted as a whole one."""
    for (_, shown, box, _), view in zip(film.scenes, views, strict=True):
        alone = replace(shown, reach=view.window, longest=None)
        ours = SliceScene(alone, box.width, box.height, film.scales.traction)
        theirs = SliceScene(view, box.width, box.height, film.scales.traction)
        assert ours.scale == pytest.approx(theirs.scale, rel=1e-9)
        for row in (0, len(shown.days) - 1):
            pictures = [
                np.asarray(s.picture(v.state(row))).astype(int)
                for s, v in ((ours, alone), (theirs, view))
            ]
            apart = np.abs(pictures[0] - pictures[1]).max(axis=-1) > 4
            assert apart.mean() < (0.002 if row == 0 else 0.01)


def test_numbers_of_the_film_are_those_of_the_track(film, views, monkeypatch):
    said = []
    plain = slice_numbers.write

    def listen(draw, place, text, **look):
        said.append((place[0], text))
        plain(draw, place, text, **look)

    film.frame(0.0)  # what no frame changes is written once
    monkeypatch.setattr(slice_numbers, "write", listen)
    for day in DAYS:
        said.clear()
        film.frame(day)
        for (_, _, _, box), view in zip(film.scenes, views, strict=True):
            track = view.opened.track
            frame = view.opened.frame_at(day)
            row = int(np.searchsorted(track.days, frame.day))
            force = np.hypot(*track.load[row, :2])
            front, back = track.plate[row]
            written = [text for left, text in said if left == box.left]
            assert written[0].startswith(f"force in the plane {force:.2f} N (")
            assert written[1:4] == [
                f"least plate, mm: labial {front:.2f}, palatal {back:.2f}",
                f"bone resorbed so far {frame.books.resorbed:.2f} mm²",
                f"bone laid down so far {frame.books.deposited:.2f} mm²",
            ]
            assert " ".join(written[4:]) == " ".join(view.opening_texts(frame))


def test_tinted_areas_are_those_of_the_books(film, views):
    """To a quarter of a cell along the outline of what is tinted.

    A cell is tinted if half of it or more was changed: along an outline that is a quarter of a
    cell too much or too little on the average, and strips thinner than half a cell are left out.
    Ribbon and tooth are drawn over what was resorbed, so the marks are looked at by themselves.
    """
    for (scene, shown, box, _), view in zip(film.scenes, views, strict=True):
        for day in (5.0, 8.0, 12.0):
            state, books = shown.state_at(day), view.opened.frame_at(day).books
            pixels = np.full((box.height, box.width, 3), 255, dtype=np.uint8)
            scene._mark_changes(pixels, state)
            fields = (
                (pixels[..., 2] > pixels[..., 0], state.resorbed, books.resorbed),
                (pixels[..., 2] < pixels[..., 0], state.laid_down, books.deposited),
            )
            for tinted, cells, area in fields:
                edges = [np.abs(np.diff(np.pad(cells, 1), axis=axis)).sum() for axis in (0, 1)]
                outline = shown.raster.spacing * sum(edges)
                tolerance = 0.25 * shown.raster.spacing * outline
                assert tolerance < 0.5 * area
                assert tinted.sum() / scene.scale**2 == pytest.approx(area, abs=tolerance)


def test_bone_laid_down_is_tinted_in_the_frames(film):
    """The field that tooth and ribbon leave free is seen in the frame at its whole area."""
    for scene, shown, box, _ in film.scenes:
        state = shown.state_at(12.0)
        bare = scene.picture(replace(state, laid_down=np.zeros_like(state.laid_down)))
        seen = np.any(inside(film.frame(12.0), box) != np.asarray(bare), axis=-1)
        area = state.laid_down.sum() * shown.raster.cell_area
        assert seen.sum() / scene.scale**2 == pytest.approx(area, rel=0.05)


def test_bars_show_the_books_to_one_scale(film, views):
    ends = [view.opened.track.frames[-1].books for view in views]
    largest = max(max(books.resorbed, books.deposited) for books in ends)
    assert film.largest_area == pytest.approx(largest, rel=1e-12)
    for day in (5.0, 12.0):
        picture = film.frame(day)
        for (_, _, _, box), view in zip(film.scenes, views, strict=True):
            books, pixels = view.opened.frame_at(day).books, inside(picture, box).astype(int)
            for colour, area in (
                (palette.COMPRESSION, books.resorbed),
                (palette.TENSION, books.deposited),
            ):
                near = np.abs(pixels - palette.rgb(colour)).max(axis=-1) <= 2
                assert near.sum(axis=1).max() == pytest.approx(box.width * area / largest, abs=2.0)


# --- scales -----------------------------------------------------------------------------------


def test_both_halves_have_one_scale(film, views):
    assert len({scene.scale for scene, *_ in film.scenes}) == 1
    assert len({scene.largest for scene, *_ in film.scenes}) == 1
    tractions = [largest_traction([view]) for view in views]
    assert film.scales.traction == pytest.approx(max(tractions), abs=0.5001e-2)
    assert tractions[0] != pytest.approx(tractions[1], rel=0.1)
    # the same tooth at the start: the same pixels in both halves
    places = [scene.pixels(shown.start) for scene, shown, *_ in film.scenes]
    assert places[0] == pytest.approx(places[1], abs=0.03)
    assert np.ptp(places[0][:, 1]) > 100


def test_arrows_are_proportional_to_the_force(film):
    for scene, shown, *_ in film.scenes:
        for day in DAYS:
            state = shown.state_at(day)
            assert state.arrow is not None
            tail, tip = scene.pixels(np.stack([state.slot, state.slot + state.arrow], axis=1))
            long = np.linalg.norm(tip - tail)
            assert long == pytest.approx(film.scales.pixels_per_newton * state.force, rel=1e-6)
    longest = [np.hypot(*shown.state(0).arrow) for _, shown, *_ in film.scenes]
    assert longest == pytest.approx([ARROW * 0.3 / 0.5, ARROW], rel=1e-6)


def test_a_run_beside_itself_gives_equal_halves(folders):
    film = ComparedSlices(pair_of(folders, "slices", "slices"))
    assert len(film.shown) == 2
    for day in (0.0, 12.0):
        picture = film.frame(day)
        for first, second in zip(film.scenes[::2], film.scenes[1::2], strict=True):
            for part in (2, 3):
                halves = [inside(picture, placed[part]) for placed in (first, second)]
                assert np.array_equal(*halves) and halves[0].std() > 10


def test_curves_are_the_force_of_the_track(film, views):
    (curve,) = film.curves
    assert curve.title == "tooth 11, labiolingual plane: force in the plane, N"
    for letter, view in zip("AB", views, strict=True):
        track = view.opened.track
        days, values = curve.lines[letter]
        assert days == pytest.approx(track.days, abs=0.5001e-3)
        assert values == pytest.approx(np.hypot(*track.load[:, :2].T), abs=0.5001e-3)
        drawn = curve.curves[letter]
        assert drawn.dashed == (letter == "B") and drawn.end == 12.0
        x, y = drawn.mark(12.0)
        field = drawn._field
        assert x == pytest.approx(field.left + field.width * track.days[-1] / 12.0)
        share = (field.top + field.height - y) / field.height
        assert share * curve.top == pytest.approx(np.hypot(*track.load[-1, :2]), abs=1e-3)


# --- frames -----------------------------------------------------------------------------------


def test_frames_differ_where_the_state_does(pair, film):
    assert film.days == [float(day) for day in range(13)]
    frames = [np.asarray(film.frame(day)) for day in film.days]
    for (day, one), (later, two) in pairwise(zip(film.days, frames, strict=True)):
        assert np.any(one[:HEAD] != two[:HEAD])
        for _, shown, box, text in film.scenes:
            still = shown.row(day) == shown.row(later)
            assert np.array_equal(inside(one, box), inside(two, box)) == still
            assert np.array_equal(inside(one, text), inside(two, text)) == still


def test_a_run_that_has_ended_stays_and_says_so(pair, film):
    assert (pair.second.end, pair.end) == (8.0, 12.0)
    last, later = (np.asarray(film.frame(day)) for day in (8.0, 9.0))
    top = min(box.top for *_, box, _ in film.scenes) - LINE - 4
    line = np.s_[top - LINE - 6 : top - 1, MARGIN + HALF + BETWEEN : WIDTH - MARGIN]
    assert np.all(last[line] == 255)  # no wire, not invented, not ended
    assert np.any(later[line] < 128)
    first = np.s_[top - LINE - 6 : top - 1, MARGIN : MARGIN + HALF - 120]
    assert np.all(later[first] == 255)


def test_a_slice_that_stopped_says_why(pair):
    why = "on day 8 the linear ligament is strained by 60 %, beyond 50 %: choose the bilinear law"
    (document,) = pair.second.case["slices"]
    stopped = with_slices(pair.second, [{**document, "stopped": why}])
    film = ComparedSlices(Pair(pair.first, stopped))
    (_, shown, _, box) = film.scenes[1]
    assert why not in " ".join(shown.state_at(8.0).opening_texts)
    assert shown.state_at(9.0).opening_texts[-1] == f"stopped: {why}"
    room = numbers_height(shown.every_text(), box.width)
    assert room > numbers_height([shown.state_at(8.0).opening_texts], box.width) + LINE
    assert film.frame(12.0).size == (WIDTH, film.layout.height)


@pytest.mark.parametrize("names", [("slices", "pressed"), ("slices", "slices")])
def test_everything_stays_in_its_place(folders, names):
    film = ComparedSlices(pair_of(folders, *names))
    boxes = [box for *_, picture, text in film.scenes for box in (picture, text)]
    boxes += film.layout.curves
    for i, a in enumerate(boxes):
        assert a.left >= MARGIN and a.left + a.width <= WIDTH - MARGIN
        assert a.top >= HEAD + LINE and a.top + a.height <= film.layout.captions
        for b in boxes[i + 1 :]:
            beside = a.left + a.width <= b.left or b.left + b.width <= a.left
            assert beside or a.top + a.height <= b.top or b.top + b.height <= a.top
    for scene, shown, picture, text in film.scenes:
        assert numbers_height(shown.every_text(), text.width) <= text.height
        for state in map(shown.state, range(len(shown.days))):
            points = np.concatenate([outline for outline, _ in state.parts[1:2]], axis=1)
            if state.arrow is not None:
                points = np.column_stack([points, state.slot + state.arrow])
            places = scene.pixels(points)
            assert places.min() >= 0 and np.all(places <= [picture.width, picture.height])


def test_caution_and_marks_are_in_every_frame(film):
    height = film.layout.height
    frames = [np.asarray(film.frame(day)) for day in DAYS]
    feet = [frame[height - FOOT :] for frame in frames]
    assert all(np.array_equal(foot, feet[0]) for foot in feet)
    assert (feet[0].min(axis=-1) < 128).sum() > 500
    # A is invented and B is not
    assert film.pair.mark == f"A: {INVENTED}"
    top = min(box.top for *_, box, _ in film.scenes) - LINE - 4
    right = frames[0][top - LINE - 4 : top - 2]
    assert (right[:, MARGIN + HALF - 110 : MARGIN + HALF] < 128).any()
    assert (right[:, WIDTH - MARGIN - 110 :] == 255).all()


# --- which slices -----------------------------------------------------------------------------


def test_the_same_tooth_and_plane_stand_beside_each_other(folders):
    turned = Pair(*pair_of(folders, "slices", "pressed").runs)
    first = with_slices(turned.first, turned.first.case["slices"][::-1])
    (found,) = slice_pairs(replace(turned, first=first))
    assert (found.first.tooth, found.first.index, found.second.tooth) == (11, 1, 11)
    assert found.same and slices_note(turned) == ""
    assert found.first.window is found.second.window


def test_slices_of_different_teeth_say_so(folders):
    pair = pair_of(folders, "slices", "lower_slice")
    film = ComparedSlices(pair)
    (found,) = film.shown
    assert (found.first.tooth, found.second.tooth) == (11, 31) and not found.same
    assert film.remarks()[1].endswith("the slices are of different teeth")
    assert film.curves[0].title.startswith("A tooth 11, labiolingual plane, B tooth 31, mesiodist")
    assert len({scene.scale for scene, *_ in film.scenes}) == 1
    assert film.frame(2.0).size == (WIDTH, film.layout.height)


def test_slices_in_different_planes_say_so(pair):
    (document,) = pair.second.case["slices"]
    second = with_slices(pair.second, [{**document, "plane": "mesiodistal"}])
    assert slices_note(Pair(pair.first, second)) == "the slices are in different planes"


def test_two_of_more_are_shown(folders):
    pair = pair_of(folders, "slices", "slices")
    found = pair.first.case["slices"]
    found = [*found, {**found[0], "plane": "mesiodistal"}]
    more = Pair(*(with_slices(run, found) for run in pair.runs))
    assert [shown.first.label for shown in slice_pairs(more)] == [
        "tooth 11, labiolingual plane",
        "tooth 21, labiolingual plane",
    ]
    assert slices_note(more) == "first 2 of 3 slices that both runs have"


def test_without_slices_of_both_there_is_no_film(folders, capsys):
    for names, said in (
        (("slices", "lingual_pair"), "No film of slices: only A has some."),
        (("lingual_pair", "pressed"), "No film of slices: only B has some."),
        (("lingual_pair", "lingual_pair"), ""),
        (("slices", "pressed"), ""),
    ):
        pair = pair_of(folders, *names)
        assert missing_slices(pair) == said
        compare_command._print(console(), pair, compared_document(pair))
        lines = [line for line in capsys.readouterr().out.splitlines() if "film of" in line]
        assert lines == ([said] if said else [])
        if "lingual_pair" in names:
            assert slice_pairs(pair) == () and slices_note(pair) == ""
            with pytest.raises(ValueError, match="needs slices of both"):
                ComparedSlices(pair)


# --- files ------------------------------------------------------------------------------------


@pytest.fixture
def quick(monkeypatch):
    """Figure and film of the whole runs as empty files; few frames of slices."""

    def save(pair, folder, progress):
        for name in film_names("compared"):
            (folder / name).touch()
        progress(1.0, "done")

    monkeypatch.setattr(compared_figure, "compared_figure", lambda pair: None)
    monkeypatch.setattr(theme, "save_figure", lambda figure, path: path.touch())
    monkeypatch.setattr(compared_film, "save_compared_film", save)
    monkeypatch.setattr(compared_film, "MOST_FRAMES", 3)


def test_files_come_and_go_with_the_slices(folders, tmp_path, quick):
    write_compared(pair_of(folders, "slices", "pressed"), tmp_path)
    names = {*FIGURES, *film_names("compared")}
    assert {path.name for path in tmp_path.iterdir()} == {*names, *OF_SLICES}
    with Image.open(tmp_path / OF_SLICES[0]) as gif:
        assert gif.n_frames == 3 and gif.width == WIDTH
        assert gif.info["comment"].decode() == NOTICE
    with Image.open(tmp_path / OF_SLICES[2]) as sheet:
        assert sheet.info["Description"] == NOTICE
    # the film of an earlier comparison does not stay beside the figure of another
    write_compared(pair_of(folders, "lingual_pair", "pressed"), tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == names


def test_a_failure_leaves_nothing(folders, tmp_path, quick, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(compared_slices, "save_film", full)
    with pytest.raises(OSError, match="No space"):
        write_compared(pair_of(folders, "slices", "pressed"), tmp_path / "new")
    assert list(tmp_path.iterdir()) == []


def test_progress_is_told_over_both_films(folders, tmp_path, monkeypatch, quick):
    told = []

    class Bar:
        def __enter__(self):
            return lambda share, text: told.append((share, text))

        def __exit__(self, *_):
            return None

    monkeypatch.setattr(compare_command, "progress", lambda what: Bar())
    write_compared(pair_of(folders, "slices", "pressed"), tmp_path)
    shares = [share for share, _ in told]
    assert shares == pytest.approx([0.5, 0.5 + 0.5 / 3, 0.5 + 1 / 3, 1.0])
    assert told[-1][1] == "slice frame 3 of 3"
