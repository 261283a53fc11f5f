"""Alloys of wires: their constants, and the law of a wire's section that follows from them."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from gomphosis.bone.library import entries, lookup
from gomphosis.fem.fibre_laws import (
    TENSILE_OVER_SHEAR,
    ElasticFibre,
    FibreLaw,
    PlasticFibre,
    SuperelasticFibre,
)
from gomphosis.fem.fibre_section import DEFAULT
from gomphosis.fem.section_response import FibrewiseSection, SectionLaw
from gomphosis.scenarios.wire import WireSection

Behaviour = Literal["elastic", "plastic", "superelastic"]

COMMON = ("young", "poisson", "ratio")
OWN: Mapping[Behaviour, tuple[str, ...]] = MappingProxyType(
    {
        "elastic": (),
        "plastic": ("yield_stress", "hardening"),
        "superelastic": (
            "forward_start",
            "forward_finish",
            "reverse_start",
            "reverse_finish",
            "strain",
            "slope",
            "reference_temperature",
        ),
    }
)
"""Constants that only one behaviour has."""

USUAL: Mapping[str, Behaviour] = MappingProxyType(
    {"steel": "plastic", "beta-titanium": "plastic", "nickel-titanium": "superelastic"}
)
"""Behaviour of each alloy of the library."""


@dataclass(frozen=True)
class Alloy:
    """Constants of an alloy; those of other behaviours are None.

    Parameters
    ----------
    behaviour
        ``elastic``; ``plastic`` with linear isotropic hardening; or ``superelastic`` with one
        phase fraction.
    young
        Young's modulus, MPa.
    poisson
        Poisson's ratio.
    ratio
        Of tensile to shear strength, plastic or transformation alike.
    yield_stress
        At first yield, MPa.
    hardening
        Slope of the yield stress over accumulated plastic strain, MPa.
    forward_start, forward_finish, reverse_start, reverse_finish
        Stresses of transformation at the reference temperature, MPa: start and end of the loading
        plateau, start and end of the unloading one.
    strain
        Transformation strain at full transformation.
    slope
        Of these stresses over temperature, MPa/K.
    reference_temperature
        In degrees Celsius.

    Raises
    ------
    ValueError
        If a constant is missing, belongs to another behaviour, or is out of range.
    """

    behaviour: Behaviour
    young: float
    poisson: float
    ratio: float = TENSILE_OVER_SHEAR
    yield_stress: float | None = None
    hardening: float | None = None
    forward_start: float | None = None
    forward_finish: float | None = None
    reverse_start: float | None = None
    reverse_finish: float | None = None
    strain: float | None = None
    slope: float | None = None
    reference_temperature: float | None = None

    def __post_init__(self) -> None:
        if self.behaviour not in OWN:
            raise ValueError(f"unknown behaviour {self.behaviour!r}: expected {', '.join(OWN)}")
        for owner, names in OWN.items():
            for name in names:
                if (getattr(self, name) is None) == (owner == self.behaviour):
                    verb = "needs" if owner == self.behaviour else "has no"
                    raise ValueError(f"a {self.behaviour} alloy {verb} {name}")
        if not 0.0 <= self.poisson < 0.5:
            raise ValueError(f"needs Poisson's ratio from 0 to below 0.5, got {self.poisson}")
        fibre_law(self, self.reference_temperature or 0.0)  # the law checks its own constants

    @property
    def shear(self) -> float:
        """Shear modulus, MPa."""
        return self.young / (2 * (1 + self.poisson))

    @property
    def own(self) -> dict[str, float]:
        """Constants that only its behaviour has, by name."""
        return {name: getattr(self, name) for name in OWN[self.behaviour]}


def library_constant(name: str, constant: str) -> float | None:
    """Return one constant of an alloy of the library, None if the library has none.

    Parameters
    ----------
    name
        A key of `USUAL`.
    constant
        A field of `Alloy`.
    """
    if constant == "ratio":
        return lookup("wire.tensile_over_shear").number
    base = f"alloy.{name.replace('-', '_')}"
    found = (entries().get(f"{base}{table}.{constant}") for table in ("", ".transformation"))
    return next((entry.number for entry in found if entry is not None), None)


def library_alloy(name: str) -> Alloy:
    """Return an alloy of the library with its usual behaviour.

    Parameters
    ----------
    name
        ``steel``, ``beta-titanium`` or ``nickel-titanium``.

    Raises
    ------
    KeyError
        If there is none of that name.

    Examples
    --------
    >>> library_alloy("steel").behaviour
    'plastic'
    """
    if name not in USUAL:
        raise KeyError(f"no alloy {name!r}; there are {', '.join(USUAL)}")
    behaviour = USUAL[name]
    constants = {key: library_constant(name, key) for key in (*COMMON, *OWN[behaviour])}
    return Alloy(behaviour, **{key: value for key, value in constants.items() if value is not None})


def fibre_law(alloy: Alloy, temperature: float) -> FibreLaw:
    """Return the law of one fibre of an alloy at a temperature in degrees Celsius."""
    moduli = {"young": alloy.young, "shear": alloy.shear, "ratio": alloy.ratio}
    match alloy.behaviour:
        case "elastic":
            return ElasticFibre(**moduli)
        case "plastic":
            return PlasticFibre(**moduli, **alloy.own)
        case "superelastic":
            return SuperelasticFibre(**moduli, **alloy.own, temperature=temperature)


def section_law(
    section: WireSection, alloy: Alloy, *, temperature: float, fineness: int = DEFAULT
) -> SectionLaw:
    """Return the law of a wire's section.

    The section's second axis lies along the slot's height and the third along its depth, so
    curvature about the second is first-order (labiolingual) bending, about the third
    second-order (vertical) bending.

    Parameters
    ----------
    section
        Shape of the wire.
    alloy
        Its constants.
    temperature
        In degrees Celsius, the same everywhere and always.
    fineness
        Of the fibres; an elastic alloy needs none.
    """
    if alloy.behaviour == "elastic":
        return section.elastic_section(alloy.young, alloy.poisson)
    return FibrewiseSection(section.fibres(fineness), fibre_law(alloy, temperature))


def _set_a() -> Alloy:
    names = ("young", "poisson", *OWN["superelastic"][:-2])
    constants = {name: lookup(f"alloy_set.a.{name}").number for name in names}
    usual = library_alloy("nickel-titanium")
    return Alloy(
        "superelastic",
        **constants,
        ratio=usual.ratio,
        slope=usual.slope,
        reference_temperature=usual.reference_temperature,
    )


NAMED_SETS: Mapping[str, Alloy] = MappingProxyType(
    {"a": _set_a(), "b": library_alloy("nickel-titanium")}
)
"""Superelastic sets by name, for checks: ``a`` is a published example of general purpose, not of
an orthodontic wire (slope and reference temperature are those of ``b``); ``b`` is the default."""
