"""Places along the arch and the passive line of a wire."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.teeth import tooth
from gomphosis.scenarios.arch import ArchForm, StraightLine, axes, places

ARCHES = [ArchForm(25.0, 30.0, 0.0), ArchForm(25.0, 30.0, 0.4), ArchForm(28.0, 0.0, 1.0)]
PLACE = np.array([-40.0, -12.0, 0.0, 3.0, 25.0])


@pytest.mark.parametrize("arch", ARCHES, ids=repr)
def test_place_is_the_arc_length_from_the_midline(arch):
    """Verification: chords of a fine polyline through the arch's own points."""
    fine = np.linspace(0, 40, 20001)
    chord = np.linalg.norm(np.diff(arch.point(fine), axis=0), axis=1)
    # the arch is tabulated every 0.025 mm or so: single chords waver, their sum does not
    np.testing.assert_allclose(chord, 0.002, rtol=2e-3)
    np.testing.assert_allclose(np.cumsum(chord), fine[1:], rtol=0, atol=5e-5)
    np.testing.assert_allclose(arch.point(np.array([0.0])), [[0, 0, 0]], rtol=0, atol=1e-12)


def test_arc_length_of_a_parabola_in_closed_form():
    """Verification: y/2 sqrt(1 + 4 a^2 y^2) + asinh(2 a y) / (4 a) at y = W for x = -a y^2."""
    width, depth = 25.0, 30.0
    a = depth / width**2
    length = width / 2 * np.sqrt(1 + (2 * a * width) ** 2) + np.arcsinh(2 * a * width) / (4 * a)
    end = ArchForm(width, depth, 0.0).point(np.array([length]))[0]
    np.testing.assert_allclose(end, [-depth, width, 0], rtol=0, atol=1e-7)


@pytest.mark.parametrize("arch", ARCHES, ids=repr)
def test_direction_is_that_of_the_tangent(arch):
    step = 1e-4
    tangent = (arch.point(PLACE + step) - arch.point(PLACE - step)) / (2 * step)
    angle = np.arctan2(tangent[:, 0], tangent[:, 1])
    np.testing.assert_allclose(arch.direction(PLACE), angle, rtol=0, atol=1e-6)


@pytest.mark.parametrize("arch", ARCHES, ids=repr)
def test_both_sides_are_mirror_images_to_the_last_bit(arch):
    np.testing.assert_array_equal(arch.point(PLACE), arch.point(-PLACE) * [1, -1, 1])
    np.testing.assert_array_equal(arch.direction(PLACE), -arch.direction(-PLACE))


def test_straight_line_runs_along_y():
    np.testing.assert_array_equal(StraightLine().point(PLACE)[:, 1], PLACE)
    np.testing.assert_array_equal(StraightLine().point(PLACE)[:, ::2], 0.0)
    np.testing.assert_array_equal(StraightLine().direction(PLACE), 0.0)


def test_axes_are_labial_tangent_and_occlusal():
    """On the +y side of an arch the wire turns back, and labial points sideways too."""
    angle = ARCHES[0].direction(np.array([20.0]))[0]
    assert angle < 0
    labial, tangent, occlusal = axes(angle).T
    assert tangent[0] < 0 < tangent[1]
    assert labial[0] > 0 and labial[1] > 0
    np.testing.assert_allclose(np.cross(labial, tangent), occlusal, rtol=0, atol=1e-15)


@pytest.mark.parametrize("sizes", [(0.0, 30.0, 0.0), (25.0, -1.0, 0.0), (25.0, 30.0, 1.5)])
def test_impossible_arches_are_refused(sizes):
    with pytest.raises(ValueError, match="half_width > 0 mm, depth >= 0 mm, squareness 0 to 1"):
        ArchForm(*sizes)


def test_teeth_stand_in_contact_from_the_midline():
    """y runs to the patient's right in the upper jaw: 11 at +, 21 at -; the lower is reversed."""
    found = places([tooth(n) for n in (12, 11, 21, 23)])
    np.testing.assert_allclose(
        found, [8.5 + 6.5 / 2, 8.5 / 2, -8.5 / 2, -(8.5 + 6.5 + 7.5 / 2)], rtol=1e-14
    )
    lower = places([tooth(31), tooth(41)])
    assert lower[0] > 0 > lower[1]


def test_a_wider_neighbour_pushes_the_teeth_beyond_it_outwards():
    wide = replace(tooth(11), crown_mesiodistal=9.5)
    np.testing.assert_allclose(
        places([tooth(12), wide]) - places([tooth(12), tooth(11)]), [1.0, 0.5], rtol=1e-13
    )
