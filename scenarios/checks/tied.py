"""A wire in rigid ties at the slots' points: what closed forms of clamped beams are about.

A tie holds the wire across the slot and in rotation about both axes across it, in torsion too
where asked. Along itself the wire slides, but at the tie in the middle.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from gomphosis.fem.chain import FREEDOMS
from gomphosis.fem.rod import Rod
from gomphosis.fem.rod_equilibrium import Equilibrium, Grips, between, reach
from gomphosis.fem.section import Array, Index
from gomphosis.fem.section_response import SectionLaw
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.scenarios.slots import Bracket, Slots
from gomphosis.scenarios.wire_shape import WireShape

ALONG, ABOUT = 0, 3  # components of a tie in its own axes
PER_SPAN = 8  # elements between neighbouring ties
PASSES = 2  # the second with nodes where the ties are after the wire has slid


def tied_wrenches(
    brackets: Sequence[Bracket],
    law: SectionLaw,
    shape: WireShape,
    *,
    twist_held: bool = False,
    cinched: bool = False,
) -> Array:
    """Return force and moment about every crest, tooth frames, N and N·mm, shape (n, 6).

    Parameters
    ----------
    brackets
        In order along the wire, displaced as they start.
    twist_held
        Whether ties hold the wire's rotation about itself; one tie always does, since nothing
        else keeps a straight round wire from rolling.
    cinched
        Whether both end ties hold the wire along itself, and not the one in the middle.

    Raises
    ------
    NotConvergedError
        If the wire finds no equilibrium.
    """
    slots = Slots(brackets, shape)
    frames = slots.at(np.zeros((len(brackets), FREEDOMS)))
    held = _held(len(brackets), twist_held=twist_held, cinched=cinched)
    station = slots.aligned
    for _ in range(PASSES):
        found, order = _tied(law, shape, station, frames, held)
        slip = np.einsum("ni,ni->n", -_lever(found), found.grips.triads[:, :, ALONG])
        # of what a tie does not hold the wire; a node then stands in it
        station = station + np.where(found.grips.held[:, ALONG], 0.0, slip)[np.argsort(order)]
    load = -found.reaction[np.argsort(order)]
    return np.einsum("nij,nj->ni", slots.to_crest, load)


def _tied(
    law: SectionLaw,
    shape: WireShape,
    station: Array,
    frames: SlotFrames,
    held: npt.NDArray[np.bool_],
) -> tuple[Equilibrium, Index]:
    """Return the wire with nodes at stations in the ties, and the ties in the nodes' order."""
    mesh = shape.mesh(station, per_span=PER_SPAN)
    rod = Rod(mesh.shape, law)
    free = rod.at_rest()
    order = np.argsort(mesh.slots)
    nodes = mesh.slots[order]
    ties = Grips(nodes, free.place.nodes[nodes], free.place.triads[nodes], held[order])
    there = ties.at(frames.place[order], frames.triads[order])
    return reach(rod, free, between(ties, there)), order


def _held(count: int, *, twist_held: bool, cinched: bool) -> npt.NDArray[np.bool_]:
    held = np.ones((count, FREEDOMS), dtype=bool)
    middle = (count - 1) // 2
    held[:, ALONG] = False
    held[[0, -1] if cinched else [middle], ALONG] = True
    held[:, ABOUT] = twist_held
    held[middle, ABOUT] = True
    return held


def _lever(found: Equilibrium) -> Array:
    """Return the way from every tie's origin to its node, mm, shape (n, 3)."""
    return found.state.place.nodes[found.grips.nodes] - found.grips.place
