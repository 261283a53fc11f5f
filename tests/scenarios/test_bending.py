"""Three-point bend: verification of path, contact, energy and set; failures are told.

The numbers against the outside stand in `scenarios.checks.bending`; here is what every wire must
do. Wires are 0.016 in, deflections few, so that a bend takes a fraction of a second.
"""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section_response import ElasticSection
from gomphosis.scenarios import bending, bending_walk
from gomphosis.scenarios.alloys import library_alloy, section_law
from gomphosis.scenarios.bend_trial import SectionTrial, Specimen, ThreePointTrial
from gomphosis.scenarios.bending import (
    ThreePoint,
    three_point,
    usual_path,
    with_halved_increments,
)
from gomphosis.scenarios.bending_numbers import (
    bending_rate,
    branches,
    loading_forces,
    offset_force,
    permanent_deflection,
    section_error,
    unloading_forces,
)
from gomphosis.scenarios.checks.elastica import elastica_load
from gomphosis.scenarios.refusal import Refused
from gomphosis.scenarios.wire import WireSection

THICK = 0.4064
ROUND = WireSection(THICK, THICK, round=True)
OBLONG = WireSection(THICK, 0.5588, round=False)
FIXTURE = ThreePoint(thickness=THICK)
CYCLE = np.array([0.5, 1.0, 2.0, 3.0, 3.1, 3.0, 2.5, 2.0, 1.0, 0.5, 0.2, 0.0])
# E I and deflection over span of an elastic wire
RIGIDITY = 80.0
ELASTIC = ElasticSection(1e6, RIGIDITY, RIGIDITY, RIGIDITY)


def law(alloy: str = "nickel-titanium", section: WireSection = ROUND, temperature: float = 37.0):
    return section_law(section, library_alloy(alloy), temperature=temperature)


@pytest.fixture(scope="module")
def superelastic():
    return three_point(law(), deflections=CYCLE, setup=FIXTURE)


@pytest.fixture(scope="module")
def rubbed():
    return three_point(law(), deflections=CYCLE, setup=replace(FIXTURE, friction=0.2))


@pytest.fixture(scope="module")
def steel():
    return three_point(law("steel"), deflections=CYCLE, setup=FIXTURE)


@pytest.mark.parametrize("deflection", [0.05, 0.15, 0.3])
def test_elastic_wire_is_the_elastica_and_leaves_nothing(deflection):
    setup = replace(FIXTURE, reference=True)
    path = 10.0 * np.array([deflection, 0.0])
    curve = three_point(ELASTIC, deflections=path, setup=setup)
    load = curve.force[0] * setup.span**2 / RIGIDITY
    np.testing.assert_allclose(load, elastica_load(deflection), rtol=2e-3)
    np.testing.assert_allclose(curve.force[1], 0.0, rtol=0, atol=1e-6)
    assert permanent_deflection(curve) == 0.0
    # the boundary-value problem itself: small deflections are those of a beam
    np.testing.assert_allclose(elastica_load(0.001), 0.048, rtol=1e-3)


def test_elastic_bend_takes_one_path_there_and_back():
    path = np.array([1.0, 2.0, 3.0, 2.0, 1.0])
    curve = three_point(ELASTIC, deflections=path, setup=FIXTURE)
    np.testing.assert_allclose(curve.force[3:], curve.force[1::-1], rtol=1e-6)


def test_support_runs_round_the_edge(superelastic):
    """The centre line stays at reach from the axis of the edge: seen from where it is touched."""
    peak = int(np.argmax(superelastic.deflection))
    angle, station = superelastic.slope[peak], superelastic.station[peak]
    assert np.degrees(angle) > 35.0
    # at least the chord, at most its legs
    across = 5.0 - FIXTURE.reach * np.sin(angle)
    down = 3.1 - FIXTURE.reach * (1.0 - np.cos(angle))
    assert np.hypot(across, down) < station < across + down


def test_surface_contact_is_stiffer_and_thickness_matters_more_than_radius():
    path = np.array([3.0])

    def force(**changes):
        return three_point(law(), deflections=path, setup=replace(FIXTURE, **changes)).force[-1]

    reference = force(reference=True)
    both, thick, edge = (
        force(**changes) / reference - 1.0 for changes in ({}, {"radius": 0.0}, {"thickness": 0.0})
    )
    assert 0.03 < both < 0.05
    assert thick > edge > 0.01
    np.testing.assert_allclose(both, thick + edge, rtol=0.1)


def test_unloading_plateau_lies_below_loading_and_the_wire_springs_back(superelastic):
    back = unloading_forces(superelastic)
    there = loading_forces(superelastic)
    assert list(back) == [3.0, 2.0, 1.0, 0.5]
    for place in (1.0, 2.0):
        assert back[place] < 0.6 * there[place]
    assert permanent_deflection(superelastic) == 0.0
    assert superelastic.released is None


@pytest.mark.parametrize("name", ["superelastic", "rubbed", "steel"])
def test_work_is_accounted_for_and_the_cycle_takes_some(name, request):
    curve = request.getfixturevalue(name)
    gone = curve.stored + curve.inelastic + curve.friction
    # trapezoids over increments of up to 1 mm
    np.testing.assert_allclose(curve.external, gone, rtol=0, atol=0.03 * curve.external.max())
    # transforming back gives work back, but not all of it
    assert curve.external[-1] > 0.5 * curve.inelastic[-1] > 0.1
    if name == "steel":
        assert np.all(np.diff(curve.inelastic) >= 0.0)
    assert (curve.friction[-1] > 0.1) == (name == "rubbed")


def test_friction_opens_the_loop(superelastic, rubbed):
    peak = int(np.argmax(CYCLE))
    np.testing.assert_array_less(superelastic.force[1:peak], rubbed.force[1:peak])
    np.testing.assert_array_less(rubbed.force[peak + 1 : -1], superelastic.force[peak + 1 : -1])


@pytest.mark.parametrize("name", ["superelastic", "rubbed"])
def test_halving_every_increment_changes_no_reported_force(name, request):
    curve = request.getfixturevalue(name)
    setup = replace(FIXTURE, friction=0.2 if name == "rubbed" else 0.0)
    finer = with_halved_increments(law(), curve, setup=setup)
    assert len(finer.increments[0]) == 2 * len(curve.increments[0])
    for forces in (loading_forces, unloading_forces):
        before, after = forces(curve), forces(finer)
        for place in before:
            np.testing.assert_allclose(after[place], before[place], rtol=2e-3)


def test_steep_places_get_smaller_increments(rubbed, monkeypatch):
    """An increment whose halves disagree is halved, and the accepted ones are kept."""
    assert [group[-1] for group in rubbed.increments] == CYCLE.tolist()
    taken = []
    for change in (10.0, 1e-4):
        monkeypatch.setattr(bending_walk, "INCREMENT_CHANGE", change)
        curve = three_point(law(), deflections=CYCLE, setup=replace(FIXTURE, friction=0.2))
        taken.append(sum(map(len, curve.increments)))
    # with any change allowed, those that are left are where Newton fails
    assert len(CYCLE) <= taken[0] <= sum(map(len, rubbed.increments)) < taken[1]


def test_steel_stays_bent_and_lies_free(steel):
    left = permanent_deflection(steel)
    assert 1.9 < left < 2.2
    assert np.all(steel.force[steel.deflection < left][1:] >= 0.0)
    free = (np.arange(CYCLE.size) > np.argmax(CYCLE)) & (left > CYCLE)
    np.testing.assert_array_equal(steel.force[free], 0.0)
    # no more work once it is free
    np.testing.assert_array_equal(steel.external[free], steel.external[free][0])
    assert unloading_forces(steel)[1.0] == 0.0
    assert unloading_forces(steel)[3.0] > 4.0
    # on the way to the place where it comes off the force falls to nothing there
    _, back = branches(steel)
    np.testing.assert_allclose(np.interp(left, *back[:, ::-1]), 0.0, rtol=0, atol=1e-9)


def test_bent_steel_is_met_again_where_it_was_left(steel):
    left = permanent_deflection(steel)
    again = np.array([3.1, 1.0, left - 0.1, left + 0.2, 3.1])
    curve = three_point(law("steel"), deflections=again, setup=FIXTURE)
    assert curve.force[1] == curve.force[2] == 0.0
    assert 0.5 < curve.force[3] < curve.force[4]
    # elastic on the way back up to where it was
    np.testing.assert_allclose(curve.force[4], curve.force[0], rtol=0.02)


def test_warmer_wire_pushes_harder():
    path = np.array([2.5, 1.0])
    cold, warm = (
        three_point(law(temperature=t), deflections=path, setup=FIXTURE).force[-1]
        for t in (32.0, 42.0)
    )
    # 10 K are 65 MPa of a lower plateau of about 175 MPa, less the elastic core
    np.testing.assert_allclose((warm - cold) / (0.5 * (warm + cold)), 65 / 175, rtol=0.2)


def test_bending_the_other_way_takes_the_other_side():
    """First-order bending of an oblong is second-order bending of the same, turned."""
    path = np.array([0.5])
    turned = WireSection(OBLONG.width, OBLONG.height, round=False)
    flat = ThreePoint(thickness=OBLONG.width, axis="second")
    first = three_point(law("steel", OBLONG), deflections=path, setup=flat).force
    second = three_point(
        law("steel", turned), deflections=path, setup=replace(flat, axis="third")
    ).force
    upright = three_point(law("steel", OBLONG), deflections=path, setup=FIXTURE).force
    np.testing.assert_allclose(first, second, rtol=2e-3)
    assert first[0] > 1.3 * upright[0]


def test_type_one_numbers_of_a_wire_without_plateau():
    rate, yields = 10.0, 0.6
    deflection = np.linspace(0.1, 1.5, 15)
    force = np.minimum(rate * deflection, rate * yields + 2.0 * (deflection - yields))
    curve = replace(_nothing(deflection), force=force)
    np.testing.assert_allclose(bending_rate(curve), rate, rtol=1e-12)
    # 10 (d - 0.1) = 6 + 2 (d - 0.6)
    np.testing.assert_allclose(offset_force(curve), 10.0 * (5.8 / 8.0 - 0.1), rtol=1e-12)
    assert offset_force(replace(curve, force=rate * deflection)) is None


def _nothing(deflection):
    zeros = np.zeros_like(deflection)
    return bending.BendCurve(
        deflection=deflection,
        **dict.fromkeys(("force", "station", "slope", "stored", "inelastic"), zeros),
        friction=zeros,
        external=zeros,
        released=None,
        curvature=0.1,
        elements=1,
        element_change=0.0,
        increments=(),
    )


def test_usual_path_ends_at_its_peak_and_at_rest():
    path = usual_path()
    assert (path[0], path.max(), path[-1]) == (0.1, 3.1, 0.0)
    assert {3.0, 2.0, 1.0, 0.5} <= set(path[np.argmax(path) :])
    odd = usual_path(0.25)
    np.testing.assert_array_equal(odd, [0.1, 0.2, 0.25, 0.2, 0.1, 0.0])


def test_more_fibres_make_the_section_better():
    errors = [
        section_error(
            section_law(ROUND, library_alloy("nickel-titanium"), temperature=37.0, fineness=f),
            section_law(ROUND, library_alloy("nickel-titanium"), temperature=37.0, fineness=14),
            0.3,
            axis=2,
        )
        for f in (7, 9, 11)
    ]
    assert errors[0] > 2 * errors[1] > 3 * errors[2] > 0.0


@pytest.mark.parametrize("torsion", [False, True])
def test_section_trial_ends_without_moment(torsion):
    for alloy, stays in (("steel", True), ("nickel-titanium", False)):
        trial = SectionTrial(Specimen("wire", ROUND, library_alloy(alloy), 37.0), 0.3, torsion)
        np.testing.assert_allclose(trial.moment[-1], 0.0, rtol=0, atol=1e-6)
        assert (trial.left > 0.1) == stays
        assert trial.path.inelastic[-1] > 0.0


def test_trial_bends_both_ways_of_contact():
    wire = Specimen("wire", OBLONG, library_alloy("steel"), 37.0, order="first")
    trial = ThreePointTrial(wire, span=10.0, deflection=0.5)
    assert trial.setup().thickness == OBLONG.width
    assert trial.setup(reference=True).reach == 0.0
    surface, reference = trial.curves["surface"], trial.curves["reference"]
    assert surface.force.max() > reference.force.max()


# Failures


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"span": -1.0}, "is no span"),
        ({"thickness": np.nan}, "is no thickness"),
        ({"radius": -0.1}, "is no radius"),
        ({"specimen": 9.0}, "is too short"),
        ({"friction": 1.5}, "is no coefficient of friction"),
    ],
)
def test_fixtures_that_cannot_be_are_refused(changes, part):
    with pytest.raises(Refused, match=part):
        replace(FIXTURE, **changes)


@pytest.mark.parametrize(
    ("path", "changes", "part"),
    [
        ([4.1], {}, "0 to 4 mm"),
        ([1.0, -0.1], {}, "is no deflection"),
        ([3.9], {"specimen": 12.0}, "slips off its supports"),
    ],
)
def test_deflections_that_cannot_be_are_refused(path, changes, part):
    with pytest.raises(Refused, match=part):
        three_point(ELASTIC, deflections=np.array(path), setup=replace(FIXTURE, **changes))


def test_elements_and_increments_that_do_not_settle_are_told(monkeypatch):
    monkeypatch.setattr(bending, "ELEMENT_CHANGE", 0.0)
    monkeypatch.setattr(bending, "MOST_ELEMENTS", 24)
    with pytest.raises(NotConvergedError):
        three_point(ELASTIC, deflections=np.array([1.0]), setup=FIXTURE)
    monkeypatch.setattr(bending_walk, "INCREMENT_CHANGE", -1.0)
    monkeypatch.setattr(bending_walk, "HALVINGS", 2)
    with pytest.raises(NotConvergedError):
        three_point(ELASTIC, deflections=np.array([1.0]), setup=FIXTURE)
