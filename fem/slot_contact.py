"""Forces of slots' edges on a rod, and how they follow the rod, the pushes and the slots."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gomphosis.fem.rod import Rod, RodPlace
from gomphosis.fem.rod_curve import Curves
from gomphosis.fem.rod_element import FREEDOMS, cross, skew
from gomphosis.fem.section import Array, Index
from gomphosis.fem.slot_edges import Edges, Flat, SlotFrames, nearest
from gomphosis.fem.slot_friction import Rub, rub
from gomphosis.fem.slot_view import BODY, Seen, seen

NEAR = 0.2  # mm; pairs further apart have no force
SLIDE = 0.002  # mm; elastic sliding (engineering choice)


@dataclass(frozen=True)
class Touches:
    """State of m pairs at the end of a step.

    Attributes
    ----------
    station
        Of the rod's material nearest to the edge, mm, shape (m,).
    push
        Normal force, N, shape (m,).
    share
        Of friction along the rod: drag over its limit, -1 to 1, shape (m,).
    """

    station: Array
    push: Array
    share: Array


@dataclass(frozen=True)
class Corner:
    """How sharp contact and friction set in.

    Parameters
    ----------
    rounding
        Of Fischer's corners, mm.
    softer
        Factor on the way over which friction builds up.
    """

    rounding: float = 0.0
    softer: float = 1.0


SHARP = Corner()


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
        return on[first], on[second], self.give[self.group[on[first]]]

    def given(self, push: Array) -> Array:
        """Return how far pushes, N, move the pairs' edges away from the rod, mm, shape (m,)."""
        first, second, compliance = self.partners
        return np.bincount(first, compliance * push[second], len(push))

    def curves(self, rod: Rod) -> Curves:
        """Return the curves of a rod that the pairs look at."""
        return Curves(rod.shape, self.offset)

    def found(self, rod: Rod, place: RodPlace, frames: SlotFrames, start: Array) -> Touches:
        """Return the pairs of a rod that touches nothing."""
        station = nearest(self.curves(rod), place, self.edges, frames, start).station
        return Touches(station, np.zeros_like(station), np.zeros_like(station))

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
        origins = frames.place[self.edges.slot[near]]
        view = seen(Curves(rod.shape, self.offset[near]), place, flat.take(near), origins)
        rubs = np.flatnonzero(self.friction[near] > 0.0)
        rubbed = self._rubbed(near[rubs], flat, share=share, before=before, corner=corner)
        shown = np.zeros_like(share)
        shown[near[rubs]] = share[near[rubs]]
        touches = Touches(flat.station, push, shown)
        astray = float((flat.astray * (push > 0.0)).max(initial=0.0))
        return Contact(self, near, rubs, view, gap, touches, rubbed, astray, len(place.nodes))

    def _rubbed(
        self, pairs: Index, flat: Flat, *, share: Array, before: Touches, corner: Corner
    ) -> Rub:
        return rub(
            share[pairs],
            (flat.station - before.station)[pairs],
            before=np.where(before.push[pairs] > 0.0, before.share[pairs], 0.0),
            elastic=corner.softer * self.elastic,
            rounding=corner.rounding,
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
    view
        The near pairs, looked at along the edges.
    gap
        Of all pairs, mm, shape (m,).
    touches
        State of all pairs, if this trial is kept.
    rubbed
        Condition of friction of the pairs that rub.
    astray
        How far the search for the nearest points of pairs that push was still going, mm.
    count
        Nodes of the rod.
    """

    law: EdgeContact
    near: Index
    rubs: Index
    view: Seen
    gap: Array
    touches: Touches
    rubbed: Rub
    astray: float
    count: int

    @cached_property
    def slot(self) -> Index:
        """Slot of every near pair, shape (p,)."""
        return self.law.edges.slot[self.near]

    @property
    def element(self) -> Index:
        """Element that each near pair's point lies in, shape (p,)."""
        return self.view.points.element

    @cached_property
    def push(self) -> Array:
        """Normal force of the near pairs, N, shape (p,)."""
        return self.touches.push[self.near]

    @cached_property
    def drag(self) -> Array:
        """Friction along the rod at the near pairs, N, shape (p,)."""
        return self._per_push * self.push

    @cached_property
    def _per_push(self) -> Array:
        return self.law.friction[self.near] * self.touches.share[self.near]

    @cached_property
    def force(self) -> Array:
        """Of each near pair on the nodes of its element, N and N·mm, shape (p, 12)."""
        return self.drag[:, None] * self.view.rub - self.push[:, None] * self.view.across

    @cached_property
    def load(self) -> Array:
        """Of all pairs on the rod's nodes, shape (n, 6)."""
        total = np.zeros((self.count, FREEDOMS // 2))
        np.add.at(total, self.element, self.force[:, :6])
        np.add.at(total, self.element + 1, self.force[:, 6:])
        return total

    @cached_property
    def by_nodes(self) -> Array:
        """Derivative of `force` by the element's nodes, shape (p, 12, 12)."""
        return self.view.curve(-self.push, self.drag)

    @cached_property
    def by_push(self) -> Array:
        """Derivative of `force` by the pair's push, shape (p, 12)."""
        return self._per_push[:, None] * self.view.rub - self.view.across

    @cached_property
    def by_share(self) -> Array:
        """Derivative of `force` of the pairs that rub by the share of friction, shape (f, 12)."""
        limit = self.law.friction[self.near] * self.push
        return limit[self.rubs, None] * self.view.rub[self.rubs]

    @cached_property
    def by_slot(self) -> Array:
        """Derivative of `force` by displacement and spin of the slot, shape (p, 12, 6)."""
        result = -self.by_nodes @ self.view.rigid
        # what the slot carries along turns with it
        result[:, :, 3:] -= skew(self.force.reshape(-1, 4, 3)).reshape(-1, FREEDOMS, 3)
        return result

    @cached_property
    def gap_by_slot(self) -> Array:
        """Derivative of the gap by displacement and spin of the slot, shape (p, 6)."""
        return _against(self.view.across, self.view.rigid)

    @cached_property
    def slide_by_slot(self) -> Array:
        """Derivative of the stations of pairs that rub by the slot's motion, shape (f, 6)."""
        return -_against(self.view.slide[self.rubs], self.view.rigid[self.rubs])

    def on_slots(self, slots: int) -> Array:
        """Return force and moment on every slot about its origin, shape (k, 6)."""
        ends = self.force.reshape(-1, 2, 2, 3)
        pair = np.empty((len(ends), BODY))
        pair[:, :3] = -ends[:, :, 0].sum(axis=1)
        pair[:, 3:] = -(ends[:, :, 1] + cross(self.view.lever, ends[:, :, 0])).sum(axis=1)
        total = np.zeros((slots, BODY))
        np.add.at(total, self.slot, pair)
        return total

    @cached_property
    def pair_by_nodes(self) -> Array:
        """Derivative of each pair's load on its slot by the nodes, shape (p, 6, 12)."""
        result = -np.swapaxes(self.view.rigid, 1, 2) @ self.by_nodes
        for end in range(2):
            move = slice(6 * end, 6 * end + 3)
            result[:, 3:, move] += skew(self.force[:, move])
        return result

    @cached_property
    def pair_by_push(self) -> Array:
        """Derivative of each pair's load on its slot by the push, shape (p, 6)."""
        return -_against(self.by_push, self.view.rigid)

    @cached_property
    def pair_by_share(self) -> Array:
        """Derivative of the load on its slot of each pair that rubs by the share, shape (f, 6)."""
        return -_against(self.by_share, self.view.rigid[self.rubs])

    @cached_property
    def pair_by_slot(self) -> Array:
        """Derivative of each pair's load on its slot by the slot's motion, shape (p, 6, 6)."""
        result = -np.swapaxes(self.view.rigid, 1, 2) @ self.by_slot
        total = self.force[:, :3] + self.force[:, 6:9]
        result[:, 3:, :3] -= skew(total)
        return result


def _against(load: Array, motion: Array) -> Array:
    """Return the work of loads (p, 12) on motions (p, 12, 6), shape (p, 6)."""
    return (load[:, None] @ motion)[:, 0]
