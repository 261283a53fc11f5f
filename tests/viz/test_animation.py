"""Verification of the film: frames follow the state, carry the caution, and keep their places."""

import dataclasses
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.schema import Section
from gomphosis.viz.animation import frame_records, frames, save_animation
from gomphosis.viz.film import Film
from gomphosis.viz.film_canvas import SMALL, fitted, font, wrapped
from gomphosis.viz.film_files import MOST_FRAMES, film_names
from gomphosis.viz.film_layout import (
    CAPTION,
    FOOT,
    FRONT,
    HEAD,
    SIDE,
    WIDTH,
    enlarged,
    layout,
    seen_from,
)
from gomphosis.viz.film_scene import Scene
from gomphosis.viz.film_views import Stage, unrolled_wire, wire_cut
from gomphosis.viz.film_wall import WallTile
from gomphosis.viz.wall_map import LEAST_TRACTION, WallMap

SHAPES = ("wires", "forces", "arch", "lingual_pair")


@pytest.fixture(params=SHAPES)
def result(request):
    return request.getfixturevalue(request.param)


def inside(picture, box):
    return np.asarray(picture)[box.top : box.top + box.height, box.left : box.left + box.width]


def test_records_run_from_start_to_end_without_repeats(result):
    records = frame_records(result)
    days = result.cases[0].median.days
    assert records[0] == 0
    assert records[-1] == len(days) - 1
    assert len(set(records)) == len(records) <= MOST_FRAMES
    assert np.all(np.diff(days[records]) > 0)


def test_frames_differ_where_the_state_does(result):
    film = Film(result)
    first, last = film.frame(0), film.frame(len(result.cases[0].median.days) - 1)
    moved = [
        view
        for view in film.layout.views
        if any(
            np.linalg.norm(result.cases[view.case].median.pose[-1, k, :3]) > 0.1 for k in view.teeth
        )
    ]
    assert moved
    for view in moved:
        changed = np.any(inside(first, view.box) != inside(last, view.box), axis=-1)
        assert changed.mean() > 0.01


def test_same_state_same_frame(wires):
    film = Film(wires)
    assert film.frame(3).tobytes() == film.frame(3).tobytes() == Film(wires).frame(3).tobytes()


def test_only_the_week_changes_while_nothing_moves(wires):
    track = wires.cases[0].median
    still = dataclasses.replace(
        track,
        pose=np.repeat(track.pose[:1], len(track.days), axis=0),
        drift=np.repeat(track.drift[:1], len(track.days), axis=0),
        wrench=np.repeat(track.wrench[:1], len(track.days), axis=0),
        period=np.zeros_like(track.period),
    )
    case = dataclasses.replace(wires.cases[0], tracks={**wires.cases[0].tracks, 0.5: still})
    film = Film(dataclasses.replace(wires, cases=(case,)))
    first, last = np.asarray(film.frame(0)), np.asarray(film.frame(len(track.days) - 1))
    said = slice(HEAD, film.layout.height - CAPTION - FOOT)
    assert np.any(first[:HEAD] != last[:HEAD])
    assert np.array_equal(first[said], last[said])


def test_a_run_in_which_nothing_happens_is_drawn(aligned):
    film = Film(aligned)
    assert film.largest_traction == LEAST_TRACTION
    first, last = (np.asarray(film.frame(r))[HEAD:] for r in (0, 7))
    assert np.array_equal(first, last)


def test_caution_is_in_every_frame(result):
    film = Film(result)
    count = len(result.cases[0].median.days)
    feet = [
        np.asarray(film.frame(r))[film.layout.height - FOOT :] for r in (0, count // 2, count - 1)
    ]
    assert all(np.array_equal(foot, feet[0]) for foot in feet)
    ink = (feet[0].min(axis=-1) < 128).sum()
    assert ink > 500  # two lines of letters


@pytest.mark.parametrize("record", [0, 4])
def test_every_wall_is_painted_with_its_own_load(wires, record):
    film = Film(wires)
    frame = film.frame(record)
    for card in film.layout.cards:
        tooth = wires.teeth[card.tooth]
        size = (card.tile.width, card.tile.height)
        neutral = 1000 * wires.scenario.neutral_below
        tile = WallTile(WallMap(tooth), *size, film.largest_traction, neutral)
        wrench = wires.cases[0].median.wrench[record, card.tooth]
        assert np.array_equal(inside(frame, card.tile), tile.picture(wrench))


@pytest.mark.parametrize("part", ["pose", "drift"])
def test_teeth_follow_the_pose_and_sockets_the_drift(lingual_pair, part):
    track = lingual_pair.cases[0].median
    zero = np.zeros_like(track.pose)
    only = dataclasses.replace(track, pose=zero, drift=zero, wrench=zero)
    only = dataclasses.replace(only, **{part: getattr(track, part)})
    case = lingual_pair.cases[0]
    case = dataclasses.replace(case, tracks={**case.tracks, 0.5: only})
    film = Film(dataclasses.replace(lingual_pair, cases=(case,)))
    box = film.layout.views[0].box
    last = len(track.days) - 1
    assert np.linalg.norm(getattr(track, part)[last, 0, :3]) > 0.1
    first, now = (inside(film.frame(r), box) for r in (0, last))
    assert np.any(first != now, axis=-1).mean() > 0.002


def test_boxes_stay_inside_and_apart(result):
    plan = layout(result)
    boxes = [view.box for view in plan.views] + [card.tile for card in plan.cards]
    for box in boxes:
        assert box.left >= 0
        assert box.left + box.width <= WIDTH
        assert box.top >= HEAD
        assert box.top + box.height <= plan.height - CAPTION - FOOT
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            beside = a.left + a.width <= b.left or b.left + b.width <= a.left
            above = a.top + a.height <= b.top or b.top + b.height <= a.top
            assert beside or above


def test_teeth_are_drawn_within_their_view(result):
    film = Film(result)
    scene = Scene(result, film.layout, film.largest_traction)
    for view in film.layout.views:
        for record in (0, len(result.cases[view.case].median.days) - 1):
            for k in view.teeth:
                pose = result.cases[view.case].median.pose[record, k]
                outline = scene.outline(view, k, pose)
                assert outline[:, 0].min() >= view.box.left
                assert outline[:, 0].max() <= view.box.left + view.box.width
                assert outline[:, 1].min() >= view.box.top
                assert outline[:, 1].max() <= view.box.top + view.box.height


def test_view_is_taken_from_where_the_movement_shows(wires, forces, lingual_pair):
    assert seen_from(wires, wires.cases[0]) == FRONT
    assert {seen_from(forces, case) for case in forces.cases} == {SIDE}
    assert [view.teeth for view in layout(lingual_pair).views] == [(0,), (1,)]


def test_patients_right_is_on_the_left_and_upper_crowns_point_down(wires, arch):
    for result, crown in ((wires, 1), (arch, -1)):
        stage = Stage(FRONT, 1)
        edges = [stage.flat(t, stage.place(t, np.zeros(6)).points(t.edge)) for t in result.teeth]
        apices = [stage.flat(t, stage.place(t, np.zeros(6)).points(t.apex)) for t in result.teeth]
        # teeth come in order from the patient's right
        assert np.all(np.diff([edge[0] for edge in edges]) > 0)
        assert all(np.sign(e[1] - a[1]) == crown for e, a in zip(edges, apices, strict=True))


def test_wire_is_drawn_through_the_slots(arch):
    stage = Stage(FRONT, 1)
    track = arch.cases[0].median
    line = stage.flat(arch.teeth[0], unrolled_wire(arch.teeth, arch.cases[0], 0))
    for k, tooth in enumerate(arch.teeth):
        slot = stage.flat(tooth, stage.place(tooth, track.pose[0, k]).points(tooth.slot))
        # a round wire has 0.2 mm of play in the slot's height
        assert np.linalg.norm(line - slot, axis=1).min() < 0.2


@pytest.mark.parametrize(("height", "width"), [(0.4, 0.6), (0.5, None)])
def test_a_wire_seen_from_the_side_is_cut_at_the_slot(arch, height, width):
    wire = unrolled_wire(arch.teeth, arch.cases[0], 0)
    for k, tooth in enumerate(arch.teeth):
        cut = wire_cut(Section(height, width), tooth, wire)
        low, high = cut.min(axis=0), cut.max(axis=0)
        assert high - low == pytest.approx([width or height, 0.0, height], rel=1e-12)
        pose = arch.cases[0].median.pose[0, k]
        slot = Stage(SIDE, 1).place(tooth, pose).points(tooth.slot)
        # a round wire has 0.2 mm of play in the slot's height
        assert abs(0.5 * (low + high) - slot)[2] < 0.2


def test_teeth_on_a_wire_that_lean_are_seen_from_the_side(wires, monkeypatch):
    track = wires.cases[0].median
    # a wire is kept at the poses of its run, not at those made up here
    line = unrolled_wire(wires.teeth, wires.cases[0], 0)
    monkeypatch.setattr("gomphosis.viz.film_scene.unrolled_wire", lambda *_: line)
    for motion, seen in (((0.5, 0, 0), SIDE), ((0.5, 0, 0.4), FRONT), ((0, 0.5, 0), FRONT)):
        pose = np.zeros_like(track.pose)
        pose[-1, :, :3] = motion
        case = dataclasses.replace(
            wires.cases[0], tracks={0.5: dataclasses.replace(track, pose=pose, drift=pose)}
        )
        result = dataclasses.replace(wires, cases=(case,))
        film = Film(result)
        assert {view.side for view in film.layout.views} == {seen}
        if seen == SIDE:
            assert [view.teeth for view in film.layout.views] == [(0,), (1,), (2,)]
            first, last = (np.asarray(film.frame(r)) for r in (0, len(track.days) - 1))
            for view in film.layout.views:
                assert np.any(inside(first, view.box) != inside(last, view.box))
                # the cut wire, black within the bracket
                shown = inside(last, view.box)
                assert (shown.max(axis=-1) < 60).sum() > 20


def test_small_movements_are_enlarged_and_it_is_said(lingual_pair, wires):
    assert enlarged(wires) == 1
    factor = enlarged(lingual_pair)
    assert factor > 1
    assert any(f"drawn {factor} times" in line for line in Film(lingual_pair).remarks())
    tooth = lingual_pair.teeth[0]
    pose = np.array([0.1, 0.0, 0.0, 0.0, 0.0, 0.0])
    still, moved = (Stage(SIDE, factor).place(tooth, p).shift for p in (0 * pose, pose))
    assert moved - still == pytest.approx([0.1 * factor, 0.0, 0.0], abs=1e-12)


def test_gif_is_whole_and_repeatable(forces, tmp_path):
    places, told = [tmp_path / "one", tmp_path / "two"], []
    for place in places:
        place.mkdir()
    save_animation(forces, places[0], lambda share, what: told.append(share))
    save_animation(forces, places[1])
    names = film_names("teeth")
    one = places[0] / names[0]
    for name in names:
        assert (places[0] / name).read_bytes() == (places[1] / name).read_bytes()
    assert NOTICE.encode()[:200] in one.read_bytes()
    count = len(frame_records(forces))
    assert told == pytest.approx([(k + 1) / count for k in range(count)])
    with Image.open(one) as film:
        assert film.n_frames == count
        assert film.size == (WIDTH, layout(forces).height)
        assert film.info["loop"] == 0
        pictures = []
        for k in range(count):
            film.seek(k)
            pictures.append(np.asarray(film.convert("RGB")).copy())
    assert all(np.any(a != b) for a, b in pairwise(pictures))
    # white stays white: the palette keeps the colours of large areas
    assert pictures[0][2, 2].tolist() == [255, 255, 255]


def test_frames_are_those_of_the_records(wires):
    pictures = frames(wires, [0, 5])
    assert [p.tobytes() for p in pictures] == [Film(wires).frame(r).tobytes() for r in (0, 5)]


def test_an_unwritable_place_is_an_error(forces, tmp_path):
    with pytest.raises(FileNotFoundError):
        save_animation(forces, tmp_path / "missing")


def test_text_is_cut_and_wrapped_to_its_room():
    assert fitted("short", 200) == "short"
    cut = fitted("a very long name of a case that does not fit", 100)
    assert cut.endswith("…")
    assert font(SMALL).getlength(cut) <= 100
    lines = wrapped("one two three four five six seven", 100)
    assert " ".join(lines) == "one two three four five six seven"
    assert max(font(SMALL).getlength(line) for line in lines) <= 100
