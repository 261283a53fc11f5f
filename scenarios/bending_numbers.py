"""Numbers that ISO 15841 asks of a three-point bending curve.

Wires with a plateau (type 2 of the standard) report forces on the unloading branch and the
permanent deflection; wires without one (type 1) report the bending rate and the force at an
offset of 0.1 mm. Source: ISO 15841:2014, requirement clause 5.4, read in an extract.
"""

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.fem.section_paths import follow
from gomphosis.fem.section_response import COMPONENTS, SectionLaw
from gomphosis.scenarios.bending import BendCurve

UNLOADING = (3.0, 2.0, 1.0, 0.5)
"""Deflections on the way back at which forces are reported, mm."""

LOADING = (0.5, 1.0, 2.0, 3.0)
"""Deflections on the way there, mm."""

OFFSET = 0.1  # mm
POINTS = 10  # of the path on which two sections are compared


def branches(curve: BendCurve) -> tuple[Array, Array]:
    """Return (deflection, force) of the way to the peak, from rest, and of the way back, (2, m).

    Where the wire comes off the indenter the way back has a point of no force.
    """
    top = int(np.argmax(curve.deflection))
    points = np.stack([curve.deflection, curve.force])
    there = np.concatenate([np.zeros((2, 1)), points[:, : top + 1]], axis=1)
    back = points[:, top:]
    if curve.released is not None:
        place = int(np.sum(back[0] > curve.released))
        back = np.insert(back, place, [curve.released, 0.0], axis=1)
    return there, back


def loading_forces(curve: BendCurve) -> dict[float, float]:
    """Return the force at each of `LOADING` that the wire was bent to, N."""
    there, _ = branches(curve)
    return {d: float(np.interp(d, *there)) for d in LOADING if d <= there[0, -1]}


def unloading_forces(curve: BendCurve) -> dict[float, float]:
    """Return the force at each of `UNLOADING` that the wire came back to from above, N."""
    _, back = branches(curve)
    return {
        d: float(np.interp(d, *back[:, ::-1])) for d in UNLOADING if back[0, -1] <= d < back[0, 0]
    }


def permanent_deflection(curve: BendCurve) -> float:
    """Return the deflection at which unloading leaves no force, mm; 0 if it never does before."""
    return 0.0 if curve.released is None else float(curve.released)


def bending_rate(curve: BendCurve) -> float:
    """Return the slope at the start, N/mm: force over deflection at the first point."""
    return float(curve.force[0] / curve.deflection[0])


def offset_force(curve: BendCurve, offset: float = OFFSET) -> float | None:
    """Return where loading meets the line of the bending rate moved by an offset, N.

    None if the curve does not get there.
    """
    there, _ = branches(curve)
    above = there[1] - bending_rate(curve) * (there[0] - offset)
    past = np.flatnonzero(above < 0.0)
    if past.size == 0:
        return None
    k = int(past[0])
    share = above[k - 1] / (above[k - 1] - above[k])
    return float(there[1, k - 1] + share * (there[1, k] - there[1, k - 1]))


def section_error(coarse: SectionLaw, fine: SectionLaw, peak: float, *, axis: int) -> float:
    """Return how far two laws of one section part in a cycle of one strain, relative.

    Parameters
    ----------
    peak
        Largest curvature, 1/mm, or twist, rad/mm, of the cycle from zero and back.
    axis
        Index of the strain, in the order of `fem.section_response`.

    Returns
    -------
    float
        Largest difference of the moment over the largest moment.
    """
    share = np.linspace(0.0, 1.0, POINTS + 1)
    path = np.zeros((2 * POINTS, COMPONENTS))
    path[:, axis] = peak * np.concatenate([share[1:], share[-2::-1]])
    held = [True] * COMPONENTS
    moments = [follow(law, path, held=held).resultant[:, axis] for law in (coarse, fine)]
    return float(np.abs(moments[0] - moments[1]).max() / np.abs(moments[1]).max())
