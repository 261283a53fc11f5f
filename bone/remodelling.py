r"""Movement of the socket wall and the drift of the tooth that follows it.

.. math:: v = R(S)\,w/|w|,\quad w = \sigma_n n + c\,\tau,\quad S = |w|

with c = M/G unless given, and S another stimulus if asked for (``bone/stimulus.py``). Compressed
wall recedes (bone resorbed), stretched wall follows (bone deposited); both are the same formula.
Axial speeds follow from the rule and are not validated.
"""

from dataclasses import dataclass
from functools import cached_property

from gomphosis.bone.overload import Lag
from gomphosis.bone.rates import RateLaw
from gomphosis.bone.stimulus import STIMULI, WallLoad, velocity
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
    stimulus
        What sets the speed: ``traction`` or ``pressure`` on the same piece of wall, or one
        stimulus for the whole ``tooth``.
    lag
        How overloaded wall stops; None if it never does.

    Raises
    ------
    ValueError
        If there is no such stimulus.
    """

    wall: SocketWall
    law: RateLaw
    shear_weight: float | None = None
    stimulus: str = "traction"
    lag: Lag | None = None

    def __post_init__(self) -> None:
        if self.stimulus not in STIMULI:
            raise ValueError(f"no stimulus {self.stimulus!r}: expected one of {STIMULI}")

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

    @cached_property
    def _share(self) -> Array:
        return self.wall.area.ravel() / self.wall.area.sum()

    def load(self, wrench: Array) -> WallLoad:
        """Return what a force system about the crest, shape (6,), does to every sample."""
        stimulus = self._stimulus_map
        pressure = self.wall.pressure_map.reshape(-1, 6)
        w = (stimulus.reshape(-1, 6) @ wrench).reshape(-1, 3)
        return WallLoad(w, stimulus, pressure @ wrench, pressure, self._share)

    def wall_velocity(self, wrench: Array) -> Array:
        """Return the wall's velocity, (r, z, theta) in mm/day, shape (nodes, sectors, 3)."""
        moved, _ = velocity(self.law, self.stimulus, self.load(wrench))
        return moved.reshape(*self.wall.area.shape, 3)

    def drift(self, wrench: Array, moving: Array | None = None) -> tuple[Array, Array]:
        """Return the drift per day, shape (6,), and its derivative by the wrench, (6, 6).

        Parameters
        ----------
        wrench
            About the crest, tooth frame, N and N·mm, shape (6,).
        moving
            Share of the time for which each sample of the wall moves, shape (samples,); all of
            it if None.
        """
        moved, change = velocity(self.law, self.stimulus, self.load(wrench))
        if moving is not None:
            moved, change = moving[:, None] * moved, moving[:, None, None] * change
        return self._drift_map @ moved.ravel(), self._drift_map @ change.reshape(-1, 6)
