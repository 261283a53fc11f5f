"""Section meshes: named bands and lines, and what a section refuses."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.fem.section import graded, stacked, tensor_section


def strip(mapping=lambda xi, eta: np.stack([eta, xi])):
    return tensor_section(
        np.linspace(0, 1, 4),
        stacked([("inner", 2), ("none", 0), ("outer", 1)]),
        mapping=mapping,
        lines={"axis": 0.0, "skin": 3.0},
    )


def test_bands_hold_the_elements_between_their_levels():
    section = strip()
    middle = section.nodes[:, section.mesh.t].mean(axis=1)[0]
    assert set(section.bands) == {"inner", "outer"}
    assert len(section.bands["inner"]) == 6
    assert np.all(middle[section.bands["inner"]] < 1)
    assert len(section.bands["outer"]) == 3
    assert np.all(middle[section.bands["outer"]] > 2)


def test_lines_are_ordered_and_include_the_nodes_between_corners():
    section = strip()
    r, z = section.nodes[:, section.lines["skin"]]
    np.testing.assert_allclose(z, np.linspace(0, 1, 7), rtol=0, atol=1e-12)
    np.testing.assert_allclose(r, 3.0, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(np.sort(section.axis), np.sort(section.lines["axis"]))
    np.testing.assert_allclose(section.nodes[1, section.lines["start"]], 0, rtol=0, atol=1e-12)
    assert np.all(np.diff(section.nodes[0, section.lines["end"]]) > 0)


def test_nodes_between_corners_follow_the_mapping():
    section = strip(lambda xi, eta: np.stack([eta, xi + 0.2 * eta**2]))
    r, z = section.nodes[:, section.lines["start"]]
    np.testing.assert_allclose(z, 0.2 * r**2, rtol=0, atol=1e-12)


def test_a_negative_radius_is_refused():
    section = strip()
    with pytest.raises(ValueError, match="radius must be >= 0 mm, found -1"):
        replace(section, mesh=replace(section.mesh, doflocs=section.nodes - [[1.0], [0.0]]))


def test_grading_keeps_the_ends_and_shrinks_steps_towards_both():
    even, fine = graded(8), graded(8, ratio=2.0)
    np.testing.assert_allclose(even, np.linspace(0, 1, 9), rtol=0, atol=0)
    np.testing.assert_allclose(fine + fine[::-1], 1.0, rtol=0, atol=1e-15)
    np.testing.assert_allclose(fine[1], 0.5 / 8 + 0.25 * (1 - np.cos(np.pi / 8)), rtol=1e-12)
