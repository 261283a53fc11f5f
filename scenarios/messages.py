"""What the schema finds wrong with a scenario, in one line for the one who wrote it."""

import difflib
from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import ValidationError

from gomphosis.scenarios.refusal import Refused, listed, one_line, shown

_ORDER = {"extra_forbidden": 0, "missing": 2}
"""Misspelt keys are told before wrong values, and those before missing keys."""

_PROBLEMS = {
    "extra_forbidden": "is not a known key here",
    "missing": "is missing",
    "too_long": "has too many entries",
    "string_too_short": "is too short",
    "string_too_long": "is too long",
    "string_pattern_mismatch": "has a line break or another control character",
    "greater_than_equal": "is too small",
    "greater_than": "is too small",
    "less_than_equal": "is too large",
    "less_than": "is too large",
    "too_short": "is empty",
    "finite_number": "is not finite",
    "literal_error": "is not one of the options",
}
_TYPES = {
    "integer": "a whole number",
    "number": "a number without a unit",
    "boolean": "true or false",
    "string": "text in quotes",
    "array": "a list of tables",
    "object": "a table",
}
_LIMITS = (
    ("minimum", "at least", ""),
    ("exclusiveMinimum", "above", ""),
    ("maximum", "at most", ""),
    ("exclusiveMaximum", "below", ""),
    ("minItems", "at least", ""),
    ("maxItems", "at most", ""),
    ("minLength", "with", " or more characters"),
    ("maxLength", "at most", " characters"),
)
"""Keys of the JSON schema that bound a value, and how they read."""


def key_path(location: Iterable[str | int]) -> str:
    """Return a place in the file as a TOML path; tables of a list are counted from 1.

    Examples
    --------
    >>> key_path(("tooth", 0, "angulation"))
    'tooth[1].angulation'
    """
    path = ""
    for part in location:
        path += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if path else part
    return one_line(path)


def message(name: str, error: ValidationError, *, document: Any, schema: Mapping[str, Any]) -> str:  # noqa: ANN401 - whatever the file held
    """Return the first finding as one line, and how many more there are.

    Parameters
    ----------
    name
        Of the file.
    error
        The findings.
    document
        What the file held, to repeat the offending value.
    schema
        JSON schema of the scenario, to say what would be accepted.
    """
    findings = sorted(error.errors(), key=lambda found: _ORDER.get(found["type"], 1))
    first, more = findings[0], len(findings) - 1
    refused = first.get("ctx", {}).get("error")
    location = tuple(first["loc"])
    if isinstance(refused, Refused):
        location += refused.key
        problem, accepted = refused.problem, refused.accepted
    else:
        problem = _problem(first["type"], _node(schema, location))
        accepted = _accepted(schema, location, unknown=first["type"] == "extra_forbidden")
    known, value = _value(document, location)
    where = key_path(location)
    if known:
        where += f" ({shown(value)})" if isinstance(value, dict | list) else f" = {shown(value)}"
    return line(name, f"{where} {problem}", accepted, more=more)


def line(name: str, problem: str, accepted: str, *, more: int = 0) -> str:
    """Return a message as one line: file, problem, what would be accepted."""
    suffix = f" (and {more} more)" if more else ""
    return one_line(f"{name}: {problem}; accepted: {accepted}{suffix}")


def _problem(kind: str, node: Mapping[str, Any]) -> str:
    wanted = _TYPES.get(node.get("type", ""), "a value that fits")
    if node.get("type") == "array" and not _of_tables(node):
        wanted = "a list"
    return _PROBLEMS.get(kind, f"is not {wanted}")


def _value(document: Any, location: Iterable[str | int]) -> tuple[bool, Any]:  # noqa: ANN401
    """Return whether the file has something at the location, and what."""
    found: Any = document
    for part in location:
        entries: dict[Any, Any] = dict(enumerate(found)) if isinstance(found, list) else found
        if not isinstance(entries, dict) or part not in entries:
            return False, None
        found = entries[part]
    return True, found


def _choices(schema: Mapping[str, Any], node: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the alternatives of a node of the JSON schema, references followed."""
    found = []
    for choice in node.get("anyOf", [node]):
        reference = choice.get("$ref")
        found.append(schema["$defs"][reference.rsplit("/", 1)[-1]] if reference else choice)
    return found


def _child(choice: Mapping[str, Any], part: str | int) -> Mapping[str, Any] | None:
    if not isinstance(part, int):
        return choice.get("properties", {}).get(part)
    places = choice.get("prefixItems", ())
    return places[part] if part < len(places) else choice.get("items")


def _of_tables(node: Mapping[str, Any]) -> bool:
    return "$ref" in node.get("items", {})


def _node(schema: Mapping[str, Any], location: Iterable[str | int]) -> Mapping[str, Any]:
    """Return the part of the JSON schema that describes the location, empty if none does."""
    node: Mapping[str, Any] = schema
    for part in location:
        children = [_child(choice, part) for choice in _choices(schema, node)]
        node = next((child for child in children if child), {})
    if "accepted" in node:
        return node
    return next((c for c in _choices(schema, node) if c.get("type") != "null"), node)


def _accepted(schema: Mapping[str, Any], location: tuple[str | int, ...], *, unknown: bool) -> str:
    if not unknown:
        return describe(_node(schema, location), str(location[-1]))
    tables = _choices(schema, _node(schema, location[:-1]))
    keys = tuple(key for table in tables for key in table.get("properties", {}))
    near = difflib.get_close_matches(str(location[-1]), keys, n=3)
    return listed(tuple(near) or keys)


def describe(node: Mapping[str, Any], key: str) -> str:
    """Return what a part of the JSON schema accepts under a key, as a phrase."""
    if "accepted" in node:
        return node["accepted"]
    if "const" in node:
        return shown(node["const"])
    if "enum" in node:
        return listed(tuple(shown(option) for option in node["enum"]))
    phrase = _TYPES.get(node.get("type", ""), "another value")
    if node.get("type") == "array":
        phrase = f"tables [[{key}]]" if _of_tables(node) else "a list"
    if "properties" in node:
        phrase = f"a table with {listed(tuple(node['properties']), last='and')}"
    limits = [f"{word} {node[name]}{noun}" for name, word, noun in _LIMITS if name in node]
    return ", ".join([phrase, *limits])
