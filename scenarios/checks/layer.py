"""A thin layer, and blocks of one material, against closed forms."""

from functools import cache, partial

import numpy as np

from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, rigid_modes, support
from gomphosis.bone.thin_layer import PlanarSupport, surface_integrals
from gomphosis.fem.condensation import condense
from gomphosis.fem.harmonic import (
    COMPONENTS,
    constrained_modulus,
    harmonic,
    lame,
    quadrature,
)
from gomphosis.fem.section import Array, Index, Section, tensor_section
from gomphosis.scenarios.checks.check import Check, Outcome

FORMS = {"cylinder": 0.0, "paraboloid": 0.5, "cone": 1.0}
RADIUS, LENGTH, THIN = 3.0, 12.0, 0.02
YOUNG = 0.05
U, W, V = range(COMPONENTS)
QUANTITIES = ("lateral", "axial", "rocking", "torsional", "centre_of_resistance", "moment_distance")


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_thin_layer(form, poisson) for form in FORMS for poisson in (0.0, 0.3)),
        *_slender(),
        *(_annulus(poisson) for poisson in (0.3, 0.45, 0.49, 0.499)),
        _slab(),
        _tube(),
    ]


def _thin_layer(form: str, poisson: float) -> Check:
    return Check(
        name=f"thin-layer-{form}-nu-{poisson:g}",
        quantity=(
            f"{form} in a thin layer, nu {poisson:g}: worst ratio to the closed form of lateral, "
            "axial, rocking and torsional stiffness, centre of resistance, a*b"
        ),
        unit="1",
        kind="verification",
        source=(
            "normal and shear springs M/t and G/t integrated over the middle surface of the "
            "layer, rigid root and socket (derived here)"
        ),
        status="closed form",
        # the closed form leaves out terms of order t/R = 0.02 squared and of the free edge
        tolerance=0.005,
        compute=partial(thin_layer_worst, FORMS[form], poisson),
        note="layer 0.02 of the radius thick",
    )


def thin_layer_worst(exponent: float, poisson: float) -> Outcome:
    """Return the ratio farthest from one of six numbers to their closed forms."""
    root = RootProfile(RADIUS, LENGTH, exponent)
    thickness = ThicknessProfile.uniform(THIN * RADIUS)
    ours = _rigid(root, thickness, poisson)
    theirs = surface_integrals(root, thickness, young=YOUNG, poisson=poisson)
    ratios = [getattr(ours, name) / getattr(theirs, name) for name in QUANTITIES]
    return Outcome(max(ratios, key=lambda ratio: abs(ratio - 1)), 1.0)


def _rigid(
    root: RootProfile,
    thickness: ThicknessProfile,
    poisson: float,
    resolution: Resolution | None = None,
) -> PlanarSupport:
    design = SupportDesign(root, thickness, Elastic(YOUNG, poisson), None, None)
    return support(design, resolution).planar


@cache
def slender_paraboloid() -> PlanarSupport:
    """Return the support of a paraboloid so slender that its depth does not matter."""
    radius = 0.01 * LENGTH
    # the layer adds half its thickness to the width at every depth, the width of a plane
    # parabola vanishes at the apex: so the layer is ten times thinner here than elsewhere
    thickness = ThicknessProfile.uniform(0.1 * THIN * radius)
    return _rigid(RootProfile(radius, LENGTH, 0.5), thickness, 0.0, Resolution(along=192))


def _slender() -> list[Check]:
    source = "plane parabola on uniform springs: integrals of the width sqrt(1 + z/h) by hand"
    return [
        Check(
            name="slender-paraboloid-centre",
            quantity="centre of resistance of a slender paraboloid over its length, from the crest",
            unit="1",
            kind="verification",
            source=source + " give 2/5",
            status="closed form",
            # 0.5 %, the bar of every thin-layer check; radius / length is 0.01
            tolerance=0.005,
            compute=lambda: Outcome(-slender_paraboloid().centre_of_resistance / LENGTH, 0.4),
        ),
        Check(
            name="slender-paraboloid-rotation",
            quantity="a*b of a slender paraboloid over its length squared",
            unit="1",
            kind="verification",
            source=source + " give 12/175",
            status="closed form",
            # as for the centre
            tolerance=0.005,
            compute=lambda: Outcome(slender_paraboloid().moment_distance / LENGTH**2, 12 / 175),
        ),
    ]


def _block(inner: float, outer: float, height: float, counts: tuple[int, int]) -> Section:
    """Mesh a rectangle with its middle pulled aside, so that elements are not rectangles."""

    def place(xi: Array, eta: Array) -> Array:
        bulge = 0.1 * np.sin(np.pi * xi) * np.sin(np.pi * eta)
        return np.stack([inner + (outer - inner) * (eta + bulge), height * (xi + bulge)])

    along, across = counts
    bands = {"layer": np.linspace(0.0, 1.0, across + 1)}
    grid = np.linspace(0.0, 1.0, along + 1)
    return tensor_section(grid, bands, mapping=place, lines={"inner": 0.0, "outer": 1.0})


def _all(section: Section, component: int) -> Index:
    return COMPONENTS * np.arange(section.nodes.shape[1]) + component


def _at(nodes: Index, *components: int) -> Index:
    return np.concatenate([COMPONENTS * nodes + component for component in components])


def annulus_stiffness(*, inner: float, outer: float, young: float, poisson: float) -> float:
    """Return the lateral stiffness per length, MPa, of a bonded annulus in plane strain.

    Derived from U = A + B ln r + C r^2 + D / r^2 of harmonic 1; the tests integrate the
    differential equations numerically instead and agree.
    """
    shear = float(lame(young, poisson)[1])
    a, b, kappa = inner**2, outer**2, 3 - 4 * poisson
    loose = kappa**2 * np.log(outer / inner) - (b - a) / (b + a)
    return 8 * np.pi * shear * (1 - poisson) * kappa / loose


def annulus_compared(poisson: float) -> Outcome:
    """Return the lateral stiffness per length of a layer 3.0 to 3.2 mm, by elements and formula."""
    inner, outer, height = 3.0, 3.2, 1.0
    section = _block(inner, outer, height, (2, 4))
    size = section.mesh.nelements
    matrix = harmonic(quadrature(section), 1).stiffness(
        np.full(size, YOUNG), np.full(size, poisson)
    )
    answer = condense(
        matrix,
        rigid_modes(section.nodes, 1)[:, :1],
        fixed=np.union1d(_at(section.lines["outer"], U, V), _all(section, W)),
        tied=_at(section.lines["inner"], U, V),
    )
    theirs = annulus_stiffness(inner=inner, outer=outer, young=YOUNG, poisson=poisson)
    return Outcome(float(answer.stiffness[0, 0]) / height, theirs)


def _annulus(poisson: float) -> Check:
    return Check(
        name=f"bonded-annulus-nu-{poisson:g}",
        quantity=f"lateral stiffness per length of a bonded annulus, plane strain, nu {poisson:g}",
        unit="MPa",
        kind="verification",
        source="harmonic 1 of plane strain in polar coordinates (derived here)",
        status="closed form",
        # four elements across; an element that locks is off by percents at nu 0.499
        tolerance=0.001,
        compute=partial(annulus_compared, poisson),
    )


def slab_compared() -> Outcome:
    """Return the modulus of a slab that cannot bulge at nu 0.499, by elements and formula."""
    radius, height, poisson = 1.0, 0.5, 0.499
    section = _block(0.0, radius, height, (3, 3))
    size = section.mesh.nelements
    matrix = harmonic(quadrature(section), 0).stiffness(
        np.full(size, YOUNG), np.full(size, poisson)
    )
    side = np.union1d(section.lines["outer"], section.axis)
    bottom, top = section.lines["start"], section.lines["end"]
    held = np.union1d(_at(side, U), _all(section, V))
    answer = condense(
        matrix,
        rigid_modes(section.nodes, 0)[:, :1],
        fixed=np.union1d(held, _at(bottom, W)),
        tied=_at(top, W),
    )
    ours = float(answer.stiffness[0, 0]) * height / (np.pi * radius**2)
    return Outcome(ours, constrained_modulus(YOUNG, poisson))


def _slab() -> Check:
    return Check(
        name="confined-slab",
        quantity="constrained modulus of a slab between smooth walls, nu 0.499",
        unit="MPa",
        kind="verification",
        source="uniform strain: M = E (1 - nu) / ((1 + nu)(1 - 2 nu))",
        status="closed form",
        # uniform strain on a distorted mesh; a sound element has no error but round-off
        tolerance=0.005,
        compute=slab_compared,
    )


def tube_compared(*, poisson: float = 0.3) -> Outcome:
    """Return the force per wall displacement of a pressed tube, by elements and by Lamé."""
    inner, outer, height = 2.0, 3.0, 1.0
    section = _block(inner, outer, height, (2, 4))
    size = section.mesh.nelements
    matrix = harmonic(quadrature(section), 0).stiffness(
        np.full(size, YOUNG), np.full(size, poisson)
    )
    widen = np.zeros((COMPONENTS * section.nodes.shape[1], 1))
    widen[U::COMPONENTS] = 1.0
    answer = condense(
        matrix,
        widen,
        fixed=np.union1d(_all(section, W), _all(section, V)),
        tied=_at(section.lines["inner"], U),
    )
    # plane strain, free outside: u(a) = p a / E' ((a^2 + b^2)/(b^2 - a^2) + nu') of Lamé
    plane, share = YOUNG / (1 - poisson**2), poisson / (1 - poisson)
    a, b = inner**2, outer**2
    loose = inner / plane * ((a + b) / (b - a) + share)
    return Outcome(float(answer.stiffness[0, 0]) / height, 2 * np.pi * inner / loose)


def _tube() -> Check:
    return Check(
        name="pressed-tube",
        quantity="pressure force on a thick tube's inside per radial displacement and length",
        unit="MPa",
        kind="verification",
        source="Lamé's thick tube in plane strain (Timoshenko and Goodier, Theory of Elasticity)",
        status="closed form",
        # quartic convergence: four elements across leave less than a tenth of this
        tolerance=0.001,
        compute=tube_compared,
    )
