"""Socket wall unrolled into a rectangle, as the zones figure and the film draw it.

The long axis runs down the picture from the crest to the apex. The angle runs across it: labial
in the middle, lingual at both edges, and the sides as seen from in front of the patient, so a
tooth's neighbours stand where they stand in the mouth.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.bone.teeth import Tooth
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.viz.wording import wall_words

KILO = 1e3  # kPa per MPa
LEAST_TRACTION = 0.5  # kPa, least reach of a colour scale


def screen_sense(tooth: Tooth) -> int:
    """Return +1 if +y of the tooth frame points to the viewer's right, from the front; else -1.

    In the upper jaw y runs to the patient's right, which is the viewer's left.
    """
    return -1 if tooth.upper else 1


@dataclass(frozen=True)
class WallMap:
    """Lay out one tooth's socket wall.

    Parameters
    ----------
    tooth
        Whose wall it is.
    """

    tooth: ToothModel

    @property
    def depth(self) -> Array:
        """Depth below the bone crest of the wall's nodes, crest first, mm, shape (nodes,)."""
        return -self.tooth.support.wall.place[::-1, 1]

    @property
    def across(self) -> Array:
        """Screen angle of the columns, deg, rising from -180 to 180, shape (sectors + 1,)."""
        return np.linspace(-180.0, 180.0, self.tooth.wall.sectors + 1)

    @cached_property
    def _columns(self) -> np.ndarray:
        """Sector (fractional for an odd number of them) shown in each column."""
        count = self.tooth.wall.sectors
        sense = screen_sense(self.tooth.anatomy)
        return sense * self.across / 360.0 * count

    def unrolled(self, samples: Array) -> Array:
        """Return samples of shape (nodes, sectors) as a picture, (nodes, sectors + 1)."""
        count = self.tooth.wall.sectors
        whole = np.floor(self._columns).astype(int)
        share = self._columns - whole
        rows = samples[::-1]
        return (1 - share) * rows[:, whole % count] + share * rows[:, (whole + 1) % count]

    @property
    def words(self) -> tuple[str, str, str, str, str]:
        """Names of the screen angles -180, -90, 0, 90 and 180 deg."""
        outer, toward, inner, away = wall_words(self.tooth.anatomy)
        left, right = (away, toward) if screen_sense(self.tooth.anatomy) > 0 else (toward, away)
        return (inner, left, outer, right, inner)

    def normal_kpa(self, wrench: Array) -> Array:
        """Return the normal traction under a wrench about the crest, kPa, as a picture."""
        return KILO * self.unrolled(self.tooth.wall.stress(wrench).normal)

    def pressure_kpa(self, wrench: Array) -> Array:
        """Return the ligament's pressure at the wall, kPa, as a picture."""
        return KILO * self.unrolled(self.tooth.wall.stress(wrench).pressure)
