"""Elastics, chains and springs in pictures: coils from slot to slot, whatever the kind."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.stages import stages

TURNS, POINTS = 9, 91
RADIUS = 0.42  # mm, of the coil
THICKNESS = 0.11  # mm, half that of its wire
OUT = 1.1  # mm, labially of the slot: on the bracket's wings
STRAIGHT = 0.12  # share of the length at either end
WORDS = "coil: elastic, chain or spring"


@dataclass(frozen=True)
class Coils:
    """Links of the elastics of a run.

    Parameters
    ----------
    result
        A finished run.
    """

    result: RunResult

    @cached_property
    def links(self) -> tuple[tuple[int, int, int], ...]:
        """Index of the elastic, and indices of the two teeth, of every link."""
        index = {tooth.number: k for k, tooth in enumerate(self.result.teeth)}
        return tuple(
            (number, index[first], index[second])
            for number, elastic in enumerate(self.result.scenario.elastic)
            for first, second in zip(elastic.teeth, elastic.teeth[1:], strict=False)
        )

    @cached_property
    def _in_place(self) -> tuple[tuple[int, ...], ...]:
        return tuple(stage.elastics for stage in stages(self.result.scenario))

    def acting(self, period: int) -> tuple[bool, ...]:
        """Return which links are in place in a period of the run."""
        return tuple(number in self._in_place[period] for number, _, _ in self.links)

    def hooks(self, period: int) -> Array:
        """Return where coils end in a period, in each tooth's frame, mm, shape (teeth, 3)."""
        out = np.array([OUT, 0.0, 0.0])
        return np.stack([tooth.on_slot(out) for tooth in self.result.bonded[period]])


def coil(first: Array, second: Array) -> Array:
    """Return a coil between two points, straight at its ends, mm, shape (POINTS, 3)."""
    share = np.linspace(0.0, 1.0, POINTS)
    along = second - first
    length = float(np.linalg.norm(along))
    path = first + share[:, None] * along
    if length < 1e-9:
        return path
    # two directions across, neither of which is the coil's own
    aside = np.cross(along / length, (0.0, 0.0, 1.0))
    aside /= np.linalg.norm(aside)
    up = np.cross(aside, along / length)
    wound = np.clip((share - STRAIGHT) / (1.0 - 2 * STRAIGHT), 0.0, 1.0)
    angle = 2 * np.pi * TURNS * wound
    reach = RADIUS * np.minimum(1.0, 8.0 * np.minimum(wound, 1.0 - wound))
    return path + reach[:, None] * (np.sin(angle)[:, None] * up + np.cos(angle)[:, None] * aside)
