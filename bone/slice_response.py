"""Answer of a slice to loads: motion, wall traction, stimulus, and the drift that follows."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from gomphosis.bone.ligament_laws import BilinearLigament, equivalent_strain
from gomphosis.bone.rates import RateLaw
from gomphosis.bone.slice_body import MOTIONS, SliceBody, rigid_motions
from gomphosis.bone.stimulus import over
from gomphosis.bone.wall import PEAK_SHARE
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.plane import COMPONENTS
from gomphosis.fem.plane_equilibrium import Loading, PlaneBody, law_equilibrium
from gomphosis.fem.section import Array
from gomphosis.fem.sparse_newton import NewtonLimits
from gomphosis.fem.sparse_solve import Factorise, scipy_factor

# of the sum of nodal loads: accepted force out of balance of a node. Round-off in the rigid crown
# reaches a third of it on a mesh three times as fine as the default
FORCE_SHARE = 2e-7
RENEWALS, RENEWED = 60, 1e-5


@dataclass(frozen=True)
class UnitResponse:
    """Linear answer to unit loads Fx, Fz, My at the crest.

    Attributes
    ----------
    displacement
        Of every unknown per N or N·mm, shape (size, 3).
    """

    slice_body: SliceBody
    displacement: Array

    @cached_property
    def compliance(self) -> Array:
        """Motion (ux, uz, ry) per unit load, shape (3, 3); symmetric."""
        found = self.slice_body.unit_loads.T @ self.displacement
        return 0.5 * (found + found.T)

    @cached_property
    def stiffness(self) -> Array:
        """Inverse of the compliance, N and N·mm per mm and rad, shape (3, 3)."""
        return np.asarray(np.linalg.inv(self.compliance), dtype=float)

    @cached_property
    def wall_force(self) -> Array:
        """Bone's force on the ligament at the wall's nodes per unit load, shape (nodes, 2, 3)."""
        parts = [self.slice_body.wall_force(column) for column in self.displacement.T]
        return np.stack(parts, axis=2)

    @cached_property
    def side_displacement(self) -> Array:
        """Axis' displacement at the side walls' places per unit load, shape (places, 2, 3)."""
        parts = [self.slice_body.side.displacement(column) for column in self.displacement.T]
        return np.stack(parts, axis=2)

    def carried(self, wall: Array, side: Array) -> Array:
        """Return the motion of the tooth whose walls move, soft tissue staying where it is.

        By reciprocity it is minus the work of the walls' reactions to unit loads.

        Parameters
        ----------
        wall, side
            (x, z) of the wall's nodes and of the side walls' places, shapes (nodes, 2, ...) and
            (places, 2, ...).
        """
        moved = -np.einsum("nck,nc...->k...", self.wall_force, wall)
        held = self.slice_body.side.stiffness
        return moved + np.einsum("pck,pc,pc...->k...", self.side_displacement, held, side)

    @cached_property
    def along(self) -> Array:
        """Motion of the tooth per rigid motion of all its walls, shape (3, 3).

        The identity but for the soft tissue, which holds the crown back.
        """
        body = self.slice_body
        heights = np.einsum("pa,pa->p", body.side.shape, body.mesh.nodes[1, body.side.nodes])
        places = (body.wall.place.T, np.stack([np.zeros_like(heights), heights]))
        return self.carried(*(rigid_motions(p).reshape(-1, COMPONENTS, MOTIONS) for p in places))


def unit_response(
    slice_body: SliceBody, body: PlaneBody, *, factorise: Factorise = scipy_factor
) -> UnitResponse:
    """Solve a linear slice for its three unit loads.

    Parameters
    ----------
    body
        The slice's own body; only the matrices of its bony elements are read.

    Raises
    ------
    SolveError
        If the system cannot be solved.
    """
    bone = body.matrices[slice_body.bony]
    return UnitResponse(slice_body, slice_body.condensed.displacement(bone, factorise=factorise))


@dataclass(frozen=True)
class SliceState:
    """A slice in balance with a load.

    Attributes
    ----------
    displacement
        Of every unknown in the tooth's frame, mm, shape (size,).
    motion
        (ux, uz, ry) of the bracket about the crest, mm and rad, shape (3,).
    push
        Traction of the ligament on the wall, (x, z) in MPa, shape (nodes, 2).
    side
        Displacement of the axis against the side walls, mm, shape (places, 2).
    stiffening
        Secant over first modulus at the side walls, shape (places,).
    """

    slice_body: SliceBody
    displacement: Array
    motion: Array
    push: Array
    side: Array
    stiffening: Array

    @cached_property
    def strain(self) -> float:
        """Equivalent strain exceeded on 1 % of the ligament's volume."""
        body = self.slice_body
        strain = body.elements.strain(self.displacement, elements=body.ligament)
        size = equivalent_strain(strain, body.tissue.ligament.poisson).ravel()
        order = np.argsort(-size)
        volume = body.elements.measure[body.ligament].ravel()[order]
        covered = (np.cumsum(volume) - 0.5 * volume) / volume.sum()
        return float(np.interp(PEAK_SHARE, covered, size[order]))

    @property
    def normal(self) -> Array:
        """Normal traction, tension positive, MPa, shape (nodes,)."""
        return -np.einsum("nc,nc->n", self.push, self.slice_body.wall.normal)


def linear_state(response: UnitResponse, load: Array) -> SliceState:
    """Return a linear slice in balance with a load (Fx, Fz, My) about the crest."""
    body = response.slice_body
    return SliceState(
        body,
        response.displacement @ load,
        response.compliance @ load,
        body.wall.traction(-response.wall_force @ load),
        response.side_displacement @ load,
        np.ones(len(body.side.nodes)),
    )


def law_state(
    slice_body: SliceBody,
    body: PlaneBody,
    load: Array,
    *,
    law: BilinearLigament,
    start: SliceState | None = None,
    factorise: Factorise = scipy_factor,
) -> SliceState:
    """Return a slice whose ligament stiffens, in balance with a load (Fx, Fz, My).

    The side walls follow the same curve: their secant moduli are renewed until they change by
    less than 1e-5. A state under a similar load, if given, is where to start from.

    Raises
    ------
    NotConvergedError
        If Newton's iteration or the side walls do not settle.
    """
    forces = slice_body.unit_loads @ load
    displacement = np.zeros_like(forces) if start is None else start.displacement
    limits = NewtonLimits(FORCE_SHARE * max(float(np.abs(forces).sum()), np.finfo(float).tiny))
    count = len(slice_body.side.nodes)
    stiffening = np.ones(count) if start is None else start.stiffening
    history = []
    for _ in range(RENEWALS):
        lawful = replace(
            body,
            springs=(slice_body.side.matrices(stiffening),),
            law=law,
            lawful=slice_body.ligament,
        )
        loading = Loading(forces, displacement)
        found = law_equilibrium(
            lawful, slice_body.pattern, loading, limits=limits, factorise=factorise
        )
        displacement = found.unknowns
        side = slice_body.side.displacement(displacement)
        renewed = law.secant(slice_body.side.equivalent(side)) / law.first
        history.append(float(np.abs(renewed - stiffening).max()))
        stiffening = renewed
        if history[-1] < RENEWED:
            return _law_state(slice_body, law, displacement, stiffening)
    raise NotConvergedError(history, RENEWED)


def _law_state(
    body: SliceBody, law: BilinearLigament, displacement: Array, stiffening: Array
) -> SliceState:
    strain = body.elements.strain(displacement, elements=body.ligament)
    force = body.elements.force(law.stress(strain), elements=body.ligament)
    at_wall = force.reshape(-1, COMPONENTS)[body.mesh.lines["wall"]]
    return SliceState(
        body,
        displacement,
        body.unit_loads.T @ displacement,
        body.wall.traction(-at_wall),
        body.side.displacement(displacement),
        stiffening,
    )


@dataclass(frozen=True)
class WallMotion:
    """Velocity of the walls and the drift of the tooth that follows, per day.

    Attributes
    ----------
    wall
        (x, z) in mm/day at the wall's nodes, shape (nodes, 2).
    side
        The same of the side walls, shape (places, 2).
    drift
        (ux, uz, ry) per day, shape (3,).
    mismatch
        Root mean square of the wall's normal speed less the drift's, over that of the wall's.
    """

    wall: Array
    side: Array
    drift: Array
    mismatch: float


def wall_motion(
    response: UnitResponse, state: SliceState, law: RateLaw, *, shear_weight: float
) -> WallMotion:
    """Move the walls by v = R(S) w/|w| and the tooth by what leaves its ligament load-free.

    Soft tissue goes along with the tooth: walls that move rigidly carry it with them exactly.
    """
    body = response.slice_body
    wall = body.wall
    along = np.einsum("nc,nc->n", state.push, wall.normal)[:, None] * wall.normal
    velocity = _moved(law, along + shear_weight * (state.push - along))
    normal, shear = body.side.stimulus
    per_displacement = state.stiffening[:, None] * (normal + shear_weight * shear)
    side = _moved(law, per_displacement * state.side)
    carried = response.carried(velocity, side)
    drift = np.asarray(np.linalg.solve(response.along, carried), dtype=float)
    return WallMotion(velocity, side, drift, _mismatch(body, velocity, drift))


def _moved(law: RateLaw, stimulus: Array) -> Array:
    size = np.linalg.norm(stimulus, axis=1)
    return over(law, size)[:, None] * stimulus


def _mismatch(body: SliceBody, velocity: Array, drift: Array) -> float:
    x, z = body.wall.place.T
    rigid = np.stack([drift[0] + drift[2] * z, drift[1] - drift[2] * x], axis=1)
    outward = np.einsum("nc,nc->n", velocity, body.wall.normal)
    missed = outward - np.einsum("nc,nc->n", rigid, body.wall.normal)
    whole = float(np.sum(body.wall.area * outward**2))
    return float(np.sqrt(np.sum(body.wall.area * missed**2) / whole)) if whole > 0 else 0.0
