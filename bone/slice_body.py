r"""One tooth in a plane: crown, root, ligament and bone of varying depth, and its side walls.

Depth-weighted plane strain, :math:`b = \tfrac\pi2|x|` in ligament, bone and soft tissue and
:math:`b = \tfrac\pi2 r(z)` in the tooth, carries the two walls of the plane. A foundation on the
long axis stands for the walls beside it: per arc length of the ligament's mid-surface
:math:`\pi r k_t` across and :math:`\pi r (k_n\sin^2 a + k_t\cos^2 a)` along the axis, with
:math:`k_n = M/t`, :math:`k_t = G/t` and a the wall's slope. In a thin layer both together are the
body of revolution of `gomphosis.bone.support`.

Motions and loads of the tooth are (ux, uz, ry) and (Fx, Fz, My) about the crest point; ry carries
points above the crest towards +x.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.bone.coverage import moved
from gomphosis.bone.density_law import DensityLaw
from gomphosis.bone.density_map import DensityMap
from gomphosis.bone.slice_condensed import CondensedTooth, Parts, condensed_tooth
from gomphosis.bone.slice_geometry import MeasuredDesign
from gomphosis.bone.slice_mesh import BONE, CROWN, LIGAMENT, ROOT, SOFT, SliceDesign
from gomphosis.bone.support import Elastic
from gomphosis.fem.boundary import Line, line
from gomphosis.fem.plane import COMPONENTS, PlaneElements, plane_elements
from gomphosis.fem.plane_equilibrium import LocalMatrices, PlaneBody
from gomphosis.fem.plane_mesh import PlaneMesh
from gomphosis.fem.plane_points import PlanePoints, plane_points
from gomphosis.fem.section import Array, Index
from gomphosis.fem.sparse_order import nested_dissection
from gomphosis.fem.sparse_pattern import SparsePattern

HALF_TURN = np.pi / 2
ARC_POINTS = 400  # places at which the side walls are felt
MOTIONS = 3
RIGID = 1e2  # times dentine: the crown is as good as rigid, as in the body of revolution


@dataclass(frozen=True)
class SliceTissue:
    """Elastic pairs of ligament and tooth; bone gets its modulus from the density map.

    Parameters
    ----------
    ligament, dentine
        Elastic pairs in MPa.
    bone_poisson
        Poisson's ratio of bone of any density, and of soft tissue.
    """

    ligament: Elastic
    dentine: Elastic
    bone_poisson: float = 0.3


@dataclass(frozen=True)
class SideWalls:
    """The walls beside the plane, at places along the mid-surface's arc.

    Attributes
    ----------
    nodes, shape
        Nodes of the axis around each place, and their weights, shape (places, 3).
    stiffness
        Across and along the axis, N/mm, shape (places, 2).
    stimulus
        Wall stimulus per displacement without the shear's weight: normal and shear part across
        and along, MPa/mm, shape (2, places, 2).
    strain
        Square of the equivalent strain per squared displacement across and along, 1/mm^2, shape
        (places, 2).
    """

    nodes: Index
    shape: Array
    stiffness: Array
    stimulus: Array
    strain: Array

    def equivalent(self, displacement: Array) -> Array:
        """Return the equivalent strain of the side walls' ligament, shape (places,)."""
        return np.sqrt(np.sum(self.strain * displacement**2, axis=1))

    def displacement(self, whole: Array) -> Array:
        """Return the axis' displacement at the places, shape (places, 2), of all unknowns."""
        at_nodes = whole.reshape(-1, COMPONENTS)[self.nodes]
        return np.einsum("pa,pac->pc", self.shape, at_nodes)

    def matrices(self, stiffening: Array | float = 1.0) -> LocalMatrices:
        """Return the foundation's stiffness, one part for each edge of the axis.

        Parameters
        ----------
        stiffening
            Secant over first modulus of the ligament at each place, shape (places,).
        """
        rate = self.stiffness * np.reshape(stiffening, (-1, 1))
        edges, of = np.unique(self.nodes, axis=0, return_inverse=True)
        total = np.zeros((len(edges), 3, COMPONENTS, 3, COMPONENTS))
        square = np.einsum("pa,pb->pab", self.shape, self.shape)
        for k in range(COMPONENTS):
            np.add.at(total[:, :, k, :, k], of.ravel(), square * rate[:, k, None, None])
        dofs = (COMPONENTS * edges[:, :, None] + np.arange(COMPONENTS)).reshape(len(edges), -1)
        return LocalMatrices(dofs, total.reshape(len(edges), 6, 6))


@dataclass(frozen=True)
class SliceBody:
    """Hold what stays the same while the tooth moves: its mesh moves with it.

    Parameters
    ----------
    design
        Root and ligament: as designed, or as measured on the mesh.
    mesh
        In the tooth's frame.
    tissue
        Elastic pairs.
    side_walls
        False leaves out the walls beside the plane, to show what they do.
    """

    design: SliceDesign | MeasuredDesign
    mesh: PlaneMesh
    tissue: SliceTissue
    side_walls: bool = True

    @cached_property
    def points(self) -> PlanePoints:
        """Integration points of the mesh."""
        return plane_points(self.mesh.nodes, self.mesh.elements)

    @cached_property
    def depth(self) -> Array:
        """Depth b at every integration point, mm, shape (elements, points)."""
        x, z = (
            self.points.interpolated(self.mesh.nodes[0]),
            self.points.interpolated(self.mesh.nodes[1]),
        )
        b = HALF_TURN * np.abs(x)
        tooth = self._members(ROOT, CROWN)
        b[tooth] = HALF_TURN * self._half_width(z[tooth])
        return b

    def _half_width(self, z: Array) -> Array:
        lowest = float(self.design.root.points[1].min())
        inside = np.clip(z, lowest + 1e-6 * abs(lowest), 0.0)
        left, right = self.design.root.half_widths(inside.ravel())
        return 0.5 * (right - left).reshape(z.shape)

    @cached_property
    def elements(self) -> PlaneElements:
        """The plane's elements with their depth."""
        return plane_elements(self.points, self.depth)

    @cached_property
    def bony(self) -> Index:
        """Elements of bone, whose modulus comes from the density map, and of soft tissue."""
        return self._members(BONE, SOFT)

    @cached_property
    def bony_places(self) -> Array:
        """Integration points of the bony elements, tooth frame, mm, shape (2, n)."""
        nodes = self.mesh.nodes
        return np.stack([self.points.interpolated(axis)[self.bony].ravel() for axis in nodes])

    def bone_moduli(self, bones: DensityMap, law: DensityLaw, drift: Array) -> Array:
        """Return Young's modulus in MPa at the bony places of a drifted tooth, shape (n,).

        Soft tissue goes along with the tooth and stays soft: sampled from the map, the cells at
        the crest would bridge the ligament.
        """
        found = bones.modulus_at(moved(self.bony_places, drift), law)
        soft = np.isin(self.bony, self.mesh.regions.get(SOFT, ()))
        return np.where(np.repeat(soft, len(found) // len(soft)), law.soft, found)

    def _members(self, *regions: str) -> Index:
        held = [self.mesh.regions[name] for name in regions if name in self.mesh.regions]
        return np.sort(np.concatenate(held))

    @cached_property
    def wall(self) -> Line:
        """The socket wall from the left crest round the apex to the right, with its depth."""
        return line(self.mesh, "wall", depth=HALF_TURN * np.abs(self.mesh.nodes[0]))

    @cached_property
    def side(self) -> SideWalls:
        """The walls beside the plane; without stiffness where they are left out."""
        return _side_walls(self)

    @cached_property
    def _fixed_matrices(self) -> Array:
        """Element matrices with those of tooth and ligament in place."""
        matrices = np.zeros((len(self.mesh.elements), 18, 18))
        dentine, ligament = self.tissue.dentine, self.tissue.ligament
        for name, pair, times in (
            (CROWN, dentine, RIGID),
            (ROOT, dentine, 1.0),
            (LIGAMENT, ligament, 1.0),
        ):
            if name in self.mesh.regions:
                chosen = self.mesh.regions[name]
                young = times * pair.young
                matrices[chosen] = self.elements.stiffness(young, pair.poisson, elements=chosen)
        return matrices

    def body(self, bone_young: Array) -> PlaneBody:
        """Return the linear body for moduli of bone at its integration points, MPa, shape (n,)."""
        matrices = self._fixed_matrices.copy()
        young = bone_young.reshape(len(self.bony), -1)
        matrices[self.bony] = self.elements.stiffness(
            young, self.tissue.bone_poisson, elements=self.bony
        )
        return PlaneBody(self.elements, matrices, springs=(self._springs,))

    @cached_property
    def _springs(self) -> LocalMatrices:
        """Stiffness of the side walls while their ligament is linear."""
        return self.side.matrices()

    @cached_property
    def condensed(self) -> CondensedTooth:
        """Tooth, ligament and side walls, condensed on the nodes they share with bone."""
        own = np.setdiff1d(np.arange(len(self.mesh.elements)), self.bony)
        parts = Parts(own, self._fixed_matrices[own], self._springs, self.unit_loads)
        return condensed_tooth(self.mesh, self.elements, parts, bony=self.bony)

    @property
    def ligament(self) -> Index:
        """Elements of the ligament."""
        return self.mesh.regions[LIGAMENT]

    @cached_property
    def pattern(self) -> SparsePattern:
        """Places of the stiffness matrix; the outer line is held."""
        order = nested_dissection(self.mesh.nodes, self.mesh.elements)
        dofs = (COMPONENTS * order[:, None] + np.arange(COMPONENTS)).ravel()
        outer = np.isin(dofs // COMPONENTS, self.mesh.lines["outer"])
        uniform = np.ones(len(self.bony_places[0]))
        return self.body(uniform).pattern(dofs[~outer])

    @cached_property
    def unit_loads(self) -> Array:
        """Nodal forces on the bracket of unit loads Fx, Fz, My at the crest, shape (size, 3).

        Their transpose picks the bracket's rigid motion from a displacement. A mesh without a
        bracket is loaded on the axis' upper half.
        """
        name = "bracket" if "bracket" in self.mesh.lines else "axis"
        nodes = self.mesh.lines[name]
        weight = line(self.mesh, name, depth=np.ones(self.mesh.nodes.shape[1])).area
        if name == "axis":
            weight = weight * (self.mesh.nodes[1, nodes] >= -0.5 * self.design.root.depth)
        modes = rigid_motions(self.mesh.nodes[:, nodes])
        weighted = modes * np.repeat(weight, COMPONENTS)[:, None]
        total = np.zeros((COMPONENTS * self.mesh.nodes.shape[1], MOTIONS))
        dofs = (COMPONENTS * nodes[:, None] + np.arange(COMPONENTS)).ravel()
        total[dofs] = weighted @ np.linalg.inv(modes.T @ weighted)
        return total

    def wall_force(self, displacement: Array) -> Array:
        """Return the bone's force on the ligament at the wall's nodes, N, shape (nodes, 2)."""
        chosen = self.ligament
        part = LocalMatrices(self.elements.dofs[chosen], self._fixed_matrices[chosen])
        return part.force(displacement).reshape(-1, COMPONENTS)[self.mesh.lines["wall"]]


def rigid_motions(nodes: Array) -> Array:
    """Return displacements of nodes, shape (2, n), in unit motions ux, uz, ry: shape (2 n, 3)."""
    x, z = nodes
    zero, one = np.zeros_like(x), np.ones_like(x)
    columns = [np.stack(pair, axis=1).ravel() for pair in ((one, zero), (zero, one), (z, -x))]
    return np.stack(columns, axis=1)


def _side_walls(body: SliceBody) -> SideWalls:
    """Spread the side walls over places of equal arc length, left and right averaged."""
    design, pair = body.design, body.tissue.ligament
    station = design.root.station(np.linspace(0.0, design.root.arc[-1], 2 * ARC_POINTS + 1))
    edge = design.root.offset(design.thickness, station, fraction=0.5)
    step = np.diff(edge, axis=1)
    arc = np.hypot(*step)
    middle = 0.5 * (edge[:, 1:] + edge[:, :-1])
    surface = design.root.at(0.5 * (station[1:] + station[:-1]))[0]
    gap = design.thickness.at(np.clip(-surface[1] / design.root.depth, 0.0, 1.0))
    normal = pair.constrained / gap
    shear = pair.shear / gap
    rise = (step[0] / arc) ** 2  # the normal's share along the axis
    # half of each: the two sides of the plane see the same walls
    area = 0.5 * np.pi * np.abs(middle[0]) * arc * float(body.side_walls)
    along = normal * rise + shear * (1 - rise)
    nodes, shape = _on_axis(body.mesh, middle[1])
    return SideWalls(
        nodes,
        shape,
        np.stack([area * shear, area * along], axis=1),
        np.stack(
            [
                np.stack([np.zeros_like(gap), normal * rise], axis=1),
                np.stack([shear, shear * (1 - rise)], axis=1),
            ]
        ),
        np.stack([shear, along], axis=1) / (normal * gap**2)[:, None],
    )


def _on_axis(mesh: PlaneMesh, height: Array) -> tuple[Index, Array]:
    """Return the axis' nodes around heights in mm and their weights, each of shape (n, 3)."""
    axis = mesh.lines["axis"]
    ends = mesh.nodes[1, axis[::2]]
    z = np.clip(height, ends[-1], ends[0])
    edge = np.clip(np.searchsorted(-ends, -z, side="right") - 1, 0, len(ends) - 2)
    nodes = axis[2 * edge[:, None] + np.arange(3)]
    top, bottom = ends[edge], ends[edge + 1]
    t = 2 * (top - z) / (top - bottom) - 1
    return nodes, np.stack([0.5 * t * (t - 1), 1 - t**2, 0.5 * t * (t + 1)], axis=1)
