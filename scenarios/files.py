"""Scenario files: read them, refuse bad ones in one line, and find the shipped cases."""

import tomllib
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from gomphosis.scenarios import messages
from gomphosis.scenarios.refusal import listed, shown
from gomphosis.scenarios.schema import SCHEMA_VERSION, Scenario

LARGEST = 1_000_000
"""Most bytes of a scenario file; a real one has a few thousand."""

_CASES = "gomphosis.scenarios.cases"
_SUFFIX = ".toml"


class ScenarioError(ValueError):
    """A scenario that cannot be used.

    Its text is one line: the file, the key as a TOML path, the offending value, what is wrong
    with it and what would be accepted. Tables of a list are counted from 1, so ``tooth[2]`` is
    the second ``[[tooth]]`` of the file.
    """


def load_scenario(path: str | Path) -> Scenario:
    """Return the scenario in a file.

    Raises
    ------
    ScenarioError
        If there is no such file, or it is not a scenario.
    """
    name = str(path)
    return parse_scenario(_read(Path(path), name), name)


def parse_scenario(text: str, name: str) -> Scenario:
    """Return the scenario that the text of a file describes.

    Parameters
    ----------
    text
        Contents of a scenario file.
    name
        What messages call the file.

    Raises
    ------
    ScenarioError
        If the text is not a scenario.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _error(
            name, f"is not TOML: {error}", 'TOML, such as: duration = "12 weeks"'
        ) from None
    except RecursionError:
        raise _error(name, "is nested too deeply", "tables and lists of tables") from None
    return scenario_from(document, name)


def scenario_from(document: dict[str, Any], name: str) -> Scenario:
    """Return the scenario that a document of texts, numbers, lists and tables describes.

    Raises
    ------
    ScenarioError
        If the document is not a scenario.
    """
    _check_version(document, name)
    try:
        return Scenario.model_validate(document)
    except ValidationError as error:
        text = messages.message(name, error, document=document, schema=_raw_schema())
    raise ScenarioError(text)


def scenario_schema() -> dict[str, Any]:
    """Return the JSON schema of a scenario file, for editors.

    Descriptions name the units that fit, and defaults are written as in a file.
    """
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | _plain(_raw_schema())


def case_names() -> tuple[str, ...]:
    """Return the names of the shipped cases, sorted."""
    files = (entry.name for entry in resources.files(_CASES).iterdir())
    return tuple(sorted(name.removesuffix(_SUFFIX) for name in files if name.endswith(_SUFFIX)))


def case_text(name: str) -> str:
    """Return the text of a shipped case.

    Raises
    ------
    ScenarioError
        If there is no case of this name.
    """
    if name not in case_names():
        raise _error(name, "is no shipped case", listed(case_names()))
    return resources.files(_CASES).joinpath(name + _SUFFIX).read_text(encoding="utf-8")


def find_scenario(name_or_path: str | Path) -> Scenario:
    """Return a shipped case by its name, or else the scenario in a file.

    Raises
    ------
    ScenarioError
        If it is neither, or not a scenario.
    """
    name = str(Path(name_or_path))
    if name in case_names():
        return parse_scenario(case_text(name), name)
    if not Path(name).exists() and not name.endswith(_SUFFIX):
        raise _error(
            name,
            "is neither a file nor a shipped case",
            f"a scenario file ({_SUFFIX}), {listed(case_names())}",
        )
    return load_scenario(name)


def _error(name: str, problem: str, accepted: str) -> ScenarioError:
    return ScenarioError(messages.line(name, problem, accepted))


def _read(path: Path, name: str) -> str:
    accepted = "a scenario file in TOML"
    try:
        if path.is_dir():
            raise _error(name, "is a folder", accepted)
        if not path.exists():
            raise _error(name, "does not exist", accepted)
        if not path.is_file():
            raise _error(name, "is not a plain file", accepted)
        if path.stat().st_size > LARGEST:
            raise _error(name, "is too large", f"at most {LARGEST} bytes")
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        problem = f"is not UTF-8 text (byte {error.start + 1})"
        raise _error(name, problem, "TOML saved as UTF-8") from None
    except OSError as error:
        problem = f"cannot be read: {error.strerror or type(error).__name__}"
        raise _error(name, problem, "a readable file") from None


def _check_version(document: dict[str, Any], name: str) -> None:
    accepted = f"schema = {SCHEMA_VERSION}"
    if "schema" not in document:
        raise _error(name, "schema is missing", accepted)
    version = document["schema"]
    if type(version) is int and version == SCHEMA_VERSION:
        return
    problem = "is not a version"
    if type(version) is int:
        problem = "is a newer layout" if version > SCHEMA_VERSION else "is an older layout"
        problem += " than this program reads"
    raise _error(name, f"schema = {shown(version)} {problem}", accepted)


@cache
def _raw_schema() -> dict[str, Any]:
    return Scenario.model_json_schema(by_alias=True)


def _plain(node: Any) -> Any:  # noqa: ANN401 - any part of a JSON document
    """Return the schema without what TOML cannot say, and with the units in the descriptions."""
    if isinstance(node, list):
        return [_plain(item) for item in node]
    if not isinstance(node, dict):
        return node
    choices = [choice for choice in node.get("anyOf", []) if choice != {"type": "null"}]
    if len(choices) == 1:
        node = choices[0] | {key: value for key, value in node.items() if key != "anyOf"}
    dropped = [key for key in ("accepted", "title") if isinstance(node.get(key), str)]
    plain = {key: _plain(value) for key, value in node.items() if key not in dropped}
    if plain.get("default", "") is None:
        del plain["default"]
    if isinstance(node.get("accepted"), str):
        plain["description"] = f"{plain.get('description', '')} ({node['accepted']})".strip()
    return plain
