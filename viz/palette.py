"""Colours of all pictures, chosen to stay apart for colour-blind readers and in grey.

Colour is never the only signal: zones also carry a pattern (strokes for compression, dots for
tension) and curves a label of their own.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from matplotlib.colors import Colormap

PAPER = "#ffffff"
INK = "#1d2530"
QUIET = "#53606e"  # second-rank text
RULE = "#c9d0d6"  # grid and frames
SHADE = "#eef1f3"  # panels behind text

TOOTH = "#ece3d0"
TOOTH_EDGE = "#6b5c3e"
ROOT = "#d9c9a8"
GHOST = "#8b949d"
METAL = "#3d4a57"
BAND = "#b9cbd3"

SOFT_TISSUE = "#f6ecea"
BONE_NEW = "#e3e0da"  # of no density
BONE_FULL = "#8f8b84"  # full cortical
LIGAMENT = "#c7dde2"

COMPRESSION = "#2f2f8c"
TENSION = "#a8500a"
NEUTRAL = "#f3f1ec"

SERIES = ("#1d2530", "#0d6d86", "#a04a00", "#6b3fa0", "#3f6b12", "#96285f")
"""Curves in order of use; each has at least 4.5:1 on paper."""
DASHES: tuple[tuple[int, tuple[float, ...]], ...] = (
    (0, ()),
    (0, (5, 1.6)),
    (0, (1.3, 1.5)),
    (0, (7, 1.5, 1.3, 1.5)),
    (0, (3, 1, 1, 1, 1, 1)),
    (0, (9, 3)),
)
"""Dash patterns that go with `SERIES`."""

_STOPS = ("#23236f", "#4a57ad", "#9aa9d6", NEUTRAL, "#eab377", "#c9731f", "#833a00")


def rgb(colour: str) -> tuple[int, int, int]:
    """Return the bytes of a colour such as ``#1d2530``."""
    return (int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16))


def luminance(colour: str) -> float:
    """Return the relative luminance, 0 to 1.

    Source: WCAG 2.2, definition of relative luminance (sRGB).
    """
    share = np.array(rgb(colour)) / 255.0
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21.

    Source: WCAG 2.2, definition of contrast ratio.
    """
    dark, light = sorted((luminance(first), luminance(second)))
    return (light + 0.05) / (dark + 0.05)


def blend(first: str, second: str, share: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return colours from a first (share 0) to a second (share 1), 0 to 255, shape (..., 3)."""
    part = np.clip(np.asarray(share, dtype=float), 0.0, 1.0)[..., None]
    return (1 - part) * np.array(rgb(first)) + part * np.array(rgb(second))


def shades(colour: str, count: int) -> list[str]:
    """Return shades of a colour from a lighter one to itself, each still readable on paper."""
    return [_mixed(colour, share) for share in np.linspace(0.32, 0.0, count)]


def _mixed(colour: str, share: float) -> str:
    while True:
        blend = (1 - share) * np.array(rgb(colour)) + share * 255.0
        mixed = "#" + "".join(f"{round(channel):02x}" for channel in blend)
        if contrast(mixed, PAPER) >= 4.5 or share <= 0.0:
            return mixed
        share -= 0.02


def traction_bytes() -> npt.NDArray[np.uint8]:
    """Return 256 colours from full compression to full tension, shape (256, 3)."""
    return _ramp(_STOPS)


def traction_colours() -> "Colormap":
    """Return the same colours as a colour map of the plotting library."""
    from matplotlib.colors import ListedColormap

    return ListedColormap(traction_bytes() / 255.0, name="traction")


def signed_root(share: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return sign(x)·sqrt|x|: the scale on which tractions are coloured, so small ones show."""
    value = np.asarray(share, dtype=float)
    return np.sign(value) * np.sqrt(np.abs(value))


def signed_square(share: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return sign(x)·x^2, the inverse of `signed_root`."""
    value = np.asarray(share, dtype=float)
    return value * np.abs(value)


def _ramp(stops: Sequence[str]) -> npt.NDArray[np.uint8]:
    at = np.linspace(0.0, 1.0, len(stops))
    places = np.linspace(0.0, 1.0, 256)
    channels = np.array([rgb(stop) for stop in stops], dtype=float).T
    return np.stack([np.interp(places, at, c) for c in channels], axis=1).round().astype(np.uint8)
