"""Closed outlines: what is refused and where, and their sides."""

import numpy as np
import pytest

from gomphosis.bone.outline import checked_outline, side_at

SQUARE = np.array([[0.0, 2.0, 2.0, 0.0], [0.0, 0.0, 2.0, 2.0]])


def test_a_repeated_last_point_is_dropped():
    closed = np.concatenate([SQUARE, SQUARE[:, :1]], axis=1)
    np.testing.assert_array_equal(checked_outline(closed, "bone"), SQUARE)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        (SQUARE[:, :2], r"^bone: an outline needs three corners, got 2"),
        (SQUARE[:1], r"^bone: an outline needs shape"),
        (SQUARE[:, [0, 1, 1, 2]], r"^bone: corner 2 is repeated, at x 2\.000, z 0\.000 mm"),
        (np.where(SQUARE == [[0], [2]], np.inf, SQUARE), r"^bone: corner 1 is not finite"),
        (SQUARE[:, [0, 2, 1, 3]], r"crosses itself between corners 1 and 3, near x 1\.000, z 1\.0"),
    ],
)
def test_bad_outlines_are_refused_by_place(points, message):
    with pytest.raises(ValueError, match=message):
        checked_outline(points, "bone")


def test_an_outline_with_a_notch_is_accepted():
    notched = np.array([[0.0, 3.0, 3.0, 2.0, 1.5, 1.0, 0.0], [0.0, 0.0, 2.0, 2.0, 0.5, 2.0, 2.0]])
    np.testing.assert_array_equal(checked_outline(notched, "bone"), notched)
    np.testing.assert_allclose(side_at(notched, np.array([0.0, 2.0]), 1), 3.0)


def test_sides_of_a_slanted_outline():
    slanted = np.array([[0.0, 2.0, 3.0, 1.0], [0.0, 0.0, 2.0, 2.0]])
    z = np.array([0.0, 0.5, 2.0])
    np.testing.assert_allclose(side_at(slanted, z, 1), [2.0, 2.25, 3.0], rtol=1e-15)
    np.testing.assert_allclose(side_at(slanted, z, -1), [0.0, 0.25, 1.0], rtol=1e-15)
    with pytest.raises(ValueError, match="does not reach all heights"):
        side_at(slanted, np.array([2.1]), 1)
