"""One look for all figures: sizes, fonts, title, footer, and saving them."""

import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gomphosis.scenarios.caution import NOTICE, SHORT
from gomphosis.scenarios.schema import Scenario
from gomphosis.viz import palette
from gomphosis.viz.wording import invented_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.ft2font import FT2Font

FONT = "DejaVu Sans"  # comes with the plotting library
TITLE, HEADING, TEXT, SMALL = 13.0, 11.0, 10.0, 9.0  # pt
DPI = 110
FINE = 2 * DPI  # of what is a picture inside an SVG or a PDF
MARGIN = 0.25  # inches beside title and footer
LINE = 0.18  # inches from line to line of small text
LETTERS = 14.6  # small letters to an inch: a little fewer than fit

RULES: dict[Any, Any] = {
    "font.family": FONT,
    "font.size": TEXT,
    "text.color": palette.INK,
    "text.usetex": False,
    # titles and names are the user's and may hold any sign
    "text.parse_math": False,
    "axes.unicode_minus": True,
    "axes.edgecolor": palette.QUIET,
    "axes.labelcolor": palette.INK,
    "axes.linewidth": 0.8,
    "axes.titlesize": HEADING,
    "axes.labelsize": TEXT,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": False,
    "xtick.color": palette.QUIET,
    "ytick.color": palette.QUIET,
    "xtick.labelcolor": palette.INK,
    "ytick.labelcolor": palette.INK,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "grid.color": palette.RULE,
    "grid.linewidth": 0.7,
    "hatch.color": palette.INK,
    "hatch.linewidth": 0.55,
    "lines.linewidth": 1.8,
    "figure.facecolor": palette.PAPER,
    "savefig.facecolor": palette.PAPER,
    "svg.fonttype": "path",
    # names of parts inside the file are drawn from it, not by chance
    "svg.hashsalt": "gomphosis",
    "pdf.fonttype": 42,
    "legend.frameon": False,
    "legend.fontsize": SMALL,
}


@contextmanager
def styled() -> Iterator[None]:
    """Apply the theme, whatever the reader's own settings are."""
    import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(RULES)
        yield


@dataclass(frozen=True)
class Page:
    """A figure with title and footer in place, and what is left for panels.

    Attributes
    ----------
    figure
        Off-screen.
    top, bottom
        Edges of the body, inches from the bottom of the figure.
    """

    figure: "Figure"
    top: float
    bottom: float


def page(scenario: Scenario, *, heading: str, detail: str = "", width: float, body: float) -> Page:
    """Return an off-screen figure with title and footer in place.

    Parameters
    ----------
    heading
        What the figure shows.
    detail
        More about it, wrapped below the scenario's title.
    width, body
        Inches; the body is the height between title and footer.
    """
    titles, mark = (printable(scenario.title),), invented_text(scenario)
    return titled_page(titles, mark, heading=heading, detail=detail, width=width, body=body)


def titled_page(
    titles: Sequence[str], mark: str, *, heading: str, detail: str = "", width: float, body: float
) -> Page:
    """Return such a figure for any number of titles, each beginning a line, and a mark.

    Parameters
    ----------
    titles
        Printable, below the heading.
    mark
        In a box in the corner; none if empty.
    heading, detail, width, body
        As those of `page`.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    letters = int((width - 2 * MARGIN) * LETTERS)
    lines = [line for text in (*titles, detail) for line in textwrap.wrap(text, letters)]
    # a no-break space keeps the dot at the end of its line
    footer = textwrap.wrap(SHORT.replace(" · ", "\u00a0· "), letters)
    head = 0.5 + LINE * len(lines)
    foot = 0.2 + LINE * len(footer)
    height = head + body + foot
    figure = Figure(figsize=(width, height), dpi=DPI)
    FigureCanvasAgg(figure)
    left = MARGIN / width
    figure.text(left, 1 - 0.14 / height, heading, size=TITLE, weight="bold", va="top")
    quiet = {"size": SMALL, "color": palette.QUIET, "linespacing": 1.25}
    figure.text(left, 1 - 0.42 / height, "\n".join(lines), va="top", **quiet)
    if mark:
        box = {"facecolor": palette.PAPER, "edgecolor": palette.INK, "pad": 3.0}
        place = (1 - left, 1 - 0.16 / height)
        figure.text(*place, mark, size=SMALL, weight="bold", va="top", ha="right", bbox=box)
    figure.text(left, 0.1 / height, "\n".join(footer), va="bottom", **quiet)
    return Page(figure, body + foot, foot)


def label_ends(
    axes: "Axes", ends: list[tuple[float, str, str]], *, at: float, gap: float = 0.08
) -> None:
    """Write labels beside the ends of curves, moved apart where they would meet.

    Parameters
    ----------
    ends
        Height in data units, text and colour of each.
    at
        Place on the horizontal axis where the labels begin.
    gap
        Least distance of two labels, share of the axes' height; limits must be set before.
    """
    low, high = axes.get_ylim()
    # an axis may run downwards: what counts is the place on the page
    shares = [(end[0] - low) / (high - low) for end in ends]
    order = sorted(range(len(ends)), key=shares.__getitem__)
    wanted = [shares[i] for i in order]
    for i, share in zip(order, spread(wanted, gap), strict=True):
        axes.annotate(
            ends[i][1],
            (at, low + share * (high - low)),
            xytext=(4, 0),
            textcoords="offset points",
            size=SMALL,
            color=ends[i][2],
            va="center",
            annotation_clip=False,
        )


def spread(wanted: list[float], gap: float) -> list[float]:
    """Return rising places at least a gap apart, near the wanted ones, in 0 to 1 if they fit."""
    places = list(wanted)
    for _ in range(200):
        moved = False
        for k in range(len(places) - 1):
            short = gap - (places[k + 1] - places[k])
            if short > 1e-6:
                places[k] -= 0.5 * short
                places[k + 1] += 0.5 * short
                moved = True
        if len(places) * gap <= 1.0 and places:
            places[0] = max(places[0], 0.0)
            places[-1] = min(places[-1], 1.0)
        if not moved:
            break
    return places


@cache
def _font() -> "FT2Font":
    from matplotlib.font_manager import findfont, get_font

    return get_font(findfont(FONT))


def printable(text: str) -> str:
    """Return text with every sign that the font lacks replaced by a question mark."""
    return "".join(c if _font().get_char_index(ord(c)) else "?" for c in text)


def save_figure(figure: "Figure", path: Path) -> None:
    """Write a figure as PNG, SVG or PDF, after the ending of the name.

    The same figure gives the same bytes, and every kind carries the cautions in its metadata. The
    letters of an SVG are outlines, so that it looks alike where the font is missing; those of a
    PDF are embedded as a TrueType font, so that its words can be searched and copied.
    """
    kind = path.suffix.lower()
    dpi = DPI if kind == ".png" else FINE
    with styled():
        figure.savefig(path, format=kind[1:], dpi=dpi, metadata=_NOTES[kind])


_NOTES: dict[str, dict[str, str | None]] = {
    ".png": {"Software": None, "Description": NOTICE},
    ".svg": {"Date": None, "Description": NOTICE},
    ".pdf": {"CreationDate": None, "Subject": NOTICE},
}
KINDS = tuple(_NOTES)
"""Endings of names by which figures are written."""
