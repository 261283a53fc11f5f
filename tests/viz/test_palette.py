"""Verification: colours are readable, apart in grey, and scaled as said."""

import numpy as np
import pytest

from gomphosis.viz import palette


def test_contrast_of_known_pairs():
    assert palette.contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)
    # 4.48 is the ratio commonly quoted for #777777 on white
    assert palette.contrast("#ffffff", "#777777") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize(
    "colour", [palette.INK, palette.QUIET, palette.METAL, *palette.SERIES], ids=str
)
def test_text_and_curves_can_be_read(colour):
    assert palette.contrast(colour, palette.PAPER) >= 4.5


def test_quiet_text_can_be_read_on_a_panel():
    assert palette.contrast(palette.QUIET, palette.SHADE) >= 4.5


@pytest.mark.parametrize("count", [1, 5, 12])
def test_shades_stay_readable_and_end_in_their_hue(count):
    shades = palette.shades(palette.SERIES[1], count)
    assert len(shades) == count
    assert min(palette.contrast(shade, palette.PAPER) for shade in shades) >= 4.5
    assert count == 1 or shades[-1] == palette.SERIES[1]


def test_tractions_darken_to_both_sides_and_keep_their_hue():
    ramp = palette.traction_bytes().astype(float)
    grey = ramp @ [0.2126, 0.7152, 0.0722]
    assert np.all(np.diff(grey[:128]) >= -1.0)
    assert np.all(np.diff(grey[128:]) <= 1.0)
    # blue against orange, never red against green: told apart by the blue channel
    assert np.all(ramp[:100, 2] > ramp[:100, 0] + 20)
    assert np.all(ramp[156:, 0] > ramp[156:, 2] + 20)


def test_signed_root_and_its_inverse():
    values = np.linspace(-1.0, 1.0, 21)
    assert palette.signed_square(palette.signed_root(values)) == pytest.approx(values, abs=1e-15)
    assert palette.signed_root(-0.25) == pytest.approx(-0.5)
