"""A straight rod in a row of slots, and central differences, for the tests of slots."""

from typing import NamedTuple

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import Rod, RodPlace, RodShape
from gomphosis.fem.section_response import ElasticSection
from gomphosis.fem.slot_contact import EdgeContact
from gomphosis.fem.slot_edges import Edges, SlotFrames
from gomphosis.fem.slot_equilibrium import untouched
from gomphosis.fem.slot_holds import Holds
from gomphosis.fem.slot_state import SlottedRod, SlottedState

HEIGHT, DEPTH = 0.5588, 0.7112  # of a slot, mm
ROUND, FLAT = ElasticSection(2e4, 90.0, 90.0, 70.0), ElasticSection(2e4, 120.0, 90.0, 70.0)


class Row(NamedTuple):
    """A rod in slots, where the slots are, and the rod touching nothing."""

    what: SlottedRod
    frames: SlotFrames
    state: SlottedState


def _stations(centres, width, per, beyond):
    """Nodes at the middle and the edges of every slot, two elements in each half, some between."""
    parts = [[centres[0] - width / 2 - beyond]]
    for centre, after in zip(centres, [*centres[1:], None], strict=True):
        parts.append(np.linspace(centre - width / 2, centre + width / 2, 5))
        if after is not None:
            span = np.linspace(centre + width / 2, after - width / 2, per + 1)
            parts.append(span[1:-1])
    parts.append([centres[-1] + width / 2 + beyond])
    return np.concatenate(parts)


def _edges(count, width, flat):
    """Return pairs and offsets: a round rod's centre line, or four edges rounded by 0.05 mm."""
    radius = 0.05 if flat else 0.1778
    curves = [(0.0, 0.0)]
    if flat:
        curves = [(y, z) for y in (-0.1913, 0.1913) for z in (-0.2675, 0.2675)]
    rows = [
        (slot, end * width / 2, axis, side, side * size / 2, *curve)
        for slot in range(count)
        for end in (-1.0, 1.0)
        for axis, size in ((1, HEIGHT), (2, DEPTH))
        for side in (1.0, -1.0)
        for curve in curves
    ]
    slot, along, axis, side, height, y, z = (np.array(part) for part in zip(*rows, strict=True))
    edges = Edges(slot, along, axis, side, height, np.full(len(rows), radius))
    return edges, np.stack([y, z], axis=1)


def _row(
    *,
    count=3,
    spacing=8.0,
    width=3.0,
    flat=False,
    law=None,
    friction=0.0,
    compliance=0.0,
    lids=0.0,
    per=4,
    holds=("along", "about"),
):
    """Return a row; `lids` is the compliance of what closes every slot's either end, mm/N."""
    centres = spacing * np.arange(count)
    stations = _stations(centres, width, per, 3.0)
    nodes = stations[:, None] * [1.0, 0.0, 0.0]
    triads = np.broadcast_to(np.eye(3), (len(nodes), 3, 3)).copy()
    shape = RodShape(RodPlace(nodes, triads), np.diff(stations), None, stations[0])
    rod = Rod(shape, law or (FLAT if flat else ROUND))
    edges, offset = _edges(count, width, flat)
    lid = (edges.axis == 2) & (edges.side > 0) & (lids > 0)
    group = np.where(lid, 2 * edges.slot + (edges.along > 0), -1)
    contact = EdgeContact(
        edges, offset, np.full(len(offset), friction), group, np.full(2 * count, lids)
    )
    middle = (count - 1) // 2
    node = int(np.argmin(np.abs(stations - centres[middle])))
    held = Holds.none()
    for kind in holds:
        held = held + hold(node, middle, about=kind == "about")
    what = SlottedRod(rod, contact, held, np.full(count, compliance))
    place = centres[:, None] * [1.0, 0.0, 0.0]
    frames = SlotFrames(place, np.broadcast_to(np.eye(3), (count, 3, 3)).copy())
    return Row(what, frames, untouched(what, rod.at_rest(), frames))


def hold(node, slot, *, about=False, side=0.0, at=0.0):
    return Holds(*(np.array([part]) for part in (node, slot, about, float(side), float(at))))


def _shifted(frames, motion):
    """Return frames after displacements and spins, shape (k, 6)."""
    turn = Rotation.from_rotvec(motion[:, 3:]).as_matrix()
    return SlotFrames(frames.place + motion[:, :3], turn @ frames.triads)


def _differences(at, count, step=1e-6):
    """Return central differences of at(unit · step) over units of a space, along a last axis."""
    slopes = [(at(step * unit) - at(-step * unit)) / (2 * step) for unit in np.eye(count)]
    return np.stack(slopes, axis=-1)


def _carried(place, turn, shift):
    """Return a place moved as a rigid body."""
    return RodPlace(place.nodes @ turn.T + shift, turn @ place.triads)


@pytest.fixture(scope="session")
def row():
    return _row


@pytest.fixture(scope="session")
def one_hold():
    return hold


@pytest.fixture(scope="session")
def shifted():
    return _shifted


@pytest.fixture(scope="session")
def differences():
    return _differences


@pytest.fixture(scope="session")
def carried():
    return _carried
