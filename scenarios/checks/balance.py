"""Support of a tooth: balance, symmetry, reciprocity."""

import numpy as np

from gomphosis.bone.support import Support, motion_at
from gomphosis.bone.wall import SocketWall
from gomphosis.fem.section import Array
from gomphosis.scenarios.checks.bodies import INCISOR, default_young, solved
from gomphosis.scenarios.checks.check import Check, Outcome

WRENCH = np.array([0.7, -0.4, 0.3, 5.0, -8.0, 2.0])


def incisor() -> Support:
    """Return the default upper central incisor."""
    return solved(INCISOR, young=default_young(), poisson=0.3)


def wall_resultant(wall: SocketWall, wrench: Array) -> Array:
    """Return force and moment about the crest of the wall on the ligament, shape (6,)."""
    support = wall.support
    motion = support.displacement(wrench)
    # per radian at each node, times the share of every sector
    turn = 2 * np.pi / wall.sectors
    amplitudes = -_nodal_force(wall) @ motion * turn
    c, s = np.cos(wall.angles), np.sin(wall.angles)
    radial, axial, around = np.moveaxis(amplitudes, -1, 0)
    force = np.stack([radial * c - around * s, radial * s + around * c, axial], axis=-1)
    r, z = support.wall.place.T
    place = np.stack([np.outer(r, c), np.outer(r, s), np.repeat(z[:, None], len(c), 1)], axis=-1)
    moment = np.cross(place, force)
    return -np.concatenate([force.sum(axis=(0, 1)), moment.sum(axis=(0, 1))])


def _nodal_force(wall: SocketWall) -> Array:
    """Return forces per radian of the wall on the ligament, shape (nodes, sectors, 3, 6).

    The angular pattern is written out here, not taken from the wall, so as to check that too.
    """
    modes = wall.support.force_modes
    c, s, one = np.cos(wall.angles), np.sin(wall.angles), np.ones(wall.sectors)
    axial, torsion, shift, tilt = (modes[:, None, :, k] for k in range(4))
    cosine, sine = np.stack([c, c, s], axis=1), np.stack([s, s, -c], axis=1)
    plain = np.stack([one, one, one], axis=1)
    columns = [shift * cosine, shift * sine, axial * plain, -tilt * sine, tilt * cosine]
    return np.stack([*columns, torsion * plain], axis=-1)


def _resultant_error() -> Outcome:
    wall = SocketWall(incisor())
    # force against its own size, moment against force times root length
    scale = np.array([1, 1, 1, 12, 12, 12])
    error = (wall_resultant(wall, WRENCH) + WRENCH) / scale
    return Outcome(float(np.abs(error).max()), 0.0)


def _asymmetry() -> Outcome:
    """Compare reactions of the wall, because the stiffness itself is symmetric by construction."""
    wall = SocketWall(incisor())
    reaction = np.stack([-wall_resultant(wall, load) for load in wall.support.stiffness.T], axis=1)
    return Outcome(float(np.abs(reaction - reaction.T).max() / np.abs(reaction).max()), 0.0)


def _turned() -> Outcome:
    """Return how much the wall's answer to a turned load differs from its turned answer."""
    wall = SocketWall(incisor())
    steps = 5
    angle = wall.angles[steps]
    c, s = np.cos(angle), np.sin(angle)
    turn = np.kron(np.eye(2), np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]))
    before = np.roll(wall.stress(WRENCH).traction, steps, axis=1)
    after = wall.stress((turn @ WRENCH).astype(float)).traction
    return Outcome(float(np.abs(after - before).max() / np.abs(before).max()), 0.0)


def rigid_wall_motion(wall: SocketWall, motion: Array) -> Array:
    """Return the wall's displacement (r, z, theta) in a rigid motion, (nodes, sectors, 3)."""
    r, z = (value[:, None] for value in wall.support.wall.place.T)
    c, s = np.cos(wall.angles), np.sin(wall.angles)
    place = np.stack(np.broadcast_arrays(r * c, r * s, z), axis=-1)
    move = motion[:3] + np.cross(motion[3:], place)
    radial = move[..., 0] * c + move[..., 1] * s
    around = -move[..., 0] * s + move[..., 1] * c
    return np.stack([radial, move[..., 2], around], axis=-1)


def _drift_of_rigid_wall() -> Outcome:
    wall = SocketWall(incisor())
    motion = np.array([0.3, -0.2, 0.1, 0.02, 0.03, -0.01])
    moved = np.tensordot(wall.drift_map, rigid_wall_motion(wall, motion), axes=3)
    return Outcome(float(np.abs(moved - motion).max()), 0.0)


def _moved_point() -> Outcome:
    """Return the difference between two ways to the stiffness about another point."""
    support, point = incisor(), np.array([3.5, -1.0, 7.0])
    motion = np.array([0.1, 0.2, -0.1, 0.01, -0.02, 0.03])
    at_point = motion_at(point) @ motion
    wrench = support.stiffness_at(point) @ at_point
    theirs = support.stiffness @ motion
    error = motion_at(point).T @ wrench - theirs
    return Outcome(float(np.abs(error).max() / np.abs(theirs).max()), 0.0)


def checks() -> list[Check]:
    """Return the checks of this file."""
    rows = (
        ("wall-balance", "force and moment of the wall against the load, any direction",
         "balance of the ligament", 1e-9, _resultant_error),
        ("stiffness-symmetry", "asymmetry of the wall's reactions to unit motions",
         "reciprocity (Betti)", 1e-10, _asymmetry),
        ("turned-load", "wall traction under a load turned about the long axis, against the turned"
         " traction", "a body of revolution has no preferred direction", 1e-9, _turned),
        ("drift-of-rigid-wall", "drift of the tooth less the rigid motion of its wall",
         "a tooth in a socket that moves as a whole moves with it", 1e-9, _drift_of_rigid_wall),
        ("moved-reference", "load of one motion by the stiffness about crest and about bracket",
         "rigid-body kinematics", 1e-10, _moved_point),
    )  # fmt: skip
    return [
        Check(
            name=name,
            quantity=f"{quantity}, relative",
            unit="1",
            kind="verification",
            source=source,
            status="closed form",
            # exact but for round-off of the sparse solve, about 1e-12
            tolerance=tolerance,
            measure="absolute",
            compute=compute,
        )
        for name, quantity, source, tolerance, compute in rows
    ]
