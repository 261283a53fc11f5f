"""Resultants of a section: sign and size, tangent, energy, and that sections do not mix."""

import numpy as np
import pytest

from gomphosis.fem.fibre_laws import ElasticFibre, PlasticFibre, SuperelasticFibre
from gomphosis.fem.fibre_section import FibreSection, rectangular_section, round_section
from gomphosis.fem.section_response import ElasticSection, FibrewiseSection

YOUNG, SHEAR = 50_000.0, 20_000.0
RECTANGLE = rectangular_section(0.6, 0.4, edge_radius=0.05)
ROUND = round_section(0.4)
LAWS = {
    "elastic": ElasticFibre(YOUNG, SHEAR),
    "plastic": PlasticFibre(180e3, 70e3, 1600, 3000),
    "superelastic": SuperelasticFibre(YOUNG, SHEAR, 400, 450, 200, 150, 0.05),
}
EVERY = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)


def used(law, count=30):
    """Return a section, random strains and the state a random history left."""
    section, rng = FibrewiseSection(RECTANGLE, law), np.random.default_rng(3)
    strain = rng.normal(size=(count, 4)) * (0.003, 0.1, 0.1, 0.15)
    state = section.start(count)
    for _ in range(3):
        state = section.respond(strain * rng.uniform(-1, 1.5, (count, 1)), state).state
    return section, strain, state


def elastic_twin(section):
    return ElasticSection(
        YOUNG * section.total_area,
        YOUNG * section.inertia_second,
        YOUNG * section.inertia_third,
        SHEAR * section.torsion_constant,
    )


@pytest.mark.parametrize("section", [RECTANGLE, ROUND], ids=["rectangle", "round"])
def test_elastic_fibres_equal_the_elastic_section(section):
    """Verification: E A, E I about both axes, G J; and the elastic energy."""
    strain = np.array([[1e-3, 0, 0, 0], [0, 0.02, 0, 0], [0, 0, -0.03, 0], [0, 0, 0, 0.04]])
    strain = np.vstack([strain, strain.sum(axis=0)])
    fibres, whole = FibrewiseSection(section, LAWS["elastic"]), elastic_twin(section)
    state = fibres.start(5)
    got, wanted = fibres.respond(strain, state), whole.respond(strain, whole.start(5))
    np.testing.assert_allclose(got.resultant, wanted.resultant, rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(got.tangent, wanted.tangent, rtol=1e-10, atol=1e-9)
    energy = whole.stored(strain, wanted.state)
    np.testing.assert_allclose(fibres.stored(strain, state), energy, rtol=1e-10)
    np.testing.assert_allclose(energy, np.sum(strain * wanted.resultant, axis=1) / 2, rtol=1e-12)
    np.testing.assert_array_equal(fibres.inelastic(state), np.zeros(5))
    np.testing.assert_array_equal(whole.inelastic(wanted.state), np.zeros(5))


def test_fibres_stretch_on_the_side_the_convention_says():
    """One fibre at second 0.2, third 0.1: eps = stretch + third k2 - second k3."""
    one = np.ones(1)
    section = FibrewiseSection(FibreSection(0.2 * one, 0.1 * one, one, 0.3 * one), LAWS["elastic"])
    state = section.start(1)
    axial = [section.respond(row[None], state).resultant[0, 0] for row in np.eye(4)]
    np.testing.assert_allclose(axial, YOUNG * np.array([1, 0.1, -0.2, 0]), rtol=1e-12)
    twisted = section.respond(np.array([[0, 0, 0, 2.0]]), state).resultant[0]
    np.testing.assert_allclose(twisted, [0, 0, 0, SHEAR * 0.3**2 * 2], rtol=1e-12)
    bent = section.respond(np.array([[0, 0, 1.0, 0]]), state).resultant[0]
    np.testing.assert_allclose(bent, YOUNG * np.array([-0.2, -0.02, 0.04, 0]), rtol=1e-12)


@EVERY
def test_tangent_equals_central_differences_and_is_symmetric(law):
    section, strain, state = used(law)
    tangent = section.respond(strain, state).tangent
    scale = np.sqrt(np.diagonal(section.respond(0 * strain, section.start(30)).tangent[0]))
    scale = np.outer(scale, scale)
    for column, step in enumerate((1e-8, 1e-7, 1e-7, 1e-7)):
        change = step * np.eye(4)[column]
        ahead, behind = (section.respond(strain + sign * change, state) for sign in (1, -1))
        difference = (ahead.resultant - behind.resultant) / (2 * step)
        error = (difference - tangent[:, :, column]) / scale[:, column]
        # a fibre at a corner of its curve within the step is wrong by its share of the section
        np.testing.assert_allclose(error, 0, rtol=0, atol=2e-6)
    np.testing.assert_allclose(tangent, tangent.transpose(0, 2, 1), rtol=0, atol=1e-12)
    if not isinstance(law, ElasticFibre):
        assert np.abs((tangent / scale)[:, :3, 3]).max() > 0.01


@EVERY
def test_sections_do_not_mix(law):
    section, strain, state = used(law)
    together = section.respond(strain, state)
    alone = section.respond(strain[4:5], state[:, 4:5])
    np.testing.assert_allclose(alone.resultant, together.resultant[4:5], rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(alone.state, together.state[:, 4:5], rtol=1e-12, atol=1e-12)


@EVERY
def test_start_and_response_leave_the_given_state_alone(law):
    section, strain, state = used(law)
    before = state.copy()
    section.respond(strain, state)
    np.testing.assert_array_equal(state, before)
    assert section.start(7).shape == (law.fields, 7, RECTANGLE.fibres)


@EVERY
def test_energies_add_up_over_the_fibres(law):
    """Stored energy from the stresses of a straining that is uniform over the section."""
    section = FibrewiseSection(RECTANGLE, law)
    strain = np.array([[0.02, 0.0, 0.0, 0.0]])
    update = law.update(np.array([0.02]), np.zeros(1), law.start((1,)))
    response = section.respond(strain, section.start(1))
    area = RECTANGLE.total_area
    assert response.resultant[0, 0] == pytest.approx(area * update.axial_stress[0], rel=1e-12)
    stored = update.axial_stress[0] ** 2 / (2 * law.young)
    assert section.stored(strain, response.state)[0] == pytest.approx(area * stored, rel=1e-12)
    inelastic = area * law.inelastic(update.state)[0]
    assert section.inelastic(response.state)[0] == pytest.approx(inelastic, rel=1e-12)


def test_stiffnesses_must_be_positive():
    with pytest.raises(ValueError, match="four stiffnesses > 0"):
        ElasticSection(1.0, 1.0, 0.0, 1.0)
