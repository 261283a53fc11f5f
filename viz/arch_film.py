"""Film of the arch in three dimensions: teeth, brackets, wire and forces week by week."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.animation import frame_records
from gomphosis.viz.elastic_coils import WORDS
from gomphosis.viz.film_canvas import TEXT, fitted, write
from gomphosis.viz.film_curve import Curve, round_top
from gomphosis.viz.film_files import (
    FIXED,
    Movie,
    Progress,
    chosen_frames,
    drawn,
    save_film,
)
from gomphosis.viz.film_layout import HEAD, MARGIN, Box, most_loaded
from gomphosis.viz.film_surround import Surround
from gomphosis.viz.scene_bodies import arrow_rows
from gomphosis.viz.scene_flat import SceneFlat
from gomphosis.viz.scene_panels import (
    BODY,
    CURVE,
    CURVES,
    FULL,
    HEADING,
    HEIGHT,
    LEAST_FORCE,
    MOST_CASES,
    UNDER,
    WIDTH,
    Panel,
    Stand,
)
from gomphosis.viz.scene_probe import trouble
from gomphosis.viz.scene_view import SceneView

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

STEM = "arch"
MOST_CURVES = 6
TALLEST = 170  # px, height of a curve
RULER = 5.0  # mm, of the bar that shows lengths
LABEL = 13.0  # px from a tooth to its number
NUMBER = np.array([20.0, 14.0])  # px, the room of a number
FORCE, MOMENT = palette.SERIES[5], palette.SERIES[3]
SHADES = (*FIXED, FORCE, MOMENT, palette.GHOST)

Say = Callable[[str], None]


class Painter(Protocol):
    """Draw all panels at a record."""

    def picture(self, record: int) -> "Image":
        """Return the panels' part of the frame."""
        ...

    def close(self) -> None:
        """Give back what it holds."""
        ...


@dataclass(frozen=True)
class Plot:
    """A curve of one tooth's force, and where it stands."""

    case: int
    tooth: int
    box: Box
    curve: Curve


@dataclass(frozen=True)
class ArchFilm:
    """Draw the frames of one result.

    Parameters
    ----------
    result
        A finished run.
    records
        Of the median runs that the film shows.
    flat
        Draw outlines instead of rendering in three dimensions.
    """

    result: RunResult
    records: tuple[int, ...]
    flat: bool

    @cached_property
    def stand(self) -> Stand:
        """Panels and what is in them."""
        return Stand(self.result, self.records)

    @cached_property
    def area(self) -> Box:
        """Part of the frame that the panels take up."""
        boxes = [panel.box for panel in self.stand.panels]
        left, top = min(b.left for b in boxes), min(b.top for b in boxes)
        right = max(b.left + b.width for b in boxes)
        return Box(left, top, right - left, max(b.top + b.height for b in boxes) - top)

    @cached_property
    def painter(self) -> Painter:
        """What draws the panels."""
        return SceneFlat(self.stand, self.area) if self.flat else SceneView(self.stand, self.area)

    @cached_property
    def surround(self) -> Surround:
        """Head and foot."""
        return Surround(self.result, WIDTH, HEIGHT)

    @cached_property
    def _forces(self) -> Array:
        """Force on every slot, N, shape (cases, records of the run, teeth)."""
        return np.linalg.norm(self.stand.loads[..., :3], axis=-1)

    @cached_property
    def plots(self) -> tuple[Plot, ...]:
        """Curves of the force on each bracket, all with the same scale."""
        top = round_top(max(LEAST_FORCE, float(self._forces.max())))
        found = []
        for case, tooth, box in self._places():
            days = self.result.cases[case].median.days
            title = f"tooth {self.result.teeth[tooth].number}: force, N"
            values = self._forces[case, :, tooth]
            curve = Curve(days, values, top, title, FORCE, box.width, box.height)
            found.append(Plot(case, tooth, box, curve))
        return tuple(found)

    def _places(self) -> list[tuple[int, int, Box]]:
        """Return case, tooth and place of every curve."""
        if len(self.stand.cases) > 1:
            below = [
                Box(p.box.left, p.box.top + p.box.height + 10, p.box.width, CURVE - 10)
                for p in self.stand.panels
            ]
            teeth = [most_loaded(case) for case in self.stand.cases]
            return [(k, teeth[k], box) for k, box in enumerate(below)]
        largest = np.argsort(-self._forces[0].max(axis=0), kind="stable")[:MOST_CURVES]
        shown = sorted(largest.tolist())
        tall = min(TALLEST, BODY // len(shown))
        left = WIDTH - MARGIN - CURVES
        return [(0, k, Box(left, HEAD + i * tall, CURVES, tall - 8)) for i, k in enumerate(shown)]

    def frame(self, record: int) -> "Image":
        """Return the picture of a record of the median runs."""
        from PIL import ImageDraw

        picture = self._background.copy()
        picture.paste(self.painter.picture(record), (self.area.left, self.area.top))
        draw = ImageDraw.Draw(picture)
        for panel in self.stand.panels:
            place = (panel.box.left + 6, panel.box.top + 4)
            write(draw, place, panel.sight.name, colour=palette.QUIET)
        for x, y, number in self._labels:
            write(draw, (x, y), number, anchor="mm", bold=True)
        self._draw_bars(draw)
        for plot in self.plots:
            day = float(plot.curve.days[record])
            picture.paste(plot.curve.picture(day), (plot.box.left, plot.box.top))
            now = f"{plot.curve.values[record]:.2f} N"
            place = (plot.box.left + plot.box.width, plot.box.top)
            write(draw, place, now, bold=True, anchor="ra")
        self.surround.write_state(draw, record)
        return picture

    def close(self) -> None:
        """Give back what the drawing holds."""
        self.painter.close()

    @cached_property
    def _background(self) -> "Image":
        """What no frame changes."""
        from PIL import ImageDraw

        picture = self.surround.background(self.remarks())
        draw = ImageDraw.Draw(picture)
        if len(self.stand.cases) > 1:
            for panel in self.stand.panels:
                name = theme.printable(self.result.cases[panel.case].name)
                heading = fitted(name, panel.box.width, size=TEXT, bold=True)
                place = (panel.box.left, panel.box.top - HEADING)
                write(draw, place, heading, size=TEXT, bold=True)
        return picture

    def remarks(self) -> tuple[str, str]:
        """Return the two lines below the title."""
        first = "Median person · true to scale, no perspective · pale: start"
        first += " · straight arrow: force on the tooth at the slot"
        if self.result.scenario.elastic:
            first += f" · {WORDS}"
        cases, teeth = len(self.result.cases), len(self.result.teeth)
        if cases > MOST_CASES:
            first += f" · first {MOST_CASES} of {cases} cases"
        if len(self.stand.cases) == 1 and teeth > MOST_CURVES:
            first += f" · curves of the {MOST_CURVES} most loaded of {teeth} teeth"
        if not self.stand.turning:
            return first, "No bracket feels a moment about its slot"
        full = FULL / self.stand.arrows.moment
        second = (
            "Curved arrow: moment about the slot, its angle in proportion "
            f"(three quarters of a turn = {full:.3g} N·mm; below 5 % of that none is drawn)"
        )
        return first, second

    @cached_property
    def _labels(self) -> list[tuple[float, float, str]]:
        """Place and number of the teeth of every panel; none where the curves say it."""
        if len(self.stand.cases) > 1 and len(self.result.teeth) == 1:
            return []
        found = []
        for panel in self.stand.panels:
            taken: list[Array] = []
            # the front teeth, whose numbers have the least room, first
            for k in sorted(panel.teeth, key=lambda k: abs(self.result.teeth[k].place)):
                taken.append(clear_of(taken, *self._label_place(panel, k)))
                x, y = taken[-1].tolist()
                found.append((x, y, str(self.result.teeth[k].number)))
        return found

    def _label_place(self, panel: Panel, k: int) -> tuple[Array, Array]:
        """Return a place beyond a tooth's apex, or lingually of its crown, and the way on."""
        scale, states = self.stand.scale, self.stand.states[panel.case]
        start, solids = states[self.records[0]].starts[k], self.stand.bodies[panel.case].solids[k]
        from_above = abs(panel.sight.toward[2]) > 0.5
        outward = -start.turn[:, 0 if from_above else 2]
        base = panel.pixels(start.shift, scale)
        ahead = panel.pixels(start.shift + outward, scale) - base
        ahead /= np.linalg.norm(ahead)
        rows = solids.crown_rows if from_above else solids.root_rows
        reached = [
            points
            for state in states.values()
            for points in (
                start.points(rows),
                state.teeth[k].points(rows),
                arrow_rows(state.slots[k], state.forces[k]),
            )
        ]
        far = max(float(((panel.pixels(points, scale) - base) @ ahead).max()) for points in reached)
        return base + (far + LABEL) * ahead, ahead

    def _draw_bars(self, draw: "ImageDraw") -> None:
        """Draw how long an arrow of so many N is, and how long so many mm."""
        force = (self.stand.bar * self.stand.arrows.newton, f"{self.stand.bar:g} N", FORCE)
        for panel, (long, text, colour) in zip(
            self.stand.panels, (force, (RULER, f"{RULER:g} mm", palette.INK)), strict=False
        ):
            left, level = panel.box.left + 10, panel.box.top + panel.box.height - UNDER + 12
            right = left + long * self.stand.scale
            draw.line((left, level, right, level), fill=colour, width=3)
            for end in (left, right):
                draw.line((end, level - 4, end, level + 4), fill=colour, width=2)
            write(draw, (right + 6, level), text, anchor="lm", colour=colour)


def clear_of(taken: Sequence[Array], place: Array, ahead: Array) -> Array:
    """Return the first place from one on, px, whose number covers none of those that are there.

    Parameters
    ----------
    taken
        Middles of the numbers that are there, each of shape (2,).
    ahead
        Way to go on, of length 1.
    """
    while any((np.abs(place - other) < NUMBER).all() for other in taken):
        place = place + ahead
    return place


def save_arch_film(
    result: RunResult, folder: Path, progress: Progress | None = None, *, say: Say | None = None
) -> None:
    """Write the film of the arch, ``arch.gif`` and what goes with it.

    Parameters
    ----------
    folder
        Where to.
    progress
        Told the share done and what is being done.
    say
        Told why the film is drawn flat, where it is.
    """
    why = trouble()
    if why and say is not None:
        say(f"arch film drawn flat: {why}")
    records = frame_records(result)
    film = ArchFilm(result, tuple(records), bool(why))
    days = [float(result.cases[0].median.days[record]) for record in records]
    chosen = chosen_frames(days, film.surround.captions.story())
    try:
        pictures = drawn(film.frame, records, progress, what="arch frame")
    finally:
        film.close()
    save_film(Movie(pictures, chosen, fixed=SHADES), folder, STEM)
