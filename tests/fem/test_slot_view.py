"""How curves follow the rod's nodes, seen along edges. Verification: central differences."""

import numpy as np
import pytest

from gomphosis.fem.slot_edges import nearest
from gomphosis.fem.slot_view import seen


@pytest.fixture(scope="module", params=[False, True], ids=["round", "flat"])
def looked(request, row, shifted):
    """A sharply bent rod in turned slots, and what is seen of it after motions of its nodes."""
    rng = np.random.default_rng(3)
    made = row(flat=request.param, count=2, per=2)
    contact, rod = made.what.contact, made.what.rod
    frames = shifted(made.frames, 0.1 * rng.normal(size=(2, 6)))
    base = rod.shape.place.moved(0.06 * rng.normal(size=(len(rod.shape.stations), 6)))
    curves = contact.curves(rod)
    start = nearest(curves, base, contact.edges, frames, made.state.touches.station)

    def at(place):
        flat = nearest(curves, place, contact.edges, frames, start.station)
        return seen(curves, place, flat), flat

    return at, base


def by_nodes(differences, looked, quantity):
    """Differences of a quantity of each pair by its own element's nodes, along a last axis."""
    at, base = looked
    element = at(base)[0].points.element

    def moved(motion):
        k = int(np.argmax(np.abs(motion)))
        results = {}
        for e in np.unique(element):
            nodal = np.zeros((len(base.nodes), 6))
            nodal[e + k // 6, k % 6] = motion[k]
            results[e] = quantity(*at(base.moved(nodal)))
        return np.stack([results[e][i] for i, e in enumerate(element)])

    return differences(moved, 12, 3e-6)


def test_first_derivatives_are_those_of_differences(looked, differences):
    at, base = looked
    view, _ = at(base)
    exact = by_nodes(differences, looked, lambda view, flat: flat.off)
    np.testing.assert_allclose(view.across, exact, rtol=0, atol=1e-8)
    exact = by_nodes(differences, looked, lambda view, flat: flat.station)
    np.testing.assert_allclose(view.slide, exact, rtol=0, atol=1e-8)
    # the tangent turns towards the normal
    exact = by_nodes(differences, looked, lambda view, flat: view.tangent)
    exact = np.einsum("mi,mif->mf", view.normal, exact)
    np.testing.assert_allclose(view.lean, exact, rtol=0, atol=1e-8)
    assert min(np.abs(part).max() for part in (view.across, view.slide, view.lean)) > 0.5


def test_a_rubbed_point_stays_on_its_section(looked, differences):
    """Motion along the tangent of the material point there: of its station, not of the contact."""
    at, base = looked
    view, _ = at(base)
    # the surface's point: beyond the curve's by what the edge is off it, square to the curve
    exact = by_nodes(differences, looked, lambda view, flat: flat.station)
    spread = view.speed**2 + view.off * view.bent[:, 1]
    np.testing.assert_allclose(view.rub, -(spread / view.speed)[:, None] * exact, rtol=0, atol=1e-7)


@pytest.mark.parametrize("weights", [(1.0, 0.0), (0.0, 1.0), (-2.0, 0.7)])
def test_second_derivatives_are_those_of_differences(looked, differences, weights):
    at, base = looked
    view, _ = at(base)
    flat, drawn = (np.full(len(view.off), weight) for weight in weights)

    def weighed(view, _):
        return weights[0] * view.across + weights[1] * view.rub

    exact = by_nodes(differences, looked, weighed)
    np.testing.assert_allclose(view.curve(flat, drawn), exact, rtol=0, atol=2e-7)
    assert np.abs(exact).max() > 0.2


def test_what_moves_with_its_slot_is_seen_the_same(row, shifted, carried):
    """Objectivity: a rigid motion of rod and slots turns directions and changes nothing else."""
    made = row(flat=True, count=2, per=2)
    contact, rod = made.what.contact, made.what.rod
    base = rod.shape.place.moved(
        0.05 * np.random.default_rng(4).normal(size=(len(rod.shape.stations), 6))
    )
    curves, start = contact.curves(rod), made.state.touches.station
    turn = shifted(made.frames, np.full((2, 6), 0.4)).triads[0]
    shift = np.array([3.0, -1.0, 2.0])
    away = type(made.frames)(made.frames.place @ turn.T + shift, turn @ made.frames.triads)
    here = nearest(curves, base, contact.edges, made.frames, start)
    there = nearest(curves, carried(base, turn, shift), contact.edges, away, start)
    np.testing.assert_allclose(there.off, here.off, rtol=0, atol=1e-10)
    np.testing.assert_allclose(there.station, here.station, rtol=0, atol=1e-10)
    view = seen(curves, base, here)
    other = seen(curves, carried(base, turn, shift), there)
    np.testing.assert_allclose(other.normal, view.normal @ turn.T, rtol=0, atol=1e-10)
