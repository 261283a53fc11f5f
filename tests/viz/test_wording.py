"""Verification of words beside curves."""

import numpy as np
import pytest

from gomphosis.viz.wording import sense_text

WORDS = ("extrusive", "intrusive")


@pytest.mark.parametrize(
    ("curve", "expected"),
    [
        ([0.3, -0.2], "intrusive 0.20"),
        ([-0.3, 0.2], "extrusive 0.20"),
        # what has faded keeps the sense that the curve had
        ([-0.3, 0.001], "intrusive 0.00"),
        ([0.3, -0.004], "extrusive 0.00"),
        ([0.0, 0.0], "extrusive 0.00"),
    ],
)
def test_sense_at_the_end_of_a_curve(curve, expected):
    assert sense_text(np.array(curve), WORDS) == expected
