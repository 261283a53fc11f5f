"""Paths by arc length: past a limit point, against driven deflections and dead loads. Verification.

The greatest load itself stands beside the elastica in `scenarios.checks.rod_deflections`.
"""

from itertools import islice, pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.fem import continuation
from gomphosis.fem.continuation import load_path
from gomphosis.fem.fibre_laws import PlasticFibre
from gomphosis.fem.fibre_section import rectangular_section
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import Rod, RodPlace, RodShape, straight_shape
from gomphosis.fem.rod_equilibrium import ARM, Grips, settle
from gomphosis.fem.section_response import ElasticSection, FibrewiseSection

COUNT, RADIUS, ANGLE = 8, 10.0, np.pi / 3
EI = 100.0
STRIDE = 0.5
CROWN = -0.5 * EI / RADIUS**2  # load on half of the arch, N


def half_arch():
    """Return half of a clamped arch of 120 degrees, from its crown to its foot."""
    t = np.linspace(0.0, ANGLE, COUNT + 1)
    nodes = RADIUS * np.stack([np.sin(t), np.cos(t) - 1, 0 * t], axis=1)
    triads = Rotation.from_rotvec(np.stack([0 * t, 0 * t, -t], axis=1)).as_matrix()
    shape = RodShape(RodPlace(nodes, triads), np.full(COUNT, RADIUS * ANGLE / COUNT))
    return Rod(shape, ElasticSection(1e6, EI, EI, 80.0))


def grips_of(rod, *, crown_free):
    nodes = np.array([0, COUNT])
    held = np.ones((2, 6), dtype=bool)
    held[0, 1] = not crown_free
    place = rod.shape.place
    # the crown's axes are those of space: it moves down only
    return Grips(nodes, place.nodes[nodes], place.triads[nodes], held)


def crown_load():
    load = np.zeros((COUNT + 1, 6))
    load[0, 1] = CROWN
    return load


def arch_path(points, stride=STRIDE):
    rod = half_arch()
    grips = grips_of(rod, crown_free=True)
    path = load_path(rod, rod.at_rest(), grips, load=crown_load(), stride=stride)
    return rod, list(islice(path, points))


@pytest.fixture(scope="module")
def followed():
    return arch_path(40)


def factors_and_falls(path):
    factors = np.array([point.factor for point in path])
    return factors, np.array([-point.state.place.nodes[0, 1] for point in path])


def test_the_load_falls_after_the_limit_while_the_crown_goes_on(followed):
    _, path = followed
    factors, falls = factors_and_falls(path)
    top = int(np.argmax(factors))
    assert 5 < top < len(path) - 10
    assert np.all(np.diff(factors[: top + 1]) > 0)
    # on the way down to the least load the path never turns back
    bottom = top + int(np.argmin(factors[top:]))
    assert np.all(np.diff(factors[top : bottom + 1]) < 0)
    assert factors[bottom] < 0.9 * factors[top]
    assert np.all(np.diff(falls) > 0)
    assert falls[0] > 0 < factors[0]


def test_every_point_is_that_of_a_driven_crown(followed):
    """The crown is driven to the same deflection instead: the same rod, the same force."""
    rod, path = followed
    state, driven = rod.at_rest(), grips_of(rod, crown_free=False)
    for point in path:
        place = driven.place.copy()
        place[0] = point.state.place.nodes[0]
        found = settle(rod, state, driven.at(place, driven.triads))
        state = found.state
        np.testing.assert_allclose(found.reaction[0, 1], point.factor * CROWN, rtol=0, atol=1e-6)
        np.testing.assert_allclose(
            found.state.place.nodes, point.state.place.nodes, rtol=0, atol=1e-6
        )


def test_points_lie_a_stride_apart_at_most(followed):
    _, path = followed
    ways = []
    for before, here in pairwise(path):
        motion = here.state.place.nodes - before.state.place.nodes
        turn = here.state.place.triads @ np.swapaxes(before.state.place.triads, 1, 2)
        spin = ARM * Rotation.from_matrix(turn).as_rotvec()
        ways.append(float(np.sqrt(np.sum(motion**2) + np.sum(spin**2))))
    # the correction stands normal to the step, and only where the path is curved it counts
    assert 0.99 * STRIDE < max(ways) < 1.05 * STRIDE
    assert min(ways) > 0.1 * STRIDE


def test_the_path_does_not_depend_on_the_stride(followed):
    _, path = followed
    fine = arch_path(60, 0.5 * STRIDE)[1]
    factors, falls = factors_and_falls(path)
    other = factors_and_falls(fine)
    inside = falls < other[1][-1]
    assert inside.sum() > 15
    # straight lines between the points of the finer path
    between = np.interp(falls[inside], other[1], other[0])
    np.testing.assert_allclose(factors[inside], between, rtol=0, atol=0.002 * factors.max())


def test_a_plastic_rod_yields_along_the_path_as_under_its_dead_loads():
    """The histories of the sections go along: the same loads one after the other by `settle`."""
    section = FibrewiseSection(
        rectangular_section(0.4, 0.4), PlasticFibre(1.8e5, 6.9e4, 1600.0, 3000.0)
    )
    shape = straight_shape(10.0, 6)
    rod = Rod(shape, section)
    grips = Grips(
        np.array([0]), shape.place.nodes[:1], shape.place.triads[:1], np.ones((1, 6), dtype=bool)
    )
    load = np.zeros((7, 6))
    load[-1, 1] = 1.0
    path = list(islice(load_path(rod, rod.at_rest(), grips, load=load, stride=8.0), 14))
    state = rod.at_rest()
    for point in path:
        found = settle(rod, state, grips, load=point.factor * load)
        state = found.state
        np.testing.assert_allclose(state.place.nodes, point.state.place.nodes, rtol=0, atol=1e-6)
        np.testing.assert_allclose(state.history, point.state.history, rtol=0, atol=1e-8)
    strain = rod.respond(state.place, state.history).strain
    weight = np.repeat(shape.lengths / 2, 2)
    assert weight @ section.inelastic(state.history) > 0.1 * (
        weight @ section.stored(strain, state.history)
    )


def test_a_step_that_fails_is_tried_shorter_and_a_lost_path_raises(monkeypatch):
    steps, plain = [], continuation._Follower.advance

    def brittle(self, state, factor, before, step):
        steps.append(step)
        if step > 0.2 * STRIDE:
            raise NotConvergedError([1.0], 1e-8)
        return plain(self, state, factor, before, step)

    monkeypatch.setattr(continuation._Follower, "advance", brittle)
    arch_path(1)
    np.testing.assert_allclose(steps, STRIDE * np.array([1.0, 0.5, 0.25, 0.125]), rtol=1e-12)
    monkeypatch.undo()

    steps.clear()

    def broken(self, state, factor, before, step):
        steps.append(step)
        raise NotConvergedError([1.0], 1e-8)

    monkeypatch.setattr(continuation._Follower, "advance", broken)
    with pytest.raises(NotConvergedError):
        arch_path(1)
    # down to 1/4096 of the first
    np.testing.assert_allclose(steps, STRIDE * 0.5 ** np.arange(13), rtol=1e-12)


def test_the_stride_recovers_after_an_easy_step(monkeypatch):
    """A step in fewer than four iterations lets the next one be longer, up to the first."""
    steps, plain = [], continuation._Follower.advance

    def tight(self, state, factor, before, step):
        steps.append(step)
        if len(steps) <= 3:
            raise NotConvergedError([1.0], 1e-8)
        return plain(self, state, factor, before, step)

    monkeypatch.setattr(continuation._Follower, "advance", tight)
    arch_path(20)
    taken = np.array(steps[3:])
    np.testing.assert_allclose(taken[0], STRIDE / 8, rtol=1e-12)
    growth = taken[1:] / taken[:-1]
    assert np.all((growth >= 1) & (growth <= 2))
    assert taken.max() == STRIDE
