"""The socket wall around a tooth, sampled in (node, sector): stress, zones, and drift."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from gomphosis.bone.support import Support
from gomphosis.fem.section import Array

# the column of the support's four motions that answers each of the six rigid motions
MOTION = np.array([2, 2, 0, 3, 3, 1])
PEAK_SHARE = 0.01  # of the wall's area
NEUTRAL, COMPRESSION, TENSION, OVERLOAD = 0, -1, 1, -2


@dataclass(frozen=True)
class WallStress:
    """Stress on the socket wall; arrays of shape (..., nodes, sectors).

    Attributes
    ----------
    traction
        Of the ligament on the wall, (r, z, theta) components in MPa, shape (..., 3).
    normal
        Normal traction in MPa, tension positive.
    pressure
        Minus the ligament's mean stress at the wall, MPa.
    """

    traction: Array
    normal: Array
    pressure: Array


@dataclass(frozen=True)
class SocketWall:
    """Sample the wall of a support in equal sectors around the long axis.

    Parameters
    ----------
    support
        The tooth's support.
    sectors
        Number of sectors, at least 8; sector 0 is centred on the labial side.
    """

    support: Support
    sectors: int = 24

    def __post_init__(self) -> None:
        if self.sectors < 8:
            raise ValueError(f"socket wall needs at least 8 sectors, got {self.sectors}")

    @cached_property
    def angles(self) -> Array:
        """Angle of each sector from labial towards +y, rad, shape (sectors,)."""
        return 2 * np.pi * np.arange(self.sectors) / self.sectors

    @cached_property
    def area(self) -> Array:
        """Wall area of each sample, mm^2, shape (nodes, sectors)."""
        share = self.support.wall.area * (2 * np.pi / self.sectors)
        return np.repeat(share[:, None], self.sectors, axis=1)

    @cached_property
    def _traction_per_motion(self) -> Array:
        modes = self.support.traction_modes[:, None, :, MOTION]
        return modes * self._pattern

    @cached_property
    def _pattern(self) -> Array:
        """Dependence of (r, z, theta) components on the angle, shape (1, sectors, 3, 6)."""
        c, s, one = np.cos(self.angles), np.sin(self.angles), np.ones(self.sectors)
        along_x = np.stack([c, c, s], axis=1)
        along_y = np.stack([s, s, -c], axis=1)
        plain = np.stack([one, one, one], axis=1)
        # rotation about +x moves points above the crest along -y
        columns = [along_x, along_y, plain, -along_y, along_x, plain]
        return np.stack(columns, axis=2)[None]

    def stress(self, wrench: Array) -> WallStress:
        """Return the wall's stress under wrenches about the crest, shape (..., 6)."""
        motion = self.support.displacement(wrench)
        traction = np.einsum("nski,...i->...nsk", self._traction_per_motion, motion)
        return WallStress(
            traction,
            -np.einsum("...nsc,nc->...ns", traction, self._normal),
            np.einsum("nsi,...i->...ns", self.pressure_map, wrench),
        )

    @cached_property
    def pressure_map(self) -> Array:
        """Pressure per unit wrench, MPa per N or N·mm, shape (nodes, sectors, 6)."""
        per_motion = self.support.pressure_modes[:, None, MOTION] * self._pattern[:, :, 1]
        return per_motion @ self.support.compliance

    def peak(self, values: Array) -> Array:
        """Return the value that is exceeded on 1 % of the wall's area, shape (...).

        The largest value of all grows without bound as the mesh is refined, because traction is
        singular at the edge of the crest; this one settles.

        Parameters
        ----------
        values
            Shape (..., nodes, sectors).
        """
        flat = values.reshape(-1, self.area.size)
        share = self.area.ravel() / self.area.sum()
        found = []
        for row in flat:
            order = np.argsort(-row)
            # each sample stands for the middle of its own share of the wall
            covered = np.cumsum(share[order]) - 0.5 * share[order]
            found.append(np.interp(PEAK_SHARE, covered, row[order]))
        return np.reshape(found, values.shape[:-2])

    def zones(self, normal: Array, *, neutral_below: float) -> npt.NDArray[np.int8]:
        """Return COMPRESSION, NEUTRAL or TENSION of each sample from its normal traction, MPa."""
        loaded = np.abs(normal) >= neutral_below
        return (np.sign(normal) * loaded).astype(np.int8)

    @cached_property
    def _normal(self) -> Array:
        """Unit normal out of the ligament, (r, z, theta), shape (nodes, 3)."""
        return np.pad(self.support.wall.normal, ((0, 0), (0, 1)))

    def weighted_traction(self, shear_weight: float) -> Array:
        """Return w per unit wrench, shape (nodes, sectors, 3, 6), MPa per N or N·mm.

        w = sigma_n n + shear_weight · tau of the ligament's push on the wall. With the weight M/G
        a thin layer gives w = k_n times the displacement jump, so a pure translation moves the
        wall as a pure translation.
        """
        found = self._weighted.get(shear_weight)
        if found is None:
            found = self._weighted[shear_weight] = self._weigh(shear_weight)
        return found

    @cached_property
    def _weighted(self) -> dict[float, Array]:
        """Weighted tractions by their shear weight: a fit asks for the same one many times."""
        return {}

    def _weigh(self, shear_weight: float) -> Array:
        traction = self._traction_per_motion
        push = np.einsum("nsci,nc,nd->nsdi", traction, self._normal, self._normal)
        return (push + shear_weight * (traction - push)) @ self.support.compliance

    @cached_property
    def drift_map(self) -> Array:
        """Map wall velocities to the tooth's drift, shape (6, nodes, sectors, 3).

        The rigid motion that leaves the load-free ligament in equilibrium with the moved wall.
        By reciprocity the force a moving wall puts on a held tooth is the wall's reaction to the
        tooth's unit motions.
        """
        force = self.support.force_modes[:, None, :, MOTION] * self._pattern
        share = 2 * np.pi / self.sectors
        work = np.moveaxis(force, -1, 0) * share
        return -np.tensordot(self.support.compliance, work, axes=1)
