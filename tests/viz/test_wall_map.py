"""Verification: the unrolled wall shows each side where the viewer sees it."""

import dataclasses

import numpy as np
import pytest

from gomphosis.bone.directions import arch_side
from gomphosis.bone.teeth import tooth
from gomphosis.viz.film_wall import WallTile, traction_pixels
from gomphosis.viz.palette import INK, rgb, traction_bytes
from gomphosis.viz.wall_map import WallMap
from gomphosis.viz.wording import wall_words


def relabelled(model, number):
    return dataclasses.replace(model, number=number, anatomy=tooth(number))


# Seen from the front, the patient's right is on the left: the midline, and so mesial, lies to
# the viewer's right of right-hand teeth and to the left of left-hand ones, in both jaws.
MESIAL_ON_RIGHT = {11: True, 21: False, 31: False, 41: True, 16: True, 36: False}


@pytest.mark.parametrize(("number", "right"), MESIAL_ON_RIGHT.items())
def test_words_stand_where_the_viewer_sees_them(wires, number, right):
    words = WallMap(relabelled(wires.teeth[0], number)).words
    assert words[3 if right else 1] == "mesial"
    assert words[1 if right else 3] == "distal"
    assert words[2] == ("labial" if number % 10 <= 3 else "buccal")
    assert words[0] == words[4] == ("palatal" if number < 30 else "lingual")


@pytest.mark.parametrize(("number", "right"), MESIAL_ON_RIGHT.items())
def test_samples_stand_under_their_words(wires, number, right):
    model = relabelled(wires.teeth[0], number)
    nodes = len(model.support.wall.place)
    # largest on the mesial side, which is arch_side * y of the tooth frame
    mesial = arch_side(number) * np.sin(model.wall.angles)
    shown = WallMap(model).unrolled(np.tile(mesial, (nodes, 1)))
    column = WallMap(model).across[np.argmax(shown[0])]
    assert column == pytest.approx(90.0 if right else -90.0, abs=1e-9)
    labial = WallMap(model).unrolled(np.tile(np.cos(model.wall.angles), (nodes, 1)))
    assert WallMap(model).across[np.argmax(labial[0])] == pytest.approx(0.0, abs=1e-9)
    assert labial[0, 0] == pytest.approx(labial[0, -1], abs=1e-12)


def test_an_odd_number_of_sectors_is_interpolated(wires):
    model = wires.teeth[0]
    wall = dataclasses.replace(model.wall, sectors=17)
    odd = dataclasses.replace(model, remodelling=dataclasses.replace(model.remodelling, wall=wall))
    nodes = len(model.support.wall.place)
    shown = WallMap(odd).unrolled(np.tile(np.cos(wall.angles), (nodes, 1)))
    exact = np.cos(np.deg2rad(WallMap(odd).across))
    # linear between sectors: at most 1 - cos of half a sector
    assert np.abs(shown[0] - exact).max() <= 1 - np.cos(np.pi / 17) + 1e-12


def test_crest_comes_first(wires):
    wall = WallMap(wires.teeth[0])
    assert wall.depth[0] < 0.5
    assert wall.depth[-1] > 10.0
    assert np.all(np.diff(wall.depth) > 0)
    model = wires.teeth[0]
    height = np.repeat(model.support.wall.place[:, 1:], model.wall.sectors, axis=1)
    assert wall.unrolled(-height)[:, 3] == pytest.approx(wall.depth, abs=1e-12)


def test_values_are_in_kpa(wires):
    model = wires.teeth[1]
    wrench = wires.cases[0].median.wrench[0, 1]
    stress = model.wall.stress(wrench)
    shown = WallMap(model).normal_kpa(wrench)
    assert shown.max() == pytest.approx(1000 * stress.normal.max(), rel=1e-12)
    assert WallMap(model).pressure_kpa(wrench).max() == pytest.approx(
        1000 * stress.pressure.max(), rel=1e-12
    )


@pytest.mark.parametrize("number", range(11, 19))
def test_wall_words_are_four_sides(number):
    assert len(set(wall_words(tooth(number)))) == 4


def test_pixels_of_a_tile_carry_colour_and_pattern(wires):
    model = wires.teeth[1]
    wrench = wires.cases[0].median.wrench[0, 1]
    wall = WallMap(model)
    neutral = 3.0
    tile = WallTile(wall, 121, 80, np.abs(wall.normal_kpa(wrench)).max(), neutral)
    pixels = tile.picture(wrench)
    marked = (pixels == rgb(INK)).all(axis=-1)
    # the same field by another route: plain linear interpolation, column by column
    rows = np.linspace(max(0.0, wall.depth[0]), wall.depth[-1], 80)
    columns = np.linspace(-180, 180, 121)
    down = np.stack([np.interp(rows, wall.depth, c) for c in wall.normal_kpa(wrench).T], axis=1)
    field = np.stack([np.interp(columns, wall.across, row) for row in down])
    zone = np.sign(field) * (np.abs(field) >= neutral)
    edge = np.zeros(zone.shape, dtype=bool)
    edge[:, 1:] |= zone[:, 1:] != zone[:, :-1]
    edge[1:] |= zone[1:] != zone[:-1]
    assert edge.sum() > 50
    assert marked[edge].all()
    assert not marked[(zone == 0) & ~edge].any()
    for kind in (-1, 1):
        assert 0.06 < marked[(zone == kind) & ~edge].mean() < 0.25
    # without load there is neither zone nor pattern
    still = tile.picture(np.zeros(6))
    assert np.array_equal(still, np.broadcast_to(traction_pixels(np.zeros((80, 121))), still.shape))


def test_ends_of_the_colour_scale():
    ramp = traction_bytes()
    assert np.array_equal(traction_pixels(np.array([-1.0, 1.0, -9.0])), ramp[[0, 255, 0]])
