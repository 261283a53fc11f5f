"""One slice as the record of a finished run keeps it, ready to be drawn."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from gomphosis.bone.coverage import Raster
from gomphosis.fem.section import Array
from gomphosis.viz import palette
from gomphosis.viz.compared_runs import SAME_DAY, ComparedRun
from gomphosis.viz.film_scene import LEAST_FORCE
from gomphosis.viz.report_packing import unpacked
from gomphosis.viz.report_slices import LAID_DOWN, RESORBED
from gomphosis.viz.slice_state import SliceState, bone_greys
from gomphosis.viz.slice_view import arrow_step
from gomphosis.viz.wall_map import LEAST_TRACTION

COLOURS = {"ligament": palette.LIGAMENT, "crown": palette.TOOTH, "root": palette.ROOT}
"""Outlines in the order of drawing; a slice need not have a crown."""


@dataclass(frozen=True, eq=False)
class RecordedSlice:
    """Show one slice of the case of a run that is compared.

    Parameters
    ----------
    run
        The run.
    index
        Of the slice among those of its case.
    reach
        Lowest and highest (x, z) to be shown, mm; where none is given, those of the record.
    longest
        Force of the longest arrow, N; where none is given, the slice's own largest.
    """

    run: ComparedRun
    index: int
    reach: tuple[Array, Array] | None = None
    longest: float | None = None

    @property
    def document(self) -> dict[str, Any]:
        """Plain data of the slice."""
        return self.run.case["slices"][self.index]

    @property
    def tooth(self) -> int:
        """Number of the tooth."""
        return self.document["tooth"]

    @property
    def plane(self) -> str:
        """Name of the plane."""
        return self.document["plane"]

    @property
    def label(self) -> str:
        """Tooth and plane."""
        return f"tooth {self.tooth}, {self.plane} plane"

    @property
    def sides(self) -> tuple[str, str]:
        """What the sides at +x and at -x are called."""
        front, back = self.document["sides"]
        return front, back

    @property
    def up(self) -> int:
        """Sense of the tooth's z on the screen, +1 up."""
        return self.document["up"]

    @property
    def window(self) -> tuple[Array, Array]:
        """Lowest and highest (x, z) of what is shown, mm."""
        if self.reach is not None:
            return self.reach
        ends = np.array(self.document["window"], dtype=float)
        return ends[:2], ends[2:]

    @property
    def raster(self) -> Raster:
        """Where the cells of the density map lie."""
        place = self.document["raster"]
        left, low = place["origin"]
        _, across, along = self.document["density"]["shape"]
        return Raster((left, low), (across, along), place["spacing"])

    @property
    def start(self) -> Array:
        """Outline of the root at the start, mm, shape (2, n)."""
        return self._array("root")[0].T

    @cached_property
    def days(self) -> Array:
        """Days of the states, rising."""
        return np.array(self.document["days"], dtype=float)

    @cached_property
    def load(self) -> tuple[Array, Array]:
        """All days on which the slice was followed, and the force in the plane, N."""
        return self._array("load_days"), self._array("load")

    @property
    def largest_force(self) -> float:
        """Largest force in the plane, N."""
        stated = max(state["force_N"] for state in self.document["states"])
        return max(LEAST_FORCE, stated, float(self.load[1].max()))

    @property
    def largest_traction(self) -> float:
        """Largest normal traction of any state, kPa."""
        return max(LEAST_TRACTION, float(np.abs(self._array("normal")).max()))

    @property
    def largest_area(self) -> float:
        """Largest area of bone resorbed or laid down, mm2."""
        last = self.document["states"][-1]
        return max(last["resorbed_mm2"], last["laid_down_mm2"])

    def row(self, day: float) -> int:
        """Return the last state at or before a day; after the end the last one."""
        return int(np.searchsorted(self.days, day + SAME_DAY, side="right")) - 1

    def stopped_text(self, day: float) -> str:
        """Say that the slice could not be followed up to a day; nothing where it was."""
        why = self.document["stopped"]
        if not why or day <= float(self.load[0][-1]) + SAME_DAY:
            return ""
        return f"stopped: {why}"

    def every_text(self) -> list[tuple[str, ...]]:
        """Return what is said of openings in each state, and after a slice has stopped."""
        said = [tuple(state["open_texts"]) for state in self.document["states"]]
        stopped = self.stopped_text(np.inf)
        return [*said, (*said[-1], stopped)] if stopped else said

    def state_at(self, day: float) -> SliceState:
        """Return the state that was last at a day, and whether the slice has stopped by then."""
        state, stopped = self.state(self.row(day)), self.stopped_text(day)
        if not stopped:
            return state
        return replace(state, opening_texts=(*state.opening_texts, stopped))

    @cached_property
    def _arrays(self) -> dict[str, Array]:
        return {}

    def _array(self, name: str) -> Array:
        """Return an array of the record; it is unpacked once."""
        if name not in self._arrays:
            self._arrays[name] = unpacked(self.run.record.block, self.document[name])
        return self._arrays[name]

    @cached_property
    def _cells(self) -> tuple[npt.NDArray[np.float32], ...]:
        """Share and density of bone and what changed, in every cell and state.

        Single precision holds the digits of the record, in half the memory.
        """
        names = ("share", "density", "changed")
        block, document = self.run.record.block, self.document
        return tuple(unpacked(block, document[name]).astype(np.float32) for name in names)

    def state(self, index: int) -> SliceState:
        """Return what a picture of a state shows; cells were changed as a whole or not at all."""
        kept = self.document["states"][index]
        share, density, changed = (cells[index] for cells in self._cells)
        marks = changed.astype(np.int8)
        front, back = kept["plate_mm"]
        outlines = {name: self._array(name)[index].T for name in COLOURS if name in self.document}
        return SliceState(
            colours=bone_greys(share, density),
            parts=tuple((outline, COLOURS[name]) for name, outline in outlines.items()),
            resorbed=(marks & RESORBED > 0).astype(float),
            laid_down=(marks & LAID_DOWN > 0).astype(float),
            ribbon=self._array("ribbon")[index].T,
            traction=self._array("normal")[index],
            strokes=np.array(kept["strokes"], dtype=float).reshape(-1, 2, 2),
            dots=np.array(kept["dots"], dtype=float).reshape(-1, 2).T,
            openings=tuple(
                (side, np.array(line, dtype=float).T)
                for side, line in zip(kept["open_sides"], kept["open"], strict=True)
            ),
            slot=np.array(kept["slot"], dtype=float),
            arrow=self._arrow(kept),
            force=kept["force_N"],
            plate=(front, back),
            areas=(kept["resorbed_mm2"], kept["laid_down_mm2"]),
            opening_texts=tuple(kept["open_texts"]),
        )

    def _arrow(self, kept: dict[str, Any]) -> Array | None:
        """Return the arrow of a state, mm; that of the record has the slice's own scale."""
        if kept["arrow"] is None:
            return None
        along = np.array(kept["arrow"], dtype=float)
        force = kept["force_N"] * along / np.hypot(*along)
        return arrow_step(force, self.largest_force if self.longest is None else self.longest)
