"""Every input of a run with its value and where it comes from: the file, the library, a default."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from gomphosis.bone.library import Cited, lookup
from gomphosis.scenarios.schema import Scenario

FROM_FILE, LIBRARY, DEFAULT = "file", "library", "default"
_CITED = re.compile(r"default: ([a-z0-9_.]+) of the library")
_SKIPPED = ("schema", "title", "note", "invented")
_BEHIND = (
    "spread.sigma",
    "speed.growing_factor",
    "bone.crest_below_cervix",
    "ligament.strain_limit.flag",
    "pressure_line.capillary",
)
"""Numbers of the library behind every run that no scenario file can change."""


@dataclass(frozen=True)
class InputRow:
    """One input.

    Attributes
    ----------
    key
        As in the scenario file, such as ``wire[1].size``, or the key of the library.
    value
        With its unit.
    origin
        ``file``, ``library`` or ``default``.
    source, status
        Of a number of the library; empty for the others.
    """

    key: str
    value: str
    origin: str
    source: str = ""
    status: str = ""


def input_rows(scenario: Scenario) -> tuple[InputRow, ...]:
    """Return all inputs in the order of the file, then numbers of the library behind the run."""
    document = scenario.document()
    rows = list(_table(scenario, document, ""))
    if scenario.wires and not scenario.wire:
        wire = scenario.wires[0]
        written = wire.model_dump(mode="json", by_alias=True, exclude_none=True)
        rows += _table(wire, written, "wire[1]")
    for key in _BEHIND:
        found = lookup(key)
        rows.append(InputRow(key, _cited_value(found), LIBRARY, found.source, found.status))
    return tuple(rows)


def _table(model: BaseModel, document: dict[str, Any], where: str) -> Iterator[InputRow]:
    for name, field in type(model).model_fields.items():
        key = field.alias or name
        if key not in document or (not where and key in _SKIPPED):
            continue
        path = f"{where}.{key}" if where else key
        value, written = getattr(model, name), document[key]
        if isinstance(value, BaseModel):
            yield from _table(value, written, path)
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            for index, (part, text) in enumerate(zip(value, written, strict=True), start=1):
                yield from _table(part, text, f"{path}[{index}]")
        elif written not in ([], {}):
            given = name in model.model_fields_set
            yield _row(path, _text(written), field.description or "", given=given)


def _row(path: str, value: str, description: str, *, given: bool) -> InputRow:
    if given:
        return InputRow(path, value, FROM_FILE)
    named = _CITED.search(description)
    if named is None:
        return InputRow(path, value, DEFAULT)
    found = lookup(named[1])
    return InputRow(path, value, LIBRARY, found.source, found.status)


def _text(written: object) -> str:
    if isinstance(written, bool):
        return "yes" if written else "no"
    if isinstance(written, list):
        return ", ".join(_text(part) for part in written)
    return _short(str(written))


def _short(text: str) -> str:
    """Return a quantity with at most six digits, other texts as they are."""
    number, space, unit = text.partition(" ")
    try:
        value = float(number)
    except ValueError:
        return text
    return f"{value:.6g}{space}{unit}"


def _cited_value(found: Cited) -> str:
    if not isinstance(found.value, float | int):
        return str(found.value)
    unit = "" if found.unit == "1" else f" {found.unit}"
    return f"{found.value:g}{unit}"
