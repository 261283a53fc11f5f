"""Sizes of a slice's mesh."""

from dataclasses import dataclass, fields

import numpy as np


@dataclass(frozen=True)
class SliceCounts:
    """Count the elements of a slice.

    The default is the coarsest at which the reported quantities change by less than 1 % on
    doubling (shown by a test).

    Parameters
    ----------
    along
        On each side of the root from crest to apex, at least base / 2 + 1.
    base
        Columns across the root, even.
    band, ligament, bone
        Layers in the band under the root's surface, across the ligament and across the bone.
    crown
        Rows of the crown, about; those of the soft tissue beside it are among them.
    grading
        How much smaller than average the elements at crest and apex are, at least 1.

    Raises
    ------
    ValueError
        If a count is too small or base is odd.
    """

    along: int = 24
    base: int = 6
    band: int = 1
    ligament: int = 2
    bone: int = 5
    crown: int = 8
    grading: float = 3.0

    def __post_init__(self) -> None:
        for item in fields(self):
            if getattr(self, item.name) < 1:
                raise ValueError(f"slice mesh needs {item.name} >= 1, got {self}")
        if self.base % 2 or self.along <= self.base // 2:
            raise ValueError(f"slice mesh needs an even base and along > base / 2, got {self}")

    def scaled(self, factor: float) -> "SliceCounts":
        """Return the counts times a factor, rounded, at least 1."""
        sizes = [max(1, round(factor * n)) for n in self._counts]
        sizes[1] = 2 * max(1, round(factor * self.base / 2))
        return SliceCounts(*sizes, grading=self.grading)

    def near(self, unknowns: int) -> "SliceCounts":
        """Return scaled counts whose mesh has about this many displacement unknowns."""
        factors = np.geomspace(0.25, 16, 400)
        found = [self.scaled(float(factor)) for factor in factors]
        return min(found, key=lambda counts: abs(8 * counts.elements - unknowns))

    @property
    def elements(self) -> int:
        """Number of elements without soft tissue; each brings about eight unknowns."""
        around = 2 * self.along * (self.band + self.ligament + self.bone)
        core = (self.along - self.base // 2) * self.base
        return around + core + self.crown * (self.base + 2 * self.band)

    @property
    def _counts(self) -> tuple[int, ...]:
        return self.along, self.base, self.band, self.ligament, self.bone, self.crown
