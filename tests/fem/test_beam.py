"""Beams in space against Euler and Bernoulli, and Castigliano's curved cantilevers."""

import numpy as np
import pytest

from gomphosis.fem.beam import (
    FREEDOMS,
    BeamSection,
    assemble_beam,
    deflected,
    element_stiffness,
    frames,
)

SECTION = BeamSection(stretching=5e4, bending_first=300.0, bending_second=180.0, twisting=110.0)
UP = np.array([0.0, 0.0, 1.0])


def cantilever(nodes, load, section=SECTION):
    """Return the motion of the last node, the first being clamped."""
    stiffness = assemble_beam(nodes, section, up=UP)
    force = np.zeros(len(stiffness))
    force[-FREEDOMS:] = load
    return np.linalg.solve(stiffness[6:, 6:], force[6:])[-FREEDOMS:]


@pytest.mark.parametrize("count", [1, 3])
def test_straight_cantilever_in_both_planes(count):
    """Verification: F L^3 / 3 E I and F L^2 / 2 E I, exact with any number of elements."""
    length = 20.0
    nodes = np.linspace(0, 1, count + 1)[:, None] * [0.0, length, 0.0]
    # the beam runs along y, so its first transverse axis is up x tangent = -x
    along_x = cantilever(nodes, [0.7, 0, 0, 0, 0, 0])
    np.testing.assert_allclose(along_x[0], 0.7 * length**3 / (3 * 300.0), rtol=1e-10)
    np.testing.assert_allclose(along_x[5], -0.7 * length**2 / (2 * 300.0), rtol=1e-10)
    along_z = cantilever(nodes, [0, 0, 0.7, 0, 0, 0])
    np.testing.assert_allclose(along_z[2], 0.7 * length**3 / (3 * 180.0), rtol=1e-10)
    np.testing.assert_allclose(along_z[3], 0.7 * length**2 / (2 * 180.0), rtol=1e-10)


def test_stretching_and_twisting():
    """Verification: F L / E A and T L / G J."""
    nodes = np.array([[0.0, 0, 0], [0, 12.0, 0]])
    moved = cantilever(nodes, [0, 3.0, 0, 0, 5.0, 0])
    np.testing.assert_allclose(moved[[1, 4]], [3 * 12 / 5e4, 5 * 12 / 110.0], rtol=1e-12)


def quarter(count, radius):
    angle = np.linspace(0, np.pi / 2, count + 1)
    return radius * np.stack([1 - np.cos(angle), np.sin(angle), 0 * angle], axis=1)


def test_curved_cantilever_loaded_across_its_plane():
    """Verification: Castigliano, F R^3 [pi/4 / E I + (3 pi/4 - 2) / G J]."""
    radius, force = 15.0, 0.2
    tip = cantilever(quarter(90, radius), [0, 0, force, 0, 0, 0])
    exact = force * radius**3 * (np.pi / 4 / 180.0 + (3 * np.pi / 4 - 2) / 110.0)
    # straight elements of one degree
    np.testing.assert_allclose(tip[2], exact, rtol=5e-4)


def test_curved_cantilever_loaded_in_its_plane():
    """Verification: Castigliano for a stiff axis, F R^3 pi/4 / E I along the force at the tip."""
    radius, force = 15.0, 0.2
    stiff = BeamSection(1e9, 300.0, 180.0, 110.0)
    # the tip's tangent is +x; a force across it bends with arm R sin(angle) ... pi/4
    tip = cantilever(quarter(90, radius), [0, force, 0, 0, 0, 0], stiff)
    np.testing.assert_allclose(tip[1], force * radius**3 * np.pi / 4 / 300.0, rtol=5e-4)


def test_rigid_motions_of_a_bent_beam_cost_nothing():
    nodes = quarter(6, 15.0)
    stiffness = assemble_beam(nodes, SECTION, up=UP)
    np.testing.assert_allclose(stiffness, stiffness.T, rtol=0, atol=1e-9 * np.abs(stiffness).max())
    for turn, shift in (([1.0, 2, 3], [0.0, 0, 0]), ([0.0, 0, 0], [1.0, -1, 2])):
        move = np.concatenate([[*(shift + np.cross(turn, node)), *turn] for node in nodes])
        force = stiffness @ move
        assert np.abs(force).max() < 1e-10 * np.abs(stiffness).max()


def test_axes_of_an_element_are_right_handed():
    axes = frames(quarter(3, 10.0), UP)
    np.testing.assert_allclose(np.linalg.det(axes), 1.0, rtol=1e-13)
    np.testing.assert_allclose(axes[:, 2], np.tile(UP, (3, 1)), rtol=0, atol=0)
    assert element_stiffness(SECTION, 2.0)[0, 0] == 2.5e4


def test_deflected_line_of_a_clamped_sliding_beam():
    """Verification: the cubic 3 t^2 - 2 t^3 of a beam whose end moves aside without turning."""
    nodes = np.array([[0.0, 0, 0], [0, 10.0, 0]])
    move = np.zeros((2, 6))
    move[1, 0] = 2.0
    line = deflected(nodes, move, per_element=4)
    t = np.linspace(0, 1, 5)
    np.testing.assert_allclose(line[:, 0], 2 * (3 * t**2 - 2 * t**3), rtol=0, atol=1e-14)
    np.testing.assert_allclose(line[:, 1], 10 * t, rtol=0, atol=1e-13)


@pytest.mark.parametrize("end", [0, 1])
def test_deflected_line_follows_the_turn_of_an_end(end):
    nodes = np.array([[0.0, 0, 0], [0, 10.0, 0]])
    move = np.zeros((2, 6))
    move[end, 3] = 0.1  # about +x: points towards +y rise
    line = deflected(nodes, move, per_element=1000)
    slope = np.diff(line[:, 2]) / np.diff(line[:, 1])
    np.testing.assert_allclose([slope[-end], slope[end - 1]], [0.1, 0.0], rtol=0, atol=5e-4)
