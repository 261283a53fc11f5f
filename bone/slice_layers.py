"""Lines of nodes around the root of a slice: its surface, the socket wall, the held bone."""

from dataclasses import dataclass

import numpy as np

from gomphosis.bone.root import ThicknessProfile
from gomphosis.bone.slice_root import RootOutline, arc_lengths
from gomphosis.fem.section import Array


@dataclass(frozen=True)
class SliceLayers:
    """Hold three lines of nodes, mid-sides included, from the left to the right crest.

    Attributes
    ----------
    surface, wall, outer
        Places in mm, shape (2, 4 along + 1). Corner nodes of one number share a spoke; mid-side
        nodes halve the arc between corners on each line by itself.
    """

    surface: Array
    wall: Array
    outer: Array


def slice_layers(
    root: RootOutline, thickness: ThicknessProfile, *, fractions: Array, bone_width: float
) -> SliceLayers:
    """Place the nodes of the three lines.

    Parameters
    ----------
    root, thickness
        The root's surface and the ligament around it.
    fractions
        Corner nodes: -1 left crest, 0 apex, 1 right crest, by arc length of each side.
    bone_width
        From the wall to the outer line, mm. The direction is the wall's normal where the root is
        convex, and smoothed where it is hollow so that spokes never cross.

    Raises
    ------
    ValueError
        If the wall folds because the root is more hollow than the ligament is thick.
    """
    corners = _stations(root, fractions)
    every = np.arange(root.points.shape[1], dtype=float)
    wall = root.offset(thickness, every, fraction=1.0)
    _check_fold(root, wall)
    outward = _fan(root.normals)

    def outer_at(station: Array) -> Array:
        direction = np.stack([np.interp(station, every, axis) for axis in outward])
        direction /= np.linalg.norm(direction, axis=0)
        return root.offset(thickness, station, fraction=1.0) + bone_width * direction

    surface_nodes = _with_mid_arcs(corners, root.arc)
    wall_nodes = _with_mid_arcs(corners, arc_lengths(wall))
    outer_nodes = _with_mid_arcs(corners, arc_lengths(outer_at(every)))
    surface = root.at(surface_nodes)[0]
    layers = (surface, root.offset(thickness, wall_nodes, fraction=1.0), outer_at(outer_nodes))
    return SliceLayers(*(_apex_on_axis(layer, root.depth) for layer in layers))


def _apex_on_axis(layer: Array, depth: float) -> Array:
    """Put the middle node at x = 0 exactly, where it is but for rounding."""
    middle = layer.shape[1] // 2
    if abs(layer[0, middle]) < 1e-9 * depth:
        layer[0, middle] = 0.0
    return layer


def _stations(root: RootOutline, fractions: Array) -> Array:
    """Return sample numbers of the corner nodes, a node on every corner of the root."""
    total, apex = root.arc[-1], root.arc[root.apex]
    s = np.where(fractions < 0, apex * (1 + fractions), apex + (total - apex) * fractions)
    still = np.flatnonzero(np.diff(root.arc) == 0.0)
    turned = np.einsum("ci,ci->i", root.normals[:, still], root.normals[:, still + 1]) < 1 - 1e-9
    for place in np.unique(root.arc[still[turned]]):
        nearest = 1 + int(np.argmin(np.abs(s[1:-1] - place)))
        if nearest != len(s) // 2:
            s[nearest] = place
    return root.station(s)


def _with_mid_arcs(corners: Array, arc: Array) -> Array:
    """Put a station at half the arc between neighbouring stations."""
    every = np.arange(len(arc), dtype=float)
    place = np.interp(corners, every, arc)
    middle = np.interp(0.5 * (place[:-1] + place[1:]), arc, every)
    found = np.empty(2 * len(corners) - 1)
    found[::2], found[1::2] = corners, middle
    return found


def _fan(normals: Array) -> Array:
    """Return unit directions that turn one way only and never rise above the horizontal."""
    angle = np.unwrap(np.arctan2(normals[1], normals[0]))
    # 0 is the right-hand horizontal, whatever the branch that unwrapping took
    angle -= 2 * np.pi * np.round((angle[-1]) / (2 * np.pi))
    ahead, behind = np.maximum.accumulate(angle), np.minimum.accumulate(angle[::-1])[::-1]
    smooth = np.clip(0.5 * (ahead + behind), -np.pi, 0.0)
    straight = smooth == angle
    return np.where(straight, normals, np.stack([np.cos(smooth), np.sin(smooth)]))


def _check_fold(root: RootOutline, wall: Array) -> None:
    ahead = np.sum(np.diff(wall, axis=1) * np.diff(root.points, axis=1), axis=0)
    if ahead.min() < 0.0:
        x, z = root.points[:, int(np.argmin(ahead))]
        raise ValueError(
            f"the socket wall folds at x = {x:.4g}, z = {z:.4g} mm: there the root is more hollow "
            "than the ligament is thick"
        )
