"""What must outlast an interruption, as plain arrays with names; dots lead into parts."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy.typing as npt

State = Mapping[str, npt.NDArray[Any]]
"""Arrays by name, such as ``rod.nodes``."""


class StateError(ValueError):
    """A state that is not of the thing it is given to."""


def joined(states: Sequence[State]) -> dict[str, npt.NDArray[Any]]:
    """Return several states as one; the names of each begin with its index and a dot."""
    return {
        f"{index}.{name}": array
        for index, state in enumerate(states)
        for name, array in state.items()
    }


def parted(state: State, count: int) -> list[dict[str, npt.NDArray[Any]]]:
    """Return the states that have been joined to one.

    Parameters
    ----------
    count
        How many there were.

    Raises
    ------
    StateError
        If there is an array of none of them.
    """
    parts: list[dict[str, npt.NDArray[Any]]] = [{} for _ in range(count)]
    numbers = {str(index): part for index, part in enumerate(parts)}
    for name, array in state.items():
        number, _, rest = name.partition(".")
        if number not in numbers or not rest:
            raise StateError(f"a state of {count} parts has no place for {name!r}")
        numbers[number][rest] = array
    return parts


def check_names(state: State, expected: Sequence[str]) -> None:
    """Check that a state has arrays of exactly these names.

    Raises
    ------
    StateError
        If one is missing or too many.
    """
    if set(state) != set(expected):
        raise StateError(f"a state needs {sorted(expected)}, got {sorted(state)}")
