"""Key of the figure of slices: what colours, patterns and lines mean."""

from typing import TYPE_CHECKING, Any

import numpy as np

from gomphosis.scenarios.schema import Scenario
from gomphosis.viz import palette, theme
from gomphosis.viz.theme import Page
from gomphosis.viz.wall_map import KILO
from gomphosis.viz.wording import signed

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.colorbar import Colorbar
    from matplotlib.colors import Colormap, Normalize

KEY = 1.25  # inches
LEFT = 0.5  # inches
BAR = 2.1  # inches
SAMPLES = LEFT + BAR + 0.45


def draw_key(page: Page, scenario: Scenario, largest: float) -> None:
    """Draw the key into the body of a page; largest is the end of the traction scale, kPa."""
    from matplotlib.colors import FuncNorm, ListedColormap, Normalize

    shades = palette.blend(palette.BONE_NEW, palette.BONE_FULL, np.linspace(0, 1, 256)) / 255
    grey = ListedColormap(shades, name="bone")
    _bar(page, 0.92, (Normalize(0.0, 1.0), grey), "density of bone, 1 full cortical")
    norm = FuncNorm((palette.signed_root, palette.signed_square), vmin=-largest, vmax=largest)
    bar = _bar(page, 0.36, (norm, palette.traction_colours()), "normal traction, kPa")
    ticks = [-largest, -largest / 4, 0.0, largest / 4, largest]
    bar.set_ticks(ticks, labels=[signed(tick, digits=1) for tick in ticks])
    _samples(page, KILO * scenario.neutral_below)


def _bar(page: Page, height: float, scale: "tuple[Normalize, Colormap]", label: str) -> "Colorbar":
    from matplotlib.cm import ScalarMappable

    width, tall = page.figure.get_size_inches()
    place = (LEFT / width, (page.bottom + height) / tall, BAR / width, 0.13 / tall)
    axes = page.figure.add_axes(place)
    bar = page.figure.colorbar(ScalarMappable(*scale), cax=axes, orientation="horizontal")
    bar.set_label(label, size=theme.SMALL, labelpad=0)
    axes.tick_params(pad=1, length=2)
    return bar


def _samples(page: Page, neutral: float) -> None:
    columns = (
        (
            ("resorbed since the start", f"{palette.COMPRESSION}4d", "////"),
            ("laid down since the start", f"{palette.TENSION}4d", "...."),
            ("ligament", palette.LIGAMENT, ""),
            ("root", palette.ROOT, ""),
        ),
        (
            ("soft tissue", palette.SOFT_TISSUE, ""),
            (f"strokes: compression, {neutral:.2g} kPa or more", palette.COMPRESSION, "|"),
            (f"dots: tension, {neutral:.2g} kPa or more", palette.TENSION, "."),
            ("heavy line: plate open to the soft tissue", palette.INK, "-"),
        ),
    )
    for k, column in enumerate(columns):
        for row, (name, colour, pattern) in enumerate(column):
            place = (SAMPLES + 2.3 * k, page.bottom + KEY - 0.3 - 0.24 * row)
            _sample(page, place, (colour, pattern))
            _write(page, (place[0] + 0.38, place[1]), name)


def _write(page: Page, place: tuple[float, float], text: str) -> None:
    width, tall = page.figure.get_size_inches()
    page.figure.text(place[0] / width, place[1] / tall, text, size=theme.SMALL, va="bottom")


def _sample(page: Page, place: tuple[float, float], look: tuple[str, str]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Rectangle

    colour, pattern = look
    width, tall = page.figure.get_size_inches()
    left, bottom = place[0] / width, place[1] / tall
    wide, high = 0.3 / width, 0.15 / tall
    across, level = [left, left + wide], [bottom + 0.5 * high] * 2
    drawn: list[Artist] = []
    if pattern in ("|", "."):
        drawn.append(Line2D(across, level, color=palette.METAL, lw=5.0))
        drawn.append(Line2D(across, level, color=colour, lw=3.6))
        at = [left + share * wide for share in (0.2, 0.5, 0.8)]
        size = 8.0 if pattern == "|" else 4.0
        mark: dict[str, Any] = {"ls": "", "marker": pattern, "color": palette.INK, "ms": size}
        drawn.append(Line2D(at, [level[0]] * 3, **mark))
    elif pattern == "-":
        drawn.append(Line2D(across, level, color=colour, lw=2.4))
    else:
        box = Rectangle((left, bottom), wide, high, fc=colour, ec=palette.INK, lw=0.7)
        box.set_hatch(pattern)
        drawn.append(box)
    for artist in drawn:
        artist.set_transform(page.figure.transFigure)
        page.figure.add_artist(artist)
