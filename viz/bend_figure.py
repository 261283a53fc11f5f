"""Figures of one wire bent or twisted by itself, and of a law fitted to a measured curve."""

from typing import TYPE_CHECKING

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.section import Array
from gomphosis.scenarios.bend_trial import SectionTrial, Specimen, ThreePointTrial
from gomphosis.scenarios.bending_numbers import branches, permanent_deflection, unloading_forces
from gomphosis.scenarios.fit_wire import WireFit
from gomphosis.scenarios.schema import Scenario
from gomphosis.viz import palette, panels, theme
from gomphosis.viz.wording import force_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, BODY = 9.0, 4.6  # inches
GAPS = panels.Gaps(left=0.8, right=2.05, above=0.2)
NAMES = {"surface": "rounded edges,\nwire's surface", "reference": "sharp edges,\ncentre line"}
DASHES = {"surface": "-", "reference": (0, (5, 2.5))}
SETS = ((0, (1, 1.5)), (0, (4, 1.5, 1, 1.5)))  # dashes of the named sets
NEAR_PEAK = 0.85  # of the largest deflection
LEAST_SET = 1e-3  # of the largest deflection that is worth a mark
ROOM = 1.14  # of the axis above the largest force


def three_point_figure(scenario: Scenario, trial: ThreePointTrial) -> "Figure":
    """Draw force over deflection, there and back, in both kinds of contact."""
    wire, superelastic = trial.wire, trial.wire.alloy.behaviour == "superelastic"
    detail = (
        f"{wire.name}, {wire.temperature:g} °C, {wire.order}-order three-point bend, span "
        f"{trial.span:g} mm, friction {trial.friction:g}."
    )
    if superelastic:
        detail += (
            " Dots: unloading forces that ISO 15841 asks for. Band: published mean unloading "
            "forces of superelastic wires, sizes not stated."
        )
    with theme.styled():
        page = _page(scenario, "Force over deflection", detail)
        axes = panels.grid(page, 1, 1, GAPS)[0][0]
        drawn = (*trial.curves.values(), *trial.sets.values())
        highest = max(float(curve.force.max()) for curve in drawn)
        _scale(axes, trial.deflection, highest)
        ends = _draw_band(axes) if superelastic else []
        for (mode, curve), colour in zip(trial.curves.items(), palette.SERIES, strict=False):
            there, back = branches(curve)
            axes.plot(*np.hstack([there, back]), color=colour, linestyle=DASHES[mode])
            ends.append((float(there[1, -1]), NAMES[mode], colour))
        for (name, curve), dots in zip(trial.sets.items(), SETS, strict=False):
            there, back = branches(curve)
            axes.plot(*np.hstack([there, back]), color=palette.QUIET, linestyle=dots, linewidth=1.2)
            ends.append((float(there[1, -1]), f"set {name.upper()}", palette.QUIET))
        theme.label_ends(axes, ends, at=trial.deflection, gap=0.15)
        surface = trial.curves["surface"]
        _mark_ways(axes, *branches(surface))
        if superelastic:
            _mark_unloading(axes, unloading_forces(surface))
        _mark_set(axes, permanent_deflection(surface), "mm")
        axes.set_xlabel("deflection in the middle, mm")
        axes.set_ylabel("force of the indenter, N")
        return page.figure


def section_figure(scenario: Scenario, trial: SectionTrial) -> "Figure":
    """Draw the moment over curvature, or the torque over twist, there and back."""
    wire = trial.wire
    kind = "torsion" if trial.torsion else f"{wire.order}-order bending"
    detail = f"{wire.name}, {wire.temperature:g} °C, pure {kind}, until no moment is left."
    with theme.styled():
        page = _page(scenario, _section_heading(trial), detail)
        axes = panels.grid(page, 1, 1, panels.Gaps(left=0.8, right=0.5, above=0.2))[0][0]
        points = np.stack([trial.applied, trial.moment])
        top = int(np.argmax(points[0]))
        there = np.hstack([np.zeros((2, 1)), points[:, : top + 1]])
        back = points[:, top:]
        _scale(axes, trial.peak, float(points[1].max()))
        axes.plot(*np.hstack([there, back]), color=palette.SERIES[0])
        _mark_ways(axes, there, back)
        _mark_set(axes, trial.left, "rad/mm" if trial.torsion else "1/mm")
        if trial.torsion:
            axes.set_xlabel("twist, rad/mm")
            axes.set_ylabel("torque, N·mm")
        else:
            axes.set_xlabel("curvature, 1/mm")
            axes.set_ylabel("moment, N·mm")
        return page.figure


def fit_figure(scenario: Scenario, fit: WireFit, wire: Specimen) -> "Figure":
    """Draw a measured curve and the model that was fitted to it."""
    detail = (
        f"{wire.name}, {wire.temperature:g} °C. Points: {fit.curve.name}; line: the fitted model, "
        f"{fit.residual:.3f} N off (root mean square). Calibration, not validation."
    )
    curve = fit.curve
    with theme.styled():
        page = _page(scenario, "Measured and fitted force", theme.printable(detail))
        axes = panels.grid(page, 1, 1, panels.Gaps(left=0.8, right=1.0, above=0.2))[0][0]
        _scale(axes, curve.peak, float(max(curve.force.max(), fit.force.max())))
        axes.plot(
            curve.deflection,
            curve.force,
            linestyle="none",
            marker="o",
            markersize=4,
            markerfacecolor="none",
            clip_on=False,
            color=palette.SERIES[1],
        )
        axes.plot(curve.deflection, fit.force, color=palette.SERIES[0])
        ends = [
            (float(curve.force[curve.top]), "measured", palette.SERIES[1]),
            (float(fit.force[curve.top]), "fitted", palette.SERIES[0]),
        ]
        theme.label_ends(axes, ends, at=curve.peak)
        axes.set_xlabel("deflection in the middle, mm")
        axes.set_ylabel("force of the indenter, N")
        return page.figure


def _page(scenario: Scenario, heading: str, detail: str) -> theme.Page:
    return theme.page(scenario, heading=heading, detail=detail, width=WIDTH, body=BODY)


def _section_heading(trial: SectionTrial) -> str:
    return "Torque over twist" if trial.torsion else "Moment over curvature"


def _scale(axes: "Axes", width: float, height: float) -> None:
    axes.set_xlim(0.0, width)
    axes.set_ylim(0.0, ROOM * height)
    axes.grid(axis="y")
    axes.set_axisbelow(True)


def _draw_band(axes: "Axes") -> list[tuple[float, str, str]]:
    """Shade the published unloading forces; return what to write beside, if in sight."""
    low, high = lookup("three_point.published.unloading_band").numbers
    if low >= axes.get_ylim()[1]:
        return []
    axes.axhspan(low, high, color=palette.BAND, alpha=0.45, linewidth=0)
    words = f"published unloading,\n{low:g}–{high:g} N\n(sizes not stated)"
    return [(min(0.5 * (low + high), axes.get_ylim()[1]), words, palette.QUIET)]


def _mark_ways(axes: "Axes", there: Array, back: Array) -> None:
    """Write loading and unloading above the two ways, with arrows."""
    pressed = back[:, back[1] > 0.0]  # not where the wire lies free
    for points, word, sign in ((there, "loading", 1), (pressed[:, ::-1], "unloading", -1)):
        xs, ys = points
        middle = 0.5 * (xs[0] + xs[-1])
        step = 0.03 * (xs[-1] - xs[0]) * sign
        ends = [(x, float(np.interp(x, xs, ys))) for x in (middle - step, middle + step)]
        arrow = {"arrowstyle": "-|>", "color": palette.SERIES[0], "shrinkA": 0, "shrinkB": 0}
        axes.annotate("", ends[1], ends[0], arrowprops=arrow)
        axes.annotate(
            word,
            (middle, float(np.interp(middle, xs, ys))),
            xytext=(-7, 7),
            textcoords="offset points",
            ha="right",
            va="bottom",
            size=theme.SMALL,
        )


def _mark_set(axes: "Axes", left: float, unit: str) -> None:
    """Write what is left without load beside its place on the axis, if anything is."""
    if left < LEAST_SET * axes.get_xlim()[1]:
        return
    axes.plot([left], [0.0], "o", color=palette.SERIES[0], markersize=5, clip_on=False)
    axes.annotate(
        f"stays at {left:.3g} {unit}",
        (left, 0.0),
        xytext=(-6, 5),
        textcoords="offset points",
        ha="right",
        va="bottom",
        size=theme.SMALL,
    )


def _mark_unloading(axes: "Axes", forces: dict[float, float]) -> None:
    furthest = axes.get_xlim()[1]
    for deflection, force in forces.items():
        axes.plot([deflection], [force], "o", color=palette.SERIES[0], markersize=5)
        # near the peak the curve is steep: there is room between its two branches only
        near = deflection > NEAR_PEAK * furthest
        axes.annotate(
            force_text(force),
            (deflection, force),
            xytext=(-8, 0) if near else (2, -8),
            textcoords="offset points",
            ha="right" if near else "left",
            va="center" if near else "top",
            size=theme.SMALL,
            color=palette.SERIES[0],
        )
