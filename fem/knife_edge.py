"""A rod bent over a fixed round edge that it touches at one place, with or without friction.

The edge is a cylinder whose axis is normal to the plane of bending. The rod touches it where its
centre line is nearest; the push is normal to the centre line there, and friction along it opposes
the sliding of the rod's material. Where the rod is touched and how hard are unknowns.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gomphosis.fem.chain import FREEDOMS, Chain, SingularChainError
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import Rod, RodPlace, RodState
from gomphosis.fem.rod_curve import SLOPE, VALUE, CurvePoints, centre_point
from gomphosis.fem.rod_element import cross
from gomphosis.fem.rod_equilibrium import ARM, FORCE, GAP, ITERATIONS, WILD, Grips
from gomphosis.fem.section import Array

NORMAL = np.array([0.0, 0.0, 1.0])  # of the plane of bending
SLIP = 0.002  # mm of sliding over which friction builds up to 63 %


@dataclass(frozen=True)
class KnifeEdge:
    """A fixed edge.

    Parameters
    ----------
    centre
        Of the cylinder in the plane of bending (x, y, 0), mm.
    reach
        From the cylinder's axis to the centre line in contact, mm: radius of the edge plus half
        the rod's thickness; 0 for a sharp edge that pushes on the centre line.
    side
        +1 if the rod passes over the edge (towards +y for a rod along x), -1 if under it.
    friction
        Coulomb's coefficient.
    """

    centre: Array
    reach: float
    side: float
    friction: float = 0.0


@dataclass(frozen=True)
class Touch:
    """How a rod touches an edge.

    Parameters
    ----------
    station
        Of the rod's material, mm.
    push, drag
        Across the rod, and of friction along it, N.
    angle
        Of the rod's tangent from +x towards +y, rad.
    """

    station: float
    push: float
    drag: float = 0.0
    angle: float = 0.0

    def slid(self, before: "Touch", edge: KnifeEdge) -> float:
        """Return how far the edge has slid along the rod's material since a touch, mm.

        Rolling round the edge moves the place of contact without sliding.
        """
        turn = math.remainder(self.angle - before.angle, 2 * math.pi)
        return self.station - before.station + edge.side * edge.reach * turn


@dataclass(frozen=True)
class OverEdge:
    """A rod in grips and over an edge: state, touch, and reactions of the grips, (k, 6)."""

    state: RodState
    touch: Touch
    reaction: Array


def settle_over_edge(
    rod: Rod, before: RodState, touched: Touch, *, edge: KnifeEdge, grips: Grips
) -> OverEdge:
    """Find the equilibrium of a rod over an edge in one step from a state.

    Parameters
    ----------
    before, touched
        Last state and touch; friction remembers its drag.
    grips
        What holds the rod besides.

    Raises
    ------
    NotConvergedError
        If forces do not balance within 30 iterations, or the rod slips off the edge.
    """
    place, touch = before.place, touched
    count = len(place.nodes)
    basis, mask = grips.basis(count), grips.mask(count)
    weight = np.where(np.arange(FREEDOMS) < 3, 1.0, 1.0 / ARM)
    history: list[float] = []
    for _ in range(ITERATIONS):
        response = rod.respond(place, before.history)
        contact = _contact(rod, place, touch, edge=edge, touched=touched)
        out = np.einsum("nji,nj->ni", basis, response.force - contact.load)
        lack = np.zeros((count, FREEDOMS))
        lack[grips.nodes] = grips.gap(place)
        force = float(np.abs(np.where(mask, 0.0, weight * out)).max())
        gap = max(float(np.abs(lack / weight).max()), float(np.abs(contact.gap).max()))
        history.append(max(force, gap))
        if force <= FORCE and gap <= GAP:
            new = RodState(place, response.history)
            reaction = (response.force - contact.load)[grips.nodes]
            held = Touch(touch.station, touch.push, contact.drag, contact.angle)
            return OverEdge(new, held, reaction)
        motion, slide, push = _step(response.stiffness, contact, basis, mask, (lack, out))
        if not np.isfinite(force) or np.abs(motion[:, 3:]).max() > WILD:
            break
        place = place.moved(motion)
        touch = Touch(touch.station + slide, touch.push + push)
        if not rod.shape.stations[0] <= touch.station <= rod.shape.stations[-1]:
            break
    raise NotConvergedError(history, FORCE)


@dataclass(frozen=True)
class _Contact:
    """Contact of a trial: load on the nodes (n, 6), gaps (2,), and their derivatives."""

    load: Array
    gap: Array
    drag: float
    angle: float
    element: int
    stiffness: Array  # of the load by the element's motion, (12, 12)
    by_touch: Array  # load by station and push, (12, 2)
    gap_slope: Array  # gaps by the element's motion, (2, 12)
    gap_by_station: Array  # (2,)


def _contact(
    rod: Rod, place: RodPlace, touch: Touch, *, edge: KnifeEdge, touched: Touch
) -> _Contact:
    at = centre_point(rod.shape, place, touch.station)
    here, slope, bend = at.path[:, 0]
    element = int(at.element[0])
    speed = float(np.linalg.norm(slope))
    tangent = slope / speed
    normal = cross(NORMAL, tangent)
    angle = float(np.arctan2(tangent[1], tangent[0]))
    slid = Touch(touch.station, touch.push, angle=angle).slid(touched, edge)
    drag, drag_by = _drag(touch.push, touched.drag, slid, friction=edge.friction)
    push = edge.side * normal
    force = touch.push * push + drag * tangent
    turn = _pulled(at, SLOPE, normal) / speed  # of the tangent, by the element's motion
    turned = float(normal @ bend) / speed  # by the station
    away = here - edge.centre
    along, across = float(away @ tangent), float(away @ normal)
    quarter = _pulled(at, VALUE, cross(NORMAL, force))
    load = np.zeros((len(place.nodes), FREEDOMS))
    load[element : element + 2] = _pulled(at, VALUE, force).reshape(2, FREEDOMS)
    rolled = edge.side * edge.reach
    by_sliding = _pulled(at, VALUE, drag_by[0] * tangent)
    by_station = quarter * turned + _pulled(at, SLOPE, force)  # as the force moves along the rod
    by_station += by_sliding * (1.0 + rolled * turned)
    by_push = _pulled(at, VALUE, push + drag_by[1] * tangent)
    axes = np.stack([tangent, normal])
    lean = np.array([across, -along])
    return _Contact(
        load=load,
        gap=np.array([along, across - edge.side * edge.reach]),
        drag=drag,
        angle=angle,
        element=element,
        stiffness=at.turned(VALUE, force[None])[0] + np.outer(quarter + rolled * by_sliding, turn),
        by_touch=np.stack([by_station, by_push], axis=1),
        gap_slope=at.pulled(VALUE, axes) + np.outer(lean, turn),
        gap_by_station=axes @ slope + lean * turned,
    )


def _pulled(at: CurvePoints, order: int, direction: Array) -> Array:
    """Return the derivative of a point along a direction by its element's motion, shape (12,)."""
    return at.pulled(order, direction[None])[0]


def _drag(
    push: float, before: float, slid: float, *, friction: float
) -> tuple[float, tuple[float, float]]:
    """Return the drag on the rod and its derivatives by sliding and push.

    Along the sliding s, dt/ds = (mu N - t sign(ds)) / d: Coulomb's drag is approached over the
    short way d, `SLIP`, in any number of steps.

    Parameters
    ----------
    before
        Drag before the sliding, N.
    slid
        How far, mm.
    """
    if friction == 0.0 or push <= 0.0:
        return 0.0, (0.0, 0.0)
    limit = friction * push
    way = 1.0 if slid >= 0.0 else -1.0
    left = math.exp(-abs(slid) / SLIP)
    # a push that falls lets go of what it cannot hold
    start = min(max(before, -limit), limit)
    start_by_push = 0.0 if abs(before) <= limit else math.copysign(friction, before)
    by_push = way * friction * (1.0 - left) + start_by_push * left
    return way * limit * (1.0 - left) + start * left, (left * (limit - way * start) / SLIP, by_push)


def _step(
    chain: Chain,
    contact: _Contact,
    basis: Array,
    mask: npt.NDArray[np.bool_],
    sides: tuple[Array, Array],
) -> tuple[Array, float, float]:
    """Return the motion of the nodes and the changes of station and push."""
    lack, out = sides
    count, node = len(mask), contact.element
    blocks = np.zeros((count - 1, 2 * FREEDOMS, 2 * FREEDOMS))
    blocks[node] = contact.stiffness
    less = Chain.assembled(blocks)
    total = Chain(
        chain.diagonal - less.diagonal, chain.upper - less.upper, chain.lower - less.lower
    ).turned(basis)
    columns = np.zeros((count, FREEDOMS, 3))
    columns[:, :, 0] = -(out + (total @ lack[:, :, None])[:, :, 0])
    back = np.swapaxes(basis, 1, 2)
    ends = slice(node, node + 2)
    columns[ends, :, 1:] = back[ends] @ contact.by_touch.reshape(2, FREEDOMS, 2)
    try:
        follow = total.factored(mask).solve(columns)
    except SingularChainError as error:
        raise NotConvergedError([], FORCE) from error
    follow[:, :, 0] += lack
    motion = basis @ follow
    seen = contact.gap_slope @ motion[ends].reshape(2 * FREEDOMS, 3)
    left = seen[:, 1:].copy()
    left[:, 0] += contact.gap_by_station
    change = np.linalg.solve(left, -contact.gap - seen[:, 0])
    return motion[:, :, 0] + motion[:, :, 1:] @ change, float(change[0]), float(change[1])
