"""Plane mesh (verification): measures of elements by closed form, and what it refuses."""

import numpy as np
import pytest

from gomphosis.fem.plane_mesh import PlaneMesh

SQUARE = np.array(
    [[0.0, 2, 2, 0, 1, 2, 1, 0, 1], [0.0, 0, 1, 1, 0, 0.5, 1, 0.5, 0.5]],
)
ORDER = np.arange(9)[None]


def one(nodes=SQUARE, elements=ORDER, regions=None, lines=None):
    return PlaneMesh(
        nodes, elements, {"all": np.array([0])} if regions is None else regions, lines or {}
    )


def test_rectangle_has_its_area_and_perfect_quality():
    mesh = one(lines={"right": np.array([1, 5, 2])})
    np.testing.assert_allclose(mesh.area("all"), 2.0, rtol=1e-14)
    np.testing.assert_allclose(mesh.scaled_jacobians, [1.0], rtol=1e-14)
    np.testing.assert_allclose(mesh.length("right"), 1.0, rtol=1e-14)
    np.testing.assert_allclose(mesh.centres[:, 0], [1.0, 0.5], rtol=1e-14)


def test_curved_side_adds_two_thirds_of_its_bulge():
    """Parabola over a chord of 2 mm and a rise of 0.3 mm: area 2/3 x 2 x 0.3, by hand."""
    bulged = SQUARE.copy()
    bulged[1, 6] += 0.3
    bulged[1, 8] += 0.15
    mesh = one(bulged, lines={"top": np.array([2, 6, 3])})
    np.testing.assert_allclose(mesh.area("all"), 2.0 + 0.4, rtol=1e-14)
    slope = 0.6  # z' at the ends; arc length of a parabola, closed form
    exact = np.hypot(1, slope) + np.arcsinh(slope) / slope
    np.testing.assert_allclose(mesh.length("top"), exact, rtol=1e-4)


def test_quality_is_the_sine_of_the_sharpest_corner():
    sheared = SQUARE.copy()
    sheared[0] += sheared[1]
    np.testing.assert_allclose(one(sheared).scaled_jacobians, [np.sqrt(0.5)], rtol=1e-14)


def test_an_element_inside_out_is_named_with_its_place():
    with pytest.raises(ValueError, match=r"element 0 at x = 1, z = 0.5 mm is turned inside out"):
        one(elements=ORDER[:, [0, 3, 2, 1, 7, 6, 5, 4, 8]])


def test_a_corner_pushed_in_is_refused_though_the_area_is_positive():
    bent = SQUARE.copy()
    bent[:, 2] = [0.2, 0.1]
    with pytest.raises(ValueError, match="inside out"):
        one(bent)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"nodes": SQUARE.T}, r"nodes need shape \(2, n\), got \(9, 2\)"),
        ({"elements": ORDER[:, :8]}, r"elements need shape \(e, 9\), got \(1, 8\)"),
        ({"elements": ORDER + 1}, "element 0 uses a node outside 0 to 8"),
        ({"nodes": np.where(SQUARE == 2, np.nan, SQUARE)}, "node 1 has no finite place"),
        ({"nodes": np.append(SQUARE, [[5.0], [6.0]], axis=1)}, "node 9 at x = 5, z = 6 mm belongs"),
        ({"regions": {}}, "element 0 at x = 1, z = 0.5 mm is in 0 regions"),
        ({"regions": {"a": np.array([0]), "b": np.array([0])}}, "is in 2 regions, expected 1"),
        ({"regions": {"a": np.array([1])}}, "region a names an element outside 0 to 0"),
        ({"lines": {"edge": np.array([0, 4])}}, "line edge needs 3, 5, 7 ... nodes, got 2"),
        ({"lines": {"edge": np.array([0, 4, 9])}}, "line edge uses a node outside 0 to 8"),
        ({"lines": {"edge": np.array([0, 4, 2])}}, "line edge leaves .* at node 4 at x = 1, z = 0"),
        ({"lines": {"edge": np.array([0, 8, 1])}}, "line edge leaves the element edges at node 8"),
    ],
)
def test_broken_meshes_are_refused(change, message):
    with pytest.raises(ValueError, match=message):
        one(**change)
