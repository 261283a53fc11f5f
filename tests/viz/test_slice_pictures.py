"""Verification of pictures of slices: they show the state, say when a plate opens, keep places."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from PIL import Image

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.slice_change import BoneChange
from gomphosis.viz import palette, slice_view
from gomphosis.viz.figures import FIGURES, figures_for
from gomphosis.viz.film_files import MOST_FRAMES, film_names
from gomphosis.viz.film_layout import CAPTION, Box
from gomphosis.viz.slice_figure import _draw_change, largest_traction, panel_days, slice_figure
from gomphosis.viz.slice_film import (
    CURVE_ALONE,
    FOOT,
    HEAD,
    WIDTH,
    SliceFilm,
    save_slice_animation,
    slice_frames,
)
from gomphosis.viz.slice_scene import SliceScene
from gomphosis.viz.slice_view import ARROW, INSET, SliceView, bone_colours, slice_views
from gomphosis.viz.theme import styled
from gomphosis.viz.wording import weeks_text

PUSHED, PULLED = 0, 1  # the first is pushed labially, the second pulled palatally


@pytest.fixture(scope="module")
def views(slices):
    return slice_views(slices)


@pytest.fixture(scope="module")
def lower(lower_slice):
    return slice_views(lower_slice)[0]


@pytest.fixture(scope="module")
def alone(slices):
    """The same run with the slice of the upper tooth only."""
    return with_slices(slices, slices.cases[0].slices[:1])


@pytest.fixture(scope="module")
def film(alone):
    return SliceFilm(alone)


@pytest.fixture(scope="module")
def panels(slices):
    return [a for a in slice_figure(slices).axes if a.images]


def with_slices(result, opened):
    return replace(result, cases=(replace(result.cases[0], slices=tuple(opened)),))


def with_frames(result, frames):
    """Return the result with other frames of its only slice."""
    (opened,) = result.cases[0].slices
    return with_slices(result, [replace(opened, track=replace(opened.track, frames=frames))])


def inside(picture, box):
    return np.asarray(picture)[box.top : box.top + box.height, box.left : box.left + box.width]


def colours_near(pixels, colour):
    """Say which pixels have a colour, to the rounding of smooth edges."""
    return np.abs(pixels.astype(int) - palette.rgb(colour)).max(axis=-1) <= 2


# --- what is shown ---------------------------------------------------------------------------


def test_only_runs_with_slices_have_their_figure(slices, wires):
    assert list(figures_for(wires)) == list(FIGURES)
    assert list(figures_for(slices)) == [*FIGURES, "slice"]
    assert slice_views(wires) == ()
    for draw in (slice_figure, SliceFilm):
        with pytest.raises(ValueError, match="needs a run with a slice"):
            draw(wires)


def test_slice_that_stopped_at_once_is_left_out(alone):
    stopped = with_frames(alone, ())
    assert slice_views(stopped) == ()
    assert "slice" not in figures_for(stopped)


def test_sides_are_named_in_trade_words(views, lower):
    assert [v.sides for v in views] == [("labial", "palatal")] * 2
    assert lower.sides == ("mesial", "distal")
    model = replace(lower.opened.model, plane="labiolingual")
    assert replace(lower, opened=replace(lower.opened, model=model)).sides == ("labial", "lingual")


def test_ribbon_lies_inside_the_wall_and_has_its_traction(views):
    for view in views:
        frame = view.opened.track.frames[-1]
        line, traction = view.ribbon(frame)
        wall = view.outline(frame, "wall")
        apart = np.linalg.norm(wall - line, axis=0)
        assert apart == pytest.approx(np.full(apart.shape, INSET), rel=1e-9)
        assert traction == pytest.approx(1000 * frame.state.normal, rel=1e-12)
        # the far ends of the ribbon stand nearer to the axis than those of the wall
        assert np.ptp(line[0]) < np.ptp(wall[0])


def test_strokes_and_dots_mark_compression_and_tension(views):
    view = views[PUSHED]
    frame = view.opened.track.frames[-1]
    limit = 1000 * view.result.scenario.neutral_below
    line, traction = view.ribbon(frame)
    middles = view.strokes(frame).mean(axis=1)
    dots = view.dots(frame).T
    assert len(middles) > 3
    assert len(dots) > 3
    for places, sign in ((middles, -1), (dots, 1)):
        for place in places:
            nearest = np.argsort(np.linalg.norm(line.T - place, axis=1))[:2]
            assert (sign * traction[nearest]).max() >= limit


def test_force_points_the_way_it_acts(views, lower):
    view = views[PUSHED]
    frame = view.opened.track.frames[0]
    at, force = view.force(frame)
    slot = view.tooth.slot
    assert at == pytest.approx([slot[0], slot[2]], abs=1e-12)
    # 30 cN to the labial side
    assert force == pytest.approx([0.3, 0.0], abs=1e-9)
    assert view.arrow(force) == pytest.approx([ARROW, 0.0], abs=1e-9)
    assert view.arrow(0.01 * force) is None
    assert views[PULLED].force(frame)[1] == pytest.approx([-0.1, 0.0], abs=1e-9)
    # the slot of a mesiodistal slice lies on its long axis
    start = lower.opened.track.frames[0]
    assert lower.force(start)[0] == pytest.approx([0.0, lower.tooth.slot[2]], abs=1e-12)
    assert lower.force(start)[1] == pytest.approx([0.2, 0.0], abs=1e-9)


def test_plate_is_told_open_from_the_day_it_opens(views):
    view = views[PUSHED]
    first = view.first_open(1)
    assert first is not None
    assert 0 < first < view.opened.track.days[-1]
    for frame in view.opened.track.frames:
        texts = view.opening_texts(frame)
        assert bool(texts) == (frame.day >= first)
        if texts:
            assert texts[0].startswith(f"labial plate open since week {weeks_text(first)}: ")
            now = view.open_now(frame, 1)
            assert f"{-now[0].highest:.1f} to {-now[0].lowest:.1f}" in texts[0]
    assert view.first_open(-1) is None


def test_plate_that_closed_again_is_told(views):
    view = views[PUSHED]
    whole = replace(view.opened.track.frames[0], day=view.opened.track.days[-1])
    week = weeks_text(view.first_open(1))
    assert view.opening_texts(whole) == [f"labial plate closed again, first open in week {week}"]


def test_opening_line_stands_outside_the_ligament(views):
    view = views[PUSHED]
    frame = view.opened.track.frames[-1]
    for opening in view.open_now(frame, 1):
        x, z = view.opening_line(frame, opening)
        assert (z[0], z[-1]) == pytest.approx((opening.lowest, opening.highest))
        raster = frame.bones.raster
        column, row = raster.in_cells(np.stack([x, z])).astype(int)
        assert frame.bones.covered[column, row].max() < 1e-9


def test_colours_follow_the_density(views):
    bones = views[PUSHED].opened.track.frames[-1].bones
    colours = bone_colours(bones)
    full = (bones.bone == 1.0) & (bones.density == 1.0)
    empty = (bones.bone == 0.0) & (bones.covered == 0.0)
    assert full.sum() > 100
    assert colours[full] == pytest.approx(
        np.tile(palette.rgb(palette.BONE_FULL), (full.sum(), 1)), abs=1e-9
    )
    assert colours[empty] == pytest.approx(
        np.tile(palette.rgb(palette.SOFT_TISSUE), (empty.sum(), 1)), abs=1e-9
    )
    whole = bones.bone == 1.0
    order = np.argsort(bones.density[whole])
    assert np.all(np.diff(colours[whole][order], axis=0) <= 1e-9)


def test_greys_and_marks_stay_apart_without_colour():
    shades = [palette.luminance(c) for c in (palette.BONE_NEW, palette.BONE_FULL)]
    assert shades[0] > 2 * shades[1]
    for colour in (palette.COMPRESSION, palette.TENSION):
        assert palette.contrast(colour, palette.BONE_NEW) > 3.0


# --- figure ----------------------------------------------------------------------------------


def test_figure_shows_every_slice_in_its_weeks(slices, views, panels):
    days = [panel_days(view) for view in views]
    assert days == [pytest.approx([0.0, 7.0, 12.0])] * 2
    assert len(panels) == 6
    weeks = [t.get_text() for axes in panels for t in axes.texts if "week " in t.get_text()]
    assert [w for w in weeks if w.startswith("week")] == ["week 0", "week 1", "week 1.7"] * 2


def test_crowns_of_the_upper_jaw_point_down(panels, lower_slice):
    lowest, highest = panels[0].get_ylim()
    # the crest is at 0: the picture reaches further towards the root
    assert 0 < -lowest < highest
    lowest, highest = slice_figure(lower_slice).axes[0].get_ylim()
    assert 0 < highest < -lowest


def test_figure_marks_changes_by_hatching_and_outline(panels):
    start, end = panels[0], panels[2]
    hatches = [{h for c in a.collections for h in getattr(c, "hatches", [])} for a in (start, end)]
    assert hatches[0] <= {None}
    assert {"////", "...."} <= hatches[1]


def with_block(view):
    """A view in whose last frame 20 x 30 cells were resorbed and 10 x 40 were laid down."""
    raster = view.opened.track.frames[0].bones.raster
    resorbed, laid_down = np.zeros(raster.shape), np.zeros(raster.shape)
    column, row = np.array(raster.in_cells(np.array([-1.5, -6.0]))).astype(int)
    resorbed[column : column + 20, row : row + 30] = 1.0
    laid_down[column + 25 : column + 35, row : row + 40] = 1.0
    other = replace(view)
    other.__dict__["changes"] = (*view.changes[:-1], BoneChange(resorbed, laid_down))
    return other, raster.cell_area


def hatched_areas(axes):
    areas = []
    for contours in (c for c in axes.collections if any(getattr(c, "hatches", []))):
        parts = [p.T for path in contours.get_paths() for p in path.to_polygons()]
        areas.append(
            sum(0.5 * (np.dot(x, np.roll(z, -1)) - np.dot(z, np.roll(x, -1))) for x, z in parts)
        )
    return np.abs(areas)


def test_figure_hatches_what_changed(views):
    view, cell = with_block(views[PUSHED])
    with styled():
        axes = Figure().add_subplot()
        _draw_change(axes, view, len(view.changes) - 1)
    # corners are cut by an eighth of a cell each
    assert hatched_areas(axes) == pytest.approx([600 * cell, 400 * cell], rel=0.005)


def test_figure_hatches_no_more_than_changed(views, panels):
    """Strips thinner than half a cell are left out."""
    change = views[PUSHED].changes[-1]
    cell = views[PUSHED].opened.track.frames[0].bones.raster.cell_area
    for area, share in zip(
        hatched_areas(panels[2]), (change.resorbed, change.laid_down), strict=True
    ):
        assert 0.98 * cell * (share > 0.999).sum() <= area <= 1.02 * cell * share.sum()
        assert area > 0.5


def test_figure_has_one_scale_of_tractions(slices, views, panels):
    largest = largest_traction(views)
    for axes, (view, day) in zip(
        panels, [(v, d) for v in views for d in panel_days(v)], strict=True
    ):
        traction = view.ribbon(view.opened.frame_at(day))[1]
        ribbon = next(
            c
            for c in axes.collections
            if isinstance(c, LineCollection) and c.get_array() is not None
        )
        assert ribbon.get_clim() == (-1.0, 1.0)
        share = np.asarray(ribbon.get_array())
        mean = 0.5 * (traction[1:] + traction[:-1])
        assert np.sign(share) * share**2 * largest == pytest.approx(mean, abs=1e-9)


def test_figure_notes_plates_books_and_openings(views, panels):
    view = views[PUSHED]
    track = view.opened.track
    note = max((t.get_text() for t in panels[2].texts), key=len).replace("\n", " ")
    assert f"labial {track.plate[-1, 0]:.2f}, palatal {track.plate[-1, 1]:.2f}" in note
    assert f"resorbed {track.books.resorbed:.2f}, laid down {track.books.deposited:.2f}" in note
    assert view.opening_texts(track.frames[-1])[0] in note
    assert [t.get_text() for t in panels[2].texts].count("open") == 1
    assert "open" not in [t.get_text() for t in panels[0].texts]


# --- scene and film --------------------------------------------------------------------------


def test_pixels_sample_the_map_where_they_lie(views, lower):
    for view in (views[PUSHED], lower):
        _check_sampling(view)


def _check_sampling(view):
    scene = SliceScene(view, 300, 400, 1.0)
    raster = view.opened.track.frames[0].bones.raster
    x, z = np.meshgrid(raster.centres(0), raster.centres(1), indexing="ij")
    at = np.array([[1.0, -2.0, 0.3], [-3.0, -7.0, 1.5]])
    columns, rows = scene.pixels(at).T
    for field, expected in ((x, at[0]), (z, at[1])):
        found = scene.sampled(field)
        # a pixel's middle lies half a pixel off its corner
        value = found[rows.astype(int), columns.astype(int)]
        assert value == pytest.approx(expected, abs=0.51 / scene.scale)


def test_marks_cover_what_changed(views):
    view, cell = with_block(views[PUSHED])
    scene = SliceScene(view, 540, 760, 1.0)
    blank = np.full((760, 540, 3), 255, dtype=np.uint8)
    pixels = blank.copy()
    scene._mark_changes(pixels, view.state(len(view.changes) - 1))
    blue = pixels[..., 2] > pixels[..., 0]
    orange = pixels[..., 2] < pixels[..., 0]
    areas = np.array([blue.sum(), orange.sum()]) / scene.scale**2
    # to half a pixel around: 10 mm and 10 mm of outline at 28 px/mm
    assert areas == pytest.approx([600 * cell, 400 * cell], abs=0.5 * 10 / scene.scale)
    strokes, dots = (colours_near(pixels, c) for c in (palette.COMPRESSION, palette.TENSION))
    # neither field is even: strokes and dots cover a part of it
    for marks, field in ((strokes, blue), (dots, orange)):
        assert 0.1 < marks.sum() / field.sum() < 0.4
    scene._mark_changes(start := blank.copy(), view.state(0))
    assert np.array_equal(start, blank)


def test_frames_differ_where_the_state_does(film):
    (picture, _), days = film.boxes[0], film.days
    shown = [inside(film.frame(day), picture) for day in (days[0], days[1], days[-1])]
    changed = [np.any(a != b, axis=-1).mean() for a, b in pairwise(shown)]
    assert min(changed) > 0.002
    assert changed[1] > 0.02


def test_only_the_day_changes_while_nothing_happens(alone):
    (opened,) = alone.cases[0].slices
    first = opened.track.frames[0]
    still = tuple(replace(first, day=day) for day in (0.0, 1.0, 2.0))
    plate = np.tile(opened.track.plate[:1], (len(opened.track.days), 1))
    track = replace(opened.track, frames=still, openings=(), plate=plate)
    film = SliceFilm(with_slices(alone, [replace(opened, track=track)]))
    one, two = (np.asarray(film.frame(day)) for day in (0.0, 2.0))
    assert np.any(one[:HEAD] != two[:HEAD])
    (box, text) = film.boxes[0]
    left, top = film._curve_place(text)
    beside = np.ones(one.shape[:2], dtype=bool)
    beside[:HEAD] = beside[-FOOT - CAPTION : -FOOT] = False
    beside[top : top + CURVE_ALONE, left : left + text.width] = False
    assert np.array_equal(one[beside], two[beside])
    # the mark on the force over time runs on
    assert np.any(one[top : top + CURVE_ALONE, left:] != two[top : top + CURVE_ALONE, left:])
    assert box.left + box.width < left


def test_scales_are_those_of_the_whole_film(film, alone):
    (opened,) = alone.cases[0].slices
    tractions = [1000 * np.abs(f.state.normal).max() for f in opened.track.frames]
    assert film.largest_traction == pytest.approx(max(tractions))
    books = opened.track.books
    assert film.largest_area == pytest.approx(max(books.resorbed, books.deposited))


def test_bars_show_the_books(film):
    _, text = film.boxes[0]
    largest = film.largest_area
    for day in (film.days[len(film.days) // 2], film.days[-1]):
        books = film.views[0].opened.frame_at(day).books
        pixels = inside(film.frame(day), text)
        for colour, area in (
            (palette.COMPRESSION, books.resorbed),
            (palette.TENSION, books.deposited),
        ):
            long = colours_near(pixels, colour).sum(axis=1).max()
            assert long == pytest.approx(text.width * area / largest, abs=2.0)


def test_caution_is_in_every_frame(film):
    feet = [np.asarray(film.frame(day))[film.height - FOOT :] for day in (0.0, 6.0, 12.0)]
    assert all(np.array_equal(foot, feet[0]) for foot in feet)
    assert (feet[0].min(axis=-1) < 128).sum() > 500  # two lines of letters


def test_tooth_and_arrow_stay_in_the_picture(slices):
    film = SliceFilm(slices)
    for view, (picture, _) in zip(film.views, film.boxes, strict=True):
        scene = SliceScene(view, picture.width, picture.height, film.largest_traction)
        for frame in view.opened.track.frames:
            at, force = view.force(frame)
            step = view.arrow(force)
            points = [view.outline(frame, "crown surface"), view.outline(frame, "wall")]
            if step is not None:
                points.append((at + step)[:, None])
            places = scene.pixels(np.concatenate(points, axis=1))
            assert places.min() >= 0
            assert np.all(places <= [picture.width, picture.height])


def test_window_makes_room_for_a_long_arrow(views, monkeypatch):
    monkeypatch.setattr(slice_view, "ARROW", 30.0)
    view = replace(views[PUSHED])
    for frame in (view.opened.track.frames[0], view.opened.track.frames[-1]):
        at, force = view.force(frame)
        tip = at + view.arrow(force)
        assert np.hypot(*(tip - at)) == pytest.approx(30.0)
        low, high = view.window
        assert np.all((low <= tip) & (tip <= high))


@pytest.mark.parametrize("count", [1, 2, 4, 8])
def test_boxes_stay_inside_and_apart(slices, count):
    opened = (slices.cases[0].slices * 4)[:count]
    film = SliceFilm(with_slices(slices, opened))
    boxes: list[Box] = [box for pair in film.boxes for box in pair]
    for box in boxes:
        assert box.left >= 0
        assert box.left + box.width <= WIDTH
        assert box.top >= HEAD
        assert box.top + box.height <= film.height - FOOT
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            beside = a.left + a.width <= b.left or b.left + b.width <= a.left
            above = a.top + a.height <= b.top or b.top + b.height <= a.top
            assert beside or above
    assert ("first 6 of 8" in film.remark()) == (count == 8)


def test_long_films_are_thinned(alone):
    (opened,) = alone.cases[0].slices
    many = tuple(replace(opened.track.frames[0], day=float(day)) for day in range(200))
    days = SliceFilm(with_frames(alone, many)).days
    assert len(days) == MOST_FRAMES
    assert (days[0], days[-1]) == (0.0, 199.0)
    assert np.diff(days).min() > 0


def test_gif_is_whole_and_repeatable(alone, film, tmp_path):
    (opened,) = alone.cases[0].slices
    short = with_frames(alone, opened.track.frames[::2])
    places, told = [tmp_path / "one", tmp_path / "two"], []
    for place in places:
        place.mkdir()
    save_slice_animation(short, places[0], lambda share, what: told.append(share))
    save_slice_animation(short, places[1])
    names = film_names("slice")
    one = places[0] / names[0]
    for name in names:
        assert (places[0] / name).read_bytes() == (places[1] / name).read_bytes()
    count = 7
    assert told == pytest.approx([(k + 1) / count for k in range(count)])
    with Image.open(one) as gif:
        assert gif.n_frames == count
        assert gif.size == (WIDTH, film.height)
        assert gif.info["comment"].decode() == NOTICE
        pictures = []
        for k in range(count):
            gif.seek(k)
            pictures.append(np.asarray(gif.convert("RGB")).copy())
    assert all(np.any(a != b) for a, b in pairwise(pictures))
    # areas keep their exact shade
    (box, _) = film.boxes[0]
    corner = pictures[0][box.top + box.height // 2, box.left + box.width - 3]
    assert corner.tolist() == list(palette.rgb(palette.SOFT_TISSUE))


def test_frames_are_those_of_the_days(alone, film):
    found = slice_frames(film, [3.0])
    assert found[0].tobytes() == SliceFilm(alone).frame(3.0).tobytes()


def test_an_unwritable_place_is_an_error(alone, tmp_path):
    (opened,) = alone.cases[0].slices
    with pytest.raises(FileNotFoundError):
        save_slice_animation(with_frames(alone, opened.track.frames[:2]), tmp_path / "missing")


def test_view_without_a_crown_shows_root_and_ligament(views):
    """A mesh that was read from a file need not have one."""
    view = views[PUSHED]
    mesh = view.opened.model.case.body.mesh
    lines = {name: line for name, line in mesh.lines.items() if name != "crown surface"}
    case = view.opened.model.case
    body = replace(case.body, mesh=replace(mesh, lines=lines))
    model = replace(view.opened.model, case=replace(case, body=body))
    bare = SliceView(view.result, view.case, replace(view.opened, model=model))
    frame = bare.opened.track.frames[0]
    assert [colour for _, colour in bare.parts(frame)] == [palette.LIGAMENT, palette.ROOT]
    assert len(view.parts(frame)) == 3
    scene = SliceScene(bare, 200, 300, largest_traction(views))
    assert scene.picture(bare.state(0)).size == (200, 300)
