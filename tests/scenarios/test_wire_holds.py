"""Verification of what keeps a wire from sliding along its slots, or a round one from rolling."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.fem.rod import RodPlace
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slotted_wire import ArchWire, Stop
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_holds import Lie, anchored, crimps, in_use, some, still_in_use
from gomphosis.scenarios.wire_shape import WireShape

SIZE = SlotSize(0.56, 0.7, 3.0)
ROUND = WireSection(0.4, 0.4, round=True)
OBLONG = WireSection(0.4, 0.6, round=False)
BOTH = (Stop(0, -1), Stop(2, 1))
# along y, occlusal z, labial x
AXES = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


def lie(*, roll=0.0, turned=0.0):
    """Return nodes every half millimetre from -12 to 12 mm, slots at -7, 0.1 and 7 mm."""
    along = np.linspace(-12.0, 12.0, 49)
    nodes = np.stack([0 * along, along, 0 * along], axis=1)
    triad = AXES @ Rotation.from_rotvec([roll, 0, 0]).as_matrix()
    slot = AXES @ Rotation.from_rotvec([turned, 0, 0]).as_matrix()
    place = np.array([[0.0, at, 0.0] for at in (-7.0, 0.1, 7.0)])
    return Lie(RodPlace(nodes, np.array(49 * [triad])), SlotFrames(place, np.array(3 * [slot])))


def wire(section=OBLONG, **options):
    return ArchWire(
        section.elastic_section(5e4, 0.3),
        section,
        WireShape(StraightLine()),
        sizes=3 * (SIZE,),
        ties=3 * (Ligation(),),
        **options,
    )


def rows(holds):
    """Return node, slot, about, side and place of every hold."""
    parts = (holds.node, holds.slot, holds.about, holds.side, holds.at)
    return [tuple(part.tolist()[k] for part in parts) for k in range(len(holds.node))]


def test_places_along_a_slot_are_those_of_nodes_nearby():
    along = lie().along(0)
    near = np.abs(np.linspace(-5.0, 19.0, 49)) < 6.0
    np.testing.assert_allclose(along[near], np.linspace(-5.0, 19.0, 49)[near], atol=1e-12)
    assert np.all(np.isinf(along[~near]))


def test_a_hold_takes_the_node_nearest_to_a_place_and_keeps_it_where_it_is():
    # 1.5 mm beyond 0.1 mm is 1.6 mm; the node at 1.5 mm is nearest
    ((node, slot, about, side, at),) = rows(lie().hold(1, 1.5, 1))
    assert (node, slot, about, side) == (27, 1, False, -1.0)
    assert at == pytest.approx(1.4, abs=1e-12)
    assert rows(lie().hold(1, -1.5, -1))[0][:4] == (21, 1, False, 1.0)


@pytest.mark.parametrize(("roll", "turned"), [(0.0, 0.0), (0.3, 0.0), (0.3, 0.1)])
def test_a_hold_about_the_wire_keeps_the_turn_it_has(roll, turned):
    ((node, slot, about, side, at),) = rows(lie(roll=roll, turned=turned).spin(1))
    assert (node, slot, about, side) == (24, 1, True, 0.0)
    # the wire's third axis on the slot's second
    assert at == pytest.approx(np.sin(turned - roll), abs=1e-12)


def test_a_wire_without_friction_is_anchored_in_its_middle_slot():
    oblong, round_wire = anchored(wire(), lie()), anchored(wire(ROUND), lie())
    assert [row[:4] for row in rows(oblong)] == [(24, 1, False, 0.0)]
    assert [row[:4] for row in rows(round_wire)] == [(24, 1, True, 0.0), (24, 1, False, 0.0)]
    two = replace(wire(), sizes=2 * (SIZE,), ties=2 * (Ligation(),))
    assert rows(anchored(two, lie()))[0][1] == 0


def test_crimps_stand_at_the_ends_of_their_slots_and_hold_one_way():
    found = rows(in_use(wire(stops=BOTH, friction=0.2), lie()))
    # nodes at -8.5 and 8.5 mm
    assert [row[:4] for row in found] == [(7, 0, False, 1.0), (41, 2, False, -1.0)]
    np.testing.assert_allclose([row[4] for row in found], [-1.5, 1.5], atol=1e-12)


@pytest.mark.parametrize(
    ("options", "anchor"),
    [({}, True), ({"friction": 0.1}, False), ({"stops": BOTH}, False), ({"stops": BOTH[:1]}, True)],
    ids=["nothing", "friction", "both ends", "one end"],
)
def test_what_holds_besides_crimps(options, anchor):
    """Verification: a wire is held once along itself, and a round one once about itself."""
    oblong, round_wire = (still_in_use(wire(s, **options), lie()) for s in (OBLONG, ROUND))
    along = [(24, 1, False, 0.0)] if anchor else []
    assert [row[:4] for row in rows(oblong)] == along
    assert [row[:4] for row in rows(round_wire)] == [(24, 1, True, 0.0), *along]
    with_crimps = rows(in_use(wire(ROUND, **options), lie()))
    assert with_crimps[len(options.get("stops", ())) :] == rows(round_wire)


def test_crimps_are_found_among_holds():
    holds = in_use(wire(ROUND, stops=BOTH[1:]), lie())
    assert [row[:4] for row in rows(crimps(holds))] == [(41, 2, False, -1.0)]
    assert [row[:3] for row in rows(some(holds, holds.about))] == [(24, 1, True)]
    assert rows(some(holds, np.zeros(3, dtype=bool))) == []
