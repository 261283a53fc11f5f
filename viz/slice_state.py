"""What a picture of a slice shows on one day: the same for a finished run and for its record."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from gomphosis.bone.coverage import Raster
from gomphosis.fem.section import Array
from gomphosis.viz import palette


@dataclass(frozen=True)
class SliceState:
    """Hold one kept state of a slice as it is drawn and written; places in mm, (x, z).

    Attributes
    ----------
    colours
        Of every cell's bone, 0 to 255, shape (along x, along z, 3).
    parts
        Outlines of ligament, crown and root in the order of drawing, (2, n), with their colours.
    resorbed, laid_down
        Share of every cell that was, since the start.
    ribbon, traction
        Line inside the wall, (2, n), and normal traction there, kPa.
    strokes, dots
        Marks of compressed and of stretched wall, shapes (n, 2, 2) and (2, n).
    openings
        Sides, +1 or -1, at which a plate lies open, with a line along each opening, (2, n).
    slot, arrow
        Where the force acts, and how far its arrow reaches, (2,); no arrow where it is too small.
    force
        In the plane, N.
    plate
        Least thickness of the plates at +x and at -x, mm.
    areas
        Bone resorbed and bone laid down so far, mm2.
    opening_texts
        What is said of open plates.
    """

    colours: npt.NDArray[np.float64]
    parts: tuple[tuple[Array, str], ...]
    resorbed: Array
    laid_down: Array
    ribbon: Array
    traction: Array
    strokes: Array
    dots: Array
    openings: tuple[tuple[int, Array], ...]
    slot: Array
    arrow: Array | None
    force: float
    plate: tuple[float, float]
    areas: tuple[float, float]
    opening_texts: tuple[str, ...]


class SliceShown(Protocol):
    """Whatever has states of a slice to be drawn: what all of them have in common."""

    @property
    def sides(self) -> tuple[str, str]:
        """What the sides at +x and at -x are called."""
        ...

    @property
    def up(self) -> int:
        """Sense of the tooth's z on the screen, +1 up."""
        ...

    @property
    def window(self) -> tuple[Array, Array]:
        """Lowest and highest (x, z) of what is shown, mm."""
        ...

    @property
    def raster(self) -> Raster:
        """Where the cells of the density map lie."""
        ...

    @property
    def start(self) -> Array:
        """Outline of the root at the start, mm, shape (2, n)."""
        ...


def bone_greys(share: Array, density: Array) -> npt.NDArray[np.float64]:
    """Return the colour of cells, 0 to 255, shape (along x, along z, 3).

    Parameters
    ----------
    share
        Of bone in what fills a cell beside the tooth, 0 to 1; the rest is soft tissue.
    density
        Of that bone, 0 to 1: from light (new) to dark (full cortical).
    """
    bone = palette.blend(palette.BONE_NEW, palette.BONE_FULL, density)
    soft = np.array(palette.rgb(palette.SOFT_TISSUE))
    return soft + np.clip(share, 0.0, 1.0)[..., None] * (bone - soft)
