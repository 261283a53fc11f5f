"""Verification: places of teeth, walls and wire in the arch frame, against geometry by hand."""

import numpy as np
import pytest

from gomphosis.bone.directions import from_trade
from gomphosis.bone.rates import Linear
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.arch import ArchForm, StraightLine
from gomphosis.scenarios.files import parse_scenario
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.run import run
from gomphosis.scenarios.surfaces import (
    body_points,
    closed_quads,
    placement,
    start_placements,
    tooth_placements,
    wall_placements,
    wall_points,
    wall_vectors,
    wire_line,
)

INCH = 25.4
TEXT = """
schema = 1
duration = "2 weeks"
[[tooth]]
number = {a}
[[tooth]]
number = {b}
vertical = "-1 mm"
rotation = "4 deg"
[[wire]]
size = "0.014 in"
shape = {{ half_width = "25 mm", depth = "28 mm" }}
[[wire]]
tied_in = "1 week"
size = "0.016 in"
shape = {{ half_width = "25 mm", depth = "28 mm" }}
[rate]
max_speed = "60 um/day"
half_stress = "8 kPa"
"""
COARSE = Resolution(along=8, root=2, ligament=2, bone=1, sectors=16)


HEIGHT, DEPTH, WIDTH = 0.022 * INCH, 0.028 * INCH, 3.0  # of a slot


def scenario_of(a, b):
    return parse_scenario(TEXT.format(a=a, b=b), "test")


@pytest.fixture(scope="module")
def result():
    return run(scenario_of(13, 12), resolution=COARSE)


@pytest.mark.parametrize("numbers", [(13, 12), (23, 22), (33, 32), (43, 42)])
def test_mesial_is_towards_the_midline_and_labial_is_outward(numbers):
    # on a round arch outward is away from its middle, which lies at x < 0, y = 0
    tooth = tooth_models(scenario_of(*numbers), Linear(1.0), resolution=COARSE)[0]
    line = ArchForm(25.0, 28.0, 0.0)

    def centre(words):
        moved = placement(tooth, from_trade(tooth.number, np.array(words, dtype=float)), line)
        return moved.points(np.zeros(3))

    still = centre([0.0] * 6)
    mesial, labial = centre([0, 0, 0.5, 0, 0, 0]), centre([0, 0.5, 0, 0, 0, 0])
    assert abs(mesial[1]) < abs(still[1]) - 0.2
    assert labial[0] > still[0] + 0.1
    assert abs(labial[1]) > abs(still[1]) + 0.1
    assert np.linalg.norm(mesial - still) == pytest.approx(0.5, abs=1e-12)
    assert centre([0.5, 0, 0, 0, 0, 0])[2] - still[2] == pytest.approx(0.5, abs=1e-12)


def test_aligned_slot_lies_on_the_passive_line(result):
    tooth = result.teeth[0]
    for line in (StraightLine(), ArchForm(25.0, 28.0, 0.0)):
        slot = placement(tooth, np.zeros(6), line).points(tooth.slot)
        assert slot == pytest.approx(line.point(np.array([tooth.place]))[0], abs=1e-12)


def test_edge_moves_as_tabulated_to_second_order_in_the_rotation(result):
    case = result.cases[0]
    tables = histories(result, case)
    for record in (0, 5, -1):
        record %= len(case.median.days)
        starts = start_placements(result.teeth, case, record)
        places = tooth_placements(result.teeth, case, record)
        for k, tooth in enumerate(result.teeth):
            moved = places[k].points(tooth.edge) - starts[k].points(tooth.edge)
            turns = np.linalg.norm(tooth.start[3:]) + np.linalg.norm(
                case.median.pose[record, k, 3:]
            )
            arm = np.linalg.norm(tooth.edge - tooth.slot)
            gap = abs(np.linalg.norm(moved) - np.linalg.norm(tables[k].crown[record]))
            # |exp(a)x - (1 + a)x| <= |a|^2/2 |x|, once at the start and once now
            assert gap <= turns**2 * arm + 1e-12


def test_teeth_stay_undistorted(result):
    case = result.cases[0]
    for place in tooth_placements(result.teeth, case, len(case.median.days) - 1):
        assert place.turn @ place.turn.T == pytest.approx(np.eye(3), abs=1e-12)
        assert np.linalg.det(place.turn) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("record", [0, 3, 7, 8, -1])
def test_wire_passes_through_every_slot_at_every_record(result, record):
    """At both ends of a slot its middle is at least its radius off the four walls.

    A slot's point is the middle of a wire on the floor. Walls are met to 1e-5 mm, chords of the
    drawn line are off it by less than 1e-4 mm.
    """
    case = result.cases[0]
    record %= len(case.median.days)
    line = wire_line(case, record)
    size = (0.014, 0.016)[int(case.median.period[record])] * INCH
    room = 0.5 * (HEIGHT - size)
    places = tooth_placements(result.teeth, case, record)
    lifted = []
    for place, tooth in zip(places, result.teeth, strict=True):
        # labial, along, occlusal
        seen = (line - place.points(tooth.slot)) @ place.turn
        for end in (-0.5 * WIDTH, 0.5 * WIDTH):
            labial, occlusal = crossing(seen, end)
            assert -1e-4 < labial < DEPTH - size + 1e-4
            assert abs(occlusal) < room + 1e-4
            lifted.append(occlusal)
    # one tooth stands a millimetre short: the wire is up against walls on both sides
    assert max(lifted) > room - 1e-3
    assert min(lifted) < 1e-3 - room


def crossing(line, along):
    """Return where a line in a slot's frame goes through the plane of an end."""
    order = np.argsort(line[:, 1])
    assert line[order[0], 1] < along < line[order[-1], 1]
    return [float(np.interp(along, line[order, 1], line[order, k])) for k in (0, 2)]


def test_wire_of_a_record_leaves_the_loads_of_the_run_alone(result):
    case = result.cases[0]
    poses = case.median.pose[-1]
    before = case.wires[0].evaluate(poses).wrenches
    wire_line(case, 0)
    assert np.array_equal(case.wires[0].evaluate(poses).wrenches, before)


def test_socket_follows_the_drift_and_the_tooth_its_pose(result):
    case = result.cases[0]
    record = len(case.median.days) // 2
    line = case.wires[0].wire.shape.line
    for k, tooth in enumerate(result.teeth):
        wall = wall_placements(result.teeth, case, record)[k]
        body = tooth_placements(result.teeth, case, record)[k]
        drift = placement(tooth, case.median.drift[record, k], line)
        pose = placement(tooth, case.median.pose[record, k], line)
        assert np.array_equal(wall.shift, drift.shift)
        assert np.array_equal(body.shift, pose.shift)
    # loaded, the last tooth stands elsewhere than its socket's middle
    assert np.linalg.norm(body.shift - wall.shift) > 1e-4


def test_polar_vectors_point_where_the_wall_is(result):
    tooth = result.teeth[0]
    shape = tooth.wall.area.shape
    radial = wall_vectors(tooth, np.broadcast_to([1.0, 0.0, 0.0], (*shape, 3)))
    around = wall_vectors(tooth, np.broadcast_to([0.0, 0.0, 1.0], (*shape, 3)))
    points = wall_points(tooth)
    outward = points[-1, :, :2] / np.linalg.norm(points[-1, :, :2], axis=1)[:, None]
    assert radial[-1, :, :2] == pytest.approx(outward, abs=1e-12)
    step = np.roll(points[-1], -1, axis=0) - np.roll(points[-1], 1, axis=0)
    assert np.all(np.einsum("si,si->s", around[-1], step) > 0)


def test_closed_grid_covers_a_cylinder():
    count = 400
    angle = 2 * np.pi * np.arange(count) / count
    ring = np.stack([2 * np.cos(angle), 2 * np.sin(angle), 0 * angle], axis=1)
    points = np.concatenate([ring, ring + np.array([0, 0, 3]), ring + np.array([0, 0, 5])])
    quads = points[closed_quads(3, count)]
    sides = np.cross(quads[:, 2] - quads[:, 0], quads[:, 3] - quads[:, 1])
    area = 0.5 * np.linalg.norm(sides, axis=1).sum()
    # a polygon of n sides is shorter than its circle by pi^2/(6 n^2)
    assert area == pytest.approx(2 * np.pi * 2 * 5, rel=np.pi**2 / (6 * count**2) * 1.01)


def test_tooth_has_the_root_of_the_model_and_the_crown_of_the_catalogue(result):
    tooth = result.teeth[1]
    body = body_points(tooth, sectors=40)
    root = tooth.support.design.root
    below = body[..., 2] <= 0
    radius = np.linalg.norm(body[..., :2], axis=-1)
    height = np.clip(body[..., 2], -root.length, 0)
    model = root.radius * np.maximum(1 + height / root.length, 0) ** root.exponent
    assert radius[below] == pytest.approx(model[below], abs=1e-6)
    assert body[..., 2].min() == pytest.approx(-tooth.embedded, abs=1e-9)
    assert body[..., 2].max() == pytest.approx(tooth.edge_height, abs=1e-9)
    anatomy = tooth.anatomy
    for axis, diameter in ((0, anatomy.crown_labiolingual), (1, anatomy.crown_mesiodistal)):
        widest = 2 * body[..., axis].max()
        assert widest <= diameter + 1e-9
        assert widest == pytest.approx(diameter, rel=0.1)
