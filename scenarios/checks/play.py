"""Play of a wire in a slot: published angles, and a wire turned and tilted step by step."""

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.play import tip_play, torsional_play
from gomphosis.scenarios.wire import WireSection

INCH = 25.4e-3  # mm in 0.001 in
SLOT = 22 * INCH
PUBLISHED = {"019_019": 19, "019_022": 22, "019_025": 25}
MEASURED_SLOT = 0.476  # mm
TURNED = ((19, 25, 0.05, 22), (16, 22, 0.05, 18), (17, 25, 0.07, 22), (21, 28, 0.0, 22))
TILTED = ((14, 22, 3.0), (16, 18, 2.5), (19, 22, 3.5))
FINE = 1e-3  # degrees


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_published(name, width) for name, width in PUBLISHED.items()),
        _measured(),
        *(_turned(*row) for row in TURNED),
        *(_tilted(*row) for row in TILTED),
    ]


def _wire(height: float, width: float, radius: float) -> WireSection:
    return WireSection(height * INCH, width * INCH, round=False, edge_radius=radius)


def _published(name: str, width: int) -> Check:
    cited = lookup(f"play.sharp.wire_{name}")
    return Check(
        name=f"torsional-play-19-{width}",
        quantity=f"torsional play of a sharp 0.019 x 0.0{width} in wire in a 0.022 in slot, one "
        "direction",
        unit="deg",
        kind="verification",
        source=cited.source,
        status=cited.status,
        # printed to two decimals
        tolerance=0.006,
        measure="absolute",
        compute=lambda: Outcome(
            float(np.rad2deg(torsional_play(_wire(19, width, 0.0), SLOT))), cited.number
        ),
    )


def _measured() -> Check:
    cited = lookup("play.measured_both_ways")
    return Check(
        name="torsional-play-measured",
        quantity="torsional play of a 0.016 x 0.022 in wire in a measured 0.476 mm slot, both "
        "directions",
        unit="deg",
        kind="calibration",
        source=cited.source,
        status=cited.status,
        # the published range, 16.6 to 20.4
        tolerance=1.9,
        measure="band half-width",
        compute=lambda: Outcome(
            2 * float(np.rad2deg(torsional_play(_wire(16, 22, 0.05), MEASURED_SLOT))), cited.number
        ),
        note="the edge radius of 0.05 mm was found from this measurement; that it is the sum of "
        "both directions is inferred",
    )


def _turned(height: int, width: int, radius: float, slot: int) -> Check:
    def compute() -> Outcome:
        section = _wire(height, width, radius)
        return Outcome(
            float(np.rad2deg(torsional_play(section, slot * INCH))),
            turned_until_touch(section, slot * INCH),
        )

    return Check(
        name=f"torsional-play-turned-{height}-{width}",
        quantity=f"torsional play of 0.0{height} x 0.0{width} in, edges of {radius:g} mm, in a "
        f"0.0{slot} in slot",
        unit="deg",
        kind="verification",
        source="the outline as a polygon of 4000 points, turned by steps of 0.001 degrees",
        status="closed form",
        # a step
        tolerance=2 * FINE,
        measure="absolute",
        compute=compute,
    )


def turned_until_touch(section: WireSection, slot: float) -> float:
    """Return the angle at which a turned outline first reaches across the slot, degrees."""
    radius = section.rounding
    angle = np.linspace(0.0, np.pi / 2, 1000)
    lever = np.array([section.width / 2 - radius, section.height / 2 - radius])
    corner = lever + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    outline = np.concatenate([corner * [a, b] for a in (1, -1) for b in (1, -1)])
    for degrees in np.arange(0.0, 90.0, FINE):
        turn = np.deg2rad(degrees)
        if np.ptp(outline @ [np.sin(turn), np.cos(turn)]) >= slot:
            return float(degrees)
    return float("inf")


def _tilted(wire: int, slot: int, width: float) -> Check:
    def compute() -> Outcome:
        section = WireSection(wire * INCH, wire * INCH, round=True)
        return Outcome(
            float(np.rad2deg(tip_play(section, slot * INCH, width))),
            tilted_until_touch(section.height, slot * INCH, width),
        )

    return Check(
        name=f"tip-play-{wire}-{slot}-{width:g}",
        quantity=f"tip play of an 0.0{wire} in wire in a 0.0{slot} in slot {width:g} mm wide",
        unit="deg",
        kind="verification",
        source="distance of two corners of the slot across the wire, tilted by steps of 0.001 "
        "degrees",
        status="closed form",
        tolerance=2 * FINE,
        measure="absolute",
        compute=compute,
    )


def tilted_until_touch(thickness: float, slot: float, width: float) -> float:
    """Return the angle at which opposite corners of a slot pinch a straight wire, degrees."""
    corners = np.array([[width / 2, slot / 2], [-width / 2, -slot / 2]])
    for degrees in np.arange(0.0, 90.0, FINE):
        turn = np.deg2rad(degrees)
        across = np.array([-np.sin(turn), np.cos(turn)])
        if np.ptp(corners @ across) <= thickness:
            return float(degrees)
    return float("inf")
