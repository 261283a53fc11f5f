"""Balance of plane bodies with springs, prescribed motions and laws."""

import numpy as np
import pytest

from gomphosis.bone.ligament_laws import BilinearLigament, LinearLigament
from gomphosis.fem.boundary import line
from gomphosis.fem.harmonic import constrained_modulus
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.plane import plane_elements
from gomphosis.fem.plane_equilibrium import (
    Loading,
    LocalMatrices,
    PlaneBody,
    law_equilibrium,
    linear_equilibrium,
)
from gomphosis.fem.plane_grid import plane_grid
from gomphosis.fem.plane_points import plane_points
from gomphosis.fem.sparse_newton import NewtonLimits

WIDTH, DEPTH = 1.5, 0.8
THICK = 0.2
BILINEAR = BilinearLigament(0.05, 0.28, 0.075, 0.3)
LIMITS = NewtonLimits(1e-11)


class Layer:
    """A layer between smooth side walls, its floor held, its roof moved or pulled."""

    def __init__(self, law=None, springs=()):
        xi, eta = np.linspace(0, 1, 4), np.linspace(0, 1, 3)
        self.mesh = plane_grid(xi, eta, mapping=lambda xi, eta: np.stack([WIDTH * xi, THICK * eta]))
        points = plane_points(self.mesh.nodes, self.mesh.elements)
        self.elements = plane_elements(points, DEPTH)
        matrices = self.elements.stiffness(0.05, 0.3)
        lawful = None if law is None else np.arange(len(matrices))
        self.body = PlaneBody(self.elements, matrices, springs, law, lawful)
        lines = self.mesh.lines
        sides = np.concatenate([lines["xi_first"], lines["xi_last"]])
        self.roof = 2 * lines["eta_last"] + 1
        held = np.concatenate([2 * sides, 2 * lines["eta_first"] + 1, 2 * lines["eta_last"]])
        self.free = np.setdiff1d(np.arange(self.elements.size), held)

    def moved(self, rise):
        """Return the loading of a roof at a given height, and the unknowns then."""
        lead = np.zeros(self.elements.size)
        lead[self.roof] = rise
        return Loading(0 * lead, lead), np.setdiff1d(self.free, self.roof)


def test_a_linear_layer_carries_its_constrained_modulus():
    layer = Layer()
    loading, free = layer.moved(0.01)
    answer = linear_equilibrium(layer.body, layer.body.pattern(free), loading).answer
    expected = constrained_modulus(0.05, 0.3) * 0.01 / THICK * WIDTH * DEPTH
    np.testing.assert_allclose(layer.body.force(answer)[layer.roof].sum(), expected, rtol=1e-12)
    # and at the wall, the same force per area
    wall = line(layer.mesh, "eta_last", depth=np.full(layer.mesh.nodes.shape[1], DEPTH))
    traction = wall.traction(layer.body.force(answer).reshape(-1, 2)[wall.nodes])
    np.testing.assert_allclose(traction[:, 1], expected / (WIDTH * DEPTH), rtol=1e-11)


def test_springs_share_the_load_with_the_layer():
    """Verification: parallel springs add; a spring on each roof node, 0.3 N/mm in all."""
    roof = Layer().roof
    each = 0.3 / len(roof)
    springs = LocalMatrices(roof[:, None], np.full((len(roof), 1, 1), each))
    layer = Layer(springs=(springs,))
    loading, free = layer.moved(0.02)
    answer = linear_equilibrium(layer.body, layer.body.pattern(free), loading).answer
    rate = constrained_modulus(0.05, 0.3) / THICK * WIDTH * DEPTH + 0.3
    np.testing.assert_allclose(layer.body.force(answer)[layer.roof].sum(), 0.02 * rate, rtol=1e-12)
    free_roof = linear_equilibrium(
        layer.body, layer.body.pattern(layer.free), Loading(layer.body.force(answer), 0 * answer)
    )
    np.testing.assert_allclose(free_roof.answer, answer, rtol=0, atol=1e-13)


def test_a_bilinear_layer_switches_at_the_strain_of_its_thickness():
    """Verification: confined stretch, slope M1 below and M2 above 7.5 %, by hand."""
    first, second = constrained_modulus(0.05, 0.3), constrained_modulus(0.28, 0.3)
    for stretch in (0.03, -0.2):
        layer = Layer(BILINEAR)
        loading, free = layer.moved(stretch * THICK)
        found = law_equilibrium(layer.body, layer.body.pattern(free), loading, limits=LIMITS)
        size = abs(stretch)
        stress = first * min(size, 0.075) + second * max(size - 0.075, 0.0)
        force = layer.body.force(found.unknowns)[layer.roof].sum()
        np.testing.assert_allclose(
            force, np.sign(stretch) * stress * WIDTH * DEPTH, rtol=1e-9, err_msg=str(stretch)
        )


def test_newton_converges_fast_and_starts_from_the_linear_answer():
    layer = Layer(BILINEAR)
    load = np.zeros(layer.elements.size)
    load[layer.roof] = np.linspace(0.0, 0.01, len(layer.roof))  # uneven: strains vary
    found = law_equilibrium(
        layer.body, layer.body.pattern(layer.free), Loading(load, 0 * load), limits=LIMITS
    )
    out = (layer.body.force(found.unknowns) - load)[layer.free]
    assert np.abs(out).max() <= 1e-11
    strain = BILINEAR.equivalent(layer.elements.strain(found.unknowns))
    assert strain.min() < 0.06  # some of it on the first branch
    assert strain.max() > 0.09  # some on the second
    assert len(found.history) <= 9
    # quadratic at the end
    assert found.history[-1] < 1e-3 * found.history[-2]


def test_a_linear_law_takes_one_step_to_the_linear_answer():
    with_law = Layer(LinearLigament(0.05, 0.3))
    without = Layer()
    load = np.zeros(without.elements.size)
    load[without.roof] = 0.002
    pattern = without.body.pattern(without.free)
    found = law_equilibrium(with_law.body, pattern, Loading(load, 0 * load), limits=LIMITS)
    expected = linear_equilibrium(without.body, pattern, Loading(load, 0 * load)).answer
    assert len(found.history) == 2
    np.testing.assert_allclose(
        found.unknowns, expected, rtol=0, atol=1e-12 * np.abs(expected).max()
    )


def test_what_does_not_converge_is_an_error_with_its_history():
    layer = Layer(BILINEAR)
    loading, free = layer.moved(0.3 * THICK)
    pattern = layer.body.pattern(free)
    with pytest.raises(NotConvergedError, match="in 1 iterations") as caught:
        law_equilibrium(
            layer.body, pattern, loading, limits=NewtonLimits(1e-11, iterations=1, halvings=0)
        )
    assert len(caught.value.history) == 2
    assert caught.value.history[0] > 1e-4


def test_a_law_and_its_elements_come_together():
    layer = Layer()
    with pytest.raises(ValueError, match="a law needs the elements that follow it"):
        PlaneBody(layer.elements, layer.body.matrices, law=BILINEAR)
    with pytest.raises(ValueError, match="body of 6 elements got 2 matrices"):
        PlaneBody(layer.elements, layer.body.matrices[:2])
    with_law = Layer(BILINEAR)
    loading, free = with_law.moved(0.1)
    with pytest.raises(ValueError, match="needs law_equilibrium"):
        linear_equilibrium(with_law.body, with_law.body.pattern(free), loading)
