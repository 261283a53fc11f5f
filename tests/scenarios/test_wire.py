"""Sections of wires against printed constants and what they refuse."""

import numpy as np
import pytest

from gomphosis.scenarios.wire import WireSection

INCH = 25.4
# verification: section constants worked out separately, printed to four digits; mm^2 and mm^4
ROUNDS = [
    (0.012, 0.07297, 4.237e-4, 8.473e-4),
    (0.014, 0.09931, 7.849e-4, 1.570e-3),
    (0.016, 0.12972, 1.339e-3, 2.678e-3),
    (0.018, 0.16417, 2.145e-3, 4.290e-3),
    (0.020, 0.20268, 3.269e-3, 6.538e-3),
]
RECTANGLES = [
    (0.016, 0.016, 0.1652, 2.273e-3, 2.273e-3, 3.835e-3),
    (0.016, 0.022, 0.2271, 3.126e-3, 5.909e-3, 6.922e-3),
    (0.017, 0.025, 0.2742, 4.260e-3, 9.214e-3, 9.880e-3),
    (0.018, 0.025, 0.2903, 5.057e-3, 9.755e-3, 1.128e-2),
    (0.019, 0.025, 0.3065, 5.948e-3, 1.030e-2, 1.275e-2),
    (0.021, 0.025, 0.3387, 8.031e-3, 1.138e-2, 1.590e-2),
    (0.0215, 0.028, 0.3884, 9.652e-3, 1.637e-2, 2.054e-2),
]


@pytest.mark.parametrize(("diameter", "area", "inertia", "torsion"), ROUNDS)
def test_round_wires(diameter, area, inertia, torsion):
    wire = WireSection(diameter * INCH, diameter * INCH, round=True)
    found = (wire.area, wire.second_order_inertia, wire.first_order_inertia, wire.torsion_constant)
    np.testing.assert_allclose(found, (area, inertia, inertia, torsion), rtol=5e-4)


@pytest.mark.parametrize(("height", "width", "area", "second", "first", "torsion"), RECTANGLES)
def test_rectangular_wires(height, width, area, second, first, torsion):
    wire = WireSection(height * INCH, width * INCH, round=False)
    found = (wire.area, wire.second_order_inertia, wire.first_order_inertia, wire.torsion_constant)
    np.testing.assert_allclose(found, (area, second, first, torsion), rtol=5e-4)


def test_torsion_of_a_flat_strip_tends_to_a_third_of_its_cube():
    """Verification: J -> b t^3 / 3 (1 - 0.63 t/b) for thin strips, either way up."""
    for sizes in ((0.1, 10.0), (10.0, 0.1)):
        found = WireSection(*sizes, round=False).torsion_constant
        np.testing.assert_allclose(found, 10 * 0.1**3 / 3 * (1 - 0.63 * 0.01), rtol=1e-4)


def test_beam_takes_each_rigidity_from_its_own_constant():
    """Deflection along the first axis (labial) is first-order bending."""
    wire = WireSection(0.4, 0.6, round=False)
    beam = wire.beam(young=1000.0, poisson=0.25)
    assert beam.bending_first == 1000 * wire.first_order_inertia
    assert beam.bending_second == 1000 * wire.second_order_inertia
    assert beam.bending_first > beam.bending_second
    np.testing.assert_allclose(
        [beam.stretching, beam.twisting], [240.0, 400 * wire.torsion_constant], rtol=1e-14
    )


@pytest.mark.parametrize(
    ("sizes", "message"),
    [
        ((0.0, 0.4, False), "sizes > 0 mm, got 0.0 x 0.4"),
        ((0.4, -0.4, False), "sizes > 0 mm"),
        ((0.4, 0.5, True), "a round wire has one diameter, got 0.4 x 0.5"),
    ],
)
def test_impossible_sections_are_refused(sizes, message):
    with pytest.raises(ValueError, match=message):
        WireSection(*sizes)
