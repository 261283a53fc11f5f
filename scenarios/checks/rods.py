"""The rod of a wire: rigid motions, derivative, patch test, energy."""

from functools import cache

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.fibre_laws import PlasticFibre
from gomphosis.fem.fibre_section import rectangular_section
from gomphosis.fem.rod import Rod, RodPlace, RodShape, RodState, straight_shape
from gomphosis.fem.section import Array
from gomphosis.fem.section_response import ElasticSection, FibrewiseSection
from gomphosis.scenarios.checks.check import Check, Outcome


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [_rigid_motion(), _tangent(), *_uniform_helix()]


def _strained() -> tuple[Rod, RodState]:
    """Return a plastic rod of six uneven elements, strained at random beyond its yield."""
    rng = np.random.default_rng(4)
    stations = np.cumsum([0.0, 1.0, 1.4, 0.8, 1.1, 0.7, 1.2])
    triads = np.broadcast_to(np.eye(3), (7, 3, 3)).copy()
    shape = RodShape(RodPlace(stations[:, None] * [1.0, 0, 0], triads), np.diff(stations))
    law = PlasticFibre(180000.0, 69000.0, 1600.0, 3000.0)
    rod = Rod(shape, FibrewiseSection(rectangular_section(0.4, 0.6), law))
    motion = 0.04 * rng.normal(size=(7, 6))
    state = rod.at_rest()
    place = state.place.moved(motion)
    return rod, RodState(place, rod.respond(place, state.history).history)


def _rigid_motion() -> Check:
    return Check(
        name="rod-objectivity",
        quantity="forces of a strained plastic rod carried along by a large rigid motion, "
        "relative difference",
        unit="1",
        kind="verification",
        source="frame indifference",
        status="closed form",
        tolerance=1e-10,
        measure="absolute",
        compute=rigid_motion_error,
    )


def rigid_motion_error() -> Outcome:
    """Return the largest difference of forces from those turned along, relative to the largest."""
    rod, state = _strained()
    start = rod.at_rest().history
    turn = Rotation.from_rotvec([1.1, -2.0, 0.7]).as_matrix()
    carried = RodPlace(state.place.nodes @ turn.T + [3.0, -5.0, 9.0], turn @ state.place.triads)
    before, after = (rod.respond(p, start).force for p in (state.place, carried))
    expected = np.concatenate([before[:, :3] @ turn.T, before[:, 3:] @ turn.T], axis=1)
    return Outcome(float(np.abs(after - expected).max() / np.abs(before).max()), 0.0)


def _tangent() -> Check:
    return Check(
        name="rod-tangent",
        quantity="stiffness of a strained plastic rod against central differences, relative",
        unit="1",
        kind="verification",
        source="central differences of the forces",
        status="closed form",
        tolerance=1e-6,
        measure="absolute",
        compute=tangent_error,
    )


def tangent_error(step: float = 1e-7) -> Outcome:
    """Return the largest error of the stiffness, relative to its largest entry."""
    rod, state = _strained()
    start = rod.at_rest().history
    size = state.place.nodes.size * 2
    columns = []
    for unit in step * np.eye(size):
        ahead, behind = (
            rod.respond(state.place.moved(sign * unit.reshape(-1, 6)), start).force
            for sign in (1, -1)
        )
        columns.append((ahead - behind).ravel() / (2 * step))
    numeric = np.stack(columns, axis=1)
    given = (rod.respond(state.place, start).stiffness @ np.eye(size).reshape(-1, 6, size)).reshape(
        size, size
    )
    return Outcome(float(np.abs(given - numeric).max() / np.abs(numeric).max()), 0.0)


def _uniform_helix() -> list[Check]:
    return [
        Check(
            name=f"rod-patch-{name}",
            quantity=f"{name} strain of an uneven rod led along a helix, largest error over the "
            "bending strain",
            unit="1",
            kind="verification",
            source="a helix has constant curvature and twist in its material frame",
            status="closed form",
            # the turn of an element, up to 0.13 rad, to the second order
            tolerance=0.001,
            measure="absolute",
            compute=lambda index=index: Outcome(helix_error()[index], 0.0),
        )
        for index, name in enumerate(("stretch", "first curvature", "second curvature", "twist"))
    ]


@cache
def helix_error() -> Array:
    """Return the largest errors of the four strains at nodes laid exactly on a helix, (4,)."""
    bend, twist = np.array([0.06, 0.15]), 0.08  # 1/mm
    stations = np.cumsum([0.0, 0.5, 0.7, 0.4, 0.55])
    spin = np.array([twist, *bend])  # of the material frame per length, in its own axes
    size = float(np.linalg.norm(spin))
    triads = Rotation.from_rotvec(stations[:, None] * spin).as_matrix()
    axis = spin / size
    angle = size * stations[:, None]
    along = np.array([1.0, 0.0, 0.0])
    # the integral of the turning tangent, by Rodrigues' formula
    nodes = (
        stations[:, None] * axis * axis[0]
        + np.sin(angle) / size * (along - axis * axis[0])
        + (1 - np.cos(angle)) / size * np.cross(axis, along)
    )
    shape = straight_shape(1.0, 4)
    straight = RodPlace(stations[:, None] * along, shape.place.triads)
    rod = Rod(RodShape(straight, np.diff(stations)), ElasticSection(1e6, 300.0, 300.0, 200.0))
    strain = rod.respond(RodPlace(nodes, triads), rod.at_rest().history).strain
    exact = np.array([0.0, *bend, twist])
    # a strain of the fibre at 0.2 mm: curvatures and twist are multiplied, the stretch is not
    scale = np.array([1.0, 0.2, 0.2, 0.2]) / (0.2 * float(np.linalg.norm(bend)))
    return np.abs(strain - exact).max(axis=0) * scale
