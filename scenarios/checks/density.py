"""Bone density: areas swept, books, density laws, and adaptation to strain energy."""

from collections.abc import Callable
from functools import cache, partial

import numpy as np

from gomphosis.bone.adaptation import Adaptation, Energy
from gomphosis.bone.adaptive_plate import AdaptivePlate, checkerboard_share, joined_share
from gomphosis.bone.coverage import Raster, moved, overlay
from gomphosis.bone.density_law import carter_hayes_modulus
from gomphosis.bone.jaw_section import JawSection, PlateThickness, jaw_map, tooth_outline
from gomphosis.bone.library import lookup
from gomphosis.bone.mineral import BALANCE, Exponential, mineralised, travelled
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.fem.section import Array
from gomphosis.scenarios.checks.check import SHOWN, Check, Outcome

CARTER_HAYES = ((0.3, 77.6), (0.6, 621.0), (1.0, 2875.0), (1.8, 16767.0))
"""Density in g/cm^3 and modulus in MPa at a strain rate of 0.01/s: arithmetic from the formula."""

Measure = Callable[[Array, float], float]
PLATE_SIDE = 16
PLATE_STEPS = (0.2, 200)


def checks() -> list[Check]:
    """Return the checks of this file."""
    at_rest = lookup("adaptation.at_rest.stress").numbers
    return [
        _swept_circle(),
        _books(),
        *(_modulus(*row) for row in CARTER_HAYES),
        *(_at_rest(index) for index in range(len(at_rest))),
        *(_stability(kind) for kind in ("stress", "strain")),
        *_plate_patterns(),
    ]


def _swept_circle() -> Check:
    def compute() -> Outcome:
        angles = np.linspace(0.0, 2 * np.pi, 4001)[:-1]
        circle, shift = 2.0 * np.stack([np.cos(angles), np.sin(angles)]), 0.7
        raster = Raster((-4.0, -4.0), (80, 80), 0.1)
        shares = overlay(raster, circle, circle + np.array([[shift], [0.0]]))
        common = 8 * np.arccos(shift / 4) - shift / 2 * np.sqrt(16 - shift**2)
        return Outcome(
            float(shares.second_only.sum()) * raster.cell_area, float(4 * np.pi - common)
        )

    return Check(
        name="swept-area-circle",
        quantity="area swept by a circle of radius 2 mm that moves by 0.7 mm, summed over cells",
        unit="mm2",
        kind="verification",
        source="circle less the lens that two circles share",
        status="closed form",
        # 4000 straight edges lack (2 pi / 4000)^2 / 6 of a circle's area
        tolerance=2e-6,
        compute=compute,
    )


def _books() -> Check:
    return Check(
        name="density-books",
        quantity=(
            "worst residual of area, bone and mineral over the swept area, incisor in tipping and "
            "translation through its plate, 84 daily steps, 6 mm"
        ),
        unit="1",
        kind="verification",
        source="what is gone and what is added make up what is there",
        status="closed form",
        # the bar set for the books; measured residuals are round-off
        tolerance=BALANCE,
        measure="absolute",
        compute=lambda: Outcome(worst_residual(84), 0.0),
    )


def worst_residual(steps: int) -> float:
    """Return the largest residual of the books per swept area over some steps of an incisor."""
    tooth = tooth_outline(
        RootProfile(3.0, 12.0, 0.35), ThicknessProfile(0.22, 0.16, 0.22), above=5.0
    )
    section = JawSection(
        PlateThickness(*lookup("plate_thickness.labial.U1").numbers),
        PlateThickness(*(lookup(f"plate_thickness.palatal.{at}").number for at in _LEVELS)),
        lookup("bone_layer.cortex").number,
        lookup("bone_layer.trabecular_density").number,
    )
    bones = jaw_map(Raster((-15.0, -20.0), (300, 300)), tooth, section)
    law = Exponential(lookup("new_bone.time_constant").number)
    new_density = lookup("new_bone.density").number
    old, worst = tooth, 0.0
    for step in range(1, steps + 1):
        new = moved(tooth, step / steps * np.array([6.0, -0.5, 0.15]))
        bones, books = travelled(bones, old, new, new_density=new_density)
        bones, matured = mineralised(bones, law, days=1.0)
        books, old = books + matured, new
        residuals = (books.area_residual, books.bone_residual, books.mineral_residual)
        worst = max(worst, *(abs(residual) / books.swept for residual in residuals))
    return worst


_LEVELS = ("crest", "middle", "apex")


def _modulus(density: float, modulus: float) -> Check:
    cited = lookup("density_law.carter_hayes.coefficient")
    return Check(
        name=f"carter-hayes-{density:g}",
        quantity=f"modulus of bone of {density:g} g/cm3 at a strain rate of 0.01/s",
        unit="MPa",
        kind="verification",
        source=cited.source,
        status=cited.status,
        # the other number has three to five digits
        tolerance=6e-4,
        compute=lambda: Outcome(float(carter_hayes_modulus(np.array(density))), modulus),
        note="checks the formula as coded; the paper itself was not read",
    )


def _at_rest(index: int) -> Check:
    stress = lookup("adaptation.at_rest.stress").numbers[index]
    cited = lookup("adaptation.at_rest.density")
    return Check(
        name=f"density-at-rest-{stress:g}",
        quantity=f"density at which one element under {stress:g} MPa comes to rest",
        unit="g/cm3",
        kind="verification",
        source="(sigma^2 / (2 C k))^(1/3): U = sigma^2 / (2 C rho^2) and U / rho = k",
        status="closed form",
        # half a unit of the fourth digit
        tolerance=5e-5,
        measure="absolute",
        compute=partial(_rest_outcome, stress, cited.numbers[index]),
    )


def _rest_outcome(stress: float, density: float) -> Outcome:
    energy = _element("stress", stress)
    start = np.array([lookup("adaptation.weinans.start").number])
    found = Adaptation.published().settled(energy, start, days=0.02, steps=20000)
    return Outcome(float(found[0]), density)


def _stability(kind: str) -> Check:
    expected = "returns" if kind == "stress" else "runs to a bound"
    return Check(
        name=f"density-stability-{kind}",
        quantity=(
            f"distance from balance over a first distance of 0.001 g/cm3, given {kind}: {expected}"
        ),
        unit="1",
        kind="verification",
        source=(
            "U / rho falls with rho under given stress (stable) and rises under given strain: the "
            "balance is left until a bound is met"
        ),
        status="closed form",
        # what is left after settling to 1e-9 g/cm3 a step, over the first distance
        tolerance=1e-3,
        measure="absolute",
        compute=partial(_stability_outcome, kind),
    )


def _stability_outcome(kind: str) -> Outcome:
    law, off = Adaptation.published(), 1e-3
    coefficient = lookup("adaptation.weinans.coefficient").number
    size = 5.0 if kind == "stress" else 0.08
    if kind == "stress":
        balance = float(np.cbrt(size**2 / (2 * coefficient * law.reference)))
    else:
        balance = 2 * law.reference / (coefficient * size**2)
    start = np.array([balance + off])
    found = float(law.settled(_element(kind, size), start, days=0.02, steps=50000)[0])
    bound = balance if kind == "stress" else law.highest
    return Outcome((found - balance) / off, (bound - balance) / off)


def _element(kind: str, size: float) -> Energy:
    coefficient = lookup("adaptation.weinans.coefficient").number
    if kind == "stress":
        return lambda density: size**2 / (2 * coefficient * density**2)
    return lambda density: 0.5 * coefficient * density**2 * size**2


@cache
def _plate(nodal: bool) -> Array:
    names = ("load", "coefficient", "exponent", "poisson")
    numbers = {name: lookup(f"adaptation.weinans.{name}").number for name in names}
    days, steps = PLATE_STEPS
    start = lookup("adaptation.weinans.start").number
    body = AdaptivePlate(PLATE_SIDE, nodal=nodal, **numbers)
    return body.adapted(Adaptation.published(), start, days=days, steps=steps)


def _plate_patterns() -> list[Check]:
    rows = (
        (False, "checkerboard", checkerboard_share, "two-by-two patches that are a checkerboard"),
        (True, "checkerboard", checkerboard_share, "two-by-two patches that are a checkerboard"),
        (False, "struts", joined_share, "dense cells joined by their faces to the support"),
        (True, "struts", joined_share, "dense cells joined by their faces to the support"),
    )
    return [_pattern(*row) for row in rows]


def _pattern(nodal: bool, name: str, measure: Measure, words: str) -> Check:
    where = "nodes" if nodal else "elements"
    # a checkerboard with element densities, connected struts with nodal ones
    theirs = float(nodal == (name == "struts"))
    highest = lookup("adaptation.weinans.highest").number
    return Check(
        name=f"plate-{name}-{where}",
        quantity=f"share of {words}, density in {where}",
        unit="1",
        kind="verification",
        source=(
            f"{lookup('adaptation.weinans.reference').source}; Jacobs CR et al., J Biomech "
            "1995;28:449-459: a checkerboard with densities in elements, struts without one at "
            "nodes"
        ),
        status="from memory, unverified",
        expected=SHOWN,
        measure="absolute",
        compute=lambda: Outcome(measure(_plate(nodal), highest), theirs),
        note="0 and 1 stand for none and all; the published pattern has no number",
    )
