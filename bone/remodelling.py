r"""Movement of the socket wall and the drift of the tooth that follows it.

.. math:: v = R(S)\,w/|w|,\quad w = \sigma_n n + c\,\tau,\quad S = |w|

with c = M/G unless given. Compressed wall recedes (bone resorbed), stretched wall follows
(bone deposited); both are the same formula. Axial speeds follow from the rule and are not
validated.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.bone.rates import RateLaw
from gomphosis.bone.wall import SocketWall
from gomphosis.fem.section import Array


@dataclass(frozen=True)
class Remodelling:
    """Turn a tooth's force system into its drift.

    Parameters
    ----------
    wall
        The sampled socket wall.
    law
        Speed from stimulus.
    shear_weight
        Factor on the shear traction; None for M/G of the ligament, 1 for the plain traction,
        0 for the normal traction alone.
    """

    wall: SocketWall
    law: RateLaw
    shear_weight: float | None = None

    @cached_property
    def _stimulus_map(self) -> Array:
        """Shape (samples, 3, 6)."""
        ligament = self.wall.support.design.ligament
        weight = self.shear_weight
        if weight is None:
            weight = ligament.constrained / ligament.shear
        return self.wall.weighted_traction(weight).reshape(-1, 3, 6)

    @cached_property
    def _drift_map(self) -> Array:
        """Shape (6, samples · 3)."""
        return self.wall.drift_map.reshape(6, -1)

    def wall_velocity(self, wrench: Array) -> Array:
        """Return the wall's velocity, (r, z, theta) in mm/day, shape (nodes, sectors, 3)."""
        w = self._stimulus_map @ wrench
        size = np.linalg.norm(w, axis=1)
        velocity = over(self.law, size)[:, None] * w
        return velocity.reshape(*self.wall.area.shape, 3)

    def drift(self, wrench: Array) -> tuple[Array, Array]:
        """Return the drift per day, shape (6,), and its derivative by the wrench, (6, 6).

        Parameters
        ----------
        wrench
            About the crest, tooth frame, N and N·mm, shape (6,).
        """
        stimulus = self._stimulus_map
        w = (stimulus.reshape(-1, 6) @ wrench).reshape(-1, 3)
        size = np.sqrt(np.einsum("pi,pi->p", w, w))
        mobility = over(self.law, size)
        speed = self._drift_map @ (mobility[:, None] * w).ravel()
        # d(R w/S) = (R/S) dw + (R' - R/S) e (e·dw) along the direction e of w
        direction = w / np.maximum(size, np.finfo(float).tiny)[:, None]
        along = np.einsum("pi,pij->pj", direction, stimulus)
        extra = (self.law.slope(size) - mobility)[:, None] * along
        change = mobility[:, None, None] * stimulus + direction[:, :, None] * extra[:, None, :]
        return speed, self._drift_map @ change.reshape(-1, 6)


def over(law: RateLaw, size: Array) -> Array:
    """Return R(S)/S, by its limit R'(0) where S vanishes."""
    floor = np.finfo(float).tiny ** 0.5
    return np.where(size > floor, law.speed(size) / np.maximum(size, floor), law.slope(size))
