"""Unrolled socket wall as pixels: colour for the traction, pattern and line for the zone."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from gomphosis.fem.section import Array
from gomphosis.viz import palette
from gomphosis.viz.wall_map import WallMap


@dataclass(frozen=True)
class WallTile:
    """Paint one tooth's wall.

    Parameters
    ----------
    wall
        Its layout.
    width, height
        px.
    largest
        Traction at the ends of the colour scale, kPa.
    neutral
        Traction below which the wall is neutral, kPa.
    """

    wall: WallMap
    width: int
    height: int
    largest: float
    neutral: float

    @cached_property
    def _down(self) -> Array:
        """Linear interpolation from nodes to rows of pixels, shape (height, nodes)."""
        depth = self.wall.depth
        rows = np.linspace(max(0.0, float(depth[0])), float(depth[-1]), self.height)
        unit = np.eye(len(depth))
        return np.stack([np.interp(rows, depth, column) for column in unit], axis=1)

    @cached_property
    def _across(self) -> Array:
        """Linear interpolation from columns of samples to pixels, shape (columns, width)."""
        places = np.linspace(-180.0, 180.0, self.width)
        unit = np.eye(len(self.wall.across))
        return np.stack([np.interp(places, self.wall.across, row) for row in unit], axis=0)

    @cached_property
    def _patterns(self) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
        y, x = np.mgrid[: self.height, : self.width]
        strokes = (x + y) % 9 < 1
        row = y // 5
        dots = ((x + 4 * (row % 2)) % 8 < 2) & (y % 5 < 2)
        return strokes, dots

    def picture(self, wrench: Array) -> npt.NDArray[np.uint8]:
        """Return the pixels under a wrench about the crest, shape (height, width, 3)."""
        normal = self._down @ self.wall.normal_kpa(wrench) @ self._across
        pixels = traction_pixels(normal / self.largest)
        zone = np.sign(normal) * (np.abs(normal) >= self.neutral)
        strokes, dots = self._patterns
        border = np.zeros(zone.shape, dtype=bool)
        border[:, 1:] |= zone[:, 1:] != zone[:, :-1]
        border[1:] |= zone[1:] != zone[:-1]
        marked = border | ((zone < 0) & strokes) | ((zone > 0) & dots)
        pixels[marked] = palette.rgb(palette.INK)
        return pixels


def traction_pixels(share: Array) -> npt.NDArray[np.uint8]:
    """Return colours for shares of the largest traction, -1 to 1, shape (..., 3)."""
    place = np.clip(0.5 + 0.5 * palette.signed_root(share), 0.0, 1.0)
    return palette.traction_bytes()[np.rint(255 * place).astype(int)]
