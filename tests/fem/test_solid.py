"""The three-dimensional reference itself: rigid motions, and a layer known in closed form."""

import numpy as np

from gomphosis.fem.solid import SolidCounts, solid_layer

SMALL = SolidCounts(middle=2, outwards=3, through=1)


def bowl(s, eta):
    """Return half a sphere of radius 2 with a layer of 0.02 around it."""
    radius = 2 + 0.02 * eta
    return np.stack([radius * np.sin(np.pi / 2 * s), -radius * np.cos(np.pi / 2 * s)])


def test_rigid_motions_of_a_quarter_cost_nothing():
    layer = solid_layer(bowl, young=1.0, poisson=0.45, counts=SMALL)
    for motion in (np.eye(3), [[0.0, -1, 0], [1, 0, 0], [0, 0, 0]]):
        field = layer.place @ np.transpose(motion) if np.trace(motion) == 0 else np.ones(3)
        move = np.broadcast_to(field, layer.place.shape)
        move = move[np.arange(len(move)), layer.component]
        assert np.abs(layer.stiffness @ move).max() < 1e-11 * abs(layer.stiffness).max()


def test_shared_nodes_of_the_three_blocks_are_one():
    layer = solid_layer(bowl, young=1.0, poisson=0.3, counts=SMALL)
    # (2m+1)^2 nodes of the middle, 2 o (4m + 1) around it, on 2 t + 1 levels
    assert len(layer.place) == 3 * 3 * ((2 * 2 + 1) ** 2 + 2 * 3 * (4 * 2 + 1))
    assert len(layer.inner) == len(layer.outer) == len(layer.place) / 3


def test_thin_bowl_against_springs_on_half_a_sphere():
    """Verification: springs M/t and G/t on half a sphere.

    Mean of n_z^2 is 1/3 and of n_x^2 too: axial = lateral = 2 pi R^2 (k_n + 2 k_t) / 3, and
    torsion 2 pi R^4 k_t 2/3.
    """
    layer = solid_layer(
        bowl, young=1.0, poisson=0.3, counts=SolidCounts(middle=3, outwards=6, through=1)
    )
    normal = (1 - 0.3) / ((1 + 0.3) * (1 - 0.6)) / 0.02
    shear = 1 / (2 * 1.3) / 0.02
    radius = 2.01
    plain = 2 * np.pi * radius**2 * (normal + 2 * shear) / 3
    # thickness over radius is 0.01; the free rim is softer over about that width
    np.testing.assert_allclose(layer.axial(), plain, rtol=0.02)
    np.testing.assert_allclose(layer.across()[0, 0], plain, rtol=0.02)
    np.testing.assert_allclose(layer.torsional(), 2 * np.pi * radius**4 * shear * 2 / 3, rtol=0.01)
