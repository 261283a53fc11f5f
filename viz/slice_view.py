"""What pictures of a slice show: outlines, bone, openings, in mm of the jaw or of the screen.

On the screen the labial or mesial side is on the right and the upper jaw's crowns point down.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from gomphosis.bone.coverage import Raster, moved
from gomphosis.bone.density_map import LEAST, DensityMap
from gomphosis.bone.outline import side_at
from gomphosis.bone.perforation import Opening, openings
from gomphosis.bone.slice_run import Frame
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.result import CaseResult, RunResult, rows_at
from gomphosis.scenarios.slice_change import BoneChange, bone_changes
from gomphosis.scenarios.slice_result import SliceResult
from gomphosis.viz import palette, theme
from gomphosis.viz.film_scene import LEAST_ARROW
from gomphosis.viz.slice_state import SliceState, bone_greys
from gomphosis.viz.wall_map import KILO, screen_sense
from gomphosis.viz.wording import side_words, weeks_text

MARGIN = 0.6  # mm around what is shown
BELOW = 2.5  # mm of bone shown beyond the apex
INSET = 0.45  # mm from the wall to the ribbon that shows its traction, so that no plate is hidden
APART = 1.0  # mm from mark to mark along the ribbon
STROKE = 0.28  # mm, half length of a stroke
BESIDE = 0.45  # mm from the ligament to the line that marks an opening
ARROW = 2.2  # mm, length of the largest force
SIDES = (1, -1)


@dataclass(frozen=True)
class SliceView:
    """Show one slice of one case.

    Parameters
    ----------
    result, case, opened
        A finished run, one of its cases, one slice of it with at least one kept state.
    """

    result: RunResult
    case: CaseResult
    opened: SliceResult

    @property
    def tooth(self) -> ToothModel:
        """The tooth that is opened."""
        return self.result.teeth[self.opened.model.index]

    @property
    def label(self) -> str:
        """Tooth, and case where there are several."""
        name = f"tooth {self.opened.model.number}"
        if len(self.result.cases) == 1:
            return name
        return theme.printable(f"{name}, {self.case.name}")

    @property
    def sides(self) -> tuple[str, str]:
        """What the sides at +x and at -x are called."""
        if self.opened.model.plane == "mesiodistal":
            return ("mesial", "distal")
        return side_words(self.tooth.anatomy)

    @property
    def up(self) -> int:
        """Sense of the tooth's z on the screen, +1 up."""
        return screen_sense(self.tooth.anatomy)

    @cached_property
    def changes(self) -> tuple[BoneChange, ...]:
        """What became of the bone in every frame since the start."""
        return bone_changes(self.opened.track.frames)

    @property
    def raster(self) -> Raster:
        """Where the cells of the density map lie."""
        return self.opened.track.frames[0].bones.raster

    @property
    def start(self) -> Array:
        """Outline of the root at the start, mm, shape (2, n)."""
        return self.outline(self.opened.track.frames[0], "root surface")

    def state(self, index: int) -> SliceState:
        """Return what a picture of a frame shows."""
        frame, change = self.opened.track.frames[index], self.changes[index]
        line, traction = self.ribbon(frame)
        slot, force = self.force(frame)
        return SliceState(
            colours=bone_colours(frame.bones),
            parts=tuple(self.parts(frame)),
            resorbed=change.resorbed,
            laid_down=change.laid_down,
            ribbon=line,
            traction=traction,
            strokes=self.strokes(frame),
            dots=self.dots(frame),
            openings=self.opening_lines(frame),
            slot=slot,
            arrow=self.arrow(force),
            force=float(np.hypot(*force)),
            plate=self.plate(frame),
            areas=(float(frame.books.resorbed), float(frame.books.deposited)),
            opening_texts=tuple(self.opening_texts(frame)),
        )

    def frame_index(self, day: float) -> int:
        """Return which frame was last at a day."""
        return self.opened.track.frames.index(self.opened.frame_at(day))

    def outline(self, frame: Frame, *lines: str) -> Array:
        """Return a closed outline between named lines of the mesh, mm, shape (2, n).

        With two lines the second runs backwards; a single one is closed by a straight edge.
        """
        mesh = self.opened.model.case.body.mesh
        parts = [mesh.nodes[:, mesh.lines[name]] for name in lines]
        joined = [part[:, :: 1 - 2 * k] for k, part in enumerate(parts)]
        return moved(np.concatenate(joined, axis=1), frame.drift)

    def parts(self, frame: Frame) -> list[tuple[Array, str]]:
        """Return outlines of ligament, crown and root in the order of drawing, with colours."""
        parts = [(self.outline(frame, "wall", "root surface"), palette.LIGAMENT)]
        if self.has_crown:
            parts.append((self.outline(frame, "crown surface"), palette.TOOTH))
        return [*parts, (self.outline(frame, "root surface"), palette.ROOT)]

    @property
    def has_crown(self) -> bool:
        """Whether the mesh has a crown; one that was read from a file need not."""
        return "crown surface" in self.opened.model.case.body.mesh.lines

    def ribbon(self, frame: Frame) -> tuple[Array, Array]:
        """Return a line inside the wall, crest to crest, mm, (2, n), and normal tractions, kPa."""
        wall = self.opened.model.case.body.wall
        inside = (wall.place - INSET * wall.normal).T
        return moved(inside, frame.drift), KILO * frame.state.normal

    def strokes(self, frame: Frame) -> Array:
        """Return strokes across the ribbon where the wall is compressed, mm, shape (n, 2, 2)."""
        place, normal, traction = self._marks(frame)
        chosen = traction <= -self.result.scenario.neutral_below
        ends = np.stack([place - STROKE * normal, place + STROKE * normal])[:, chosen]
        return moved(ends.reshape(-1, 2).T, frame.drift).T.reshape(2, -1, 2).swapaxes(0, 1)

    def dots(self, frame: Frame) -> Array:
        """Return dots on the ribbon where the wall is stretched, mm, shape (2, n)."""
        place, _, traction = self._marks(frame)
        return moved(place[traction >= self.result.scenario.neutral_below].T, frame.drift)

    def _marks(self, frame: Frame) -> tuple[Array, Array, Array]:
        """Return place, normal and traction (MPa) at even steps along the ribbon, tooth frame."""
        wall = self.opened.model.case.body.wall
        inside = wall.place - INSET * wall.normal
        arc = np.append(0.0, np.cumsum(np.hypot(*np.diff(inside, axis=0).T)))
        at = np.arange(0.5 * APART, arc[-1], APART)

        def along(values: Array) -> Array:
            return np.stack([np.interp(at, arc, part) for part in values.T], axis=1)

        traction = np.interp(at, arc, frame.state.normal)
        return along(inside), along(wall.normal), traction

    def force(self, frame: Frame) -> tuple[Array, Array]:
        """Return the slot's place, mm, and the force in the plane at that day, N, (2,) each."""
        slot = self._slot(frame)
        across = slot[0] if self.opened.model.plane == "labiolingual" else 0.0
        at = moved(np.array([[across], [slot[2]]]), frame.drift)[:, 0]
        record = int(np.searchsorted(self.opened.track.days, frame.day - 1e-9))
        turn = frame.drift * np.array([0.0, 0.0, 1.0])
        return at, moved(self.opened.track.load[record, :2, None], turn)[:, 0]

    def _slot(self, frame: Frame) -> Array:
        """Return the slot as it is bonded when a frame was kept, mm, shape (3,)."""
        record = int(rows_at(self.case.median, np.array(frame.day)))
        return self.result.teeth_at(self.case, record)[self.opened.model.index].slot

    @cached_property
    def _largest_force(self) -> float:
        return float(np.hypot(*self.opened.track.load[:, :2].T).max())

    def arrow(self, force: Array) -> Array | None:
        """Return a force's arrow, mm, shape (2,); None where it is too small to be drawn."""
        return arrow_step(force, self._largest_force)

    def plate(self, frame: Frame) -> tuple[float, float]:
        """Return the least thickness of the plates at +x and -x at that day, mm."""
        record = int(np.searchsorted(self.opened.track.days, frame.day - 1e-9))
        front, back = self.opened.track.plate[record]
        return float(front), float(back)

    def open_now(self, frame: Frame, side: int) -> tuple[Opening, ...]:
        """Return the openings of a side in a frame."""
        return tuple(found for found in openings(frame.bones) if found.side == side)

    def first_open(self, side: int) -> float | None:
        """Return the day on which a side's plate was first seen open, or None."""
        days = [found.first_day for found in self.opened.track.openings if found.side == side]
        return min(days, default=None)

    def opening_line(self, frame: Frame, opening: Opening) -> Array:
        """Return a line along an opening, beside the ligament, mm, shape (2, n)."""
        body = moved(self.opened.model.case.outline, frame.drift)
        z = np.linspace(opening.lowest, opening.highest, 12)
        return np.stack([side_at(body, z, opening.side) + BESIDE * opening.side, z])

    def opening_lines(self, frame: Frame) -> tuple[tuple[int, Array], ...]:
        """Return the side and the line of every opening in a frame."""
        return tuple(
            (side, self.opening_line(frame, opening))
            for side in SIDES
            for opening in self.open_now(frame, side)
        )

    def opening_texts(self, frame: Frame) -> list[str]:
        """Say of each side's plate that it is open, since when and where; nothing if whole."""
        texts = []
        for side, name in zip(SIDES, self.sides, strict=True):
            first, now = self.first_open(side), self.open_now(frame, side)
            if first is None or first > frame.day + 1e-9:
                continue
            week = weeks_text(first)
            if now:
                texts.append(f"{name} plate open since week {week}: {_places(now)}")
            else:
                texts.append(f"{name} plate closed again, first open in week {week}")
        return texts

    @property
    def window(self) -> tuple[Array, Array]:
        """Lowest and highest (x, z) of what is shown, first and last frame, mm."""
        return self._window

    @cached_property
    def _window(self) -> tuple[Array, Array]:
        bones = self.opened.track.frames[0].bones
        inside = bones.raster.centres(0)[bones.bone.max(axis=1) > 0.5]
        frames = self.opened.track.frames
        lines = ["wall", *(["crown surface"] if self.has_crown else [])]
        places = np.concatenate(
            [self.outline(frame, line) for frame in (frames[0], frames[-1]) for line in lines],
            axis=1,
        )
        low, high = places.min(axis=1), places.max(axis=1)
        for frame in (frames[0], frames[-1]):
            at, force = self.force(frame)
            step = self.arrow(force)
            if step is not None:
                low, high = np.minimum(low, at + step), np.maximum(high, at + step)
        # bone goes on below and beside: shown as far as it is beside the root
        low = np.array([max(min(low[0], inside[0]), low[0] - 4.0), low[1] - BELOW])
        high = np.array([min(max(high[0], inside[-1]), high[0] + 4.0), high[1]])
        return low - MARGIN, high + MARGIN


def slice_views(result: RunResult) -> tuple[SliceView, ...]:
    """Return every slice of every case that has something to show."""
    return tuple(
        SliceView(result, case, opened)
        for case in result.cases
        for opened in case.slices
        if opened.track.frames
    )


def bone_colours(bones: DensityMap) -> npt.NDArray[np.float64]:
    """Return the colour of every cell, 0 to 255, shape (along x, along z, 3).

    Mixed with soft tissue by what fills the cell beside the tooth.
    """
    room = 1.0 - bones.covered
    some = room > LEAST
    share = np.where(some, bones.bone / np.where(some, room, 1.0), 0.0)
    return bone_greys(share, bones.density)


def arrow_step(force: Array, largest: float) -> Array | None:
    """Return the arrow of a force in N, mm, shape (2,); None where it is too small to be drawn.

    Parameters
    ----------
    largest
        Force of the longest arrow, N.
    """
    if float(np.hypot(*force)) / max(largest, np.finfo(float).tiny) < LEAST_ARROW:
        return None
    return ARROW * force / largest


def _places(found: Sequence[Opening]) -> str:
    """Return openings by kind with their ranges of depth."""
    kinds = list(dict.fromkeys(opening.kind for opening in found))
    parts = []
    for kind in kinds:
        ranges = [f"{-o.highest:.1f} to {-o.lowest:.1f}" for o in found if o.kind == kind]
        parts.append(f"{kind} {' and '.join(ranges)} mm")
    return ", ".join(parts) + " below the crest"
