"""Exact areas of outlines in cells: closed forms, and a clipper of another kind."""

import numpy as np
import pytest

from gomphosis.bone.coverage import Raster, area_within, coverage, enclosed_area, moved, overlay

RASTER = Raster((-4.0, -6.0), (40, 50), 0.2)
ANGLES = np.linspace(0, 2 * np.pi, 73)[:-1]
ELLIPSE = np.stack([2.0 * np.cos(ANGLES) + 0.013, 3.0 * np.sin(ANGLES) - 1.007])
# not convex: an arrow head with a notch
ARROW = np.array([[-1.13, 2.07, 1.51, 0.2], [-2.5, 0.11, 0.5, 3.03]])


def clipped_area(outline, x0, x1, z0, z1):
    """Cut a closed outline by one cell's four sides in turn (corner lists) and take its area."""
    points = list(outline.T)
    for axis, limit, sign in ((0, x0, 1), (0, x1, -1), (1, z0, 1), (1, z1, -1)):
        kept = []
        for here, there in zip(points, points[1:] + points[:1], strict=True):
            inside, after = sign * (here[axis] - limit), sign * (there[axis] - limit)
            if inside >= 0:
                kept.append(here)
            if inside * after < 0:
                kept.append(here + (there - here) * inside / (inside - after))
        points = kept
        if not points:
            return 0.0
    return abs(enclosed_area(np.array(points).T))


@pytest.mark.parametrize("outline", [ELLIPSE, ARROW, ARROW[:, ::-1]])
def test_verification_every_cell_against_cutting_it_out(outline):
    share = coverage(RASTER, outline)
    h = RASTER.spacing
    expected = np.array(
        [
            [clipped_area(outline, x, x + h, z, z + h) for z in -6.0 + h * np.arange(50)]
            for x in -4.0 + h * np.arange(40)
        ]
    )
    np.testing.assert_allclose(share, expected / h**2, rtol=0, atol=1e-12)


def test_verification_overlay_of_two_squares_by_hand():
    raster = Raster((0.0, 0.0), (4, 3), 1.0)
    first = np.array([[0.5, 2.5, 2.5, 0.5], [0.5, 0.5, 2.5, 2.5]])
    second = first + np.array([[1.0], [0.25]])
    found = overlay(raster, first, second)
    np.testing.assert_allclose(found.both.sum(), 1.0 * 1.75, rtol=1e-14)
    np.testing.assert_allclose(found.first_only.sum(), 4.0 - 1.75, rtol=1e-14)
    # rows from z 0.75 to 2.5 of the column from x 1.5 to 2
    np.testing.assert_allclose(found.both[1], [0.125, 0.5, 0.25], rtol=0, atol=1e-14)
    np.testing.assert_allclose(found.second_only[3], [0.125, 0.5, 0.375], rtol=0, atol=1e-14)


def test_overlay_agrees_with_each_outline_alone():
    other = moved(ELLIPSE, np.array([0.31, 0.05, 0.2]))
    found = overlay(RASTER, ELLIPSE, other)
    np.testing.assert_allclose(found.first_only + found.both, coverage(RASTER, ELLIPSE), atol=1e-12)
    np.testing.assert_allclose(found.second_only + found.both, coverage(RASTER, other), atol=1e-12)


def test_areas_of_random_stars_moved_by_a_little_or_a_lot():
    random = np.random.default_rng(5)
    for count in range(3, 103):
        angles = 2 * np.pi * (np.arange(count) + random.uniform(0, 0.9, count)) / count
        star = random.uniform(0.4, 3.0, count) * np.stack([np.cos(angles), np.sin(angles)])
        other = moved(star, random.normal(0, 10.0 ** -random.integers(0, 14), 3))
        found = overlay(RASTER, star, other)
        for only, outline in ((found.first_only, star), (found.second_only, other)):
            area = (only + found.both).sum() * RASTER.cell_area
            np.testing.assert_allclose(area, area_within(RASTER, outline), rtol=1e-11)


def test_verification_swept_area_of_a_circle_moved_sideways():
    # lens of two circles: 2 r^2 acos(d/2r) - d/2 sqrt(4 r^2 - d^2)
    angles = np.linspace(0, 2 * np.pi, 4001)[:-1]
    circle, d = 2.0 * np.stack([np.cos(angles), np.sin(angles)]), 0.7
    found = overlay(RASTER, circle, circle + np.array([[d], [0.0]]))
    lens = 8 * np.arccos(d / 4) - d / 2 * np.sqrt(16 - d**2)
    # a polygon of 4000 corners lacks 4e-7 of the circle's area
    np.testing.assert_allclose(found.both.sum() * RASTER.cell_area, lens, rtol=2e-6)
    np.testing.assert_allclose(
        found.second_only.sum() * RASTER.cell_area, 4 * np.pi - lens, rtol=2e-6
    )


def test_an_outline_that_has_not_moved_sweeps_nothing():
    found = overlay(RASTER, ELLIPSE, ELLIPSE.copy())
    assert found.first_only.max() == found.second_only.max() == 0.0
    tiny = overlay(RASTER, ELLIPSE, ELLIPSE + 1e-13)
    assert tiny.first_only.max() < 1e-10
    assert tiny.second_only.max() < 1e-10


@pytest.mark.parametrize(
    ("shift", "area"),
    [((0.0, 0.0), 16.0), ((2.0, 0.0), 8.0), ((0.0, -5.0), 4.0), ((20.0, 0.0), 0.0)],
)
def test_outlines_are_cut_at_the_raster_s_sides(shift, area):
    square = np.array([[0.0, 4.0, 4.0, 0.0], [-4.0, -4.0, 0.0, 0.0]]) + np.reshape(shift, (2, 1))
    np.testing.assert_allclose(area_within(RASTER, square), area, rtol=1e-13, atol=1e-13)
    total = coverage(RASTER, square).sum() * RASTER.cell_area
    np.testing.assert_allclose(total, area, rtol=1e-13, atol=1e-13)


def test_cut_area_agrees_with_the_cells_of_an_outline_that_leaves_on_all_sides():
    window = Raster((-1.9, -2.3), (17, 21), 0.2)
    for outline in (ELLIPSE, ARROW, 3.0 * ARROW):
        cells = coverage(window, outline).sum() * window.cell_area
        np.testing.assert_allclose(area_within(window, outline), cells, rtol=1e-12)


def test_positive_rotation_carries_points_above_the_origin_forwards():
    turned = moved(np.array([[0.0, 1.0], [2.0, 0.0]]), np.array([0.5, 0.25, np.pi / 2]))
    np.testing.assert_allclose(turned, [[2.5, 0.5], [0.25, -0.75]], atol=1e-15)


@pytest.mark.parametrize(
    ("outline", "message"),
    [
        (np.zeros((2, 2)), "3 or more"),
        (np.zeros((3, 4)), "3 or more"),
        (np.array([[0, 1, np.nan], [0, 0, 1.0]]), "corner 2 of the outline is not finite"),
    ],
)
def test_bad_outlines_are_refused(outline, message):
    with pytest.raises(ValueError, match=message):
        coverage(RASTER, outline)


@pytest.mark.parametrize(
    "bad", [((0, 0), (0, 3), 0.1), ((0, 0), (2, 3), 0.0), ((0, np.nan), (2, 3))]
)
def test_bad_rasters_are_refused(bad):
    with pytest.raises(ValueError, match="raster needs"):
        Raster(*bad)
