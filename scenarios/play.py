r"""Play of a wire in a slot by itself: how far it turns before it touches two walls.

A rectangle h × w with edges of radius r, turned by θ about itself, reaches
:math:`(w - 2r)\sin\theta + (h - 2r)\cos\theta + 2r` across the slot of height H; a wire of height d
tilted by φ in a slot of width W takes up :math:`d + W \sin\varphi = H \cos\varphi`; both together
:math:`(w - 2r)\sin\theta + (h - 2r)\cos\theta + 2r = H \cos\varphi - W \sin\varphi`. Angles are
those in one direction, from the wire parallel to the slot to the first touch.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.scenarios.wire import WireSection


@dataclass(frozen=True)
class Play:
    """Engagement angles in one direction, rad.

    Attributes
    ----------
    torsion
        About the wire itself; infinite where the wire turns freely.
    tip
        In the plane of the slot's height and width.
    """

    torsion: float
    tip: float


def play(section: WireSection, *, slot_height: float, slot_width: float) -> Play:
    """Return the play of a wire in a slot with parallel walls.

    Parameters
    ----------
    section
        Cross-section of the wire; `height` lies along the slot's height.
    slot_height, slot_width
        In mm; the width is the slot's length along the wire.
    """
    return Play(torsional_play(section, slot_height), tip_play(section, slot_height, slot_width))


def torsional_play(
    section: WireSection, slot_height: float, *, tip: float = 0.0, slot_width: float = 0.0
) -> float:
    """Return the play about the wire itself, rad; 0 for a wire that fills the slot.

    Parameters
    ----------
    tip
        By which the wire is tipped already, rad, in a slot of some width along it, mm.
    """
    room = slot_height * np.cos(tip) - slot_width * abs(np.sin(tip))
    if section.height >= room:
        return 0.0
    if section.round:
        return np.inf
    radius = section.rounding
    flat, wide = section.height - 2 * radius, section.width - 2 * radius
    diagonal = float(np.hypot(wide, flat))
    if room - 2 * radius >= diagonal:
        return np.inf
    return float(np.arcsin((room - 2 * radius) / diagonal) - np.arctan2(flat, wide))


def tip_play(
    section: WireSection, slot_height: float, slot_width: float, *, torsion: float = 0.0
) -> float:
    """Return the play in the plane of height and width, rad; 0 for a wire that fills the slot.

    Parameters
    ----------
    torsion
        By which the wire is turned about itself already, rad.
    """
    reach = section.height
    if not section.round:
        radius = section.rounding
        flat, wide = section.height - 2 * radius, section.width - 2 * radius
        reach = wide * abs(np.sin(torsion)) + flat * abs(np.cos(torsion)) + 2 * radius
    if reach >= slot_height:
        return 0.0
    # H cos t - W sin t = reach is one cosine, shifted by the slot's own diagonal
    diagonal = float(np.hypot(slot_height, slot_width))
    shift = float(np.arctan2(slot_width, slot_height))
    return float(np.arccos(reach / diagonal) - shift)
