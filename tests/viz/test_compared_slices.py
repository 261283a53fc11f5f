"""Verification of slices of two runs side by side: numbers and areas are those of the runs."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.viz import (
    palette,
    slice_numbers,
)
from gomphosis.viz.compared_runs import read_pair
from gomphosis.viz.compared_slices import ComparedSlices
from gomphosis.viz.slice_figure import largest_traction
from gomphosis.viz.slice_scene import SliceScene
from gomphosis.viz.slice_view import ARROW, slice_views

DAYS = (0.0, 3.0, 8.0, 10.0, 12.0)


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


@pytest.fixture(scope="module")
def views(slices, pressed):
    """Tooth 11 of both runs, as the finished runs show it."""
    return slice_views(slices)[0], slice_views(pressed)[0]


def inside(picture, box):
    return np.asarray(picture)[box.top : box.top + box.height, box.left : box.left + box.width]


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
