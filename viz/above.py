"""Crowns and wire seen from the biting side, in mm on the screen.

The teeth stand in the arch as a mirror's reader sees them: the patient's right on the viewer's
left, the front teeth of the upper jaw up, those of the lower jaw down.
"""

import numpy as np

from gomphosis.bone.teeth import Tooth
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.surfaces import body_points
from gomphosis.viz.wall_map import screen_sense

HULL_POINTS = 40


def from_above(tooth: Tooth, points: Array) -> Array:
    """Return screen places, x right and y down, of points of the arch frame, shape (..., 2).

    Parameters
    ----------
    tooth
        Any tooth of the jaw.
    points
        mm, shape (..., 3).
    """
    down = -points[..., 0] if tooth.upper else points[..., 0]
    return np.stack([screen_sense(tooth) * points[..., 1], down], axis=-1)


def crown_points(tooth: ToothModel) -> Array:
    """Return the crown's surface in the tooth frame, mm, shape (n, 3)."""
    surface = body_points(tooth)
    cervix = tooth.edge_height - tooth.anatomy.crown_length
    return surface[surface[:, 0, 2] >= cervix - 1e-9].reshape(-1, 3)


def around(points: Array) -> tuple[Array, np.ndarray]:
    """Return the points that reach farthest in even directions, and which they are."""
    angle = 2 * np.pi * np.arange(HULL_POINTS) / HULL_POINTS
    chosen = np.argmax(points @ np.stack([np.cos(angle), np.sin(angle)]), axis=0)
    return points[chosen], chosen
