"""Forces of slots' edges on a rod, and how they follow the rod, the pushes and the slots."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.rod import Rod, RodPlace
from gomphosis.fem.rod_curve import CurvePoints, Curves
from gomphosis.fem.rod_element import FREEDOMS, cross
from gomphosis.fem.section import Array, Index
from gomphosis.fem.slot_applied import BODY, Applied, levers
from gomphosis.fem.slot_aside import Aside, Lie, aside, lie
from gomphosis.fem.slot_edges import Edges, Flat, SlotFrames, nearest
from gomphosis.fem.slot_friction import Rub, rub
from gomphosis.fem.slot_touches import SHARP, Corner, Touches
from gomphosis.fem.slot_view import Seen, seen

__all__ = ["NEAR", "SHARP", "SLIDE", "Contact", "Corner", "EdgeContact", "Touches"]

NEAR = 0.2  # mm; pairs further apart have no force
# each edge of a support gives way by itself as well, by this share: two curves of a rod that lie on
# one edge share its push then in one way only
OWN = 1e-3
RUBBED = 0.1  # rounding of friction's corners over that of contact: idle drags creep less
SLIDE = 0.002  # mm; elastic sliding (engineering choice)


@dataclass(frozen=True)
class EdgeContact:
    """Pairs of edges and curves and the laws of their contact.

    Parameters
    ----------
    edges
        m pairs.
    offset
        Of each curve in the rod's section, mm, shape (m, 2).
    friction
        Coulomb's coefficient of each pair, shape (m,).
    group
        Index of the support that an edge stands on, -1 for a rigid one, shape (m,). Edges of one
        support give way together.
    give
        Compliance of every support, mm/N, shape (g,).
    elastic
        Sliding within which friction builds up, mm.
    """

    edges: Edges
    offset: Array
    friction: Array
    group: Index
    give: Array
    elastic: float = SLIDE

    @cached_property
    def partners(self) -> tuple[Index, Index, Array]:
        """Pairs whose supports give way under each other's push, and the compliance, mm/N."""
        on = np.flatnonzero(self.group >= 0)
        first, second = np.nonzero(self.group[on, None] == self.group[None, on])
        own = np.where(first == second, 1.0, 1.0 / (1.0 + OWN))
        return on[first], on[second], own * self.give[self.group[on[first]]]

    def given(self, push: Array) -> Array:
        """Return how far pushes, N, move the pairs' edges away from the rod, mm, shape (m,)."""
        first, second, compliance = self.partners
        way = np.zeros_like(push)
        np.add.at(way, first, compliance * push[second])
        return way

    def curves(self, rod: Rod) -> Curves:
        """Return the curves of a rod that the pairs look at."""
        return Curves(rod.shape, self.offset)

    def found(self, rod: Rod, place: RodPlace, frames: SlotFrames, start: Array) -> Touches:
        """Return the pairs of a rod that touches nothing."""
        flat = nearest(self.curves(rod), place, self.edges, frames, start)
        none = np.zeros_like(flat.station)
        return Touches(
            flat.station, none, np.zeros((2, len(none))), self.lie(rod, place, frames, flat)
        )

    def lie(self, rod: Rod, place: RodPlace, frames: SlotFrames, flat: Flat) -> Lie:
        """Return how the rod's material nearest to the edges lies in the slots."""
        slot = self.edges.slot
        edge = cross(flat.plane[:, 0], flat.plane[:, 1])
        origin, triads = frames.place[slot], frames.triads[slot]
        return lie(self.curves(rod), place, flat.station, origin, triads, edge)

    def at(
        self,
        rod: Rod,
        place: RodPlace,
        frames: SlotFrames,
        *,
        push: Array,
        share: Array,
        before: Touches,
        corner: Corner = SHARP,
    ) -> "Contact":
        """Return the contact at a trial place, under trial forces, after a step's start."""
        flat = nearest(self.curves(rod), place, self.edges, frames, before.station)
        gap = self.given(push) - flat.off - self.edges.radius
        near = np.flatnonzero((gap < NEAR) | (push > 0.0))
        view = seen(Curves(rod.shape, self.offset[near]), place, flat.take(near))
        rubs = np.flatnonzero(self.friction[near] > 0.0)
        pairs = near[rubs]
        gone = self._aside(rod, place, frames, flat, pairs=pairs, before=before)
        slid = np.stack([(flat.station - before.station)[pairs], -gone.way])
        rubbed = rub(
            share[:, pairs].ravel(),
            slid.ravel(),
            before=np.where(before.push[pairs] > 0.0, before.share[:, pairs], 0.0).ravel(),
            elastic=corner.softer * self.elastic,
            rounding=RUBBED * corner.rounding,
        )
        shown = np.zeros_like(share)
        shown[:, pairs] = share[:, pairs]
        return Contact(
            self, near, rubs, flat, view, gone, gap, push, shown, rubbed, rod, place, frames
        )

    def _aside(
        self,
        rod: Rod,
        place: RodPlace,
        frames: SlotFrames,
        flat: Flat,
        *,
        pairs: Index,
        before: Touches,
    ) -> Aside:
        slot, plane = self.edges.slot[pairs], flat.plane[pairs]
        return aside(
            Curves(rod.shape, self.offset[pairs]),
            place,
            before.station[pairs],
            origin=frames.place[slot],
            triads=frames.triads[slot],
            edge=cross(plane[:, 0], plane[:, 1]),
            radius=self.edges.radius[pairs],
            before=before.lie.take(pairs),
        )


@dataclass(frozen=True)
class Contact:
    """Contact at a trial.

    Attributes
    ----------
    law
        Whose contact it is.
    near
        Pairs close enough to touch, shape (p,).
    rubs
        Those of them that have friction, as indices of `near`, shape (f,).
    flat
        All pairs, in the planes across the edges.
    view
        The near pairs, looked at along the edges.
    gone
        Pairs that rub, as they slide aside.
    gap
        Of all pairs, mm, shape (m,).
    pushes, shares
        Normal forces of all pairs, N, shape (m,), and shares of friction, 0 for those that do not
        rub, shape (2, m).
    rubbed
        Condition of friction of the pairs that rub, along and then aside.
    rod, place, frames
        The rod, where it is, and the slots.
    """

    law: EdgeContact
    near: Index
    rubs: Index
    flat: Flat
    view: Seen
    gone: Aside
    gap: Array
    pushes: Array
    shares: Array
    rubbed: Rub
    rod: Rod
    place: RodPlace
    frames: SlotFrames

    @cached_property
    def touches(self) -> Touches:
        """State of all pairs, if this trial is kept."""
        lies = self.law.lie(self.rod, self.place, self.frames, self.flat)
        return Touches(self.flat.station, self.pushes, self.shares, lies)

    @property
    def astray(self) -> float:
        """How far the search for the nearest points of pairs that push was still going, mm."""
        return float((self.flat.astray * (self.pushes > 0.0)).max(initial=0.0))

    @cached_property
    def slot(self) -> Index:
        """Slot of every near pair, shape (p,)."""
        return self.law.edges.slot[self.near]

    @cached_property
    def push(self) -> Array:
        """Normal force of the near pairs, N, shape (p,)."""
        return self.pushes[self.near]

    @cached_property
    def drag(self) -> Array:
        """Friction along the rod, and across it along the edge, at the near pairs, N, (2, p)."""
        return self._per_push * self.push

    @cached_property
    def _per_push(self) -> Array:
        return self.law.friction[self.near] * self.shares[:, self.near]

    @cached_property
    def along(self) -> Applied:
        """Forces of the near pairs across the rod and along it."""
        view, drag = self.view, self.drag[0]
        force = drag[:, None] * view.rub - self.push[:, None] * view.across
        return self._applied(slice(None), view.points, force, lambda: view.curve(-self.push, drag))

    @cached_property
    def aside(self) -> Applied:
        """Friction of the pairs that rub along their edges."""
        drag = self.drag[1, self.rubs]
        force = drag[:, None] * self._way_aside
        return self._applied(self.rubs, self.gone.points, force, lambda: self.gone.curve(drag))

    def _applied(
        self,
        which: slice | Index,
        points: CurvePoints,
        force: Array,
        slope: Callable[[], Array],
    ) -> Applied:
        slot = self.slot[which]
        lever = levers(self.place, points.element, self.frames.place[slot])
        return Applied(slot, points.element, lever, force, slope)

    @cached_property
    def _way_aside(self) -> Array:
        return self.gone.by_nodes()

    @cached_property
    def load(self) -> Array:
        """Of all pairs on the rod's nodes, shape (n, 6)."""
        total = np.zeros((len(self.place.nodes), FREEDOMS // 2))
        self.along.added(total)
        self.aside.added(total)
        return total

    def on_slots(self, slots: int) -> Array:
        """Return force and moment on every slot about its origin, shape (k, 6)."""
        total = np.zeros((slots, BODY))
        self.along.on_slots(total)
        self.aside.on_slots(total)
        return total

    @cached_property
    def along_by_push(self) -> Array:
        """Derivative of the forces `along` by the pairs' pushes, shape (p, 12)."""
        return self._per_push[0, :, None] * self.view.rub - self.view.across

    @cached_property
    def aside_by_push(self) -> Array:
        """Derivative of the forces `aside` by the pushes of the pairs that rub, shape (f, 12)."""
        return self._per_push[1, self.rubs, None] * self._way_aside

    @cached_property
    def by_share(self) -> tuple[Array, Array]:
        """Derivative of the forces along and aside by the shares of friction, each (f, 12)."""
        limit = (self.law.friction[self.near] * self.push)[self.rubs, None]
        return limit * self.view.rub[self.rubs], limit * self._way_aside

    @cached_property
    def way_by_nodes(self) -> tuple[Array, Array]:
        """Derivative of the ways of the edges along and aside by the nodes, each (f, 12)."""
        return self.view.slide[self.rubs], -self._way_aside

    @cached_property
    def gap_by_slot(self) -> Array:
        """Derivative of the gap by displacement and spin of the slot, shape (p, 6)."""
        return self.along.against(self.view.across)

    @cached_property
    def way_by_slot(self) -> tuple[Array, Array]:
        """Derivative of the ways of the edges along and aside by the slot's motion, each (f, 6)."""
        slide = -self.along.against(self.view.slide)[self.rubs]
        return slide, self.aside.against(self._way_aside)
