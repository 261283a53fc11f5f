"""Support of one tooth by its ligament: stiffness, centre of resistance, wall stress.

The root is a body of revolution; harmonics 0 (axial load and torsion) and 1 (force and moment
across the long axis) give the answer to any force system in three dimensions by superposition.
What is averaged away: the difference between labiolingual and mesiodistal stiffness, and the
separate roots of a molar.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import coo_array, csr_array

from gomphosis.bone.root import RootProfile, ThicknessProfile, offset_surface
from gomphosis.bone.thin_layer import PlanarSupport
from gomphosis.fem.boundary import Line, line
from gomphosis.fem.condensation import Condensed, condense
from gomphosis.fem.harmonic import (
    COMPONENTS,
    Harmonic,
    Quadrature,
    constrained_modulus,
    harmonic,
    lame,
    projected_dilatation,
    quadrature,
)
from gomphosis.fem.section import Array, Index, Section, graded, stacked, tensor_section


@dataclass(frozen=True)
class Elastic:
    """Pair an elastic modulus in MPa with its Poisson's ratio, from one study."""

    young: float
    poisson: float

    def __post_init__(self) -> None:
        lame(self.young, self.poisson)

    @property
    def constrained(self) -> float:
        """Constrained modulus M in MPa."""
        return constrained_modulus(self.young, self.poisson)

    @property
    def shear(self) -> float:
        """Shear modulus G in MPa."""
        return float(lame(self.young, self.poisson)[1])


@dataclass(frozen=True)
class Resolution:
    """Count elements along the root and across root, ligament and bone, and sectors around.

    The default is the coarsest at which stiffness, centre of resistance, drift, mean pressure and
    the pressure exceeded on 1 % of the wall change by less than 1 % on doubling (shown by a
    test). The largest pressure of all does not settle: the edge of the crest is singular.
    """

    along: int = 24
    root: int = 3
    ligament: int = 2
    bone: int = 2
    sectors: int = 24

    def doubled(self) -> "Resolution":
        """Return twice the counts."""
        counts = (self.along, self.root, self.ligament, self.bone, self.sectors)
        return Resolution(*(2 * count for count in counts))


@dataclass(frozen=True)
class SupportDesign:
    """Say what a tooth's support is made of.

    Parameters
    ----------
    root, thickness
        Geometry.
    ligament
        Elastic pair of the ligament.
    dentine, bone
        Elastic pairs, or None for a rigid root or a rigid socket.
    bone_width
        Distance in mm from the socket wall to where the bone is held.
    """

    root: RootProfile
    thickness: ThicknessProfile
    ligament: Elastic
    dentine: Elastic | None
    bone: Elastic | None
    bone_width: float = 2.0


@dataclass(frozen=True)
class Support:
    """Hold the linear answer of a tooth's support to unit rigid motions of the crown.

    Six-vectors are (ux, uy, uz, rx, ry, rz) or (Fx, Fy, Fz, Mx, My, Mz) in the tooth frame
    about the crest point of the long axis; mm, rad, N, N·mm.

    Attributes
    ----------
    design, wall
        What it is made of; the socket wall from apex to crest.
    planar
        The five independent stiffnesses.
    traction_modes
        Traction of the ligament on the wall per unit motion: (r, z, theta) amplitudes in
        MPa/mm or MPa/rad, shape (wall nodes, 3, 4); motions axial, torsion, lateral, rocking.
    pressure_modes
        Minus the mean stress of the ligament at the wall, same motions, shape (wall nodes, 4).
    force_modes
        Nodal force of the wall on the ligament per radian, shape (wall nodes, 3, 4).
    """

    design: SupportDesign
    wall: Line
    planar: PlanarSupport
    traction_modes: Array
    pressure_modes: Array
    force_modes: Array

    @cached_property
    def stiffness(self) -> Array:
        """Support stiffness about the crest point, shape (6, 6)."""
        p = self.planar
        k = np.diag([p.lateral, p.lateral, p.axial, p.rocking, p.rocking, p.torsional])
        # rotation ry carries points above the crest along +x, rx along -y
        k[0, 4] = k[4, 0] = p.coupling
        k[1, 3] = k[3, 1] = -p.coupling
        return k

    @cached_property
    def compliance(self) -> Array:
        """Inverse of the stiffness, shape (6, 6)."""
        return np.asarray(np.linalg.inv(self.stiffness), dtype=float)

    def stiffness_at(self, point: Array) -> Array:
        """Return the stiffness, shape (6, 6), about any point (x, y, z) in mm, tooth frame."""
        shift = motion_at(np.asarray(point, dtype=float))
        back = np.linalg.inv(shift)
        return back.T @ self.stiffness @ back

    def displacement(self, wrench: Array) -> Array:
        """Return the crown's rigid displacement, shape (..., 6), under wrenches (..., 6)."""
        return wrench @ self.compliance.T


def motion_at(point: Array) -> Array:
    """Return the matrix, shape (6, 6), from motion of the origin to motion at a point in mm.

    Its transpose carries a wrench at the point to the origin.
    """
    x, y, z = point
    shift = np.eye(6)
    shift[:3, 3:] = [[0, z, -y], [-z, 0, x], [y, -x, 0]]
    return shift


def support(design: SupportDesign, resolution: Resolution | None = None) -> Support:
    """Solve both harmonics of a design and gather its support.

    Raises
    ------
    SolveError
        If a linear solve fails.
    """
    size = resolution or Resolution()
    section = support_section(design, size)
    points = quadrature(section)
    young, poisson = _constants(design, section)
    axial = _Solved.of(section, points, young, poisson, order=0)
    lateral = _Solved.of(section, points, young, poisson, order=1)
    ka, kl = axial.answer.stiffness, lateral.answer.stiffness
    planar = PlanarSupport(kl[0, 0], kl[0, 1], kl[1, 1], ka[0, 0], ka[1, 1])
    wall = line(section, "wall")
    force = np.concatenate([axial.wall_force, lateral.wall_force], axis=2)
    pressure = np.concatenate([axial.wall_pressure, lateral.wall_pressure], axis=1)
    return Support(design, wall, planar, -wall.traction(force), pressure, force)


def support_section(design: SupportDesign, size: Resolution) -> Section:
    """Mesh root (if elastic), ligament and bone (if elastic) of a design."""
    counts = [
        ("root", size.root if design.dentine else 0),
        ("ligament", size.ligament),
        ("bone", size.bone if design.bone else 0),
    ]
    lines = {"surface": 1.0, "wall": 2.0, "outer": 3.0 if design.bone else 2.0}

    def place(xi: Array, eta: Array) -> Array:
        inner = root_interior(design.root, xi, np.minimum(eta, 1.0))
        outer = offset_surface(
            design.root,
            design.thickness,
            xi,
            fraction=1.0,
        )
        surface = design.root.surface(xi)[0]
        layer = surface + (outer - surface) * np.clip(eta - 1.0, 0.0, 1.0)
        normal = design.root.surface(xi)[1]
        beyond = layer + normal * (design.bone_width * np.clip(eta - 2.0, 0.0, 1.0))
        mapped = np.where(eta <= 1.0, inner, beyond)
        mapped[0, np.abs(mapped[0]) < 1e-12 * design.root.radius] = 0.0
        return mapped

    xi = graded(size.along, ratio=2.0)
    return tensor_section(xi, stacked(counts), mapping=place, lines=lines)


def root_interior(root: RootProfile, s: Array, depth: Array) -> Array:
    """Fan from points of the axis (depth 0) to the root surface (depth 1); (r, z) in mm."""
    surface = root.surface(s)[0]
    axis = np.stack([np.zeros_like(s), -0.7 * root.length * (1.0 - s)])
    return axis + (surface - axis) * depth


def _constants(design: SupportDesign, section: Section) -> tuple[Array, Array]:
    young = np.zeros(section.mesh.nelements)
    poisson = np.zeros(section.mesh.nelements)
    pairs = {"root": design.dentine, "ligament": design.ligament, "bone": design.bone}
    for name, elements in section.bands.items():
        pair = pairs[name]
        if pair is not None:
            young[elements], poisson[elements] = pair.young, pair.poisson
    return young, poisson


@dataclass(frozen=True)
class _Solved:
    answer: Condensed
    wall_force: Array
    wall_pressure: Array

    @classmethod
    def of(
        cls, section: Section, points: Quadrature, young: Array, poisson: Array, *, order: int
    ) -> "_Solved":
        rule = harmonic(points, order)
        matrix = rule.stiffness(young, poisson)
        answer = condense(
            matrix,
            rigid_modes(section.nodes, order),
            fixed=_dofs(section.lines["outer"]),
            tied=_dofs(_tied_nodes(section)),
            ties=axis_ties(section, order),
        )
        ligament = section.bands["ligament"]
        inner = rule.stiffness(young, poisson, elements=ligament) @ answer.displacement
        wall = section.lines["wall"]
        angle = np.pi if order else 2 * np.pi
        force = inner[_dofs(wall)].reshape(len(wall), COMPONENTS, -1) / angle
        lam, mu = lame(young[ligament[0]], poisson[ligament[0]])
        bulk = float(lam + 2 * mu / 3)
        dilatation = _wall_dilatation(section, rule, points, answer.displacement)
        return cls(answer, force, -bulk * dilatation)


def rigid_modes(nodes: Array, order: int) -> Array:
    """Return amplitudes of the rigid motions of a harmonic, shape (3 n, 2).

    Order 0: along the axis, and torsion about it. Order 1: along x, and rotation about y.
    """
    r, z = nodes
    zero, one = np.zeros_like(r), np.ones_like(r)
    if order == 0:
        first, second = (zero, one, zero), (zero, zero, r)
    else:
        first, second = (one, zero, -one), (z, -r, -z)
    return np.stack([np.stack(first, 1).ravel(), np.stack(second, 1).ravel()], axis=1)


def axis_ties(section: Section, order: int) -> csr_array:
    """Return the regularity conditions on the axis as a map from masters to all unknowns.

    Order 0: U = V = 0. Order 1: W = 0 and V = -U. Higher orders: all zero.
    """
    size = COMPONENTS * section.nodes.shape[1]
    value = np.ones(size)
    u, w, v = (COMPONENTS * section.axis + k for k in range(COMPONENTS))
    if order != 1:
        value[u] = 0.0
    if order != 0:
        value[w] = 0.0
    value[v] = 0.0
    every = np.arange(size)
    coupled = v if order == 1 else v[:0]
    rows = np.concatenate([every, coupled])
    columns = np.concatenate([every, u if order == 1 else u[:0]])
    entries = np.concatenate([value, -np.ones(len(coupled))])
    return csr_array(coo_array((entries, (rows, columns)), shape=(size, size)))


def _wall_dilatation(
    section: Section, rule: Harmonic, points: Quadrature, displacement: Array
) -> Array:
    """Average the projected dilatation of the ligament elements that meet at each wall node."""
    wall = section.lines["wall"]
    local = np.asarray(section.mesh.dofs.element_dofs[:, section.bands["ligament"]]).T
    on_wall = np.isin(local, wall)
    touching = on_wall.sum(axis=1) == 3  # an edge, not a corner
    elements = section.bands["ligament"][touching]
    nodes = local[touching][on_wall[touching]].reshape(-1, 3)
    places = section.nodes[:, nodes].transpose(1, 2, 0)
    values = projected_dilatation(rule, points, displacement, elements=elements, nodes=places)
    order = np.argsort(wall)
    index = order[np.searchsorted(wall[order], nodes)]
    total = np.zeros((len(wall), values.shape[2]))
    count = np.zeros(len(wall))
    np.add.at(total, index, values)
    np.add.at(count, index, 1.0)
    return total / count[:, None]


def _dofs(nodes: Index) -> Index:
    return (COMPONENTS * nodes[:, None] + np.arange(COMPONENTS)).ravel()


def _tied_nodes(section: Section) -> Index:
    if "root" not in section.bands:
        return section.lines["surface"]
    # an elastic root is carried by the rigid crown in the plane of the crest
    members = np.unique(section.mesh.dofs.element_dofs[:, section.bands["root"]])
    return np.intersect1d(section.lines["end"], members)
