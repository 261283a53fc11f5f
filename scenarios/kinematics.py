"""Movement of a tooth in trade words: points, centre of rotation, type of movement."""

import numpy as np

from gomphosis.bone.directions import to_trade
from gomphosis.bone.library import lookup
from gomphosis.bone.support import motion_at
from gomphosis.fem.section import Array

PLANES = ("labial", "mesial")
STILL = 0.01  # mm; a point that moved less is said not to have moved
FAR = 200.0  # mm; a centre of rotation beyond is that of a translation
MINOR = 0.3  # share of the largest movement below which a part is not named


def point_movement(number: int, pose: Array, point: Array) -> Array:
    """Return extrusion, labial and mesial movement of a point, mm, shape (..., 3).

    Parameters
    ----------
    pose
        About the crest, tooth frame, mm and rad, shape (..., 6).
    point
        (x, y, z) in the tooth frame, mm.
    """
    return to_trade(number, pose @ motion_at(point).T)[..., :3]


def orientation(number: int, pose: Array) -> Array:
    """Return angulation, inclination and rotation, rad, shape (..., 3)."""
    return to_trade(number, pose)[..., 3:]


def rotation_centre(number: int, pose: Array) -> Array:
    """Return the centre of rotation on the long axis in the labial and mesial plane.

    Returns
    -------
    Distance from the bone crest towards the apex, mm, shape (..., 2); nan for a translation (no
    centre within 200 mm) and where nothing moved.
    """
    words = to_trade(number, pose)
    across = words[..., [1, 2]]
    # a point at height z moves labially by inclination * z, mesially by angulation * z
    turn = words[..., [4, 3]]
    near = np.abs(across) <= FAR * np.abs(turn)
    moved = np.abs(turn) > 1e-9
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(near & moved, across / turn, np.nan)


def movement_type(number: int, pose: Array, *, edge: Array, apex: Array) -> tuple[str, str]:
    """Name a movement from where its edge and apex went.

    Transverse movement is classified in the plane in which edge or apex moved more, by the
    published ratio of apical to incisal movement; an axial part that is the larger one comes
    first. Shares below 0.3 of the largest movement are not named.

    Returns
    -------
    Type, such as ``uncontrolled tipping`` or ``extrusion with translation``, and the plane of
    its transverse part (``labial``, ``mesial`` or ``none``).
    Source of the limits: ``movement_type`` of the library; measured on incisors.
    """
    at_edge, at_apex = (point_movement(number, pose, p) for p in (edge, apex))
    sideways = np.maximum(np.abs(at_edge[1:]), np.abs(at_apex[1:]))
    plane = int(np.argmax(sideways))
    axial, across = float(at_edge[0]), float(sideways[plane])
    largest = max(abs(axial), across)
    turned = abs(float(orientation(number, pose)[2]))
    if largest < STILL:
        return ("rotation", "none") if np.degrees(turned) > 1.0 else ("none", "none")
    names = []
    if abs(axial) >= MINOR * largest:
        names.append((abs(axial), "extrusion" if axial > 0 else "intrusion"))
    if across >= MINOR * largest:
        names.append((across, tipping_type(at_edge[1 + plane], at_apex[1 + plane])))
    ordered = [name for _, name in sorted(names, reverse=True)]
    return " with ".join(ordered), PLANES[plane] if across >= MINOR * largest else "none"


def tipping_type(edge: float, apex: float) -> str:
    """Classify a movement in one plane by the ratio of apical to incisal movement."""
    if abs(edge) < 1e-12:
        return "root movement"
    ratio = apex / edge
    for name in ("uncontrolled_tipping", "controlled_tipping", "translation"):
        low, high = lookup(f"movement_type.{name}").numbers
        if low <= ratio < high:
            return name.replace("_", " ")
    return "root movement"


def moment_to_force(at_bracket: Array, *, least_force: float = 0.02) -> Array:
    """Return M/F in the labial and mesial plane, mm, counter-tipping positive, shape (..., 2).

    Parameters
    ----------
    at_bracket
        Force system in trade words, N and N·mm, shape (..., 6).
    least_force
        N; nan where the force in the plane is smaller.
    """
    force, moment = at_bracket[..., [1, 2]], at_bracket[..., [4, 3]]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(np.abs(force) >= least_force, -moment / force, np.nan)
