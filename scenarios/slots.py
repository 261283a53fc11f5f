"""Slots of brackets: where they are as the teeth move. Everything is in the arch frame."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.bone.support import motion_at
from gomphosis.fem.chain import FREEDOMS
from gomphosis.fem.rod_element import skew
from gomphosis.fem.section import Array
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.scenarios.arch import axes
from gomphosis.scenarios.wire_shape import WireShape

TRIAD = [1, 2, 0]  # columns (along, occlusal, labial) of axes (labial, along, occlusal)


@dataclass(frozen=True)
class Bracket:
    """Slot of one tooth.

    Parameters
    ----------
    place
        Arc length of the aligned slot along the wire's plain line, mm.
    slot
        Slot's point (x, y, z) in the tooth frame, mm: where the centre of a wire lies that sits
        on the floor halfway between the walls.
    start
        Slot's displacement and rotation from the plain line at the start, tooth frame, mm and
        rad, shape (6,): malposition less prescription.
    """

    place: float
    slot: Array
    start: Array


class Slots:
    """Places of slots in the arch frame as functions of the teeth's poses.

    Parameters
    ----------
    brackets
        In order along the wire.
    shape
        Of the wire: aligned slots stand on its plain line.
    """

    def __init__(self, brackets: Sequence[Bracket], shape: WireShape) -> None:
        self.aligned = np.array([bracket.place for bracket in brackets])
        self._frame = np.stack([axes(angle) for angle in shape.line.direction(self.aligned)])
        self._origin = shape.line.point(self.aligned)
        self._start = np.stack([bracket.start for bracket in brackets])
        self._to_slot = np.stack([motion_at(bracket.slot) for bracket in brackets])

    def at(self, poses: Array) -> SlotFrames:
        """Return the slots' frames; axes along, occlusal, labial."""
        motion = self._motion(poses)
        turn = Rotation.from_rotvec(motion[:, 3:]).as_matrix()
        place = self._origin + np.einsum("nij,nj->ni", self._frame, motion[:, :3])
        return SlotFrames(place, (self._frame @ turn)[:, :, TRIAD])

    def along(self, poses: Array) -> Array:
        """Return places along the plain line, to the first order in the poses, mm, (n,)."""
        return self.aligned + self._motion(poses)[:, 1]

    def follow(self, poses: Array) -> Array:
        """Return displacement and spin of the slots per pose, arch frame, shape (n, 6, 6)."""
        motion = self._motion(poses)
        spread = np.zeros((len(motion), FREEDOMS, FREEDOMS))
        spread[:, :3, :3] = self._frame
        spread[:, 3:, 3:] = self._frame @ left_jacobian(motion[:, 3:])
        return spread @ self._to_slot

    @property
    def to_crest(self) -> Array:
        """From force and moment at the slots, arch frame, to wrenches on the teeth, (n, 6, 6)."""
        back = np.zeros_like(self._to_slot)
        back[:, :3, :3] = back[:, 3:, 3:] = np.swapaxes(self._frame, 1, 2)
        return np.swapaxes(self._to_slot, 1, 2) @ back

    def _motion(self, poses: Array) -> Array:
        return self._start + np.einsum("nij,nj->ni", self._to_slot, poses)


def left_jacobian(vector: Array) -> Array:
    """Return the spin in space per change of rotation vectors (n, 3), shape (n, 3, 3)."""
    angle = np.linalg.norm(vector, axis=1)[:, None, None]
    small = angle < 1e-4
    safe = np.where(small, 1.0, angle)
    first = np.where(small, 0.5 - angle**2 / 24, (1 - np.cos(safe)) / safe**2)
    second = np.where(small, 1 / 6 - angle**2 / 120, (safe - np.sin(safe)) / safe**3)
    cross = skew(vector)
    return np.eye(3) + first * cross + second * cross @ cross
