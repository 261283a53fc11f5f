"""Words of the report, one file per language."""

import tomllib
from functools import cache
from importlib import resources
from typing import Any

LANGUAGES = ("en", "de")
"""Languages that are shipped, the first one the default."""


@cache
def report_strings(language: str) -> dict[str, Any]:
    """Return the words of a language by key; tables of words within.

    Raises
    ------
    ValueError
        If the language is not shipped.
    """
    if language not in LANGUAGES:
        raise ValueError(f"language {language!r} is not shipped; expected {', '.join(LANGUAGES)}")
    return tomllib.loads(report_file(f"strings.{language}.toml"))


def report_file(name: str) -> str:
    """Return the text of one of the page's files."""
    folder = resources.files("gomphosis.viz").joinpath("report")
    return folder.joinpath(name).read_text(encoding="utf-8")
