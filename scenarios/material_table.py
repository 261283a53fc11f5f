"""Table of the scenario file for the constants of one wire's alloy, instead of the library's."""

import json
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import Field

from gomphosis.scenarios.alloys import COMMON, OWN, USUAL, Alloy, Behaviour, library_constant
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused, listed, shown
from gomphosis.scenarios.tables import Table, optional
from gomphosis.scenarios.units import STRESS, STRESS_PER_KELVIN, TEMPERATURE

# Bounds are engineering choices: wide enough for every alloy on sale, narrow enough to catch a
# slip of unit; temperatures from frozen food to the hottest drink.
AlloyModulus = Annotated[float, Bounded(STRESS, least="1 GPa", most="400 GPa", example="50 GPa")]
AlloyStress = Annotated[float, Bounded(STRESS, least="1 MPa", most="5 GPa", example="400 MPa")]
Hardening = Annotated[float, Bounded(STRESS, least="0 MPa", most="100 GPa", example="3 GPa")]
Slope = Annotated[float, Bounded(STRESS_PER_KELVIN, least="0 MPa/K", most="20 MPa/K")]
Temperature = Annotated[float, Bounded(TEMPERATURE, least="-20 degC", most="70 degC")]

KEYS = {"ratio": "shear_ratio", "strain": "transformation_strain", "slope": "temperature_slope"}
"""Keys of the file that say more than the names of the constants."""

RISING = ("reverse_finish", "reverse_start", "forward_start", "forward_finish")
"""Stresses of transformation from the lowest to the highest."""


class Material(Table):
    """The alloy's constants; what is left out is that of the alloy in the library.

    ``elastic`` needs `young` and `poisson` only; ``plastic`` also `yield_stress` and `hardening`;
    ``superelastic`` the four stresses of transformation, `transformation_strain`,
    `temperature_slope` and `reference_temperature`.
    """

    behaviour: Literal["elastic", "plastic", "superelastic"] | None = optional(
        "Law of the wire; default: plastic for steel and beta-titanium, superelastic for "
        "nickel-titanium"
    )
    young: AlloyModulus | None = optional("Young's modulus, of both phases if superelastic")
    poisson: float | None = Field(default=None, ge=0.0, le=0.499, description="Poisson's ratio")
    shear_ratio: float | None = Field(
        default=None, ge=1.0, le=3.0, description="Tensile over shear strength; von Mises is 1.732"
    )
    yield_stress: AlloyStress | None = optional("Plastic: stress at first yield")
    hardening: Hardening | None = optional("Plastic: slope of stress over plastic strain")
    forward_start: AlloyStress | None = optional("Superelastic: stress where loading transforms")
    forward_finish: AlloyStress | None = optional("Superelastic: stress where that is complete")
    reverse_start: AlloyStress | None = optional("Superelastic: stress where unloading transforms")
    reverse_finish: AlloyStress | None = optional("Superelastic: stress where that is complete")
    transformation_strain: float | None = Field(
        default=None,
        ge=0.001,
        le=0.12,
        description="Superelastic: strain gained by complete transformation",
    )
    temperature_slope: Slope | None = optional(
        "Superelastic: rise of the four stresses with temperature"
    )
    reference_temperature: Temperature | None = optional(
        "Superelastic: temperature at which the four stresses hold"
    )


def alloy_of(name: str, material: Material) -> Alloy:
    """Return the constants of a named alloy of the library with what a table says instead.

    Raises
    ------
    Refused
        With the key in the table, if one does not belong to the behaviour, one is in neither the
        table nor the library, or the stresses of transformation are out of order.
    """
    behaviour = material.behaviour or USUAL[name]
    _refuse_foreign(behaviour, material)
    constants: dict[str, float] = {}
    for constant in (*COMMON, *OWN[behaviour]):
        given = getattr(material, KEYS.get(constant, constant))
        value = library_constant(name, constant) if given is None else given
        if value is None:
            _refuse_missing(name, behaviour, constant)
        else:
            constants[constant] = value
    if behaviour == "superelastic":
        _check_order(material, constants)
    return Alloy(behaviour, **constants)


def material_text(alloy: Alloy, *, digits: int = 4) -> str:
    """Return the lines that a scenario file has under [wire.material] for an alloy.

    Parameters
    ----------
    digits
        Significant ones of each constant.
    """
    rounded: dict[str, Any] = {
        KEYS.get(name, name): float(f"{getattr(alloy, name):.{digits}g}")
        for name in (*COMMON, *OWN[alloy.behaviour])
    }
    table = Material.model_construct(behaviour=alloy.behaviour, **rounded)
    written = table.model_dump(mode="json", exclude_none=True)
    return "".join(f"{key} = {json.dumps(value)}\n" for key, value in written.items())


def _refuse_foreign(behaviour: Behaviour, material: Material) -> None:
    for owner, names in OWN.items():
        for key in (KEYS.get(name, name) for name in names):
            if owner != behaviour and getattr(material, key) is not None:
                raise Refused(
                    None,
                    f"does not belong to behaviour {shown(behaviour)}",
                    accepted=f"only with behaviour = {shown(owner)}",
                    key=(key,),
                )


def _refuse_missing(name: str, behaviour: Behaviour, constant: str) -> None:
    key = KEYS.get(constant, constant)
    owners = (alloy for alloy, usual in USUAL.items() if usual == behaviour)
    raise Refused(
        None,
        f"is missing, which behaviour {shown(behaviour)} of {name} needs",
        accepted=f"a value, or another alloy: {listed(tuple(owners))}",
        key=(key,),
    )


def _check_order(material: Material, constants: dict[str, float]) -> None:
    for lower, upper in pairwise(RISING):
        if constants[lower] > constants[upper]:
            given = upper if getattr(material, lower) is None else lower
            stresses = tuple(f"{constants[name]:g}" for name in RISING)
            raise Refused(
                None,
                f"puts the stresses of transformation out of order: {', '.join(stresses)} MPa",
                accepted=f"{' <= '.join(RISING)}",
                key=(given,),
            )
