"""Catalogue of the permanent teeth: average sizes by ISO 3950 number.

Right and left are alike. Every size is an average of a handbook's table; its source and status are
those of `tooth_citations`. Natural spread is large (standard deviation of root length about
1.5-2 mm, from memory, unverified), so an individual tooth needs its own numbers: make one with
`dataclasses.replace`.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from gomphosis.bone.directions import quadrant_and_position
from gomphosis.bone.library import Cited, entries, lookup

_KINDS = (
    "central incisor",
    "lateral incisor",
    "canine",
    "first premolar",
    "second premolar",
    "first molar",
    "second molar",
    "third molar",
)
_SIZES = (
    "crown_length",
    "root_length",
    "crown_mesiodistal",
    "cervix_mesiodistal",
    "crown_labiolingual",
    "cervix_labiolingual",
)
_AREA_STUDIES = ("freeman", "jepsen", "mowry")


@dataclass(frozen=True)
class Tooth:
    """One permanent tooth.

    Parameters
    ----------
    number
        ISO 3950 number.
    crown_length, root_length
        Cervix to incisal edge (cusp tip), and cervix to apex, mm.
    crown_mesiodistal, cervix_mesiodistal
        Mesiodistal diameter of the crown and at the cervix, mm.
    crown_labiolingual, cervix_labiolingual
        Labiolingual (buccolingual) diameter of the crown and at the cervix, mm.
    roots
        Usual number of roots.
    name
        In words, such as "upper right central incisor"; right and left are the patient's.

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth, a size is not positive and finite, or the
        number of roots is below one.
    """

    number: int
    crown_length: float
    root_length: float
    crown_mesiodistal: float
    cervix_mesiodistal: float
    crown_labiolingual: float
    cervix_labiolingual: float
    roots: int
    name: str

    def __post_init__(self) -> None:
        quadrant_and_position(self.number)
        for size in _SIZES:
            length = getattr(self, size)
            if not (math.isfinite(length) and length > 0.0):
                raise ValueError(f"tooth {self.number}: {size} is {length} mm, expected above 0")
        if self.roots < 1:
            raise ValueError(f"tooth {self.number}: roots is {self.roots}, expected 1 or more")

    @property
    def cervical_radius(self) -> float:
        """Radius of the circle with the area of the cervical ellipse, mm."""
        return math.sqrt(self.cervix_mesiodistal * self.cervix_labiolingual) / 2.0

    @property
    def single_rooted(self) -> bool:
        """Whether the tooth usually has one root."""
        return self.roots == 1

    @property
    def upper(self) -> bool:
        """Whether the tooth stands in the upper arch."""
        return self.number // 10 in (1, 2)

    @property
    def right(self) -> bool:
        """Whether the tooth stands on the patient's right."""
        return self.number // 10 in (1, 4)

    @property
    def anterior(self) -> bool:
        """Whether the tooth is an incisor or a canine."""
        return self.number % 10 <= 3


def tooth(number: int) -> Tooth:
    """Return the average tooth of an ISO 3950 number.

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth.

    Examples
    --------
    >>> tooth(11).name
    'upper right central incisor'
    """
    quadrant_and_position(number)
    return catalogue()[number]


@cache
def catalogue() -> Mapping[int, Tooth]:
    """Return all 32 average permanent teeth by ISO 3950 number, read-only."""
    numbers = [10 * quadrant + position for quadrant in range(1, 5) for position in range(1, 9)]
    return MappingProxyType({number: _build(number) for number in numbers})


def tooth_citations(number: int) -> Mapping[str, Cited]:
    """Return the cited entry behind each size of a tooth and its number of roots.

    Returns
    -------
    mapping
        From the field of `Tooth` to its entry.

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth.
    """
    key = _library_key(number)
    return MappingProxyType({name: lookup(f"teeth.{key}.{name}") for name in (*_SIZES, "roots")})


def published_root_areas(number: int) -> Mapping[str, Cited]:
    """Return the published root surface areas of a tooth, mm2, by study.

    Studies that do not give this tooth are left out, so the mapping may be empty.

    Raises
    ------
    ValueError
        If the number is not that of a permanent tooth.
    """
    keys = {study: f"root_area.{study}.{_library_key(number)}" for study in _AREA_STUDIES}
    known = entries()
    return MappingProxyType({study: known[key] for study, key in keys.items() if key in known})


def _library_key(number: int) -> str:
    quadrant, position = quadrant_and_position(number)
    return f"{'U' if quadrant <= 2 else 'L'}{position}"


def _build(number: int) -> Tooth:
    quadrant, position = quadrant_and_position(number)
    arch = "upper" if quadrant <= 2 else "lower"
    side = "right" if quadrant in (1, 4) else "left"
    cited = tooth_citations(number)
    return Tooth(
        number=number,
        **{size: cited[size].number for size in _SIZES},
        roots=int(cited["roots"].number),
        name=f"{arch} {side} {_KINDS[position - 1]}",
    )
