"""Inputs of a scenario that can be turned: every quantity and number, by its path in the file."""

import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel

from gomphosis.scenarios import messages
from gomphosis.scenarios.files import ScenarioError
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import listed, one_line
from gomphosis.scenarios.schema import Scenario, Wire
from gomphosis.scenarios.units import Kind

NAME = "sweep"
"""What stands for the file in messages."""
PROPOSED, ALIKE = 3, 0.6
EVERYWHERE = ("temperature", "slot.height", "ligament.young")
"""Proposed where nothing is near."""

Location = tuple[str | int, ...]
Leaf = tuple[Location, Kind | None, bool]
"""Where a value stands, its kind, and whether it is a quantity or a number."""


@dataclass(frozen=True)
class SweepKey:
    """One input of a scenario file.

    Parameters
    ----------
    name
        Path in the file; teeth by ISO 3950 number, other tables of a list counted from 1.
    location
        Field names and positions (from 0) in the document.
    kind
        Of the quantity; None for a number without a unit.
    """

    name: str
    location: Location
    kind: Kind | None


def swept_document(scenario: Scenario) -> dict[str, Any]:
    """Return a scenario as its file has it, with the default wire where it names none."""
    document = scenario.document()
    if not document["wire"]:
        default = Wire().model_dump(mode="json", by_alias=True, exclude_none=True)
        document["wire"] = [default]
    return document


def find_key(document: dict[str, Any], name: str) -> SweepKey:
    """Return the input that a path names.

    Parameters
    ----------
    document
        Of a scenario, as `swept_document` gives it.
    name
        Path such as ``tooth[11].prescription.torque``.

    Raises
    ------
    ScenarioError
        If there is no such key, or it holds no number; the nearest ones are proposed.
    """
    known, others = _known(document)
    if name in known:
        return known[name]
    problem = "is not a known key here"
    if name in others:
        problem = "holds no quantity and no number that can be varied"
    elif name.startswith("tooth[") and not name.startswith(_teeth(document)):
        problem += " (teeth go by ISO 3950 number)"
    accepted = listed(_nearest(name, tuple(known)))
    raise ScenarioError(messages.line(NAME, f"{one_line(name)[:80]} {problem}", accepted))


def with_value(document: dict[str, Any], key: SweepKey, value: str | float) -> dict[str, Any]:
    """Return a copy of a document with another value; tables that do not change are shared."""
    return _replaced(document, key.location, value)


def _replaced(table: Any, location: Location, value: str | float) -> Any:  # noqa: ANN401 - table, list or value
    if not location:
        return value
    first, rest = location[0], location[1:]
    if isinstance(first, int):
        inner = _replaced(table[first], rest, value)
        return [*table[:first], inner, *table[first + 1 :]]
    return {**table, first: _replaced(table.get(first), rest, value)}


def _known(document: dict[str, Any]) -> tuple[dict[str, SweepKey], set[str]]:
    """Return the inputs that can be varied by name, and the names of those that cannot."""
    keys: dict[str, SweepKey] = {}
    others: set[str] = set()
    for location, kind, numeric in _leaves(Scenario, document, ()):
        name = _path(location, document)
        if numeric:
            keys.setdefault(name, SweepKey(name, location, kind))
        else:
            others.add(name)
    return keys, others - set(keys)


def _teeth(document: dict[str, Any]) -> tuple[str, ...]:
    return tuple(f"tooth[{place['number']}]" for place in document["tooth"])


def _path(location: Location, document: dict[str, Any]) -> str:
    path = messages.key_path(location)
    if location[0] != "tooth" or len(location) < 2:
        return path
    return re.sub(r"^tooth\[\d+\]", _teeth(document)[int(location[1])], path)


def _leaves(annotation: Any, value: Any, location: Location) -> Iterator[Leaf]:  # noqa: ANN401 - any type, anything in a file
    """Yield every value that a type has, also those that the file leaves out."""
    inner, notes = annotation, ()
    if get_origin(annotation) is Annotated:
        inner, *notes = get_args(annotation)
    bounded = next((note for note in notes if isinstance(note, Bounded)), None)
    if bounded is not None:
        yield location, bounded.kind, True
    elif isinstance(inner, type) and issubclass(inner, BaseModel):
        yield from _table_leaves(inner, value, location)
    elif get_origin(inner) is tuple:
        yield from _list_leaves(get_args(inner), value, location)
    elif get_args(inner) and type(None) in get_args(inner):
        for choice in get_args(inner):
            if choice is not type(None):
                yield from _leaves(choice, value, location)
    else:
        yield location, None, float in (inner, *get_args(inner))


def _table_leaves(model: type[BaseModel], value: Any, location: Location) -> Iterator[Leaf]:  # noqa: ANN401
    if not isinstance(value, dict):
        yield location, None, False
        return
    for name, field in model.model_fields.items():
        key = field.alias or name
        annotation = field.annotation
        for note in field.metadata:
            annotation = Annotated[annotation, note]
        yield from _leaves(annotation, value.get(key), (*location, key))


def _list_leaves(types: tuple[Any, ...], value: Any, location: Location) -> Iterator[Leaf]:  # noqa: ANN401
    if not isinstance(value, list):
        yield location, None, False
        return
    alike = len(types) == 2 and types[1] is Ellipsis
    for index, entry in enumerate(value):
        yield from _leaves(types[0] if alike else types[index], entry, (*location, index))


def _nearest(name: str, names: tuple[str, ...]) -> tuple[str, ...]:
    """Return the nearest names, those first that end alike."""

    def likeness(other: str) -> float:
        return difflib.SequenceMatcher(None, name, other).ratio()

    last = name.rsplit(".", 1)[-1]
    same = sorted((n for n in names if n.rsplit(".", 1)[-1] == last), key=likeness, reverse=True)
    close = difflib.get_close_matches(name, names, n=PROPOSED, cutoff=ALIKE)
    found = tuple(dict.fromkeys([*same, *close]))[:PROPOSED]
    return found or (f"a path such as {EVERYWHERE[0]}", *EVERYWHERE[1:])
