"""Outlines and thickness of a slice, taken from the lines of its mesh."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.spatial import KDTree

from gomphosis.bone.slice_root import RootOutline
from gomphosis.fem.boundary import line
from gomphosis.fem.plane_mesh import PlaneMesh
from gomphosis.fem.section import Array

FINE = 20  # places between nodes of the root's surface from which thickness is measured


@dataclass(frozen=True)
class MeasuredThickness:
    """Thickness of a ligament as measured on a mesh, both sides averaged.

    Parameters
    ----------
    depth
        Rising fractions of depth, 0 crest to 1 apex, shape (n,).
    gap
        Thickness at each, mm.
    """

    depth: Array
    gap: Array

    def at(self, depth: Array) -> Array:
        """Return the thickness in mm at a fraction of depth."""
        return np.interp(depth, self.depth, self.gap)


@dataclass(frozen=True)
class MeasuredDesign:
    """Root and ligament of a mesh that was not made from a design."""

    mesh: PlaneMesh

    @cached_property
    def root(self) -> RootOutline:
        """The root's surface through the mesh's nodes."""
        surface = line(self.mesh, "root surface", depth=np.ones(self.mesh.nodes.shape[1]))
        points = surface.place.T.copy()
        apex = int(np.argmin(points[1]))
        points[0, apex] = (
            0.0 if abs(points[0, apex]) < 1e-6 * np.ptp(points[0]) else points[0, apex]
        )
        return RootOutline(points, surface.normal.T, apex)

    @cached_property
    def thickness(self) -> MeasuredThickness:
        """Distance from the wall's nodes to the root's surface, along its depth."""
        surface = self.mesh.nodes[:, self.mesh.lines["root surface"]].T
        share = np.linspace(0.0, 1.0, FINE, endpoint=False)[:, None, None]
        fine = (surface[:-1] + share * np.diff(surface, axis=0)).reshape(-1, 2)
        wall = self.mesh.nodes[:, self.mesh.lines["wall"]].T
        gap, nearest = KDTree(fine).query(wall)
        depth = np.clip(-fine[nearest, 1] / self.root.depth, 0.0, 1.0)
        order = np.argsort(depth, kind="stable")
        places, of = np.unique(np.round(depth[order], 9), return_inverse=True)
        mean = np.bincount(of, weights=gap[order]) / np.bincount(of)
        return MeasuredThickness(places, mean)


def socket_outline(mesh: PlaneMesh, *, above: float) -> Array:
    """Return the closed outline of root and ligament, straight up above the crest, (2, n), mm."""
    wall = mesh.nodes[:, mesh.lines["wall"]]
    top = np.array([[wall[0, -1], wall[0, 0]], [above, above]])
    return np.concatenate([wall, top], axis=1)


def root_outline(mesh: PlaneMesh) -> Array:
    """Return the closed outline of the embedded root, shape (2, n), mm."""
    return mesh.nodes[:, mesh.lines["root surface"]]
