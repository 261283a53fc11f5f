"""What a root's wall bears: its share above reference lines of pressure, traction at the apex."""

from collections.abc import Sequence

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.plates import GIVEN
from gomphosis.scenarios.root_quantities import Origin, Quantity, band_text
from gomphosis.scenarios.root_runs import RootRuns
from gomphosis.scenarios.surfaces import wall_vectors

LINES = ("schwarz", "capillary")
"""Reference lines of pressure in the library, lowest first."""


def wall_shares(root: RootRuns) -> list[Quantity]:
    """Return the largest share of the wall above each reference line of pressure."""
    lines = []
    for name in LINES:
        cited = lookup(f"pressure_line.{name}")
        lines.append((name, cited.number, cited.source, cited.status))
    limit = root.result.scenario.pressure_limit
    if limit is not None:
        lines.append(("own_limit", 1e3 * limit, "scenario, pressure_limit", GIVEN))
    pressures = [root.tooth.wall.stress(wrench).pressure for wrench in root.wrenches()]
    return [_share(root, line, pressures) for line in lines]


def _share(
    root: RootRuns, line: tuple[str, float, str, str], pressures: Sequence[Array]
) -> Quantity:
    name, level, source, status = line
    area = root.tooth.wall.area
    found = tuple(
        float((((pressure > 1e-3 * level) * area).sum(axis=(1, 2)) / area.sum()).max())
        for pressure in pressures
    )
    percent = tuple(100 * share for share in found)
    return Quantity(
        f"wall_above_{name}",
        f"largest share of the socket wall with pressure above {level:g} kPa",
        "%",
        percent,
        f"The model shows pressure above {level:g} kPa on at most "
        f"{band_text(percent, '%', digits=0)} of the socket wall of tooth {root.number}; the level "
        "is a reference line and decides nothing.",
        Origin((level,), source, status, threshold_unit="kPa"),
    )


def apex_stress(root: RootRuns) -> list[Quantity]:
    """Return the traction of largest size at the lowest sample of the wall, kPa."""
    found = [apex_traction(root.tooth, wrench) for wrench in root.wrenches()]
    along = tuple(1e3 * float(a[np.argmax(np.abs(a))]) for a, _ in found)
    across = tuple(1e3 * float(s.max()) for _, s in found)
    sense = "pull" if along[1] > 0 else "push"
    return [
        Quantity(
            "apex_axial_traction",
            "traction of the ligament on the wall at the apex along the axis, of largest size "
            "(tension positive)",
            "kPa",
            along,
            f"The model shows at the apex of tooth {root.number} a {sense} along the long axis of "
            f"up to {band_text(tuple(abs(a) for a in along), 'kPa')}; the library has no threshold "
            "for it.",
        ),
        Quantity(
            "apex_transverse_traction",
            "largest traction of the ligament on the wall at the apex across the axis",
            "kPa",
            across,
            f"The model shows at the apex of tooth {root.number} a traction across the long axis "
            f"of up to {band_text(across, 'kPa')}; the library has no threshold for it.",
        ),
    ]


def apex_traction(tooth: ToothModel, wrench: Array) -> tuple[Array, Array]:
    """Return traction along the axis (tension positive) and across it at the apex, MPa.

    It is taken at the lowest sample of the wall, on the axis, where the wall lies across the
    axis: what acts along the axis there is normal traction, the rest shear.

    Parameters
    ----------
    wrench
        About the crest, N and N·mm, shape (T, 6).

    Returns
    -------
    Two arrays of shape (T,); the mean of the sectors, which meet there.
    """
    lowest = int(np.argmin(tooth.support.wall.place[:, 1]))
    traction = wall_vectors(tooth, tooth.wall.stress(wrench).traction)[:, lowest].mean(axis=1)
    # the wall's outward normal is -z, and a push of the ligament along it is compression
    return traction[:, 2], np.hypot(traction[:, 0], traction[:, 1])
