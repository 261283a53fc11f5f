"""Numbers of a slice on a frame of a film: force, plates, areas with bars, openings."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from gomphosis.viz import palette
from gomphosis.viz.film_canvas import SMALL, font, wrapped, write
from gomphosis.viz.film_layout import LINE, Box
from gomphosis.viz.slice_state import SliceState
from gomphosis.viz.wording import force_text

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

BAR = 10  # px
LEAST_AREA = 0.05  # mm2, least reach of the bars


def state_texts(sides: tuple[str, str], state: SliceState) -> tuple[str, str, str, str]:
    """Return what is written of a state: force, plates, bone resorbed, bone laid down."""
    (front, back), (resorbed, laid_down) = state.plate, state.areas
    return (
        f"force in the plane {force_text(state.force)}",
        f"least plate, mm: {sides[0]} {front:.2f}, {sides[1]} {back:.2f}",
        f"bone resorbed so far {resorbed:.2f} mm²",
        f"bone laid down so far {laid_down:.2f} mm²",
    )


def write_numbers(
    draw: "ImageDraw", sides: tuple[str, str], state: SliceState, *, box: Box, largest: float
) -> None:
    """Write the numbers of a state from the top of a box.

    Parameters
    ----------
    sides
        What the sides at +x and at -x are called.
    largest
        Area at the end of the bars, mm2.
    """
    force, plates, *areas = state_texts(sides, state)
    write(draw, (box.left, box.top), force)
    write(draw, (box.left, box.top + LINE), plates)
    top = box.top + round(2.4 * LINE)
    colours = (palette.COMPRESSION, palette.TENSION)
    for text, area, colour in zip(areas, state.areas, colours, strict=True):
        write(draw, (box.left, top), text)
        _draw_bar(draw, Box(box.left, top + LINE, box.width, BAR), area / largest, colour)
        top += LINE + BAR + 8
    for text in state.opening_texts:
        for line in wrapped_bold(text, box.width):
            write(draw, (box.left, top), line, bold=True)
            top += LINE


def numbers_height(texts: Iterable[Sequence[str]], width: float) -> int:
    """Return the room that numbers take below which any of some texts is said, px.

    Parameters
    ----------
    texts
        What is said of openings in each state.
    width
        Of the box, px.
    """
    lines = [sum(len(wrapped_bold(text, width)) for text in said) for said in texts]
    return round(2.4 * LINE) + 2 * (LINE + BAR + 8) + LINE * max(lines, default=0)


def key_texts(largest: float) -> tuple[str, str, str, str]:
    """Return what greys, fields, ribbon and lines mean; largest is the end of its scale, kPa."""
    return (
        "Grey: bone, the darker the denser. Bone just laid down is light and mineralises "
        "over weeks.",
        "Blue field with strokes: bone of the start that is gone. Orange field with dots: "
        "bone where tooth or ligament have been.",
        "Ribbon inside the wall: normal traction of the ligament, blue with strokes "
        f"compression, orange with dots tension, to {largest:.3g} kPa.",
        "Dashed: root at the start. Heavy line: plate open to the soft tissue. Arrow: force "
        "in the plane, at the slot.",
    )


def write_key(draw: "ImageDraw", texts: Sequence[str], box: Box) -> None:
    """Write what things mean at the bottom of a box."""
    lines = [line for text in texts for line in (*wrapped(text, box.width), "")][:-1]
    top = box.top + box.height - LINE * len(lines)
    for k, line in enumerate(lines):
        write(draw, (box.left, top + k * LINE), line, colour=palette.QUIET)


def _draw_bar(draw: "ImageDraw", box: Box, share: float, colour: str) -> None:
    base = box.top + box.height
    draw.rectangle((box.left, box.top, box.left + box.width, base), fill=palette.SHADE)
    long = box.width * min(1.0, share)
    if long >= 1:
        draw.rectangle((box.left, box.top, box.left + long, base), fill=colour)


def wrapped_bold(text: str, width: float) -> list[str]:
    """Return bold text in lines of at most a width in px."""
    # bold letters are wider than those that are measured
    wider = font(SMALL, bold=True).getlength(text) / font(SMALL).getlength(text)
    return wrapped(text, width / wider)
