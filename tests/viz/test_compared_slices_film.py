"""Verification of the film of slices of two runs: frames, which slices, files."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from gomphosis.scenarios.caution import NOTICE
from gomphosis.viz import (
    compare_command,
    compared_figure,
    compared_film,
    compared_slices,
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
from gomphosis.viz.slice_numbers import numbers_height
from gomphosis.viz.slice_pairs import missing_slices, slice_pairs, slices_note
from gomphosis.viz.wording import INVENTED

DAYS = (0.0, 3.0, 8.0, 10.0, 12.0)
OF_SLICES = film_names("compared_slices")


@pytest.fixture(scope="module")
def folders(sliced_folders):
    return sliced_folders


@pytest.fixture(scope="module")
def film(sliced_film):
    return sliced_film


@pytest.fixture(scope="module")
def pair(film):
    return film.pair


def pair_of(folders, first, second):
    return read_pair([folders[first], folders[second]])


def inside(picture, box):
    return np.asarray(picture)[box.top : box.top + box.height, box.left : box.left + box.width]


def with_slices(run, found):
    """The run with other slices in its record; None leaves one as it is."""
    case = {**run.case, "slices": found}
    record = replace(run.record, head={**run.head, "cases": [case]})
    return replace(run, record=record)


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


def test_weeks_are_those_of_the_longer_run_whichever_it_is(folders):
    film = ComparedSlices(pair_of(folders, "pressed", "slices"))
    assert film.days[-1] == 12.0 and {curve.end for curve in film.curves} == {12.0}
    ends = {letter: c.mark(12.0)[0] for letter, c in film.curves[0].curves.items()}
    assert ends["A"] < ends["B"]


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
