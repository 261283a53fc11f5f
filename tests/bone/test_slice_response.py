"""Verification of a slice's answer to loads, and of the drift that follows from it."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone import slice_response
from gomphosis.bone.ligament_laws import BilinearLigament, equivalent_strain
from gomphosis.bone.rates import DeadZone, Linear, Saturating
from gomphosis.bone.slice_body import rigid_motions
from gomphosis.bone.slice_counts import SliceCounts
from gomphosis.bone.slice_response import law_state, linear_state, unit_response, wall_motion
from gomphosis.bone.wall import PEAK_SHARE
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.sparse_solve import scipy_factor

LEVER = np.array([1.0, 0.0, 7.0])  # a single force at the bracket
ARM = np.array([1.0, 1.0, 12.0])  # brings turns and moments to the size of the rest
LAW = BilinearLigament(first=0.05, second=0.28, switch=0.075, poisson=0.3)


def bony(body, young=2000.0):
    return body.body(np.full(body.bony_places.shape[1], young))


def axis_heights(body):
    return np.einsum("pa,pa->p", body.side.shape, body.mesh.nodes[1][body.side.nodes])


def taken_up(state):
    """Resultants of wall and side walls about the crest, summed by hand."""
    body = state.slice_body
    force = body.wall.mass @ state.push
    held = body.side.stiffness * state.stiffening[:, None] * state.side
    (x, z), height = body.wall.place.T, axis_heights(body)
    moment = (force[:, 0] * z - force[:, 1] * x).sum() + (held[:, 0] * height).sum()
    return np.array([*(force.sum(axis=0) + held.sum(axis=0)), moment])


def rigid_walls(body, motion):
    heights = axis_heights(body)
    places = body.wall.place.T, np.stack([0 * heights, heights])
    return [(rigid_motions(place) @ motion).reshape(-1, 2) for place in places]


@pytest.mark.parametrize("plane", ["labiolingual", "mesiodistal"])
@pytest.mark.parametrize("poisson", [0.3, 0.49])
def test_wall_tractions_and_side_walls_integrate_to_the_load(incisor_response, poisson, plane):
    load = np.array([0.5, -0.2, 3.0])
    state = linear_state(incisor_response(poisson=poisson, plane=plane), load)
    # forces in the rigid crown are rounded to 1e-7 of the load
    np.testing.assert_allclose(taken_up(state) / ARM, load / ARM, rtol=0, atol=1e-6 * 0.5)


def test_without_side_walls_the_wall_takes_up_everything(incisor_response):
    state = linear_state(incisor_response(side_walls=False), LEVER)
    force = (state.slice_body.wall.mass @ state.push).sum(axis=0)
    np.testing.assert_allclose(force, [1.0, 0.0], rtol=0, atol=1e-6)


@pytest.mark.parametrize("poisson", [0.3, 0.49])
def test_compliance_is_symmetric_before_it_is_averaged(incisor_response, poisson):
    """Maxwell's and Betti's reciprocity."""
    response = incisor_response(poisson=poisson)
    raw = response.slice_body.unit_loads.T @ response.displacement * ARM[:, None] * ARM
    # the crown is 4e7 times as stiff as the ligament: that times round-off, added up
    np.testing.assert_allclose(raw, raw.T, rtol=0, atol=1e-7 * np.abs(raw).max())
    np.testing.assert_allclose(response.stiffness @ response.compliance, np.eye(3), atol=1e-9)
    assert np.linalg.eigvalsh(response.compliance).min() > 0


def test_answers_are_the_unloaded_body_in_balance(incisor_response):
    """Independent of the solver: internal nodal forces equal the load on every free unknown."""
    response = incisor_response()
    body = response.slice_body
    linear = bony(body)
    for load, answer in zip(body.unit_loads.T, response.displacement.T, strict=True):
        miss = (linear.force(answer) - load)[body.pattern.free]
        assert np.abs(miss).max() < 1e-6 * np.abs(load).max()


def test_condensing_the_tooth_gives_the_answer_of_the_whole_system(incisor_body):
    """Against one direct solution of all unknowns, of bone that differs from place to place."""
    body = incisor_body()
    young = np.geomspace(5.0, 14000.0, body.bony_places.shape[1])
    whole = body.body(young)
    matrix = body.pattern.assembled(*whole.stiffness(np.zeros(body.elements.size)))
    answer = scipy_factor(matrix).solve(np.ascontiguousarray(body.unit_loads[body.pattern.free]))
    want = body.unit_loads[body.pattern.free].T @ answer * ARM[:, None] * ARM
    found = unit_response(body, whole).compliance * ARM[:, None] * ARM
    np.testing.assert_allclose(found, want, rtol=0, atol=1e-6 * want.max())


def test_states_of_loads_add_up_and_push_shows_its_sign(incisor_response):
    response = incisor_response()
    one, two = (linear_state(response, load) for load in (LEVER, np.array([0.0, 0.4, 0.0])))
    both = linear_state(response, LEVER + np.array([0.0, 0.4, 0.0]))
    for name in ("displacement", "motion", "push", "side"):
        total = getattr(one, name) + getattr(two, name)
        scale = np.abs(total).max()
        np.testing.assert_allclose(getattr(both, name), total, rtol=0, atol=1e-12 * scale)
    # pushed labially: the wall is pressed at the labial crest and stretched at the lingual one
    x, z = response.slice_body.wall.place.T
    near = (z < -1.0) & (z > -3.0)
    assert one.normal[near & (x > 0)].max() < 0 < one.normal[near & (x < 0)].min()
    assert one.push[near & (x > 0), 0].min() > 0


def test_strain_is_exceeded_on_one_percent_of_the_volume(incisor_response):
    """By hand: the volume strained more, counted element point by element point."""
    state = linear_state(incisor_response(), LEVER)
    body = state.slice_body
    strain = body.elements.strain(state.displacement, elements=body.ligament)
    size = equivalent_strain(strain, 0.3)
    volume = body.elements.measure[body.ligament]
    assert volume[size > state.strain].sum() / volume.sum() == pytest.approx(PEAK_SHARE, abs=2e-3)
    twice = linear_state(incisor_response(), 2 * LEVER)
    assert twice.strain == pytest.approx(2 * state.strain, rel=1e-12)


def test_small_loads_meet_the_first_branch(incisor_body, incisor_response):
    body = incisor_body()
    load = 1e-3 * LEVER
    found, linear = (
        law_state(body, bony(body), load, law=LAW),
        linear_state(incisor_response(), load),
    )
    for name in ("displacement", "motion", "push", "side"):
        want = getattr(linear, name)
        np.testing.assert_allclose(
            getattr(found, name), want, rtol=0, atol=1e-6 * np.abs(want).max(), err_msg=name
        )
    np.testing.assert_array_equal(found.stiffening, 1.0)


def test_large_loads_are_between_the_branches_and_in_balance(incisor_body):
    body = incisor_body()
    load = 2.0 * LEVER
    state = law_state(body, bony(body), load, law=LAW)
    # walls beside the plane are renewed to 1e-5
    np.testing.assert_allclose(taken_up(state) / ARM, load / ARM, rtol=0, atol=2e-5)
    secant = LAW.secant(body.side.equivalent(state.side)) / LAW.first
    np.testing.assert_allclose(state.stiffening, secant, rtol=0, atol=1e-5)
    assert 1.5 < state.stiffening.max() < LAW.second / LAW.first
    stiffer = replace(
        body, tissue=replace(body.tissue, ligament=type(body.tissue.ligament)(0.28, 0.3))
    )
    soft, hard = (
        linear_state(unit_response(one, bony(one)), load).motion[0] for one in (body, stiffer)
    )
    assert hard < state.motion[0] < soft


def test_answer_does_not_depend_on_where_the_iteration_starts(incisor_body):
    body = incisor_body()
    far = law_state(body, bony(body), 2.0 * LEVER, law=LAW)
    direct = law_state(body, bony(body), 0.5 * LEVER, law=LAW)
    led = law_state(body, bony(body), 0.5 * LEVER, law=LAW, start=far)
    np.testing.assert_allclose(led.motion * ARM, direct.motion * ARM, rtol=0, atol=1e-6)


def test_stiffening_ligament_keeps_reciprocity(incisor_body):
    """The law has an energy, so the derivative of motion by load is symmetric (central steps)."""
    body = incisor_body()
    start = law_state(body, bony(body), 0.5 * LEVER, law=LAW)
    columns = []
    for unit in np.diag([0.02, 0.02, 0.2]):
        ends = [
            law_state(body, bony(body), 0.5 * LEVER + sign * unit, law=LAW, start=start).motion
            for sign in (1, -1)
        ]
        columns.append((ends[0] - ends[1]) / (2 * np.linalg.norm(unit)))
    slope = np.stack(columns, axis=1) * ARM[:, None] * ARM
    # side walls renewed to 1e-5 over steps of 4 % of the load
    np.testing.assert_allclose(slope, slope.T, rtol=0, atol=2e-3 * np.abs(slope).max())


def test_fine_mesh_and_small_load_converge(incisor_body):
    """What is left of balance is round-off of the rigid crown, which does not shrink with nodes."""
    body = incisor_body(counts=SliceCounts(along=36, base=6, ligament=4, bone=8, crown=20))
    load = 0.01 * LEVER
    state = law_state(body, bony(body), load, law=LAW)
    np.testing.assert_allclose(taken_up(state) / ARM, load / ARM, rtol=0, atol=1e-6 * 0.01)


def test_side_walls_that_do_not_settle_are_an_error(incisor_body, monkeypatch):
    monkeypatch.setattr(slice_response, "RENEWALS", 2)
    with pytest.raises(NotConvergedError):
        law_state(incisor_body(), bony(incisor_body()), 2.0 * LEVER, law=LAW)


# --- walls that move ---------------------------------------------------------------------------


@pytest.mark.parametrize("poisson", [0.3, 0.49])
@pytest.mark.parametrize("motion", np.eye(3) / ARM[:, None])
def test_walls_that_move_rigidly_take_the_tooth_along(incisor_response, poisson, motion):
    response = incisor_response(poisson=poisson)
    found = response.carried(*rigid_walls(response.slice_body, motion))
    np.testing.assert_allclose(found * ARM, motion * ARM, rtol=0, atol=1e-6)


def test_soft_tissue_does_not_hold_the_tooth_back(incisor_body):
    """Against the same slice with all but no soft tissue: the same speed of the same walls."""
    body = incisor_body(soft_height=1.5)
    members = np.isin(body.bony, body.mesh.regions["soft tissue"])
    with_tissue, without = (
        unit_response(body, body.body(np.where(members, soft, 2000.0).repeat(9)))
        for soft in (0.05, 1e-5)
    )
    wall, side = rigid_walls(body, np.array([0.1, 0.0, 0.005]))
    slower = 1 + 0.05 * body.wall.place[:, 1:]
    free, found, held = (
        ARM * motion
        for motion in (
            without.carried(slower * wall, side),
            np.linalg.solve(with_tissue.along, with_tissue.carried(slower * wall, side)),
            with_tissue.carried(slower * wall, side),
        )
    )
    # the tissue is also bonded to the ligament's end at the crest, which stays a little stiffer
    miss = np.abs(found - free).max() / np.abs(free).max()
    assert miss < 1e-3
    assert np.abs(held - free).max() / np.abs(free).max() > 5 * miss


@pytest.mark.parametrize("law", [Linear(0.02), Saturating(0.06, 0.01), DeadZone(0.02, 0.001)])
@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("soft_height", [0.0, 1.5])
def test_even_stimulus_moves_all_walls_at_the_speed_of_the_law(
    incisor_body, law, axis, soft_height
):
    """Closed form: w = k d everywhere, so v = R(k d) along d, and the tooth goes along."""
    body = incisor_body(soft_height=soft_height)
    members = np.isin(body.bony, body.mesh.regions.get("soft tissue", ()))
    response = unit_response(body, body.body(np.where(members, 0.05, 2000.0).repeat(9)))
    pair = body.tissue.ligament
    weight = pair.constrained / pair.shear
    shift, stimulus = 0.002, 0.03
    normal = body.wall.normal
    even = np.zeros_like(normal)
    even[:, axis] = stimulus
    along = np.einsum("nc,nc->n", even, normal)[:, None] * normal
    # the side walls' stimulus per shift is M/t; each is shifted so that it feels the same
    per_shift = (body.side.stimulus[0] + weight * body.side.stimulus[1])[:, axis]
    side = np.zeros((len(per_shift), 2))
    side[:, axis] = stimulus / per_shift
    state = replace(linear_state(response, LEVER), push=along + (even - along) / weight, side=side)
    motion = wall_motion(response, state, law, shear_weight=weight)
    speed = float(law.speed(np.array(stimulus)))
    expected = speed * np.eye(2)[axis]
    np.testing.assert_allclose(motion.wall, np.tile(expected, (len(normal), 1)), atol=1e-9 * speed)
    np.testing.assert_allclose(motion.side, np.tile(expected, (len(side), 1)), atol=1e-9 * speed)
    drift = speed * np.eye(3)[axis]
    np.testing.assert_allclose(motion.drift * ARM, drift * ARM, rtol=0, atol=1e-6 * speed)
    assert motion.mismatch < 1e-5
    gap = body.design.thickness.at(np.zeros(1))[0]
    assert per_shift[0] * shift == pytest.approx(pair.constrained / gap * shift, rel=0.02)


def test_drift_turns_about_where_the_elastic_motion_does(incisor_response):
    """Thin-layer result, here within what an uneven layer and elastic bone make of it."""
    response = incisor_response()
    pair = response.slice_body.tissue.ligament
    state = linear_state(response, LEVER)
    motion = wall_motion(response, state, Linear(1.0), shear_weight=pair.constrained / pair.shear)
    drift = -motion.drift[0] / motion.drift[2]
    assert drift == pytest.approx(-state.motion[0] / state.motion[2], rel=0.02)
    # a linear law turns them by exactly as much as the load
    twice = wall_motion(response, linear_state(response, 2 * LEVER), Linear(1.0), shear_weight=3.5)
    once = wall_motion(response, state, Linear(1.0), shear_weight=3.5)
    np.testing.assert_allclose(twice.drift, 2 * once.drift, rtol=1e-10)


def test_shear_counts_as_much_as_it_is_weighted(incisor_response):
    response = incisor_response()
    state = linear_state(response, np.array([0.0, 1.0, 0.0]))
    normal = wall_motion(response, state, Linear(1.0), shear_weight=0.0)
    wall = response.slice_body.wall
    tangent = normal.wall - np.einsum("nc,nc->n", normal.wall, wall.normal)[:, None] * wall.normal
    np.testing.assert_allclose(tangent, 0.0, atol=1e-15)
    plain = wall_motion(response, state, Linear(1.0), shear_weight=1.0)
    np.testing.assert_allclose(plain.wall, state.push, rtol=1e-9, atol=1e-15)
    # extrusion lives by shear
    assert normal.drift[1] < 0.5 * plain.drift[1]


def test_mirrored_loads_mirror_the_drift(incisor_response):
    response = incisor_response(plane="mesiodistal")
    there, back = (
        wall_motion(
            response, linear_state(response, load), Saturating(0.06, 0.0014), shear_weight=3.5
        )
        for load in (np.array([0.5, 0.1, 3.0]), np.array([-0.5, 0.1, -3.0]))
    )
    np.testing.assert_allclose(
        back.drift, there.drift * [-1, 1, -1], rtol=0, atol=1e-7 * np.abs(there.drift).max()
    )
    assert back.mismatch == pytest.approx(there.mismatch, rel=1e-5)


def test_no_load_moves_nothing(incisor_response):
    response = incisor_response()
    motion = wall_motion(
        response, linear_state(response, np.zeros(3)), Saturating(0.06, 0.0014), shear_weight=3.5
    )
    np.testing.assert_array_equal(motion.drift, 0.0)
    assert motion.mismatch == 0.0
