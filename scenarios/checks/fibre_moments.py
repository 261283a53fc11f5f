"""Closed forms of bent and twisted sections with piecewise linear laws.

Derived by integrating the stress over the section by hand. For a symmetric law
sigma(eps) = E eps + sum of dE_i <eps - eps_i>, each corner adds the moment of its own ramp, which
is zero inside |y| < eps_i / curvature.
"""

import math
from collections.abc import Callable, Sequence

import numpy as np
from scipy.integrate import quad
from scipy.optimize import root_scalar

from gomphosis.fem.fibre_laws import PlasticFibre, SuperelasticFibre

Corner = tuple[float, float]
"""Strain of a corner and by how much the slope changes there, MPa."""

Moment = Callable[[float], float]


def loading_corners(law: SuperelasticFibre) -> tuple[Corner, Corner]:
    """Return the two corners of a superelastic law's loading curve."""
    rise = law.forward_finish - law.forward_start
    slope = rise / (rise / law.young + law.strain)
    first, last = law.forward_start / law.young, law.forward_finish / law.young + law.strain
    return (first, slope - law.young), (last, law.young - slope)


def yield_corner(law: PlasticFibre) -> tuple[Corner]:
    """Return the corner of a perfectly plastic law."""
    return ((law.yield_stress / law.young, -law.young),)


def rectangle_moment(
    young: float, corners: Sequence[Corner], *, width: float, height: float
) -> Moment:
    """Return the moment, N·mm, over the curvature, 1/mm, of a rectangle bent across its height."""
    c = height / 2

    def moment(curvature: float) -> float:
        total = young * width * height**3 / 12 * curvature
        for strain, change in corners:
            y = min(strain / curvature, c)
            ramp = curvature * (c**3 - y**3) / 3 - strain * (c**2 - y**2) / 2
            total += 2 * width * change * ramp
        return total

    return moment


def round_moment(young: float, corners: Sequence[Corner], *, diameter: float) -> Moment:
    """Return the moment, N·mm, over the curvature, 1/mm, of a circle."""
    r = diameter / 2

    def moment(curvature: float) -> float:
        total = young * math.pi * r**4 / 4 * curvature
        for strain, change in corners:
            y = min(strain / curvature, r)
            q = math.sqrt(r**2 - y**2)
            second = r**4 / 8 * (math.pi / 2 - math.asin(y / r)) + y * (r**2 - 2 * y**2) * q / 8
            total += 4 * change * (curvature * second - strain * q**3 / 3)
        return total

    return moment


def flag_moment(law: SuperelasticFibre, *, width: float, height: float, peak: float) -> Moment:
    """Return the moment of a rectangle unloaded from a peak curvature, flat plateaus.

    From the axis outwards at peak: elastic up to y_s, transforming beyond. Unloading is elastic
    until a layer meets the lower plateau, outermost layers first.
    """
    young, upper, lower = law.young, law.forward_start, law.reverse_start
    c, y_s = height / 2, upper / (young * peak)

    def moment(curvature: float) -> float:
        if curvature <= peak * lower / upper:
            ratio = curvature * young * c / lower
            share = 1.5 - 0.5 / ratio**2 if ratio > 1 else ratio
            return lower * width * height**2 / 6 * share
        back = peak - curvature
        y_u = (upper - lower) / (young * back) if back > 0 else math.inf
        y_2 = min(c, max(y_s, y_u))
        core = young * curvature * y_s**3 / 3
        middle = upper * (y_2**2 - y_s**2) / 2 - young * back * (y_2**3 - y_s**3) / 3
        return 2 * width * (core + middle + lower * (c**2 - y_2**2) / 2)

    return moment


def sprung_back(moment: Moment, stiffness: float, left: float) -> float:
    """Return the curvature after whose elastic release a wanted one is left, 1/mm."""
    found = root_scalar(
        lambda curvature: curvature - moment(curvature) / stiffness - left,
        bracket=(left, 100 * left),
        xtol=1e-14,
    )
    return float(found.root)


def round_interaction(ratio: float) -> float:
    """Return (M / M_p)^2 + (T / T_p)^2 of a fully plastic circle strained in proportion.

    The stress of every point lies along its strain (y, ratio r / sqrt 3), with size one; integrated
    numerically.

    Parameters
    ----------
    ratio
        Twist rate over curvature.
    """
    shear = ratio / math.sqrt(3)

    def over_angle(part: Callable[[float, float], float]) -> float:
        def integrand(angle: float) -> float:
            y = math.sin(angle)
            return part(y, shear) / math.hypot(y, shear)

        # four equal quarters; the integral over the radius is 1/3
        return 4 * float(np.asarray(quad(integrand, 0, math.pi / 2))[0]) / 3

    moment = over_angle(lambda y, g: y * y) / (4 / 3)
    torque = over_angle(lambda y, g: g) / (2 * math.pi / 3)
    return moment**2 + torque**2
