"""Outline of the crown in the plane of a slice, and where its bracket sits.

The crown only carries the load to the root, so its outline is drawn, not measured: smooth through
the catalogue's diameters at the cervix and at its widest place, cut off at the edge.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.interpolate import PchipInterpolator

from gomphosis.bone.teeth import Tooth
from gomphosis.fem.section import Array

Plane = Literal["labiolingual", "mesiodistal"]
# names of the sides at -x and +x
SIDES: dict[Plane, tuple[str, str]] = {
    "labiolingual": ("lingual", "labial"),
    "mesiodistal": ("distal", "mesial"),
}
WIDEST = 0.5  # share of the crown's length from the cervix where it is widest, drawn
# width at the edge over the largest width, drawn: incisor, canine, premolar and molar
_EDGE: dict[Plane, tuple[float, float, float]] = {
    "labiolingual": (0.25, 0.3, 0.6),
    "mesiodistal": (0.9, 0.5, 0.85),
}


@dataclass(frozen=True)
class CrownOutline:
    """Describe a symmetric crown above the bone crest.

    Parameters
    ----------
    heights
        Rising heights above the crest, mm, from 0 to the edge.
    half_widths
        Half widths there, mm.
    slot
        Height of the slot above the crest, mm.
    base
        Height of the bracket's base, centred on the slot, mm.

    Raises
    ------
    ValueError
        If the heights do not rise from 0, a half width is not positive, or the bracket's base
        does not fit between crest and edge.
    """

    heights: tuple[float, ...]
    half_widths: tuple[float, ...]
    slot: float
    base: float = 3.0

    def __post_init__(self) -> None:
        z = np.array(self.heights)
        if len(z) != len(self.half_widths) or len(z) < 2 or z[0] != 0 or np.diff(z).min() <= 0:
            raise ValueError(f"crown needs heights rising from 0 mm, one per width; got {z} mm")
        if min(self.half_widths) <= 0.0:
            raise ValueError(f"crown half widths must be > 0 mm, got {self.half_widths}")
        low, high = self.bracket
        if not 0.0 < low < high < self.edge:
            raise ValueError(
                f"bracket base from {low:.3g} to {high:.3g} mm above the crest does not fit below "
                f"the edge at {self.edge:.3g} mm"
            )

    @classmethod
    def of_tooth(
        cls, tooth: Tooth, plane: Plane, *, embedded: float, radius: float, from_edge: float
    ) -> "CrownOutline":
        """Return the drawn crown of a catalogue tooth.

        Parameters
        ----------
        tooth, plane
            Whose, and in which plane.
        embedded
            Root length in bone, mm; what is left of the tooth's length stands above the crest.
        radius
            Half width of the root at the crest, mm.
        from_edge
            Slot below the incisal edge or cusp tip, mm.
        """
        edge = tooth.crown_length + tooth.root_length - embedded
        cervix = edge - tooth.crown_length
        across = plane == "labiolingual"
        neck = tooth.cervix_labiolingual if across else tooth.cervix_mesiodistal
        crown = tooth.crown_labiolingual if across else tooth.crown_mesiodistal
        position = tooth.number % 10
        kind = 0 if position <= 2 else 1 if position == 3 else 2
        places = [(0.0, radius), (cervix, 0.5 * neck)] if cervix > 0.2 else [(0.0, radius)]
        places.append((max(cervix, 0.0) + WIDEST * tooth.crown_length, 0.5 * crown))
        places.append((edge, 0.5 * crown * _EDGE[plane][kind]))
        heights, widths = zip(*places, strict=True)
        return cls(heights, widths, edge - from_edge)

    @property
    def edge(self) -> float:
        """Height of the edge above the crest, mm."""
        return self.heights[-1]

    @property
    def bracket(self) -> tuple[float, float]:
        """Heights of the ends of the bracket's base above the crest, mm."""
        return self.slot - 0.5 * self.base, self.slot + 0.5 * self.base

    def half_width(self, share: Array) -> Array:
        """Return the half width in mm at shares of the height, 0 crest to 1 edge."""
        curve = PchipInterpolator(self.heights, self.half_widths)
        return np.asarray(curve(np.asarray(share) * self.edge), dtype=float)
