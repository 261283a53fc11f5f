"""Quantities with units: text outside, plain numbers in mm, N, N*mm, MPa, rad, day, degC inside."""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from gomphosis.scenarios.refusal import Refused, listed

if TYPE_CHECKING:
    from pint import Unit, UnitRegistry

NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?"
UNIT = r"°?[^\W\d_]+|°"
POWER = r"(?:\^-?[1-9])?"
UNIT_TEXT = rf"(?:{UNIT}){POWER}(?:\s*[*·/ ]\s*(?:{UNIT}){POWER})*"
LONGEST_UNIT = 40
NOT_FINITE = re.compile(r"[+-]?(?:inf|infinity|nan)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Kind:
    """A kind of physical quantity.

    Parameters
    ----------
    noun
        The kind with its article, as a message names it.
    inside
        Unit of the numbers that the program computes with.
    units
        Units that a message proposes; any other unit of the same kind is accepted too.
    example
        A quantity as a user would write it.
    scale
        Whether its units are scales with different zeros, as those of temperature.
    """

    noun: str
    inside: str
    units: tuple[str, ...]
    example: str
    scale: bool = False

    @property
    def accepted(self) -> str:
        """What a user may write, as a phrase."""
        return f'{self.noun} in {listed(self.units)}, such as "{self.example}"'


LENGTH = Kind("a length", "mm", ("mm", "in", "um"), "4.5 mm")
FORCE = Kind("a force", "N", ("N", "cN", "gf"), "50 cN")
MOMENT = Kind("a moment", "N*mm", ("N*mm", "cN*mm", "gf*mm"), "5 N*mm")
STIFFNESS = Kind("a stiffness", "N/mm", ("N/mm", "cN/mm", "gf/mm"), "0.5 N/mm")
STRESS = Kind("a stress", "MPa", ("MPa", "kPa", "GPa"), "5 kPa")
ANGLE = Kind("an angle", "rad", ("deg", "rad"), "5 deg")
DURATION = Kind("a duration", "day", ("days", "weeks", "hours"), "6 weeks")
SPEED = Kind("a speed", "mm/day", ("um/day", "mm/week"), "60 um/day")
SPEED_PER_STRESS = Kind(
    "a speed per stress", "mm/day/MPa", ("um/day/kPa", "mm/day/MPa"), "1.0 um/day/kPa"
)
STRESS_PER_KELVIN = Kind("a stress per kelvin", "MPa/K", ("MPa/K", "MPa/degC"), "6.5 MPa/K")
TEMPERATURE = Kind("a temperature", "degC", ("degC", "K"), "37 degC", scale=True)
PER_DAY = Kind("a rate", "day^-1", ("day^-1", "week^-1"), "0.01 day^-1")


@cache
def registry() -> "UnitRegistry":
    """Return the one unit registry; it holds factors as fractions, so 1 in is 25.4 mm exactly."""
    # Imported here because it takes longer than everything else that reads a scenario.
    from pint import UnitRegistry

    # pint takes any number type here, though its annotation names float alone.
    return UnitRegistry(non_int_type=Fraction)  # pyright: ignore[reportArgumentType]


@cache
def _root_form(unit: str) -> "tuple[Fraction, Unit] | None":
    """Return the factor to base units and those, or None for an unknown unit.

    Scales with an offset or a logarithm (degC, dB) come out with their base units like any other:
    as units of a difference. Only kinds that are scales themselves look at the offset.
    """
    from pint import OffsetUnitCalculusError, UndefinedUnitError

    units = registry()
    try:
        factor, root = units.get_root_units(units.parse_units(unit))
    except (UndefinedUnitError, OffsetUnitCalculusError):  # the latter: a scale with a prefix
        return None
    return Fraction(str(factor)), root


@cache
def _factor(unit: str, kind: Kind) -> Fraction | str:
    """Return the factor from the unit to the inside unit, or what is wrong with the unit."""
    given, wanted = _root_form(unit), _root_form(kind.inside)
    if wanted is None:
        raise RuntimeError(f"the registry does not know the inside unit {kind.inside}")
    if given is None:
        return f'has the unknown unit "{unit}"'
    if given[1] != wanted[1]:
        return f'has the unit "{unit}", which is not that of {kind.noun}'
    return given[0] / wanted[0]


def _on_scale(number: Fraction, unit: str, kind: Kind) -> Fraction | None:
    """Return a number on another scale on that of the kind, None if the unit is no scale."""
    from pint.errors import PintError

    units = registry()
    try:
        return units.Quantity(number, units.parse_units(unit)).to(kind.inside).magnitude
    except PintError:
        return None


def _split(text: object, kind: Kind) -> tuple[str, str]:
    """Return number and unit of a quantity as texts."""
    if isinstance(text, bool) or not isinstance(text, int | float | str):
        raise Refused(text, "is not a quantity", accepted=kind.accepted)
    if not isinstance(text, str):
        raise Refused(text, "has no unit", accepted=kind.accepted)
    plain = text.strip().replace("−", "-")
    if NOT_FINITE.match(plain):
        raise Refused(text, "is not finite", accepted=kind.accepted)
    match = re.fullmatch(rf"({NUMBER})\s*(.*)", plain)
    if match is None:
        raise Refused(text, "is not a number with a unit", accepted=kind.accepted)
    number, unit = match.groups()
    if not unit:
        raise Refused(text, "has no unit", accepted=kind.accepted)
    if len(unit) > LONGEST_UNIT or not re.fullmatch(UNIT_TEXT, unit):
        raise Refused(text, "is not a number with a unit", accepted=kind.accepted)
    return number, unit


def quantity(text: object, kind: Kind) -> float:
    """Return a quantity in the unit of its kind that is used inside.

    Parameters
    ----------
    text
        Number and unit, such as ``"0.016 in"``.
    kind
        What the quantity must be: `LENGTH`, `FORCE`, ...

    Raises
    ------
    Refused
        If it is a bare number, not a quantity, of another kind or not finite; the message
        says which units fit.

    Examples
    --------
    >>> quantity("0.016 in", LENGTH)
    0.4064
    """
    number, unit = _split(text, kind)
    factor = _factor(unit, kind)
    if isinstance(factor, str):
        raise Refused(text, factor, accepted=kind.accepted)
    value = _on_scale(Fraction(number), unit, kind) if kind.scale else Fraction(number) * factor
    if value is None:
        problem = f'has the unit "{unit}", which is no scale of {kind.noun}'
        raise Refused(text, problem, accepted=kind.accepted)
    try:
        return float(value)
    except OverflowError:
        raise Refused(text, "is not finite", accepted=kind.accepted) from None


def written(value: float, kind: Kind) -> str:
    """Return a number in the inside unit as text that `quantity` reads back unchanged."""
    return f"{value!r} {kind.inside}"
