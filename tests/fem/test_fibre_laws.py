"""Laws of a fibre: closed forms, tangent, energy, loops, temperature."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from gomphosis.fem.fibre_laws import (
    COLD_FLOOR,
    ElasticFibre,
    PlasticFibre,
    SuperelasticFibre,
)

YOUNG = 50_000.0
SHEAR = YOUNG / 2.6
SUPERELASTIC = SuperelasticFibre(YOUNG, SHEAR, 400, 450, 200, 150, 0.05, slope=6.5)
FLAT = SuperelasticFibre(YOUNG, SHEAR, 400, 400, 150, 150, 0.05, slope=6.5)
HARDENING = PlasticFibre(180e3, 180e3 / 2.6, 1600, 3000)
PERFECT = PlasticFibre(180e3, 180e3 / 2.6, 1600)
ELASTIC = ElasticFibre(YOUNG, SHEAR)
LAWS = {
    "elastic": ELASTIC,
    "hardening": HARDENING,
    "perfect": PERFECT,
    "superelastic": SUPERELASTIC,
    "flat": FLAT,
    "weak-shear": replace(SUPERELASTIC, ratio=1.0),
}
EVERY = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
INELASTIC = pytest.mark.parametrize("law", list(LAWS.values())[1:], ids=list(LAWS)[1:])


def along(law, axial, shear=0.0, state=None):
    """Lead one fibre through strains; return stresses (m, 2) and the last state."""
    axial, shear = np.broadcast_arrays(np.asarray(axial, dtype=float), shear)
    state = law.start((1,)) if state is None else state
    stresses = []
    for e, g in zip(axial, shear, strict=True):
        update = law.update(np.array([e]), np.array([g]), state)
        state = update.state
        stresses.append([update.axial_stress[0], update.shear_stress[0]])
    return np.array(stresses), state


def scattered(law, count=3000, size=0.03):
    """Return strains (2, n) of many fibres and the states a random history left there."""
    rng = np.random.default_rng(7)
    strain, state = rng.normal(size=(2, count)) * size, law.start((count,))
    for _ in range(4):
        strain = strain * rng.uniform(-1, 1.5, count) + 0.2 * size * rng.normal(size=(2, count))
        state = law.update(*strain, state).state
    return strain * rng.uniform(-1, 1.5, count), state


def straight(corners, count):
    """Return corners (m, 2) joined by straight lines of count steps, shape (n, 2)."""
    parts = np.linspace(0, 1, count + 1)[1:, None]
    lines = [a + parts * (b - a) for a, b in pairwise(corners)]
    return np.concatenate(lines)


def work(strain, stress):
    """Return the work done from the origin along a path, by the trapezoid, after each step."""
    strain, stress = (np.vstack([np.zeros(2), part]) for part in (strain, stress))
    return np.cumsum(np.sum(np.diff(strain, axis=0) * (stress[1:] + stress[:-1]) / 2, axis=1))


@EVERY
def test_tangent_equals_central_differences(law):
    strain, state = scattered(law)
    update = law.update(*strain, state)
    step, moduli = 1e-8, (law.young, law.ratio**2 * law.shear)
    given = np.array([update.tangent[:2], update.tangent[1:]])
    for column in range(2):
        change = np.zeros((2, 1))
        change[column] = step
        ahead, behind = (law.update(*(strain + sign * change), state) for sign in (1, -1))
        for row in range(2):
            difference = (ahead[row] - behind[row]) / (2 * step)
            np.testing.assert_allclose(
                given[row][column], difference, rtol=0, atol=1e-6 * moduli[0]
            )


@INELASTIC
def test_stress_and_inelastic_strain_share_their_direction(law):
    """What the scalar equation stands for: e - stress / C points along the stress."""
    strain, state = scattered(law)
    update = law.update(*strain, state)
    stress = np.array(update[:2])
    inelastic = strain - stress / np.array([[law.young], [law.ratio**2 * law.shear]])
    if isinstance(law, PlasticFibre):
        np.testing.assert_allclose(inelastic, update.state[:2], rtol=0, atol=1e-15)
        grown = update.state[2] - state[2]
        inelastic = inelastic - state[:2]
        assert np.mean(grown > 0) > 0.2
    else:
        grown = law.strain * update.state[0]
    size = np.hypot(*stress)
    np.testing.assert_allclose(inelastic * size, grown * stress, rtol=0, atol=1e-11)


@EVERY
def test_no_strain_no_stress_and_no_warning(law):
    for strain in (0.0, 1e-200, 1e-90):
        update = law.update(np.full(2, strain), np.full(2, -strain), law.start((2,)))
        assert np.all(np.abs(update.axial_stress) <= 2 * law.young * strain)
        assert np.all(np.isfinite(update.tangent))
        assert update.tangent[0][0] == pytest.approx(law.young, rel=1e-12)
        assert update.tangent[2][0] == pytest.approx(law.ratio**2 * law.shear, rel=1e-12)


def test_superelastic_loop_equals_its_closed_form():
    """Piecewise linear: E, plateau slope 1/(1/E + eps_L/(s_f - s_s)), E, and back likewise."""
    rise = 1 / (1 / YOUNG + 0.05 / 50)
    strain = np.array([0.004, 0.008, 0.02, 0.04, 0.059, 0.07])
    stress, full = along(SUPERELASTIC, strain)
    closed = [200, 400, 400 + rise * 0.012, 400 + rise * 0.032, 450, 450 + YOUNG * 0.011]
    np.testing.assert_allclose(stress[:, 0], closed, rtol=1e-12)
    assert full[0, 0] == 1.0
    back, _ = along(SUPERELASTIC, [0.06, 0.054, 0.03, 0.003, 0.001], state=full)
    # reverse branch from (0.054, 200) to (0.003, 150)
    closed = [500, 200, 200 - 50 * 0.024 / 0.051, 150, 50]
    np.testing.assert_allclose(back[:, 0], closed, rtol=1e-12)


def test_shear_sees_the_same_curve_scaled():
    """In pure shear the plateau starts at tau = forward_start / k and gamma = tau / G."""
    stress, _ = along(SUPERELASTIC, np.zeros(2), np.array([1.0, 1.5]) * 400 / (3 * SHEAR))
    assert stress[0, 1] == pytest.approx(400, rel=1e-12)
    assert stress[1, 1] == pytest.approx(
        400 + (1 / (1 / (3 * SHEAR) + 1e-3)) * 200 / (3 * SHEAR), rel=1e-12
    )
    assert SUPERELASTIC.ratio**2 == pytest.approx(3)


def test_one_step_equals_many_in_straight_loading():
    line = np.linspace(0, 1, 51)[1:]
    # plastic flow turns when both strains act, so only one of them there
    for law, shear in ((SUPERELASTIC, -0.03), (FLAT, -0.03), (HARDENING, 0.0)):
        many, state = along(law, 0.05 * line, shear * line)
        once, at_once = along(law, [0.05], [shear])
        np.testing.assert_allclose(once[-1], many[-1], rtol=1e-11)
        np.testing.assert_allclose(at_once, state, rtol=1e-11)


def test_a_loop_that_turns_early_stays_inside():
    """Unloaded from the plateau: on the reverse branch it has a right to, and below the outer."""
    _, on_plateau = along(SUPERELASTIC, [0.03])
    down, low = along(SUPERELASTIC, np.linspace(0.03, 0.012, 19), state=on_plateau)
    # turned at 0.03 with fraction x: reverse branch from (x eps_L + 200/E, 200) to (0.003, 150)
    fraction = on_plateau[0, 0]
    begin = fraction * 0.05 + 200 / YOUNG
    closed = 200 - 50 * (begin - 0.012) / (begin - 0.003)
    assert down[-1, 0] == pytest.approx(closed, rel=1e-12)
    up, _ = along(SUPERELASTIC, np.linspace(0.012, 0.07, 30), state=low)
    assert np.all(up[:-6, 0] <= 450 + 1e-9)
    assert np.all(up[:, 0] >= down[-1, 0] - 1e-9)
    # at the outer strain of the turn the inner loop lies at or below the outer one
    inner, _ = along(SUPERELASTIC, [0.03], state=low)
    outer, _ = along(SUPERELASTIC, [0.03])
    assert inner[0, 0] <= outer[0, 0] + 1e-9


def test_a_full_cycle_leaves_nothing_behind():
    for strain, shear in ((0.07, 0.0), (0.03, -0.04)):
        turn = np.linspace(1, 0, 9)
        _, full = along(SUPERELASTIC, [strain], [shear])
        stress, state = along(SUPERELASTIC, strain * turn, shear * turn, state=full)
        assert np.abs(stress[-1]).max() < 1e-12
        assert state[0, 0] == 0.0
        assert state[2, 0] > 1.0  # MPa: what the loop took


def test_a_kelvin_shifts_the_plateau():
    for kelvin in (1.0, -10.0):
        warm = replace(FLAT, temperature=kelvin)
        assert along(warm, [0.03])[0][0, 0] == pytest.approx(400 + 6.5 * kelvin, rel=1e-12)
        _, full = along(warm, [0.07])
        assert along(warm, [0.03], state=full)[0][0, 0] == pytest.approx(150 + 6.5 * kelvin)


def test_heating_at_held_strain_follows_the_reverse_branch():
    """On the lower plateau one kelvin adds `slope`; on the upper one the stress stays at first."""
    _, full = along(FLAT, [0.07])
    _, below = along(FLAT, [0.03], state=full)
    for kelvin in (1.0, 5.0, 20.0):
        heated, state = along(replace(FLAT, temperature=kelvin), [0.03], state=below)
        assert heated[0, 0] == pytest.approx(150 + 6.5 * kelvin, rel=1e-12)
        assert state[0, 0] < below[0, 0]
    _, above = along(FLAT, [0.03])
    heated, state = along(replace(FLAT, temperature=5.0), [0.03], state=above)
    assert heated[0, 0] == pytest.approx(400, rel=1e-12)
    assert state[0, 0] == pytest.approx(above[0, 0])
    cooled, _ = along(replace(FLAT, temperature=-5.0), [0.03], state=above)
    assert cooled[0, 0] == pytest.approx(400 - 32.5, rel=1e-12)


def test_heating_on_a_sloping_branch():
    """At held strain on the reverse branch the driving force falls by what the kinetics says.

    From (xi0, s0) with s + E eps_L xi = E eps; heated, xi = xi0 (s - f)/(s0' - f), f and s0'
    shifted by 6.5 MPa/K: two equations, solved by hand for s.
    """
    _, full = along(SUPERELASTIC, [0.07])
    first, state = along(SUPERELASTIC, [0.03], state=full)
    fraction, size = state[0, 0], first[0, 0]
    finish, start = 150 + 13.0, size + 13.0
    closed_rate = YOUNG * 0.05 * fraction / (start - finish)
    closed = (YOUNG * 0.03 + closed_rate * finish) / (1 + closed_rate)
    heated, _ = along(replace(SUPERELASTIC, temperature=2.0), [0.03], state=state)
    assert heated[0, 0] == pytest.approx(closed, rel=1e-12)


def test_the_reference_temperature_is_only_a_name():
    """One law told at two reference temperatures: loaded at 10, heated to 12, the same stress."""
    other = SuperelasticFibre(YOUNG, SHEAR, 465, 515, 265, 215, 0.05, 6.5, 10.0)
    found = []
    for law in (SUPERELASTIC, other):
        law = replace(law, temperature=10.0)
        _, full = along(law, [0.07])
        _, state = along(law, [0.03], state=full)
        found.append(along(replace(law, temperature=12.0), [0.03, 0.05], state=state)[0][:, 0])
    np.testing.assert_allclose(found[0], found[1], rtol=1e-12)
    assert found[0][0] > 215


def test_very_cold_it_recovers_almost_without_stress():
    cold = replace(SUPERELASTIC, temperature=-60.0)  # 390 MPa lower
    assert cold.thresholds == (COLD_FLOOR, COLD_FLOOR, 10.0, 60.0)
    stress, state = along(cold, [0.03, 0.02, 0.0])
    assert stress[0, 0] == pytest.approx(10 + (0.03 - 10 / YOUNG) / (1 / YOUNG + 1e-3), rel=1e-12)
    assert stress[1, 0] == pytest.approx(COLD_FLOOR)
    assert stress[2, 0] == 0.0
    assert state[0, 0] == 0.0
    colder = replace(SUPERELASTIC, temperature=-100.0)
    _, state = along(colder, [0.0])
    warmed, _ = along(SUPERELASTIC, [0.02], state=state)
    assert warmed[0, 0] == pytest.approx(along(SUPERELASTIC, [0.02])[0][0, 0], rel=1e-12)


def test_linear_hardening_equals_its_closed_form():
    """Tangent E H / (E + H); reversed, the yield stress stays where hardening took it."""
    yielded = 1600 / 180e3
    tangent = 180e3 * 3000 / 183e3
    stress, state = along(HARDENING, [yielded, 0.02, 0.04])
    top = 1600 + tangent * (0.04 - yielded)
    np.testing.assert_allclose(stress[:, 0], [1600, 1600 + tangent * (0.02 - yielded), top])
    turned = 0.04 - 2 * top / 180e3
    back, _ = along(HARDENING, [turned, turned - 0.01], state=state)
    np.testing.assert_allclose(back[:, 0], [-top, -top - tangent * 0.01], rtol=1e-12)


def test_perfect_plasticity_never_passes_the_yield_stress():
    strain, state = scattered(PERFECT)
    update = PERFECT.update(*strain, state)
    size = np.hypot(*update[:2])
    assert size.max() <= 1600 * (1 + 1e-12)
    assert np.mean(np.abs(size - 1600) < 1e-9) > 0.3
    shear, _ = along(PERFECT, [0.0], [0.05])
    assert shear[0, 1] == pytest.approx(1600)  # tau = 1600 / sqrt(3)


@pytest.mark.parametrize("ratio", [1.0, 3**0.5])
def test_plastic_strain_flows_along_the_stress(ratio):
    """Backward Euler of Prandtl and Reuss in long proportional straining: known in the limit."""
    law = replace(PERFECT, ratio=ratio)
    stress, _ = along(law, [40.0], [30.0])
    np.testing.assert_allclose(stress[0], [1280, 960], rtol=1e-3)


@INELASTIC
@pytest.mark.parametrize("path", ["axial", "shear", "both"])
def test_energy_is_accounted_for(law, path):
    """Work done = elastic energy + inelastic work; 1 % is what 200 steps per corner may lose."""
    rng = np.random.default_rng(11)
    corners = np.vstack([np.zeros(2), rng.uniform(-0.06, 0.06, (8, 2)), np.zeros(2)])
    corners *= {"axial": (1, 0), "shear": (0, 1), "both": (1, 1)}[path]
    strain = straight(corners, 200)
    state, stresses, energies = law.start((1,)), [], []
    for e, g in strain:
        update = law.update(np.array([e]), np.array([g]), state)
        state = update.state
        stresses.append([update.axial_stress[0], update.shear_stress[0]])
        energies.append(law.stored(*update[:2])[0] + law.inelastic(state)[0])
    done = work(strain, np.array(stresses))
    np.testing.assert_allclose(energies, done, rtol=0, atol=0.01 * np.abs(done).max())
    assert law.inelastic(state)[0] > 1.0


@INELASTIC
def test_no_closed_cycle_gives_energy(law):
    rng = np.random.default_rng(12)
    for _ in range(6):
        inner = rng.uniform(-0.05, 0.05, (4, 2)) * (1, rng.integers(2))
        corners = np.vstack([np.zeros(2), inner, inner[:1]])
        strain = straight(corners, 60)
        stress, _ = along(law, *strain.T)
        done = work(strain, stress)
        # the cycle begins and ends at the first corner; its stress may differ (memory), so the
        # elastic energy that is left is taken off
        elastic = [law.stored(*stress[k])[()] for k in (59, -1)]
        assert done[-1] - done[59] - (elastic[1] - elastic[0]) >= -1e-3 * done.max()


@EVERY
def test_a_state_between_two_states_is_a_state(law):
    _, first = scattered(law)
    state = (first + first[:, ::-1]) / 2
    strain = 0.03 * np.random.default_rng(8).normal(size=(2, 3000))
    update = law.update(*strain, state)
    assert np.all(np.isfinite(update.state))
    if isinstance(law, SuperelasticFibre):
        assert update.state[0].min() >= 0.0
        assert update.state[0].max() <= 1.0
        # as at any time: stress sizes and fractions on or between the branches
        size = np.hypot(*update[:2])
        assert np.all(size[update.state[0] < 1] <= law.thresholds[3] + 1e-9)
        assert np.all(size[update.state[0] > 0] >= law.thresholds[0] - 1e-9)


@EVERY
def test_a_step_to_where_it_is_changes_nothing(law):
    strain, state = scattered(law)
    once = law.update(*strain, state)
    twice = law.update(*strain, once.state)
    np.testing.assert_allclose(twice[0], once[0], rtol=0, atol=1e-9)
    np.testing.assert_allclose(twice[1], once[1], rtol=0, atol=1e-9)
    np.testing.assert_allclose(twice.state, once.state, rtol=1e-12, atol=1e-9)


def test_shapes_are_kept():
    strain = np.full((3, 5), 0.02)
    for law in LAWS.values():
        update = law.update(strain, -strain, law.start((3, 5)))
        assert update.state.shape == (law.fields, 3, 5)
        flat = law.update(strain.ravel(), -strain.ravel(), law.start((15,)))
        np.testing.assert_array_equal(update.axial_stress.ravel(), flat.axial_stress)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"forward_start": 460.0}, "reverse_finish <= reverse_start <= forward_start"),
        ({"reverse_start": 410.0}, "reverse_finish <= reverse_start <= forward_start"),
        ({"reverse_finish": 0.0}, "needs reverse_finish > 0"),
        ({"strain": -0.05}, "needs strain > 0"),
        ({"slope": -1.0}, "slope >= 0 MPa/K, got -1"),
        ({"temperature": float("nan")}, "finite temperatures"),
        ({"ratio": 0.0}, "needs ratio > 0"),
        ({"young": 0.0}, "needs young > 0"),
    ],
)
def test_wrong_parameters_raise(change, words):
    with pytest.raises(ValueError, match=words):
        replace(SUPERELASTIC, **change)


def test_wrong_moduli_and_yield_raise():
    with pytest.raises(ValueError, match="needs shear > 0"):
        ElasticFibre(1.0, 0.0)
    with pytest.raises(ValueError, match="yield_stress > 0"):
        replace(HARDENING, yield_stress=0.0)
    with pytest.raises(ValueError, match="hardening >= 0 MPa, got -1"):
        replace(HARDENING, hardening=-1.0)
