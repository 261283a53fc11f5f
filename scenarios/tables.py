"""What all tables of the scenario file have in common, and how their fields get defaults."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from gomphosis.bone.library import lookup


class Table(BaseModel):
    """A table of the scenario file: no unknown keys, no silent conversion, no change afterwards."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        validate_default=True,
    )


def setting(default: str, description: str, *, alias: str | None = None) -> Any:  # noqa: ANN401 - stands for a field of any type
    """Return a field whose default is written as a user would write it.

    The default is read like any other value, so the model holds it in the inside unit. `alias`
    is the key in the file where it differs from the attribute.
    """
    return Field(default=default, description=description, alias=alias)


def cited(key: str, description: str) -> Any:  # noqa: ANN401 - stands for a field of any type
    """Return a field whose default is a number of the library of cited numbers."""
    number = lookup(key)
    text = f"{number.number!r} {number.unit}"
    return Field(default=text, description=f"{description}; default: {key} of the library")


def optional(description: str) -> Any:  # noqa: ANN401 - stands for a field of any type
    """Return a field that a file may leave out; the description says what holds then."""
    return Field(default=None, description=description)
