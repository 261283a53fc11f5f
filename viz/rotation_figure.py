"""Figure of the centre of rotation of a tooth against the force, for both ligament laws."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gomphosis.bone.library import lookup
from gomphosis.scenarios.rotation_curve import RotationCurve
from gomphosis.scenarios.schema import Scenario
from gomphosis.viz import palette, panels, theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DASHES = {"linear": (0, (5, 2.5)), "bilinear": "-"}
ROOM = 0.2  # mm of axis beyond the outermost curve


def rotation_figure(scenario: Scenario, curves: Sequence[RotationCurve]) -> "Figure":
    """Draw depth of the centre of rotation against the force, one panel for each M/F."""
    place = scenario.teeth[0]
    detail = (
        f"{place.anatomy.name.capitalize()} ({place.number}) under a labial force at the bracket, "
        "in the plane of its slice, elastic. Dashed: linear ligament; solid: the published law "
        f"that stiffens with strain. Published: "
        f"{lookup('force_and_rate.nonlinear_ligament').value} "
        f"({lookup('force_and_rate.nonlinear_ligament').source})."
    )
    ratios = list(dict.fromkeys(curve.ratio for curve in curves))
    with theme.styled():
        page = theme.page(
            scenario,
            heading="Where the tooth turns about, against the force",
            detail=detail,
            width=10.0,
            body=3.6,
        )
        axes = panels.grid(page, 1, len(ratios), panels.Gaps(right=1.05, across=1.25))[0]
        for index, (panel, ratio) in enumerate(zip(axes, ratios, strict=True)):
            _draw(panel, [c for c in curves if c.ratio == ratio], first=index == 0)
            panels.heading(panel, f"M/F {ratio:g} mm")
        return page.figure


def _draw(panel, curves: Sequence[RotationCurve], *, first: bool) -> None:  # noqa: ANN001 - of matplotlib
    depths = [float(value) for curve in curves for value in curve.depth]
    panel.set_xscale("log")
    panel.set_xlim(curves[0].force[0], curves[0].force[-1])
    panel.set_ylim(max(depths) + ROOM, min(depths) - ROOM)
    ends = []
    for curve, colour in zip(curves, palette.SERIES, strict=False):
        panel.plot(curve.force, curve.depth, color=colour, linestyle=DASHES[curve.law])
        ends.append((float(curve.depth[-1]), f"{curve.law} {curve.depth[-1]:.2f}", colour))
    theme.label_ends(panel, ends, at=float(curves[0].force[-1]))
    ticks = [0.1, 0.2, 0.5, 1, 2, 5]
    panel.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    panel.set_xticks([], minor=True)
    panel.grid(axis="y")
    panel.set_xlabel("force, N")
    if first:
        panel.set_ylabel("below the bone crest, mm")
