"""One frame of the film: views, walls, forces, week and caution."""

import textwrap
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette
from gomphosis.viz.captions import Captions
from gomphosis.viz.elastic_coils import WORDS
from gomphosis.viz.film_canvas import TEXT, Canvas, fitted, write
from gomphosis.viz.film_layout import FRONT, LINE, WIDTH, Card, Layout, View, layout
from gomphosis.viz.film_scene import Scene
from gomphosis.viz.film_surround import Surround
from gomphosis.viz.film_wall import WallTile
from gomphosis.viz.wall_map import KILO, LEAST_TRACTION, WallMap
from gomphosis.viz.wording import force_text

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

BAR = 8  # px, height of a force bar
LEAST_FORCE = 0.01  # N, least reach of a force bar


@dataclass(frozen=True)
class Film:
    """Draw the frames of one result.

    Parameters
    ----------
    result
        A finished run.
    """

    result: RunResult

    @cached_property
    def layout(self) -> Layout:
        """Places of everything."""
        return layout(self.result)

    @cached_property
    def _surround(self) -> Surround:
        return Surround(self.result, WIDTH, self.layout.height)

    @property
    def captions(self) -> Captions:
        """What is said under the pictures."""
        return self._surround.captions

    @cached_property
    def _histories(self) -> tuple[tuple[ToothHistory, ...], ...]:
        return tuple(histories(self.result, case) for case in self.result.cases)

    @cached_property
    def _largest_force(self) -> float:
        systems = [h.at_bracket[:, :3] for case in self._histories for h in case]
        return max(LEAST_FORCE, *(float(np.linalg.norm(s, axis=1).max()) for s in systems))

    @cached_property
    def largest_traction(self) -> float:
        """Normal traction at the ends of the colour scale, kPa: the largest of the whole film."""
        peaks = [
            np.abs(tooth.wall.stress(case.median.wrench[:, k]).normal).max()
            for case in self.result.cases
            for k, tooth in enumerate(self.result.teeth)
        ]
        return max(LEAST_TRACTION, KILO * float(max(peaks)))

    @cached_property
    def _scene(self) -> Scene:
        return Scene(self.result, self.layout, self.largest_traction)

    @cached_property
    def _tiles(self) -> tuple[WallTile, ...]:
        return tuple(
            WallTile(
                WallMap(self.result.teeth[card.tooth]),
                card.tile.width,
                card.tile.height,
                self.largest_traction,
                KILO * self.result.scenario.neutral_below,
            )
            for card in self.layout.cards
        )

    def frame(self, record: int) -> "Image":
        """Return the picture of a record of the median runs."""
        from PIL import Image, ImageDraw

        canvas = Canvas(self._background)
        for view in self.layout.views:
            self._scene.draw(canvas, view, record)
        picture = canvas.finished()
        draw = ImageDraw.Draw(picture)
        for card, tile in zip(self.layout.cards, self._tiles, strict=True):
            wrench = self.result.cases[card.case].median.wrench[record, card.tooth]
            pixels = Image.fromarray(tile.picture(wrench))
            picture.paste(pixels, (card.tile.left, card.tile.top))
            self._write_card(draw, card, record)
        self._surround.write_state(draw, record)
        return picture

    def _write_card(self, draw: "ImageDraw", card: Card, record: int) -> None:
        history = self._histories[card.case][card.tooth]
        force = float(np.linalg.norm(history.at_bracket[record, :3]))
        moved = float(np.linalg.norm(history.crown[record]))
        beside = card.tile.left > card.text.left
        left = card.text.left
        top = card.text.top + 24 if beside else card.tile.top + card.tile.height + 21
        wide = card.text.width
        long = wide * force / self._largest_force
        draw.rectangle((left, top + 2, left + wide, top + 2 + BAR), fill=palette.SHADE)
        if long >= 1:
            draw.rectangle((left, top + 2, left + long, top + 2 + BAR), fill=palette.METAL)
        named = "force " if wide > 150 else ""
        write(draw, (left, top + BAR + 6), f"{named}{force_text(force)}")
        where = "edge moved " if wide > 150 else "moved "
        write(draw, (left, top + BAR + 6 + LINE), f"{where}{moved:.2f} mm")
        if beside and card.text.height >= 100:
            kind = history.movement[record]
            for k, line in enumerate(textwrap.wrap(kind, 27)[:2] if kind != "none" else []):
                place = (left, top + BAR + 6 + (2 + k) * LINE)
                write(draw, place, line, colour=palette.QUIET)

    @cached_property
    def _background(self) -> "Image":
        """What no frame changes."""
        from PIL import ImageDraw

        picture = self._surround.background(self.remarks())
        draw = ImageDraw.Draw(picture)
        for view in self.layout.views:
            box = view.box
            edges = (box.left, box.top, box.left + box.width, box.top + box.height)
            draw.rectangle(edges, fill=palette.SHADE)
            seen = "front" if view.side == FRONT else f"side, {self._number(view)}"
            write(draw, (box.left + 6, box.top + 4), seen, colour=palette.QUIET)
        for card in self.layout.cards:
            heading = fitted(card.label, card.text.width, size=TEXT, bold=True)
            write(draw, (card.text.left, card.text.top), heading, size=TEXT, bold=True)
            self._name_wall(draw, card)
        return picture

    def _number(self, view: View) -> int:
        """Return the number of the one tooth of a view from the side."""
        return self.result.teeth[view.teeth[0]].number

    def remarks(self) -> tuple[str, str]:
        """Return the two lines below the title."""
        first = "Median person · dashed: start · arrow: force on the tooth"
        if self.layout.factor > 1:
            first += f" · movement drawn {self.layout.factor} times"
        if self.layout.note:
            first += f" · {self.layout.note}"
        if self.result.scenario.elastic:
            first += f" · {WORDS}"
        second = (
            "Socket wall unrolled, crest on top, outer side in the middle: strokes compression, "
        )
        return first, f"{second}dots tension (to {self.largest_traction:.3g} kPa)"

    def _name_wall(self, draw: "ImageDraw", card: Card) -> None:
        words = WallMap(self.result.teeth[card.tooth]).words
        box = card.tile
        # words are left out where they would run into each other
        shown = range(5) if box.width > 330 else range(1, 4) if box.width > 200 else (1, 3)
        for k in shown:
            place = (box.left + box.width * k / 4, box.top + box.height + 3)
            anchor = "la" if k == 0 else "ra" if k == 4 else "ma"
            write(draw, place, words[k], anchor=anchor, colour=palette.QUIET)
