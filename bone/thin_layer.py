r"""Closed form of a thin compressible layer between a rigid root and a rigid socket.

Each point of the layer's mid-surface answers the displacement jump d with the traction
:math:`k_n (d\cdot n) n + k_t (d - (d\cdot n)n)`, :math:`k_n = M/t`, :math:`k_t = G/t`. The
support stiffness is the surface integral of that, taken here by Gauss quadrature. It does not
know the finite-element model and serves to check it.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.bone.root import RootProfile, ThicknessProfile, offset_surface
from gomphosis.fem.harmonic import constrained_modulus, lame
from gomphosis.fem.section import Array


@dataclass(frozen=True)
class PlanarSupport:
    """Hold the stiffness of a body of revolution about its crest point.

    Attributes
    ----------
    lateral
        N/mm.
    coupling
        Lateral force per rotation about the crest, N (equals moment per lateral displacement).
    rocking
        N·mm per rad about the crest.
    axial, torsional
        N/mm, and N·mm per rad about the long axis.
    """

    lateral: float
    coupling: float
    rocking: float
    axial: float
    torsional: float

    @property
    def centre_of_resistance(self) -> float:
        """Height of the centre of resistance above the crest, mm (negative: in the bone)."""
        return self.coupling / self.lateral

    @property
    def moment_distance(self) -> float:
        """Constant a·b of force distance and rotation distance about the centre, mm^2."""
        return self.rocking / self.lateral - self.centre_of_resistance**2


def surface_integrals(
    root: RootProfile, thickness: ThicknessProfile, *, young: float, poisson: float
) -> PlanarSupport:
    """Integrate normal and shear springs over the mid-surface (MPa, dimensionless)."""
    edge, weight, normal, gap = _mid_surface(root, thickness)
    r, z = edge
    nr, nz = normal
    kn = constrained_modulus(young, poisson) / gap
    kt = float(lame(young, poisson)[1]) / gap
    swing = nr * z - nz * r
    return PlanarSupport(
        lateral=float(np.pi * np.sum(weight * (kn * nr**2 + kt * (2 - nr**2)))),
        coupling=float(np.pi * np.sum(weight * (kn * nr * swing + kt * (2 * z - nr * swing)))),
        rocking=float(np.pi * np.sum(weight * (kn * swing**2 + kt * (2 * z**2 + r**2 - swing**2)))),
        axial=float(2 * np.pi * np.sum(weight * (kn * nz**2 + kt * (1 - nz**2)))),
        torsional=float(2 * np.pi * np.sum(weight * kt * r**2)),
    )


def _mid_surface(
    root: RootProfile, thickness: ThicknessProfile
) -> tuple[Array, Array, Array, Array]:
    """Return places, weights r ds, normals and thickness on many short panels."""
    s = np.linspace(0.0, 1.0, 8001)
    edge = offset_surface(root, thickness, s, fraction=0.5)
    step = np.diff(edge, axis=1)
    length = np.linalg.norm(step, axis=0)
    middle = 0.5 * (edge[:, 1:] + edge[:, :-1])
    tangent = step / length
    normal = np.stack([tangent[1], -tangent[0]])
    point = root.surface(0.5 * (s[1:] + s[:-1]))[0]
    gap = thickness.at(np.clip(-point[1] / root.length, 0.0, 1.0))
    return middle, length * middle[0], normal, gap
