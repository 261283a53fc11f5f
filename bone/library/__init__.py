"""Every cited number of the product, with unit, source and status.

The numbers live in the ``.toml`` files beside this module. A table that has a ``value`` is one
entry; ``source``, ``status`` and ``unit`` written in an enclosing table hold for all entries under
it unless an inner table or the entry itself says otherwise. The dotted path of the entry is its
key, whatever the file. Units are those used inside (mm, N, N·mm, MPa, rad, day) except where a
published data set is kept as printed; the entry's unit always says which. ``"1"`` is dimensionless
and ``"text"`` marks a finding in words.
"""

import difflib
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

STATUSES = (
    "verified",
    "secondary source",
    "from memory, unverified",
    "derived here",
    "engineering choice",
    "common practice, no source",
)
"""Status words: read in the paper's abstract or a table; read in a source that quotes it; recalled
only; computed here; chosen here; of the trade without a traceable source."""

_INHERITED = ("source", "status", "unit")
_FIELDS = frozenset({"value", "unit", "source", "status", "low", "high", "note"})


@dataclass(frozen=True)
class Cited:
    """One number (or list of numbers, or finding in words) and where it comes from.

    Parameters
    ----------
    value
        The number, a tuple of numbers, or a finding in words.
    unit
        Unit of `value`, `low` and `high`; ``"1"`` if dimensionless, ``"text"`` for words.
    source
        Author, journal, year, DOI; or what it was derived from; or the trade's own formula
        ``"common practice, no source"``.
    status
        One of `STATUSES`.
    low, high
        Spread around a single number, where known.
    note
        What the reader must know before using it.

    Raises
    ------
    ValueError
        If the unit or source is empty, the status unknown, a number not finite, or the spread
        does not enclose a single number.
    """

    value: float | tuple[float, ...] | str
    unit: str
    source: str
    status: str
    low: float | None = None
    high: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        for name in ("unit", "source"):
            if not getattr(self, name).strip():
                raise ValueError(f"{name} is missing")
        if self.status not in STATUSES:
            raise ValueError(f"unknown status {self.status!r}: expected one of {STATUSES}")
        if isinstance(self.value, str) != (self.unit == "text"):
            raise ValueError(f"unit {self.unit!r} does not fit value {self.value!r}")
        self._check_numbers()
        self._check_spread()

    @property
    def number(self) -> float:
        """The value as one number.

        Raises
        ------
        TypeError
            If the entry holds a list or words.
        """
        if isinstance(self.value, float):
            return self.value
        raise TypeError(f"{self.value!r} is not a single number")

    @property
    def numbers(self) -> tuple[float, ...]:
        """The value as a tuple of numbers.

        Raises
        ------
        TypeError
            If the entry holds a single number or words.
        """
        if isinstance(self.value, tuple):
            return self.value
        raise TypeError(f"{self.value!r} is not a list of numbers")

    def _check_numbers(self) -> None:
        numbers = self.value if isinstance(self.value, tuple) else (self.value,)
        if not numbers:
            raise ValueError("value is an empty list")
        for number in (*numbers, self.low, self.high):
            if isinstance(number, float) and not math.isfinite(number):
                raise ValueError(f"{number} is not a finite number")

    def _check_spread(self) -> None:
        if self.low is None and self.high is None:
            return
        if not isinstance(self.value, float):
            raise ValueError("low and high belong to a single number only")
        low = -math.inf if self.low is None else self.low
        high = math.inf if self.high is None else self.high
        if not low <= self.value <= high:
            raise ValueError(f"value {self.value} is outside its spread {self.low} to {self.high}")


def lookup(key: str) -> Cited:
    """Return the entry of a dotted key.

    Raises
    ------
    KeyError
        If there is none; the message lists keys near to it.

    Examples
    --------
    >>> lookup("ligament.poppe.young_first").unit
    'MPa'
    """
    known = entries()
    try:
        return known[key]
    except KeyError:
        raise KeyError(f"no entry {key!r}; near: {', '.join(_near(key, known))}") from None


@cache
def entries() -> Mapping[str, Cited]:
    """Return all entries by dotted key, sorted, read-only.

    Raises
    ------
    ValueError
        If an entry in a data file is not valid, or a key is found in two files.
    """
    return MappingProxyType(dict(sorted(read_documents(_data_files()).items())))


def read_documents(texts: Mapping[str, str]) -> dict[str, Cited]:
    """Read the entries of several TOML documents.

    Parameters
    ----------
    texts
        TOML text by file name; the name is used in messages only.

    Returns
    -------
    dict
        Entries of all documents by dotted key.

    Raises
    ------
    ValueError
        If a text is not TOML, an entry is not valid, or a key is given in two documents.
    """
    found: dict[str, Cited] = {}
    for name, text in texts.items():
        try:
            document = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise ValueError(f"{name}: {error}") from error
        read = read_entries(document)
        again = sorted(found.keys() & read.keys())
        if again:
            raise ValueError(f"{', '.join(again)}: given again in {name}")
        found.update(read)
    return found


def read_entries(document: Mapping[str, object]) -> dict[str, Cited]:
    """Read the entries of one parsed document of nested tables.

    Parameters
    ----------
    document
        Nested tables as `tomllib` returns them.

    Returns
    -------
    dict
        Entries by dotted key, in the document's order.

    Raises
    ------
    ValueError
        If an entry is not valid; the message starts with its key.
    """
    return dict(_walk(document, path=(), inherited={}))


def _data_files() -> dict[str, str]:
    folder = resources.files("gomphosis.bone.library")
    files = [file for file in folder.iterdir() if file.name.endswith(".toml")]
    return {file.name: file.read_text(encoding="utf-8") for file in files}


def _walk(
    table: Mapping[str, object], *, path: tuple[str, ...], inherited: Mapping[str, object]
) -> Iterator[tuple[str, Cited]]:
    key = ".".join(path)
    if "value" in table:
        yield key, _entry(key, {**inherited, **table})
        return
    handed_down = {**inherited, **{name: table[name] for name in _INHERITED if name in table}}
    inner = {name: item for name, item in table.items() if name not in _INHERITED}
    if not inner:
        raise ValueError(f"{key or 'document'}: a table without entries")
    for name, item in inner.items():
        if not isinstance(item, Mapping):
            raise ValueError(f"{'.'.join((*path, name))}: expected a table with a value")
        yield from _walk(item, path=(*path, name), inherited=handed_down)


def _entry(key: str, fields: Mapping[str, object]) -> Cited:
    unknown = sorted(set(fields) - _FIELDS)
    if unknown:
        raise ValueError(f"{key}: unknown field {', '.join(unknown)}")
    try:
        return Cited(
            value=_value(fields["value"]),
            unit=_text(fields, "unit"),
            source=_text(fields, "source"),
            status=_text(fields, "status"),
            low=_optional_number(fields.get("low")),
            high=_optional_number(fields.get("high")),
            note=_text(fields, "note"),
        )
    except ValueError as error:
        raise ValueError(f"{key}: {error}") from error


def _value(raw: object) -> float | tuple[float, ...] | str:
    if isinstance(raw, str):
        return raw
    if isinstance(raw, list):
        return tuple(_number(item) for item in raw)
    return _number(raw)


def _number(raw: object) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise ValueError(f"{raw!r} is not a number")
    return float(raw)


def _optional_number(raw: object) -> float | None:
    return None if raw is None else _number(raw)


def _text(fields: Mapping[str, object], name: str) -> str:
    raw = fields.get(name, "")
    if not isinstance(raw, str):
        raise ValueError(f"{name} is not text: {raw!r}")
    return raw


def _near(key: str, known: Mapping[str, Cited]) -> list[str]:
    under = [name for name in known if name.startswith(f"{key}.")]
    return (under or difflib.get_close_matches(key, known, n=5, cutoff=0.4) or list(known))[:8]
