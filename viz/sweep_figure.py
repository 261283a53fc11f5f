"""Figure: force and moment on one bracket over the values of one input, before anything moves."""

from typing import TYPE_CHECKING

import numpy as np

from gomphosis.bone.teeth import tooth
from gomphosis.fem.section import Array
from gomphosis.scenarios.wire_sweep import DRAWN_IN, Sweep, SweptWire
from gomphosis.viz import palette, panels, theme
from gomphosis.viz.force_figure import LEAST_FORCE, LEAST_MOMENT, MINOR, MOMENT_SENSE, MOMENTS
from gomphosis.viz.wording import gram_force, side_words, signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_WIRES = 3
MOST_MARKED = 60  # values that are marked by dots
NARROWEST, COLUMN, BODY = 8.6, 4.6, 6.8  # inches
GAPS = panels.Gaps(left=1.25, right=1.45, across=1.6, above=0.6)
ROOM = 0.1  # of a scale above and below what is drawn
GAP = 0.075  # of a scale between labels


def sweep_figure(sweep: Sweep) -> "Figure":
    """Draw the force and moment components on the tooth in question, one column per wire.

    A sweep of one wire's own input shows that wire only.
    """
    wires = sweep.concerned[:MOST_WIRES]
    with theme.styled():
        page = theme.page(
            sweep.scenario,
            heading=f"Force system on tooth {sweep.tooth} before anything has moved",
            detail=_explained(sweep),
            width=max(NARROWEST, 1.15 + COLUMN * len(wires)),
            body=BODY,
        )
        rows = panels.grid(page, 2, len(wires), GAPS)
        systems = [wire.systems[:, sweep.teeth.index(sweep.tooth)] for wire in wires]
        for axes, part, least in zip(
            rows, (slice(0, 3), slice(3, 6)), (LEAST_FORCE, LEAST_MOMENT), strict=True
        ):
            _set_heights(axes, np.stack(systems)[..., part], least)
        for column, (wire, system) in enumerate(zip(wires, systems, strict=True)):
            pair = (rows[0][column], rows[1][column])
            _draw_wire(pair, sweep, wire, system)
            panels.name_heights(pair[0], "force, N (gf)", first=column == 0)
            panels.name_heights(pair[1], "moment, N·mm", first=column == 0)
        return page.figure


def _explained(sweep: Sweep) -> str:
    outer, _ = side_words(tooth(sweep.tooth))
    change = max(wire.change for wire in sweep.concerned[:MOST_WIRES])
    text = (
        "What the wire exerts on the tooth at the centre of its slot, tied in new at every value: "
        f"no history from value to value. Forces: + extrusive, {outer}, mesial. Moments: "
        f"{MOMENT_SENSE}. Parts below {100 * MINOR:.0f} % of a panel's scale are left out. Half "
        f"as many elements change the forces by up to {100 * change:.1g} % of the largest."
    )
    if DRAWN_IN in sweep.limits:
        text += " Small jumps from value to value are numerical."
    count = len(sweep.concerned)
    if count > MOST_WIRES:
        text += f" The first {MOST_WIRES} of {count} wires."
    return text


def _set_heights(row: "list[Axes]", values: Array, least: float) -> None:
    """Set one scale, with zero in it, for all wires."""
    low, high = min(0.0, float(values.min())), max(0.0, float(values.max()))
    margin = max(least, ROOM * (high - low))
    for axes in row:
        axes.set_ylim(low - margin, high + margin)


def _draw_wire(pair: "tuple[Axes, Axes]", sweep: Sweep, wire: SweptWire, system: Array) -> None:
    force, moment = pair
    outer, _ = side_words(tooth(sweep.tooth))
    panels.heading(force, wire.name, _play_text(wire.play))
    _draw_parts(force, sweep.values, system[:, :3], ("extrusion", outer, "mesial"))
    _draw_parts(moment, sweep.values, system[:, 3:], tuple(m.split()[0] for m in MOMENTS))
    force.yaxis.set_major_formatter(_with_grams)
    moment.set_xlabel(f"{sweep.key}, {sweep.unit}" if sweep.unit else sweep.key)


def _play_text(play: Array) -> str:
    """Return the engagement angles in one direction, with their range where they change."""
    torsion, tip = (
        "–".join(dict.fromkeys("free" if np.isinf(p) else f"{p:.1f}°" for p in (low, high)))
        for low, high in zip(play.min(axis=0), play.max(axis=0), strict=True)
    )
    return f"play: about itself {torsion}, tip {tip}"


def _with_grams(newton: float, _: object) -> str:
    return f"{newton:.3g} ({gram_force(newton):.0f})".replace("-", "−")


def _draw_parts(axes: "Axes", values: Array, parts: Array, names: tuple[str, ...]) -> None:
    """Draw three components from the first value to the last, labelled there.

    Forces and moments have the colours that they have in the figure over the weeks.
    """
    first, dash = (3, 0) if names[0] == MOMENTS[0].split()[0] else (1, 1)
    axes.set_xlim(float(values[0]), float(values[-1]))
    axes.grid(axis="y")
    axes.set_axisbelow(True)
    axes.axhline(0.0, color=palette.QUIET, linewidth=0.9)
    scale = float(np.abs(axes.get_ylim()).max())
    ends = []
    for k, name in enumerate(names):
        if np.abs(parts[:, k]).max() < MINOR * scale:
            continue
        colour = palette.SERIES[first + k]
        axes.plot(
            values,
            parts[:, k],
            color=colour,
            linestyle=palette.DASHES[dash + k],
            marker="o" if len(values) <= MOST_MARKED else "",
            markersize=2.8,
            clip_on=False,
        )
        end = float(parts[-1, k])
        ends.append((end, f"{name} {signed(end)}", colour))
    theme.label_ends(axes, ends, at=float(values[-1]), gap=GAP)
