"""The figures of a run, by name."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from gomphosis.scenarios.result import RunResult
from gomphosis.viz.arch_figure import arch_figure
from gomphosis.viz.decay_figure import decay_figure
from gomphosis.viz.force_figure import force_figure
from gomphosis.viz.free_body_figure import free_body_figure
from gomphosis.viz.movement_figure import movement_figure
from gomphosis.viz.slice_figure import slice_figure
from gomphosis.viz.slice_view import slice_views
from gomphosis.viz.theme import save_figure
from gomphosis.viz.turning_figure import turning_figure
from gomphosis.viz.zones_figure import zones_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Draw = Callable[[RunResult], "Figure"]

FIGURES: Mapping[str, Draw] = {
    "arch": arch_figure,
    "movement": movement_figure,
    "force": force_figure,
    "decay": decay_figure,
    "turning": turning_figure,
    "zones": zones_figure,
}
"""Every figure of any run by the name its file gets."""
SLICE_FIGURES: Mapping[str, Draw] = {"slice": slice_figure}
"""The figures of a run with slices."""

LESSON_FIGURES: Mapping[str, Draw] = {"free_body": free_body_figure}
"""The figures of a run with a lesson."""


def figures_for(result: RunResult) -> Mapping[str, Draw]:
    """Return the figures that a run has, by name."""
    return {
        **FIGURES,
        **(LESSON_FIGURES if result.scenario.lesson else {}),
        **(SLICE_FIGURES if slice_views(result) else {}),
    }


__all__ = [
    "FIGURES",
    "LESSON_FIGURES",
    "SLICE_FIGURES",
    "arch_figure",
    "decay_figure",
    "figures_for",
    "force_figure",
    "free_body_figure",
    "movement_figure",
    "save_figure",
    "slice_figure",
    "turning_figure",
    "zones_figure",
]
