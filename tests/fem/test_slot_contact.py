"""Forces of slots' edges on a rod. Verification: central differences, statics, closed forms."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.fem.slot_applied import Applied
from gomphosis.fem.slot_contact import NEAR, OWN, EdgeContact
from gomphosis.fem.slot_edges import SlotFrames

MU = 0.3


class Setting:
    """A bent rod in turned slots, pushed and dragged by all edges within reach."""

    def __init__(self, made, shifted, flat):
        rng = np.random.default_rng(11)
        self.what = made.what
        self.law, self.rod = made.what.contact, made.what.rod
        count = len(made.frames.place)
        self.frames = shifted(made.frames, 0.05 * rng.normal(size=(count, 6)))
        nodes = len(self.rod.shape.stations)
        self.place = self.rod.shape.place.moved(0.03 * rng.normal(size=(nodes, 6)))
        pairs = len(self.law.friction)
        self.push = rng.uniform(0.5, 2.0, pairs)
        self.share = rng.uniform(-1.0, 1.0, (2, pairs))
        self.before = made.state.touches
        self.shifted = shifted

    def at(self, *, place=None, frames=None, push=None, share=None):
        return self.law.at(
            self.rod,
            self.place if place is None else place,
            self.frames if frames is None else frames,
            push=self.push if push is None else push,
            share=self.share if share is None else share,
            before=self.before,
        )

    def by_nodes(self, differences, element, quantity):
        """Differences by the nodes of each pair's own element, along a last axis."""

        def at(motion):
            k, results = int(np.argmax(np.abs(motion))), {}
            for e in np.unique(element):
                nodal = np.zeros((len(self.place.nodes), 6))
                nodal[e + k // 6, k % 6] = motion[k]
                results[e] = quantity(self.at(place=self.place.moved(nodal)))
            return np.stack([results[e][i] for i, e in enumerate(element)])

        return differences(at, 12, 3e-6)

    def by_slot(self, differences, quantity):
        """Differences by the motion of each pair's own slot: all slots move alike at once."""

        def at(motion):
            all_alike = np.tile(motion, (len(self.frames.place), 1))
            return quantity(self.at(frames=self.shifted(self.frames, all_alike)))

        return differences(at, 6, 3e-6)


@pytest.fixture(scope="module", params=[False, True], ids=["round", "flat"])
def setting(request, row, shifted):
    made = row(count=2, per=2, flat=request.param, friction=MU, lids=0.01)
    found = Setting(made, shifted, request.param)
    contact = found.at()
    assert len(contact.near) == len(found.push) == len(contact.rubs)
    return found


@pytest.fixture(params=["along", "aside"])
def part(request):
    return request.param


def near(exact, ours, worst=1e-6):
    np.testing.assert_allclose(ours, exact, rtol=0, atol=worst * max(1.0, np.abs(exact).max()))
    assert np.abs(exact).max() > 0.01


def test_forces_follow_the_nodes_as_differences_do(setting, part, differences):
    here: Applied = getattr(setting.at(), part)
    exact = setting.by_nodes(differences, here.element, lambda c: getattr(c, part).force)
    near(exact, here.by_nodes)

    def load(contact):
        applied = getattr(contact, part)
        return -applied.against(applied.force)

    near(setting.by_nodes(differences, here.element, load), here.load_by_nodes)


def test_forces_follow_the_slots_as_differences_do(setting, part, differences):
    here: Applied = getattr(setting.at(), part)
    near(setting.by_slot(differences, lambda c: getattr(c, part).force), here.by_slot)

    def load(contact):
        applied = getattr(contact, part)
        return -applied.against(applied.force)

    near(setting.by_slot(differences, load), here.load_by_slot)


def test_forces_are_linear_in_push_and_share(setting):
    """So differences of any size are exact."""
    here = setting.at()
    more = setting.at(push=setting.push + 1.0)
    near(more.along.force - here.along.force, here.along_by_push, 1e-12)
    near(more.aside.force - here.aside.force, here.aside_by_push, 1e-12)
    for kind, part in enumerate(("along", "aside")):
        share = setting.share.copy()
        share[kind] += 0.1
        gain = getattr(setting.at(share=share), part).force - getattr(here, part).force
        near(gain / 0.1, here.by_share[kind], 1e-12)


def test_gaps_and_ways_follow_nodes_and_slots_as_differences_do(setting, differences):
    here = setting.at()
    element = here.along.element
    near(setting.by_nodes(differences, element, lambda c: c.gap), -here.view.across)
    near(setting.by_slot(differences, lambda c: c.gap), here.gap_by_slot)

    def along(contact):
        return contact.touches.station

    near(setting.by_nodes(differences, element, along), here.way_by_nodes[0])
    near(setting.by_slot(differences, along), here.way_by_slot[0])

    def aside(contact):
        return -contact.gone.way

    near(setting.by_nodes(differences, here.aside.element, aside), here.way_by_nodes[1])
    near(setting.by_slot(differences, aside), here.way_by_slot[1])


def test_rod_and_slots_push_each_other_the_opposite_way(setting):
    """Statics: forces and moments of nodes and slots about the origin add up to nothing."""
    contact = setting.at()
    nodes, slots = setting.place.nodes, setting.frames.place
    on_rod, on_slots = contact.load, contact.on_slots(len(slots))
    force = on_rod[:, :3].sum(axis=0) + on_slots[:, :3].sum(axis=0)
    moment = (on_rod[:, 3:] + np.cross(nodes, on_rod[:, :3])).sum(axis=0)
    moment += (on_slots[:, 3:] + np.cross(slots, on_slots[:, :3])).sum(axis=0)
    np.testing.assert_allclose(force, 0.0, rtol=0, atol=1e-12)
    np.testing.assert_allclose(moment, 0.0, rtol=0, atol=1e-11)
    assert np.abs(on_slots).max() > 1.0


def test_a_push_is_normal_to_curve_and_edge_and_friction_along_them(setting):
    """Their resultants on the rod: N to the rod's side, mu N z along the surface and the edge."""
    contact = setting.at()
    view, push, slot = contact.view, contact.push, contact.slot
    force = contact.along.force.reshape(-1, 2, 2, 3)[:, :, 0].sum(axis=1)
    drag = MU * push * setting.share[0]
    np.testing.assert_allclose(
        force, drag[:, None] * view.tangent - push[:, None] * view.normal, rtol=0, atol=1e-12
    )
    triads = setting.frames.triads[slot]
    axis = triads[np.arange(len(slot)), :, setting.law.edges.axis]
    out = setting.law.edges.side[:, None] * axis
    np.testing.assert_allclose(np.sum(view.normal * out, axis=1) > 0.9, True)
    edge = np.cross(triads[:, :, 0], out)
    np.testing.assert_allclose(np.sum(view.normal * edge, axis=1), 0.0, atol=1e-14)
    aside = contact.aside.force.reshape(-1, 2, 2, 3)[:, :, 0].sum(axis=1)
    drag = MU * push * setting.share[1]
    np.testing.assert_allclose(aside, drag[:, None] * edge, rtol=0, atol=1e-12)


def test_edges_do_not_turn_a_round_rod_about_its_centre_line(row, shifted):
    """Pushes and friction along it stand on the line or turn it sideways only."""
    made = row(count=2, per=2, friction=MU)
    here = Setting(made, shifted, False)
    contact = here.at()
    points, ends = contact.view.points, contact.along.force.reshape(-1, 2, 2, 3)
    nodes = np.stack([here.place.nodes[points.element], here.place.nodes[points.element + 1]], 1)
    lever = nodes - points.path[0][:, None]
    moment = (ends[:, :, 1] + np.cross(lever, ends[:, :, 0])).sum(axis=1)
    about = np.sum(moment * points.path[1], axis=1)
    np.testing.assert_allclose(about, 0.0, rtol=0, atol=1e-12)
    assert np.abs(moment).max() > 0.1


def test_friction_aside_turns_a_round_rod_by_its_radius(row, shifted):
    """A straight rod square to its edges: moment = radius x friction, about its centre line."""
    made = row(count=2, per=2, friction=MU)
    here = Setting(made, shifted, False)
    here.place, here.frames = here.rod.shape.place, made.frames
    contact = here.at()
    ends = contact.aside.force.reshape(-1, 2, 2, 3)
    about = ends[:, :, 1, 0].sum(axis=1)
    drag = MU * here.push * here.share[1]
    np.testing.assert_allclose(about, 0.1778 * drag, rtol=0, atol=1e-12)


def rolled(made, angle):
    """The straight rod turned about itself by an angle."""
    turn = np.zeros((len(made.what.rod.shape.stations), 6))
    turn[:, 3] = angle
    return made.what.rod.shape.place.moved(turn)


def test_a_rod_that_rolls_or_moves_along_its_edges_has_gone_aside_by_that(row, shifted):
    """Closed forms: radius x sine of the turn; a motion square to the rod; both unseen along."""
    made = row(count=2, per=2, friction=MU)
    here = Setting(made, shifted, False)
    turned = here.law.at(
        here.rod, rolled(made, 0.2), made.frames, push=here.push, share=here.share,
        before=here.before,
    )  # fmt: skip
    np.testing.assert_allclose(turned.gone.way, 0.1778 * np.sin(0.2), rtol=0, atol=1e-13)
    np.testing.assert_allclose(turned.touches.station, here.before.station, atol=1e-13)
    motion = np.tile([0.0, 0.01, 0.02, 0, 0, 0], (len(here.rod.shape.stations), 1))
    shift = here.law.at(
        here.rod, here.rod.shape.place.moved(motion), made.frames, push=here.push,
        share=here.share, before=here.before,
    )  # fmt: skip
    edges = here.law.edges
    # an edge across the second axis runs along the third one, and round: along x out = edge
    exact = edges.side * np.where(edges.axis == 1, 0.02, -0.01)
    np.testing.assert_allclose(shift.gone.way, exact, rtol=0, atol=1e-13)


@pytest.mark.parametrize("flat", [False, True])
def test_a_rigid_motion_of_all_turns_forces_and_changes_nothing_else(flat, row, shifted, carried):
    """Objectivity, to 1e-10."""
    made = row(count=2, per=2, flat=flat, friction=MU)
    here = Setting(made, shifted, flat)
    # the state before is one of this very place
    here.before = here.law.found(here.rod, here.place, here.frames, here.before.station)
    turn = shifted(made.frames, np.full((2, 6), 0.7)).triads[0]
    shift = np.array([5.0, 3.0, -4.0])
    away = SlotFrames(here.frames.place @ turn.T + shift, turn @ here.frames.triads)
    one, other = here.at(), here.at(place=carried(here.place, turn, shift), frames=away)
    np.testing.assert_allclose(other.gap, one.gap, rtol=0, atol=1e-10)
    np.testing.assert_allclose(other.rubbed.left, one.rubbed.left, rtol=0, atol=1e-10)
    np.testing.assert_allclose(other.gone.way, 0.0, rtol=0, atol=1e-10)
    both = (one.load, other.load), (one.on_slots(2), other.on_slots(2))
    for before, after in both:
        expected = (before.reshape(-1, 2, 3) @ turn.T).reshape(-1, 6)
        np.testing.assert_allclose(after, expected, rtol=0, atol=1e-10)


def test_pairs_out_of_reach_have_no_force(row):
    """Moved up by 0.1 mm the rod is within 0.2 mm of some walls only."""
    made = row(count=2)
    motion = np.tile([0.0, 0.1, 0.0, 0, 0, 0], (len(made.what.rod.shape.stations), 1))
    none = np.zeros(len(made.what.contact.friction))
    law, rod = made.what.contact, made.what.rod
    contact = law.at(
        rod, rod.shape.place.moved(motion), made.frames, push=none, share=np.zeros((2, len(none))),
        before=made.state.touches,
    )  # fmt: skip
    edges = law.edges
    walls = np.where(edges.axis == 1, 0.5588, 0.7112) / 2
    gaps = walls - 0.1778 - np.where(edges.axis == 1, edges.side * 0.1, 0.0)
    # across the third axis the rod is 0.1 mm off the edge's middle, which is not seen
    np.testing.assert_allclose(contact.gap, gaps, rtol=0, atol=1e-13)
    np.testing.assert_array_equal(contact.near, np.flatnonzero(gaps < NEAR))
    assert 0 < len(contact.near) < len(gaps)
    np.testing.assert_array_equal(contact.load, 0.0)


def test_edges_of_one_support_give_way_together(row):
    """Each by the compliance times the sum of the pushes on it, and a little by its own."""
    made = row(flat=True, lids=0.02)
    law: EdgeContact = made.what.contact
    push = np.random.default_rng(1).uniform(0.0, 1.0, len(law.friction))
    given = law.given(push)
    assert np.sum(law.group >= 0) == 3 * 2 * 4
    for k, group in enumerate(law.group):
        others = push[law.group == group].sum() - push[k]
        exact = 0.02 * (push[k] + others / (1.0 + OWN)) if group >= 0 else 0.0
        assert given[k] == pytest.approx(exact, abs=1e-15)
    rigid = replace(law, group=np.full(len(push), -1), give=np.zeros(0))
    np.testing.assert_array_equal(rigid.given(push), 0.0)
