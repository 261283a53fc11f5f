"""Arrays of a report come back as they went in, to the last digit kept. Verification."""

import numpy as np
import pytest

from gomphosis.viz.report_packing import Packing, unpacked


@pytest.mark.parametrize(
    ("values", "step", "kind"),
    [
        ([[0.12, -0.5], [0.13, 0.5]], 0.01, "int8"),
        ([[127.0, -127.0], [-127.0, 127.0]], 1.0, "int8"),  # differences leave the range
        ([[3.2767, -3.2767], [-3.2767, 0.0]], 1e-4, "int16"),
        ([[2e9, 0.0], [-2e9, 1.0]], 1.0, "int32"),
        ([[np.nan, 1.0], [2.0, np.nan]], 0.5, "int8"),
    ],
)
def test_arrays_come_back(values, step, kind):
    packing = Packing()
    first = packing.add([7.0, 9.0])
    place = packing.add(values, step=step)
    assert place["kind"] == kind
    np.testing.assert_allclose(unpacked(packing.bytes(), place), values, rtol=0, atol=1e-9)
    np.testing.assert_array_equal(unpacked(packing.bytes(), first), [7.0, 9.0])


def test_values_are_rounded_to_the_nearest_digit():
    packing = Packing()
    place = packing.add([0.126, 0.124, -0.126], step=0.01)
    np.testing.assert_allclose(
        unpacked(packing.bytes(), place), [0.13, 0.12, -0.13], rtol=0, atol=1e-12
    )


def test_what_changes_little_packs_as_zeros():
    packing = Packing()
    packing.add(np.full((5, 100), 3.0))
    assert packing.bytes()[100:] == bytes(400)


def test_too_large_a_value_and_too_short_a_block_are_refused():
    with pytest.raises(ValueError, match=r"3e\+09 units is too large"):
        Packing().add([3e9])
    packing = Packing()
    place = packing.add([1.0, 2.0])
    with pytest.raises(ValueError, match="too short"):
        unpacked(packing.bytes()[:1], place)
