"""The figures of a run, by name."""

from gomphosis.viz.force_figure import force_figure
from gomphosis.viz.movement_figure import movement_figure
from gomphosis.viz.theme import save_figure
from gomphosis.viz.zones_figure import zones_figure

FIGURES = {"movement": movement_figure, "force": force_figure, "zones": zones_figure}
"""Every figure by the name its file gets."""

__all__ = ["FIGURES", "force_figure", "movement_figure", "save_figure", "zones_figure"]
