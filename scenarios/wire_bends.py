"""From what a scenario bends into a wire to the bends and loops of its shape."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from gomphosis.scenarios import arch
from gomphosis.scenarios.appliance_tables import ArchForm, Wire
from gomphosis.scenarios.arch import PassiveLine, PointsLine, StraightLine
from gomphosis.scenarios.bend_tables import WireBend
from gomphosis.scenarios.visit_tables import Visit
from gomphosis.scenarios.wire_shape import Bend, Loop, WireShape, step


def plain_line(form: ArchForm | None) -> PassiveLine:
    """Return the plain line of a wire, on which aligned slots stand."""
    if form is None:
        return StraightLine()
    if form.points is not None:
        sideways, forward = zip(*form.points, strict=True)
        return PointsLine(forward, sideways)
    return arch.ArchForm(*form.sizes)


def wire_shape(wire: Wire, place: Mapping[int, float], visits: Sequence[Visit] = ()) -> WireShape:
    """Return the stress-free shape of a wire.

    Parameters
    ----------
    place
        Of every tooth's slot along the plain line, mm.
    visits
        Later visits of this wire, in order, at which it may get bends by hand.

    Raises
    ------
    ValueError
        If bends meet each other.
    """
    features = [feature for bend in wire.bends for feature in bent(bend, place)]
    for number, visit in enumerate(visits, start=1):
        for bend in visit.bends:
            features += [replace(b, visit=number) for b in bent(bend, place) if isinstance(b, Bend)]
    return WireShape(plain_line(wire.shape), tuple(features))


def bent(bend: WireBend, place: Mapping[int, float]) -> tuple[Bend | Loop, ...]:
    """Return the bends or the loop of one table.

    A bend leans the same way seen from either end of the wire; a step, a twist and a loop are
    turned round where the first tooth named stands at the greater place.

    Parameters
    ----------
    place
        Of every tooth's slot along the plain line, mm.
    """
    first, second = (place[number] for number in bend.between)
    way = 1.0 if second > first else -1.0
    distance = 0.5 * abs(second - first) if bend.distance is None else bend.distance
    at = first + way * distance
    over = bend.length if bend.by_hand else None
    if bend.kind == "bend":
        # a turn about the third axis lifts the wire beyond, one about minus the second carries it
        # labially
        lean = np.array([0.0, -(bend.labial_angle or 0.0), bend.occlusal_angle or 0.0])
        return (Bend(at, lean, over),)
    if bend.kind == "twist":
        return (Bend(at, np.array([way * (bend.twist_angle or 0.0), 0.0, 0.0]), over),)
    if bend.kind == "step":
        offset = (way * (bend.occlusal or 0.0), way * (bend.labial or 0.0))
        return step(at, offset, bend.length)
    return (_loop(bend, at, way),)


def _loop(bend: WireBend, at: float, way: float) -> Loop:
    corners = np.array([(0.0, 0.0, 0.0), *(bend.points or ())])
    if way > 0:
        return Loop(at, corners)
    # walked from its other end: along counts backwards from there
    width = corners[-1, 0]
    return Loop(at - width, np.stack([width - corners[::-1, 0], *corners[::-1, 1:].T], axis=1))
