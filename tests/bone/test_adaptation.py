"""Density by strain energy: one element at rest, its stability, the plate, the map."""

from dataclasses import replace

import numpy as np
import pytest
from skfem import (
    Basis,
    BilinearForm,
    ElementQuad0,
    ElementQuad1,
    ElementVector,
    FacetBasis,
    LinearForm,
    MeshQuad,
    condense,
    solve,
)
from skfem.helpers import ddot, sym_grad

from gomphosis.bone.adaptation import Adaptation, NotSettledError, adapted
from gomphosis.bone.adaptive_plate import AdaptivePlate, checkerboard_share, joined_share
from gomphosis.bone.coverage import Raster
from gomphosis.bone.density_map import DensityMap
from gomphosis.bone.library import lookup
from gomphosis.bone.mineral import Exponential, mineralised

LAW = Adaptation.published()
C = lookup("adaptation.weinans.coefficient").number
START = lookup("adaptation.weinans.start").number
AT_REST = dict(
    zip(
        lookup("adaptation.at_rest.stress").numbers,
        lookup("adaptation.at_rest.density").numbers,
        strict=True,
    )
)


def under_stress(stress):
    return lambda density: stress**2 / (2 * C * density**2)


def under_strain(strain):
    return lambda density: 0.5 * C * density**2 * strain**2


# One element


@pytest.mark.parametrize(("stress", "density"), AT_REST.items())
@pytest.mark.parametrize("start", [0.3, START, 1.7])
def test_verification_density_under_stress_comes_to_rest(stress, density, start):
    found = LAW.settled(under_stress(stress), np.array([start]), days=0.02, steps=20000)
    # four digits in the source
    np.testing.assert_allclose(found, density, rtol=0, atol=5e-5)
    np.testing.assert_allclose(found, (stress**2 / (2 * C * 0.25)) ** (1 / 3), rtol=1e-6)


def test_verification_stress_at_which_density_saturates():
    limit = lookup("adaptation.at_rest.saturates").number
    below, above = (
        LAW.settled(under_stress(stress), np.array([START]), days=0.1, steps=20000)[0]
        for stress in (limit - 0.02, limit + 0.02)
    )
    assert below < LAW.highest
    assert above == LAW.highest


@pytest.mark.parametrize("off", [-1e-3, 1e-3])
def test_verification_density_under_strain_runs_to_a_bound(off):
    strain = 0.08
    balance = 2 * LAW.reference / (C * strain**2)
    assert LAW.lowest < balance < LAW.highest
    start = np.array([balance + off])
    found = LAW.settled(under_strain(strain), start, days=0.1, steps=20000)
    np.testing.assert_array_equal(found, LAW.highest if off > 0 else LAW.lowest)


def test_lazy_zone_and_rate():
    law = replace(LAW, rate=2.0, lazy=0.2)
    stimulus = np.array([0.10, 0.2001, 0.25, 0.2999, 0.4])
    np.testing.assert_allclose(law.speed(stimulus, np.ones(5)), [-0.2, 0, 0, 0, 0.2], atol=1e-12)


def test_a_density_that_does_not_settle_is_reported():
    with pytest.raises(NotSettledError, match=r"still changes by .* after 3 steps"):
        LAW.settled(under_stress(5.0), np.array([START]), days=0.1, steps=3)


@pytest.mark.parametrize(
    "bad",
    [{"rate": 0.0}, {"reference": -1.0}, {"lowest": 2.0}, {"lowest": 0.0}, {"lazy": 1.0}],
)
def test_bad_laws_are_refused(bad):
    with pytest.raises(ValueError, match=r"adaptation needs|lazy zone"):
        replace(LAW, **bad)


# The plate


def plate(side, nodal):
    names = ("load", "coefficient", "exponent", "poisson")
    numbers = {name: lookup(f"adaptation.weinans.{name}").number for name in names}
    return AdaptivePlate(side, nodal=nodal, **numbers)


def reference_energy(body, density):
    """Return the strain energy of the plate, N·mm per mm, from the library's own weak form."""
    mesh = MeshQuad.init_tensor(*2 * [np.linspace(0, 1, body.side + 1)])
    basis = Basis(mesh, ElementVector(ElementQuad1()), intorder=3)
    scalar = basis.with_element(ElementQuad1() if body.nodal else ElementQuad0())
    place = scalar.doflocs if body.nodal else mesh.p[:, mesh.t].mean(axis=1)
    i, k = np.floor(place * body.side + 1e-9).astype(int)
    modulus = body.coefficient * scalar.interpolate(density[i, k]) ** body.exponent
    nu = body.poisson

    @BilinearForm
    def work(u, v, w):
        e, f = sym_grad(u), sym_grad(v)
        plain = (e[0, 0] + e[1, 1]) * (f[0, 0] + f[1, 1])
        return w["E"] * (nu / (1 - nu**2) * plain + ddot(e, f) / (1 + nu))

    @LinearForm
    def push(v, w):
        return -body.load * (1 - w.x[0]) * v[1]

    top = FacetBasis(mesh, basis.elem, facets=mesh.facets_satisfying(lambda x: x[1] == 1))
    low = basis.get_dofs(lambda x: x[1] == 0).all("u^2")
    corner = basis.get_dofs(nodes=mesh.nodes_satisfying(lambda x: x[0] + x[1] == 0)).all("u^1")
    matrix = work.assemble(basis, E=modulus)
    load = push.assemble(top)
    u = solve(*condense(matrix, load, D=np.concatenate([low, corner])))
    return 0.5 * float(u @ load)


@pytest.mark.parametrize("nodal", [False, True])
def test_verification_energy_of_the_plate_against_the_library_s_weak_form(nodal):
    body = plate(6, nodal)
    density = np.random.default_rng(3).uniform(0.2, 1.5, body.shape)
    area = np.full(body.shape, 1 / 36)
    if nodal:
        area[[0, -1]] /= 2
        area[:, [0, -1]] /= 2
    total = float((body.energy(density) * area).sum())
    # the same elements and points: equal but for round-off
    np.testing.assert_allclose(total, reference_energy(body, density), rtol=1e-10)


def test_published_plate_turns_into_a_checkerboard_of_elements():
    density = plate(16, False).adapted(LAW, START, days=0.2, steps=200)
    # measured 0.18 and 0.71 (20 elements a side, 500 steps: 0.27 and 0.64)
    assert checkerboard_share(density, LAW.highest) > 0.1
    assert joined_share(density, LAW.highest) < 0.9


def test_published_plate_grows_struts_with_densities_at_nodes():
    density = plate(16, True).adapted(LAW, START, days=0.2, steps=200)
    assert checkerboard_share(density, LAW.highest) == 0.0
    assert joined_share(density, LAW.highest) > 0.98
    # struts: dense and bare places side by side at mid-height
    row = density[:, 8]
    assert row.max() > 0.95 * LAW.highest
    assert np.sum(np.diff((row > 0.5 * LAW.highest).astype(int)) == 1) >= 2


def test_measures_of_a_checkerboard_and_of_a_strut():
    board = np.indices((6, 6)).sum(axis=0) % 2 * 1.0
    strut = np.zeros((6, 6))
    strut[2:4] = 1.0
    assert checkerboard_share(board, 1.0) == 1.0
    assert checkerboard_share(strut, 1.0) == 0.0
    assert joined_share(strut, 1.0) == 1.0
    np.testing.assert_allclose(joined_share(board, 1.0), 3 / 18)
    assert checkerboard_share(0 * board, 1.0) == joined_share(0 * board, 1.0) == 0.0


def test_a_plate_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="plate needs"):
        replace(plate(4, False), side=1)


# The map


def bones():
    raster = Raster((0.0, 0.0), (4, 3), 0.1)
    bone = np.ones(raster.shape)
    bone[0], bone[1] = 0.0, 0.4
    return DensityMap(raster, bone, 0.5 * bone, 0 * bone, np.ones_like(bone), 0.5 + 0 * bone)


def test_map_gains_where_energy_is_high_and_keeps_its_books():
    before = bones()
    energy = np.full(before.raster.shape, 0.6)
    after, books = adapted(before, energy, LAW, days=0.1)
    held = 0.5 * LAW.highest
    gained = 0.1 * (0.6 / held - LAW.reference) / LAW.highest
    np.testing.assert_allclose(after.density[1:], 0.5 + gained, rtol=1e-12)
    np.testing.assert_allclose(books.mineral_adapted, gained * before.bone_area, rtol=1e-12)
    assert after.density[0].max() == 0.0


def test_mineralisation_does_not_undo_adaptation():
    after, books = adapted(bones(), np.full((4, 3), 0.01), LAW, days=0.1)
    assert books.mineral_adapted < -1e-4
    _, matured = mineralised(after, Exponential(10.0), days=100.0)
    assert abs(matured.mineral_matured) < 1e-15


def test_map_stays_within_bounds():
    high, _ = adapted(bones(), np.full((4, 3), 1e6), LAW, days=1.0)
    low, _ = adapted(bones(), np.zeros((4, 3)), LAW, days=1e6)
    np.testing.assert_allclose(high.density[1:], 1.0, rtol=1e-14)
    np.testing.assert_allclose(low.density[1:], LAW.lowest / LAW.highest, rtol=1e-12)


@pytest.mark.parametrize(
    ("energy", "message"),
    [
        (np.zeros((3, 4)), "shape"),
        (np.full((4, 3), -1.0), ">= 0 MPa"),
        (np.full((4, 3), np.nan), "finite"),
    ],
)
def test_bad_energies_are_refused(energy, message):
    with pytest.raises(ValueError, match=message):
        adapted(bones(), energy, LAW, days=1.0)
