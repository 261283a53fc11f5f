"""Forces of slots' edges on a rod, and how they follow the rod, the pushes and the slots."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from gomphosis.fem.rod import Rod, RodPlace
from gomphosis.fem.rod_curve import Curves
from gomphosis.fem.rod_element import FREEDOMS, skew
from gomphosis.fem.section import Array, Index
from gomphosis.fem.slot_edges import Edges, Seen, SlotFrames, nearest, seen
from gomphosis.fem.slot_friction import Rub, rub

NEAR = 0.2  # mm; pairs further apart have no force
SLIDE = 0.002  # mm; elastic sliding (engineering choice)
SLOT = 6  # freedoms of a slot's motion


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
    def shared(self) -> Array:
        """Way that each edge gives per push on each, mm/N, shape (m, m)."""
        same = (self.group[:, None] == self.group[None, :]) & (self.group >= 0)[:, None]
        compliance = np.append(self.give, 0.0)[self.group]
        return np.where(same, compliance[:, None], 0.0)

    def curves(self, rod: Rod) -> Curves:
        """Return the curves of a rod that the pairs look at."""
        return Curves(rod.shape, self.offset)

    def found(self, rod: Rod, place: RodPlace, frames: SlotFrames, start: Array) -> Touches:
        """Return the pairs of a rod that touches nothing."""
        station = nearest(self.curves(rod), place, self.edges, frames, start)
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
        corner: Corner,
    ) -> "Contact":
        """Return the contact at a trial place, under trial forces, after a step's start."""
        curves = self.curves(rod)
        station = nearest(curves, place, self.edges, frames, before.station)
        whole = seen(curves, place, self.edges, frames, station)
        gap = -whole.off - self.edges.radius + self.shared @ push
        near = np.flatnonzero((gap < NEAR) | (push > 0.0))
        edges = self.edges.take(near)
        part = seen(replace(curves, offset=self.offset[near]), place, edges, frames, station[near])
        rubs = np.flatnonzero(self.friction[near] > 0.0)
        pairs = near[rubs]
        rubbed = rub(
            share[pairs],
            (station - before.station)[pairs],
            before=np.where(before.push[pairs] > 0.0, before.share[pairs], 0.0),
            elastic=corner.softer * self.elastic,
            rounding=corner.rounding,
        )
        shown = np.zeros_like(push)
        shown[pairs] = share[pairs]
        touches = Touches(station, push, shown)
        return Contact(self, near, rubs, part, gap, touches, rubbed, len(place.nodes))


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
    count: int

    @property
    def slot(self) -> Index:
        """Slot of every near pair, shape (p,)."""
        return self.law.edges.slot[self.near]

    @property
    def element(self) -> Index:
        """Element that each near pair's point lies in, shape (p,)."""
        return self.view.points.element

    @cached_property
    def drag(self) -> Array:
        """Friction along the rod at the near pairs, N, shape (p,)."""
        return self._per_push * self.touches.push[self.near]

    @property
    def _per_push(self) -> Array:
        return self.law.friction[self.near] * self.touches.share[self.near]

    @cached_property
    def force(self) -> Array:
        """Of each near pair on the nodes of its element, N and N·mm, shape (p, 12)."""
        push = self.touches.push[self.near]
        return self.drag[:, None] * self.view.rub - push[:, None] * self.view.across

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
        result = -self.touches.push[self.near, None, None] * self.view.across_curve()
        if len(self.rubs):
            result += self.drag[:, None, None] * self.view.rub_curve()
        return result

    @property
    def by_push(self) -> Array:
        """Derivative of `force` by the pair's push, shape (p, 12)."""
        return self._per_push[:, None] * self.view.rub - self.view.across

    @property
    def by_share(self) -> Array:
        """Derivative of `force` of the pairs that rub by the share of friction, shape (f, 12)."""
        limit = self.law.friction[self.near] * self.touches.push[self.near]
        return (limit[:, None] * self.view.rub)[self.rubs]

    @cached_property
    def by_slot(self) -> Array:
        """Derivative of `force` by displacement and spin of the slot, shape (p, 12, 6)."""
        turned = np.zeros((len(self.near), FREEDOMS, SLOT))
        for part in range(4):
            rows = slice(3 * part, 3 * part + 3)
            turned[:, rows, 3:] = -skew(self.force[:, rows])
        return turned - self.by_nodes @ self.view.rigid

    @cached_property
    def gap_by_slot(self) -> Array:
        """Derivative of the gap by displacement and spin of the slot, shape (p, 6)."""
        return np.einsum("pf,pfs->ps", self.view.across, self.view.rigid)

    @cached_property
    def slide_by_slot(self) -> Array:
        """Derivative of the stations of pairs that rub by the slot's motion, shape (f, 6)."""
        rubs = self.rubs
        return -np.einsum("pf,pfs->ps", self.view.slide[rubs], self.view.rigid[rubs])

    def on_slots(self, slots: int) -> Array:
        """Return force and moment on every slot about its origin, shape (k, 6)."""
        total = np.zeros((slots, SLOT))
        np.add.at(total, self.slot, -np.einsum("pfs,pf->ps", self.view.rigid, self.force))
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
        return -np.einsum("pfs,pf->ps", self.view.rigid, self.by_push)

    @property
    def pair_by_share(self) -> Array:
        """Derivative of the load on its slot of each pair that rubs by the share, shape (f, 6)."""
        return -np.einsum("pfs,pf->ps", self.view.rigid[self.rubs], self.by_share)

    @cached_property
    def pair_by_slot(self) -> Array:
        """Derivative of each pair's load on its slot by the slot's motion, shape (p, 6, 6)."""
        result = -np.swapaxes(self.view.rigid, 1, 2) @ self.by_slot
        total = self.force[:, :3] + self.force[:, 6:9]
        result[:, 3:, :3] -= skew(total)
        return result
