"""A bracket that is bonded anew stands at its new place in every picture. Verification.

The fixture shifts the bracket of tooth 11 by 0.4 mm towards the edge, 0.2 mm labially and 0.3 mm
distally, and adds 4° of tip, 5° of torque and −3° of rotation to what is built in. The labial side
of tooth 11 is +x, its distal side +y and its edge +z: the numbers below are that by hand. What is
built in turns the tooth one way, so the slot on the tooth turns the other.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.lesson_tables import Lesson
from gomphosis.scenarios.summary import summary
from gomphosis.scenarios.surfaces import placement, tooth_placements
from gomphosis.viz.arch_film import ArchFilm
from gomphosis.viz.arch_views import ABOVE, ArchView
from gomphosis.viz.captions import Captions
from gomphosis.viz.compared_runs import ComparedRun
from gomphosis.viz.compared_scene import parts_of
from gomphosis.viz.elastic_coils import OUT, Coils
from gomphosis.viz.film import Film
from gomphosis.viz.film_layout import FRONT, SIDE
from gomphosis.viz.film_scene import Scene
from gomphosis.viz.film_views import Silhouette, Stage
from gomphosis.viz.free_body import free_bodies
from gomphosis.viz.free_body_figure import free_body_figure
from gomphosis.viz.panels import wire_key
from gomphosis.viz.report_packing import unpacked
from gomphosis.viz.report_record import report_record
from gomphosis.viz.scene_probe import trouble
from gomphosis.viz.slice_view import SliceView
from gomphosis.viz.theme import styled

SHIFT = np.array([0.2, 0.3, 0.4])
TURN = Rotation.from_rotvec(np.deg2rad([-4.0, -5.0, -3.0]))
K = 1  # of tooth 11
WIDTH = 3.0


def records(result):
    """Return the records of the day of the re-bonding, before and after it."""
    before, after = np.flatnonzero(result.cases[0].median.days == 2.0)
    return int(before), int(after)


def moved(points, slot):
    """Return points of a bracket after the re-bonding, tooth frame."""
    return TURN.apply(points - slot) + slot + SHIFT


def first(result, k, side):
    """Return slot and outline of a bracket as it is bonded first, tooth frame."""
    tooth = result.teeth[k]
    return tooth.slot, Silhouette(tooth, side, result.scenario.slot.width).bracket


def outline_after(result, k, side, record):
    """Return a bracket's outline on the unrolled arch at a record, mm, right and down."""
    tooth, (slot, local) = result.teeth[k], first(result, k, side)
    if k == K and record >= records(result)[1]:
        local = moved(local, slot)
    place = placement(tooth, result.cases[0].median.pose[record, k], StraightLine())
    return Stage(side, 1).flat(tooth, place.points(local))


def test_numbers_are_those_of_the_file(rebonded):
    before, after = rebonded.bonded[0][K], rebonded.bonded[1][K]
    np.testing.assert_allclose(after.slot - before.slot, SHIFT, rtol=0, atol=1e-12)
    corner = np.array([0.1, 1.0, -0.5])
    turned = after.on_slot(corner) - after.slot
    np.testing.assert_allclose(turned, TURN.apply(corner), rtol=0, atol=1e-12)
    assert rebonded.bonded[2] == rebonded.bonded[1]


def test_a_run_without_a_re_bonding_has_its_first_brackets_throughout(wires, forces):
    for result in (wires, forces):
        assert all(a is b for t in result.bonded for a, b in zip(t, result.teeth, strict=True))


@pytest.fixture(params=[True, False], ids=["flat", "rendered"])
def arch_film(request, rebonded):
    if not request.param and trouble():
        pytest.skip("nothing can be rendered here")
    film = ArchFilm(rebonded, tuple(range(len(rebonded.cases[0].median.days))), request.param)
    yield film
    film.close()


def test_bracket_and_arrow_of_the_arch_film(rebonded, arch_film):
    before, after = records(rebonded)
    case, states = rebonded.cases[0], arch_film.stand.states[0]
    slot = rebonded.teeth[K].slot
    was, now = (states[r].brackets[K].points for r in (before, after))
    np.testing.assert_allclose(now, moved(was, slot), rtol=0, atol=1e-12)
    for record, point in ((before, slot), (after, slot + SHIFT), (after + 1, slot + SHIFT)):
        place = tooth_placements(rebonded.teeth, case, record)[K]
        tail = place.points(point)
        np.testing.assert_allclose(states[record].slots[K], tail, rtol=0, atol=1e-12)
    for k in (0, 2):
        same = states[before].brackets[k].points, states[after].brackets[k].points
        np.testing.assert_array_equal(*same)
        place = tooth_placements(rebonded.teeth, case, after)[k]
        expected = place.points(rebonded.teeth[k].slot)
        np.testing.assert_array_equal(states[after].slots[k], expected)


def test_bracket_is_painted_where_it_is(rebonded, arch_film):
    """In both ways of painting: its pixels change from the first frame after the re-bonding on."""
    before, after = records(rebonded)
    painter, stand = arch_film.painter, arch_film.stand
    if arch_film.flat:
        tails = {}
        for record in (before, after):
            state = stand.states[0][record]
            tails[record] = painter.arrow(stand.panels[0], state, K)[0]
            expected = stand.panels[0].pixels(state.slots[K], stand.scale)
            np.testing.assert_allclose(tails[record], expected, rtol=0, atol=1e-9)
        return
    drawn = []
    for record in (before, after, before):
        painter.picture(record)
        drawn.append(np.asarray(painter.panels[0].brackets[K].points).copy())
        expected = stand.states[0][record].brackets[K].points
        np.testing.assert_allclose(drawn[-1], expected, rtol=0, atol=1e-6)
    np.testing.assert_array_equal(drawn[0], drawn[2])


@pytest.mark.parametrize("side", [FRONT, SIDE])
def test_bracket_and_arrow_of_the_film(rebonded, side, monkeypatch):
    monkeypatch.setattr("gomphosis.viz.film_layout.seen_from", lambda *_: side)
    film = Film(rebonded)
    scene = Scene(rebonded, film.layout, film.largest_traction)
    assert {view.side for view in film.layout.views} >= {side}
    for view in film.layout.views:
        for k in view.teeth:
            for record in records(rebonded):
                pose = rebonded.cases[0].median.pose[record, k]
                flat = body_of(rebonded, view.side, k, pose)
                pixels = scene.outline(view, k, pose)
                scale = np.ptp(pixels, axis=0) / np.ptp(flat, axis=0)
                origin = pixels[0] - scale * flat[0]
                expected = origin + scale * outline_after(rebonded, k, view.side, record)
                seen = Drawn()
                scene.draw(seen, view, record)
                assert any(near(polygon, expected) for polygon in seen.polygons)
                if k == K:
                    corners = origin + scale * slot_after(rebonded, k, view.side, record)
                    assert any(near(tail, corners) for tail in seen.tails)


class Drawn:
    """A canvas that keeps closed outlines and tails of arrows, px."""

    def __init__(self):
        self.polygons, self.tails, self.lines = [], [], []

    def polygon(self, points, **_):
        self.polygons.append(points)

    def arrow(self, tail, _head, **_):
        self.tails.append(tail)

    def line(self, points, **_):
        self.lines.append(points)

    dashes = coloured = lambda *_, **__: None


def near(found, expected):
    return np.shape(found) == np.shape(expected) and np.abs(found - expected).max() < 1e-6


def slot_after(result, k, side, record):
    """Return the place of a slot on the unrolled arch at a record, mm, right and down."""
    tooth = result.teeth[k]
    point = tooth.slot + (SHIFT if k == K and record >= records(result)[1] else 0.0)
    place = placement(tooth, result.cases[0].median.pose[record, k], StraightLine())
    return Stage(side, 1).flat(tooth, place.points(point))


def body_of(result, side, k, pose):
    tooth = result.teeth[k]
    body = Silhouette(tooth, side, WIDTH).body
    return Stage(side, 1).flat(tooth, placement(tooth, pose, StraightLine()).points(body))


@pytest.fixture(scope="module")
def record(rebonded):
    return report_record(rebonded, summary(rebonded))


def test_bracket_and_arrow_of_the_report_and_of_compared_runs(rebonded, record):
    """Packed to 0.01 mm, arrows to 0.001 of the largest force."""
    days, track = record.head["days"], rebonded.cases[0].median
    run = ComparedRun("A", record)
    front, above = (parts_of(run, view) for view in ("front", "above"))
    case = rebonded.cases[0]
    for k, kept in enumerate(record.head["cases"][0]["arch"]["teeth"]):
        outlines = unpacked(record.block, kept["bracket"])
        np.testing.assert_array_equal(outlines, front.outlines[k]["bracket"])
        for row, day in enumerate(days):
            at = int(np.flatnonzero(track.days == day)[-1])
            expected = outline_after(rebonded, k, FRONT, at)
            np.testing.assert_allclose(outlines[row], expected, rtol=0, atol=0.5001e-2)
            slot = rebonded.teeth[k].slot + (SHIFT if k == K and day >= 2.0 else 0.0)
            place = tooth_placements(rebonded.teeth, case, at)[k]
            tail = seen_above(place.points(slot))
            np.testing.assert_allclose(above.tails[k][row], tail, rtol=0, atol=1e-3)


def seen_above(point):
    """Return the screen place, right and down, of a point of the upper arch.

    The patient's right, which is at +y, is on the left; front teeth, at +x, are up.
    """
    return np.array([-point[1], -point[0]])


def test_force_system_of_the_report_is_about_the_slot(rebonded, record):
    """Moments seen from the front are those of the wrench at the crest less s × F."""
    after = records(rebonded)[1]
    wrench = rebonded.cases[0].median.wrench[after, K]
    slot = rebonded.teeth[K].slot + SHIFT
    about = wrench[3:] - np.cross(slot, wrench[:3])
    row = record.head["days"].index(2.0)
    kept = record.head["cases"][0]["teeth"][K]
    # of tooth 11: tip Mx, torque My, rotation −Mz
    moments = unpacked(record.block, kept["moments_Nmm"])[row]
    np.testing.assert_allclose(moments, about * [1, 1, -1], rtol=0, atol=0.5001e-2)
    old = wrench[3:] - np.cross(rebonded.teeth[K].slot, wrench[:3])
    assert np.abs(about - old).max() > 0.02


@pytest.mark.parametrize("kind", [FRONT, SIDE, ABOVE])
def test_bracket_and_slot_of_the_figure_of_the_arch(rebonded, kind):
    for record in records(rebonded):
        view = ArchView(rebonded, rebonded.cases[0], record, kind, (0, 1, 2))
        for k in view.teeth:
            slot = rebonded.teeth[k].slot
            if k == K and record == records(rebonded)[1]:
                slot = slot + SHIFT
            np.testing.assert_allclose(view.slot(k), view.points(k, slot), rtol=0, atol=1e-12)
            if kind == ABOVE:
                continue
            (found, _) = view.outlines(k)[2]
            expected = outline_after(rebonded, k, kind, record) * [1.0, -1.0]
            apart = found - expected
            # teeth seen from the side stand beside each other
            np.testing.assert_allclose(apart, np.broadcast_to(apart[0], apart.shape), atol=1e-12)
            if kind == FRONT:
                np.testing.assert_allclose(apart, 0, atol=1e-12)


def test_free_body_of_a_later_wire_has_the_slot_where_it_is(rebonded):
    lesson = Lesson(aim="a", question="q", free_body=11)
    scenario = rebonded.scenario.model_copy(update={"lesson": lesson})
    first_wire, second = free_bodies(replace(rebonded, scenario=scenario))
    assert first_wire.tooth.number == 11
    across, up = second.slot - first_wire.slot
    # upper crowns point down; from the front the distal side of tooth 11 is the patient's right
    assert up == pytest.approx(-0.4, abs=1e-12)
    assert across == pytest.approx({SIDE: 0.2, FRONT: 0.3 * -1}[second.side], abs=1e-12)
    (x, y), (right, high) = second.centre - second.slot, second.bracket.force
    turned = second.bracket.moment - (x * high - y * right)
    assert second.resistance.moment == pytest.approx(turned, abs=1e-9)
    assert abs(second.resistance.moment - second.bracket.moment) > 0.02  # N·mm, not nothing


def test_force_on_a_slot_off_the_axis_begins_there_in_the_free_body_figure(rebonded):
    """Seen from the front the force lies on the crown, whichever way it points."""
    lesson = Lesson(aim="a", question="q", free_body=11)
    result = replace(rebonded, scenario=rebonded.scenario.model_copy(update={"lesson": lesson}))
    body = free_bodies(result)[1]
    assert body.side == FRONT and body.bracket.force[0] * (body.slot - body.centre)[0] < 0
    with styled():
        figure = free_body_figure(result)
    tails = [
        part.xyann
        for axes in figure.axes
        for part in axes.texts
        if part.get_gid() == "force bracket"
    ]
    np.testing.assert_allclose(tails[1], body.slot, rtol=0, atol=1e-9)


def test_coils_end_where_the_bracket_is(rebonded):
    coils, tooth = Coils(rebonded), rebonded.teeth[K]
    first_hook = tooth.slot + np.array([OUT, 0, 0])
    np.testing.assert_allclose(coils.hooks(0)[K], first_hook, rtol=0, atol=1e-12)
    for period in (1, 2):
        found = coils.hooks(period)
        np.testing.assert_allclose(found[K], moved(first_hook, tooth.slot), rtol=0, atol=1e-12)
        np.testing.assert_array_equal(found[[0, 2]], coils.hooks(0)[[0, 2]])


def ends_bonded_apart(result):
    """Return the same movement with the bracket of the first tooth 0.3 mm more to the right."""
    visit = result.scenario.visit[0]
    (bond,) = visit.rebond
    other = bond.model_copy(update={"tooth": 12})
    visit = visit.model_copy(update={"rebond": (other,)})
    scenario = result.scenario.model_copy(update={"visit": (visit,)})
    return replace(result, scenario=scenario)


def test_wire_on_the_unrolled_arch_ends_at_the_slot_where_it_is(rebonded):
    """The slot of the first tooth is its end; on the screen the patient's right is on the left."""
    changed, case = ends_bonded_apart(rebonded), rebonded.cases[0]
    for record, apart in zip(records(rebonded), (0.0, -0.3), strict=True):
        views = [ArchView(r, case, record, FRONT, (0, 1, 2)) for r in (rebonded, changed)]
        was, now = (view.wire for view in views)
        assert now[0, 0] - was[0, 0] == pytest.approx(apart, abs=0.01)
        assert now[-1, 0] == pytest.approx(was[-1, 0], abs=1e-12)
        lines = []
        for result in (rebonded, changed):
            film, seen = Film(result), Drawn()
            scene = Scene(result, film.layout, film.largest_traction)
            scene.draw(seen, film.layout.views[0], record)
            lines.append(seen.lines[-1])
        (start, end), scale = (lines[0][0], lines[0][-1]), np.ptp(lines[0][:, 0])
        per_mm = scale / np.ptp(was[:, 0])
        assert lines[1][0, 0] - start[0] == pytest.approx(apart * per_mm, abs=0.01 * per_mm)
        assert lines[1][-1, 0] == pytest.approx(end[0], abs=1e-9)
    fronts = [
        parts_of(ComparedRun("A", report_record(r, summary(r))), "front").wire[:, 0, 0]
        for r in (rebonded, changed)
    ]
    days = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0])
    expected = np.where(days < 2.0, 0.0, -0.3)
    np.testing.assert_allclose(fronts[1] - fronts[0], expected, rtol=0, atol=0.02)


@pytest.mark.parametrize(("plane", "across"), [("labiolingual", 0.2), ("mesiodistal", 0.0)])
def test_arrow_of_a_slice_begins_at_the_slot_where_it_is(rebonded, plane, across):
    days = np.arange(6.0)
    track = SimpleNamespace(days=days, load=np.zeros((6, 3)))
    opened = SimpleNamespace(model=SimpleNamespace(index=K, plane=plane), track=track)
    view = SliceView(rebonded, rebonded.cases[0], opened)
    tails = [view.force(SimpleNamespace(day=day, drift=np.zeros(3)))[0] for day in (1.0, 2.0, 5.0)]
    np.testing.assert_allclose(np.diff(tails, axis=0), [[across, 0.4], [0, 0]], atol=1e-12)


def test_the_visit_is_told(rebonded, wires, chained):
    assert Captions(rebonded).at(2.0).startswith("The bracket of tooth 11 is bonded anew.")
    assert wire_key(rebonded.scenario).endswith("dotted upright: visit without a new wire")
    assert "dotted" not in wire_key(wires.scenario)
    assert wire_key(chained.scenario).endswith("dotted upright: elastics change")
