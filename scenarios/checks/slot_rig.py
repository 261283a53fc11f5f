"""Straight wires in rows of slots that the checks turn, tilt and slide."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.section import Array
from gomphosis.fem.section_response import SectionLaw
from gomphosis.fem.slot_system import Trial
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slots import Bracket, Slots
from gomphosis.scenarios.slotted_wire import ArchWire, SlottedWire, Stop
from gomphosis.scenarios.tying import drawn_in
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireShape

LABIAL, ALONG, OCCLUSAL, ABOUT_LABIAL, ABOUT_ALONG, ABOUT_OCCLUSAL = range(6)
INCH = 25.4e-3  # mm in 0.001 in
STEEL = 180e3, 0.3  # MPa, and Poisson's ratio, of a linear elastic wire
OPEN = Ligation(lost=0.0)  # no lid from the first day on
LID = Ligation()  # rigid, does not press
WIDE = 3.0  # mm
SEARCHES = 40
UNSEEN = 1e-3  # N·mm; contact that is rounded by 10 nm leaves less before it is closed


def rectangle(height: float, width: float, radius: float = 0.0) -> WireSection:
    """Return a rectangular wire of a size in 0.001 in, with an edge radius in mm."""
    return WireSection(height * INCH, width * INCH, round=False, edge_radius=radius)


def circle(diameter: float) -> WireSection:
    """Return a round wire of a diameter in 0.001 in."""
    return WireSection(diameter * INCH, diameter * INCH, round=True)


def slot(height: float, *, depth: float = 28 * INCH, width: float = WIDE) -> SlotSize:
    """Return a slot of a height in mm."""
    return SlotSize(height, depth, width)


def row(
    section: WireSection,
    sizes: Sequence[SlotSize],
    places: Sequence[float],
    *,
    law: SectionLaw | None = None,
    ties: Sequence[Ligation] | None = None,
    friction: float = 0.0,
    stops: tuple[Stop, ...] = (),
    per_span: int = 2,
) -> SlottedWire:
    """Return a straight wire in slots in line, tied in without play taken up.

    Parameters
    ----------
    sizes, places
        Of every slot, and of its centre along the wire, mm.
    law
        Of the section; default: linear elastic steel.
    ties
        What closes every slot; default: lids.
    """
    closed = tuple(ties or len(sizes) * (LID,))
    law = law or section.elastic_section(*STEEL)
    shape = WireShape(StraightLine())
    wire = ArchWire(law, section, shape, tuple(sizes), closed, friction=friction, stops=stops)
    brackets = [Bracket(place, np.zeros(3), np.zeros(6)) for place in places]
    slots = Slots(brackets, shape)
    return drawn_in(wire, slots, np.zeros((len(brackets), 6)), per_span=per_span)


def rubbing(wire: SlottedWire, which: int, friction: float) -> SlottedWire:
    """Return a wire with friction in one of its slots only."""
    contact = wire.what.contact
    coefficients = np.where(contact.edges.slot == which, friction, 0.0)
    return replace(wire, what=replace(wire.what, contact=replace(contact, friction=coefficients)))


def anchored(wire: SlottedWire, which: int) -> SlottedWire:
    """Return a wire without stress that is kept from sliding at another slot."""
    holds = wire.what.holds
    node = np.where(holds.about, holds.node, wire.mesh.slots[which])
    slots = np.where(holds.about, holds.slot, which)
    return replace(wire, what=replace(wire.what, holds=replace(holds, node=node, slot=slots)))


def at(wire: SlottedWire, poses: Array) -> Trial:
    """Return the equilibrium with slots displaced and turned from the line, poses (n, 6)."""
    return wire.trial(wire.slots.at(np.asarray(poses, dtype=float)))


def motions(count: int, **moved: tuple[int, float]) -> Array:
    """Return poses of slots of which some move, each by (component, amount): mm or rad.

    Examples
    --------
    >>> motions(2, s1=(ABOUT_ALONG, 0.1))[1, ABOUT_ALONG]
    np.float64(0.1)
    """
    poses = np.zeros((count, 6))
    for name, (component, amount) in moved.items():
        poses[int(name[1:]), component] = amount
    return poses


def off_the_floor(turns: Array, lift: float) -> Array:
    """Return poses of slots (n, 6) turned by rotation vectors (n, 3), so far off a wire in line."""
    labial = Rotation.from_rotvec(turns).as_matrix()[:, :, LABIAL]
    return np.concatenate([-lift * labial, turns], axis=1)


def turn(tip: float, torque: float) -> Array:
    """Return the rotation vector of a slot seen from a wire in it, rad; angles in degrees.

    The wire, first in line with the slot, is turned about itself by minus `torque` and then
    tilted by minus `tip` about the slot's labial axis.
    """
    return Rotation.from_euler("YX", [torque, tip], degrees=True).as_rotvec()


def onset(load: Callable[[float], float], far: float, near: float) -> float:
    """Return where a load that grows with an angle sets in: extrapolated to zero.

    Parameters
    ----------
    far
        An angle at which there is load.
    near
        From the onset of the nearer of the two loads that the last line is laid through, in the
        same unit.

    Raises
    ------
    ValueError
        If the load does not grow with the angle.
    """
    idle, loads = 0.0, {angle: load(angle) for angle in (1.1 * far, far)}
    for _ in range(SEARCHES):
        farther, nearer = sorted(loads, reverse=True)[-2:]
        if not loads[farther] > loads[nearer] > 0.0:
            raise ValueError(f"no load that grows from {nearer:g} to {farther:g}")
        slope = (loads[farther] - loads[nearer]) / (farther - nearer)
        found = nearer - loads[nearer] / slope
        if nearer - found < near:
            return found
        angle = found + 0.1 * (nearer - found) if found > idle else 0.5 * (idle + nearer)
        answer = load(angle)
        if answer > UNSEEN:
            loads[angle] = answer
        else:
            idle = angle
    raise ValueError(f"the onset of a load is not found between {idle:g} and {nearer:g}")
