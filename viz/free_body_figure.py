"""Figure: one tooth taken out of its socket, with all that acts on it."""

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.bone.directions import FORCE_WORDS, MOMENT_WORDS
from gomphosis.fem.section import Array
from gomphosis.scenarios.result import RunResult
from gomphosis.viz import palette, theme
from gomphosis.viz.film_layout import SIDE
from gomphosis.viz.free_body import LEAST_FORCE, LEAST_MOMENT, FreeBody, System, free_bodies
from gomphosis.viz.free_body_marks import (
    ARROW,
    DASHED,
    SWEEP,
    Look,
    Part,
    draw_force,
    draw_lever,
    draw_moment,
    draw_tooth,
    frame,
    write_below,
)
from gomphosis.viz.panels import Gaps, grid, heading
from gomphosis.viz.wording import direction_text, gram_force, side_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BRACKET = Look("bracket", palette.SERIES[5])
LIGAMENT = Look("ligament", palette.SERIES[1])
MOVED = Look("moved", palette.SERIES[5], DASHED)
RADIUS, WIDER = 2.4, 4.2  # mm, of the arcs about slot and centre of resistance
WIDE, TALL, NOTES = 3.45, 4.0, 1.4  # inches of a diagram, and of the words below it
UNLOADED = "Nothing acts on the tooth."
NAMES = 30  # letters to a line of a heading


@dataclass(frozen=True)
class _Scales:
    """Millimetres per N and radians per N·mm, the same in all diagrams."""

    force: float
    moment: float


def free_body_figure(result: RunResult) -> "Figure":
    """Draw a tooth free of its socket: what acts on it, and the same at its centre of resistance.

    Several cases, or wires, stand side by side, four at most. Forces have one scale of length and
    moments one scale of angle in all diagrams.
    """
    bodies = free_bodies(result)
    count = len(bodies)
    rows, columns = (2, count) if count > 1 else (1, 2)
    with theme.styled():
        page = theme.page(
            result.scenario,
            heading=f"Tooth {bodies[0].tooth.number} taken out of its socket",
            detail=_explained(result, bodies),
            width=max(7.6, 1.1 + WIDE * columns),
            body=rows * (TALL + NOTES),
        )
        gaps = Gaps(left=0.95, right=0.3, across=0.15, above=0.55, below=NOTES)
        panels = grid(page, rows, columns, gaps)
        scales = _scales(bodies)
        for k, body in enumerate(bodies):
            acting = panels[0][k]
            moved = panels[1][k] if rows == 2 else panels[0][1]
            _draw_acting(acting, body, scales)
            _draw_moved(moved, body, scales)
            frame(acting, body, named=k == 0)
            frame(moved, body, named=k == 0 and rows == 2)
        return page.figure


def _explained(result: RunResult, bodies: tuple[FreeBody, ...]) -> str:
    outer, inner = side_words(bodies[0].tooth.anatomy)
    seen = f"seen from the side, {outer} on the right, {inner} on the left"
    if bodies[0].side != SIDE:
        seen = "seen from the front, the patient's right on the left"
    when = "as each wire is tied in" if result.scenario.wires else "at the start"
    count = max(len(result.cases), len(result.scenario.wires))
    left_out = f" First {len(bodies)} of {count}." if count > len(bodies) else ""
    return (
        f"Median person, {when}, {seen}. Solid: force and moment of the appliance at the "
        "bracket, and what the ligament gives back at the centre of resistance; together they are "
        "zero. Dashed: the same load of the appliance, moved to the centre of resistance. Lengths "
        f"of arrows are to scale, and so are the angles of arcs.{left_out}"
    )


def _scales(bodies: tuple[FreeBody, ...]) -> _Scales:
    systems = [system for body in bodies for system in (body.bracket, body.resistance)]
    force = max(LEAST_FORCE, *(system.size for system in systems))
    moment = max(LEAST_MOMENT, *(abs(system.moment) for system in systems))
    return _Scales(ARROW / force, float(np.deg2rad(SWEEP)) / moment)


def _draw_acting(axes: "Axes", body: FreeBody, scales: _Scales) -> None:
    """Draw the load at the bracket and what the ligament gives back, and say both."""
    draw_tooth(axes, body)
    heading(axes, "\n".join(textwrap.wrap(theme.printable(body.label), NAMES)[:2]))
    if not body.bracket.loaded:
        write_below(axes, [UNLOADED])
        return
    # a force that points from the bracket into the tooth ends at the slot; from the front a slot
    # off the axis lies on the tooth all the same
    inward = float(body.bracket.force[0] * (body.slot - body.centre)[0]) < 0
    into = inward and body.side == SIDE
    _draw(axes, body.slot, body.bracket, BRACKET, scales=scales, radius=RADIUS, into=into)
    back = System(-body.resistance.force, -body.resistance.moment)
    _draw(axes, body.centre, back, LIGAMENT, scales=scales, radius=WIDER)
    write_below(
        axes,
        [
            f"At the bracket: {_load_words(body, body.words_bracket)}.",
            f"The ligament gives back: {_load_words(body, -body.words_resistance)} at the centre "
            "of resistance.",
            _out_of_plane(body),
        ],
    )


def _draw_moved(axes: "Axes", body: FreeBody, scales: _Scales) -> None:
    """Draw the same load at the centre of resistance, and work out its moment."""
    draw_tooth(axes, body)
    heading(axes, "The same, moved")
    if not body.bracket.loaded:
        write_below(axes, [UNLOADED])
        return
    _draw(axes, body.centre, body.resistance, MOVED, scales=scales, radius=WIDER)
    index = body.moment_index
    at_slot, at_centre = body.words_bracket[index], body.words_resistance[index]
    notes = [f"Moment at the bracket: {_moment_text(body, at_slot)}."]
    if body.bracket.size >= LEAST_FORCE:
        draw_lever(axes, body)
        notes.append(
            f"Moving the force adds F·d = {body.bracket.size:.3f} N × {body.lever:.2f} mm = "
            f"{_moment_text(body, at_centre - at_slot)}."
        )
    write_below(axes, [*notes, f"Together: {_moment_text(body, at_centre)}."])


def _draw(
    axes: "Axes",
    place: Array,
    system: System,
    look: Look,
    *,
    scales: _Scales,
    radius: float,
    into: bool = False,
) -> None:
    force = f"{system.size:.2f} N\n({gram_force(system.size):.0f} gf)"
    draw_force(axes, Part(place, force), scales.force * system.force, look, into=into)
    moment = f"{abs(system.moment):.2f} N·mm"
    # off the tooth's middle, unless the force is drawn there
    side = float(np.sign(place[1]))
    if system.force[1] * side > abs(system.force[0]):
        side = -side
    draw_moment(axes, Part(place, moment, side), scales.moment * system.moment, look, radius)


def _load_words(body: FreeBody, words: Array) -> str:
    """Return the part of a load in the plane of view: force and moment."""
    seen = np.array([words[0], *(words[1:3] * ([1, 0] if body.side == SIDE else [0, 1]))])
    size = float(np.linalg.norm(seen))
    force = f"{size:.2f} N {direction_text(seen, body.tooth.anatomy)}"
    moment = _moment_text(body, words[body.moment_index])
    return f"{force if size >= LEAST_FORCE else 'no force'}, {moment}"


def _moment_text(body: FreeBody, value: float) -> str:
    if abs(value) < 0.005:
        return "no moment"
    return f"{abs(value):.2f} N·mm ({body.senses[0 if value > 0 else 1]})"


def _out_of_plane(body: FreeBody) -> str:
    """Say what part of the load at the bracket the diagram cannot show."""
    across = 2 if body.side == SIDE else 1
    names = (*FORCE_WORDS, *MOMENT_WORDS)
    shown = {0, 3 - across, body.moment_index}
    parts = [
        f"{names[k].replace('_', ' ')} {body.words_bracket[k]:+.2f} {'N' if k < 3 else 'N·mm'}"
        for k in range(6)
        if k not in shown and abs(body.words_bracket[k]) >= 0.005
    ]
    if not parts:
        return "Nothing acts out of this plane."
    return "Out of this plane: " + ", ".join(parts).replace("-", "−") + "."
