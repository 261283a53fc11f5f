"""Verification of the film of the arch: what is drawn is the state, rendered and flat alike."""

import dataclasses
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.history import histories
from gomphosis.viz.animation import frame_records
from gomphosis.viz.arch_film import NUMBER, ArchFilm, clear_of, save_arch_film
from gomphosis.viz.film_files import film_names
from gomphosis.viz.film_layout import FOOT, FRONT, HEAD, SIDE
from gomphosis.viz.scene_bodies import ToothSolids, arrow_rows, bracket, curl_rows
from gomphosis.viz.scene_panels import ABOVE, BODY, FULL, HEIGHT, LONGEST, MOST_CASES, WIDTH, Stand
from gomphosis.viz.scene_probe import NO_OPENGL, trouble

SHAPES = ("wires", "forces", "arch", "lingual_pair", "lower_slice")


@pytest.fixture(params=[False, True], ids=["rendered", "flat"])
def flat(request):
    if not request.param and trouble():
        pytest.skip(trouble())
    return request.param


@pytest.fixture(scope="module")
def films():
    """Return a place for films to be kept in; all are closed in the end."""
    made = {}
    yield made
    for film in made.values():
        film.close()


@pytest.fixture
def film_of(films, flat):
    """Return a function that returns the film of a result, with few records."""

    def film(result, *, again=False):
        key = (id(result), flat, again)
        if key not in films:
            last = len(result.cases[0].median.days) - 1
            films[key] = ArchFilm(result, tuple(sorted({0, 1, 2, last})), flat)
        return films[key]

    return film


def inside(picture, box):
    return np.asarray(picture)[box.top : box.top + box.height, box.left : box.left + box.width]


@pytest.mark.parametrize("name", SHAPES)
def test_panels_follow_the_state(name, film_of, request):
    result = request.getfixturevalue(name)
    film = film_of(result)
    first, last = film.frame(film.records[0]), film.frame(film.records[-1])
    assert first.size == (WIDTH, HEIGHT)
    for panel in film.stand.panels:
        poses = result.cases[panel.case].median.pose[-1, list(panel.teeth), :3]
        assert np.linalg.norm(poses, axis=1).max() > 0.02
        changed = np.any(inside(first, panel.box) != inside(last, panel.box), axis=-1)
        assert changed.mean() > 0.002


def test_teeth_follow_the_pose_alone(lingual_pair, film_of):
    """Without loads there are no arrows that could move instead."""
    case = lingual_pair.cases[0]
    track = case.median
    still = dataclasses.replace(track, wrench=np.zeros_like(track.wrench))
    case = dataclasses.replace(case, tracks={**case.tracks, 0.5: still})
    film = film_of(dataclasses.replace(lingual_pair, cases=(case,)))
    assert np.linalg.norm(track.pose[-1, 0, :3]) > 0.1
    assert not any(np.any(state.forces) for state in film.stand.states[0].values())
    first, last = film.frame(film.records[0]), film.frame(film.records[-1])
    box = film.stand.panels[1].box
    changed = np.abs(inside(first, box).astype(int) - inside(last, box)).max(axis=-1) > 20
    assert changed.mean() > 0.002


def test_consecutive_frames_differ_and_the_same_state_is_the_same_frame(wires, film_of):
    film = film_of(wires)
    pictures = [film.frame(r) for r in film.records]
    boxes = [panel.box for panel in film.stand.panels]
    for one, two in pairwise(pictures):
        assert all(np.any(inside(one, box) != inside(two, box)) for box in boxes)
    assert film.frame(film.records[0]).tobytes() == pictures[0].tobytes()
    assert film_of(wires, again=True).frame(film.records[0]).tobytes() == pictures[0].tobytes()


def test_a_run_in_which_nothing_happens_is_drawn_without_arrows(aligned, film_of):
    film = film_of(aligned)
    first, last = (film.frame(film.records[k]) for k in (0, -1))
    for panel in film.stand.panels:
        assert np.array_equal(inside(first, panel.box), inside(last, panel.box))
    assert not film.stand.turning
    assert "No bracket feels a moment" in film.remarks()[1]


def drawn_arrows(film, record):
    """Return vectors of the arrows as handed to what draws them, mm, by panel and tooth."""
    if film.flat:
        return [
            {
                k: np.diff(film.painter.arrow(p, film.stand.states[p.case][record], k), axis=0)[0]
                / film.stand.scale
                for k in p.teeth
            }
            for p in film.stand.panels
        ]
    film.painter.picture(record)
    found = []
    for panel, moving in zip(film.stand.panels, film.painter.panels, strict=True):
        rings = {
            k: np.asarray(moving.forces[k].points).reshape(5, -1, 3)[[0, -1]].mean(axis=1)
            for k in panel.teeth
        }
        found.append({k: panel.sight.flat(np.diff(ring, axis=0)[0]) for k, ring in rings.items()})
    return found


@pytest.mark.parametrize("name", ["wires", "forces", "arch"])
def test_arrows_are_as_long_as_the_forces(name, film_of, request):
    """Verification against the force system of the tables, which is in trade words."""
    result = request.getfixturevalue(name)
    film = film_of(result)
    newton = film.stand.arrows.newton
    told = [histories(result, case) for case in film.stand.cases]
    largest = max(np.linalg.norm(h.at_bracket[:, :3], axis=1).max() for c in told for h in c)
    assert largest * newton == pytest.approx(LONGEST, rel=1e-9)
    for record in (film.records[0], film.records[-1]):
        for panel, arrows in zip(film.stand.panels, drawn_arrows(film, record), strict=True):
            for k, arrow in arrows.items():
                placed = film.stand.states[panel.case][record].teeth[k]
                extrusion, labial, mesial = told[panel.case][k].at_bracket[record, :3]
                side = 1 if result.teeth[k].number // 10 in (2, 4) else -1
                force = placed.turn @ np.array([labial, side * mesial, extrusion])
                wanted = newton * panel.sight.flat(force)
                assert arrow == pytest.approx(wanted, rel=0.01, abs=0.01 * LONGEST * 0.01)


def test_arrow_rings_begin_at_the_slot_and_end_at_the_tip():
    tail, vector = np.array([1.0, 2.0, 3.0]), np.array([0.4, -1.0, 2.0])
    for share in (0.01, 1.0, 3.0):
        rows = arrow_rows(tail, share * vector)
        assert rows[0].mean(axis=0) == pytest.approx(tail, abs=1e-12)
        assert rows[-1] == pytest.approx(np.broadcast_to(tail + share * vector, (14, 3)))
        along = (rows - tail) @ vector / np.linalg.norm(vector)
        assert along.max() == pytest.approx(share * np.linalg.norm(vector), rel=1e-9)
        assert along.min() == pytest.approx(0.0, abs=1e-9)
    assert np.ptp(arrow_rows(tail, 0 * vector), axis=(0, 1)) == pytest.approx(0.0)


def test_moments_turn_about_their_axis_by_an_angle_in_proportion(wires):
    stand = Stand(wires, tuple(frame_records(wires)))
    every = np.linalg.norm([h.at_bracket[:, 3:] for h in histories(wires, wires.cases[0])], axis=-1)
    largest = every.max()
    # some moments are little more than what is left out
    shares = every[:, list(stand.records)] / largest
    assert np.any((shares > 0.05) & (shares < 0.1))
    for record in stand.records:
        angles = np.linalg.norm(stand.states[0][record].turns, axis=1)
        share = every[:, record] / largest
        wanted = np.where(share >= 0.05, FULL * share, 0.0)
        assert angles == pytest.approx(wanted, rel=1e-9, abs=1e-12)
    state, sizes = stand.states[0][0], every[:, 0]
    k = int(np.argmax(sizes))
    turn, centre = state.turns[k], state.slots[k]
    middle = curl_rows(centre, turn).mean(axis=1)[:-1] - centre
    # anticlockwise as seen from the tip of the moment's axis
    steps = np.cross(middle[:-2], middle[1:-1]) @ turn
    assert np.all(steps > 0)
    assert middle @ turn == pytest.approx(np.zeros(len(middle)), abs=1e-9)


@pytest.mark.parametrize("name", ["wires", "arch"])
def test_patients_right_is_on_the_left_and_crowns_point_the_right_way(name, request):
    result = request.getfixturevalue(name)
    stand = Stand(result, (0,))
    assert [panel.sight.name for panel in stand.panels] == [FRONT, ABOVE]
    state, upper = stand.states[0][0], result.teeth[0].anatomy.upper
    for panel in stand.panels:
        # a mirrored sight would point away from the viewer
        assert np.cross(panel.sight.right, panel.sight.up) == pytest.approx(panel.sight.toward)
        across = [panel.pixels(placed.shift, stand.scale)[0] for placed in state.starts]
        assert np.all(np.diff(across) > 0)
    front, above = (panel.sight for panel in stand.panels)
    assert front.up[2] == (-1 if upper else 1)
    assert front.toward == pytest.approx([1, 0, 0])
    assert above.toward == pytest.approx([0, 0, 1])
    assert above.up[0] == (1 if upper else -1)


@pytest.mark.parametrize("view", [0, 1])
def test_teeth_are_drawn_where_the_panels_say(wires, film_of, view):
    """The pixels of crowns, of teeth that do not lie evenly about the midline."""
    film = film_of(wires)
    picture = np.asarray(film.frame(0))
    panel = film.stand.panels[view]
    assert abs(panel.middle[0]) > 2.0
    state = film.stand.states[0][0]
    shade = np.array([0xEE, 0xF1, 0xF3])
    for k, tooth in enumerate(wires.teeth):
        middle = np.array([0.0, 0.0, tooth.edge_height - 1.5])
        x, y = panel.pixels(state.teeth[k].points(middle), film.stand.scale)
        around = picture[round(y) - 2 : round(y) + 3, round(x) - 2 : round(x) + 3].astype(int)
        assert np.abs(around - shade).max(axis=-1).min() > 10
    # beside the first and the last tooth nothing stands
    row = picture[round(y)].astype(int)
    for column in (panel.box.left + 6, panel.box.left + panel.box.width - 6):
        assert row[column] == pytest.approx(shade, abs=1)


def test_both_ways_of_drawing_cover_the_same_pixels(wires):
    if trouble():
        pytest.skip(trouble())
    covered = []
    for film in [ArchFilm(wires, (0, 28), flat) for flat in (False, True)]:
        picture = np.asarray(film.painter.picture(28)).astype(int)
        covered.append(np.abs(picture - [0xEE, 0xF1, 0xF3]).max(axis=-1) > 20)
        film.close()
    assert covered[0].mean() > 0.1
    assert (covered[0] != covered[1]).mean() < 0.02


def test_everything_stays_within_its_panel(film_of, arch):
    film = film_of(arch)
    for panel in film.stand.panels:
        for state in film.stand.states[panel.case].values():
            for k in panel.teeth:
                solids = film.stand.bodies[panel.case].solids[k]
                for points in (
                    state.teeth[k].points(solids.crown_rows),
                    state.teeth[k].points(solids.root_rows),
                    arrow_rows(state.slots[k], state.forces[k]),
                ):
                    x, y = np.moveaxis(panel.pixels(points, film.stand.scale), -1, 0)
                    assert panel.box.left <= x.min() <= x.max() <= panel.box.left + panel.box.width
                    assert panel.box.top <= y.min() <= y.max() <= panel.box.top + panel.box.height
        assert panel.box.top + panel.box.height <= HEAD + BODY


def test_cases_stand_side_by_side_and_too_many_are_said(forces):
    film = ArchFilm(forces, tuple(frame_records(forces)), True)
    assert [p.case for p in film.stand.panels] == list(range(6))
    assert {p.sight.name for p in film.stand.panels} == {SIDE}
    assert len({(p.box.top, p.box.width, p.box.height) for p in film.stand.panels}) == 1
    assert all(a.box.left + a.box.width < b.box.left for a, b in pairwise(film.stand.panels))
    assert "cases" not in film.remarks()[0]
    more = dataclasses.replace(forces, cases=(*forces.cases, *forces.cases[:1]))
    film = ArchFilm(more, tuple(frame_records(more)), True)
    assert len(film.stand.panels) == MOST_CASES
    assert "first 6 of 7 cases" in film.remarks()[0]


def test_curves_are_those_of_the_most_loaded_teeth(arch):
    film = ArchFilm(arch, tuple(frame_records(arch)), True)
    told = histories(arch, arch.cases[0])
    sizes = [float(np.linalg.norm(h.at_bracket[:, :3], axis=1).max()) for h in told]
    left_out = {*range(7)} - {plot.tooth for plot in film.plots}
    assert left_out == {int(np.argmin(sizes))}
    for plot in film.plots:
        force = np.linalg.norm(told[plot.tooth].at_bracket[:, :3], axis=1)
        assert plot.curve.values == pytest.approx(force, rel=1e-9, abs=1e-12)
    assert "6 most loaded of 7 teeth" in film.remarks()[0]


def test_scale_bar_is_round_and_not_above_the_largest(wires):
    stand = Stand(wires, (0,))
    largest = LONGEST / stand.arrows.newton
    assert 0.4 * largest <= stand.bar <= largest
    assert float(f"{stand.bar:.0e}"[0]) in (1, 2, 5)


def test_caution_is_in_every_frame(wires, film_of):
    film = film_of(wires)
    feet = [np.asarray(film.frame(film.records[k]))[HEIGHT - FOOT :] for k in (0, -1)]
    assert np.array_equal(feet[0], feet[1])
    assert (feet[0].min(axis=-1) < 128).sum() > 500


def test_crown_and_root_meet_at_the_cervix_and_the_slot_is_open(wires):
    tooth = wires.teeth[0]
    solids = ToothSolids.of(tooth)
    assert np.array_equal(solids.root_rows[-1], solids.crown_rows[0])
    cervix = tooth.edge_height - tooth.anatomy.crown_length
    assert solids.crown_rows[0, :, 2] == pytest.approx(np.full(40, cervix))
    local = bracket(tooth, (0.56, 3.0)).points - tooth.slot
    front = local[local[:, 0] > 0]
    assert np.abs(front[:, 2]).min() == pytest.approx(0.28)
    assert np.abs(local[:, 1]).max() == pytest.approx(1.5)


def test_files_are_whole_and_repeatable(lower_slice, tmp_path, monkeypatch):
    monkeypatch.setattr("gomphosis.viz.arch_film.trouble", lambda: NO_OPENGL)
    places, told, said = [tmp_path / "one", tmp_path / "two"], [], []
    for place in places:
        place.mkdir()
    save_arch_film(lower_slice, places[0], lambda share, what: told.append(share), say=said.append)
    save_arch_film(lower_slice, places[1])
    assert said == ["arch film drawn flat: no OpenGL library works here"]
    for name in film_names("arch"):
        assert (places[0] / name).read_bytes() == (places[1] / name).read_bytes()
    count = len(frame_records(lower_slice))
    assert told == pytest.approx([(k + 1) / count for k in range(count)])
    with Image.open(places[0] / "arch.gif") as film:
        assert (film.n_frames, film.size) == (count, (WIDTH, HEIGHT))
        assert film.info["comment"].decode() == NOTICE


def test_a_number_goes_on_until_it_covers_no_other():
    ahead = np.array([0.0, 1.0])
    taken = [np.array([100.0, 50.0]), np.array([108.0, 50.0 + 14.0])]
    alone = clear_of(taken, np.array([80.0, 50.0]), ahead)
    np.testing.assert_array_equal(alone, [80.0, 50.0])
    # past the first it meets the second, and goes past that as well
    np.testing.assert_array_equal(clear_of(taken, np.array([110.0, 50.0]), ahead), [110.0, 78.0])
    np.testing.assert_array_equal(clear_of(taken, np.array([110.0, 50.0]), -ahead), [110.0, 36.0])


@pytest.mark.slow
def test_no_number_of_a_whole_arch_covers_another(whole_arch):
    film = ArchFilm(whole_arch, tuple(frame_records(whole_arch)), flat=True)
    places = np.array([place[:2] for place in film._labels])
    assert len(places) == 28
    apart = np.abs(places[:, None] - places)
    covered = (apart < NUMBER).all(axis=2)
    assert covered.sum() == len(places)
