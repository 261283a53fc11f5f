"""The one way in which an input value is turned down."""

import json

LONGEST_SHOWN = 60
"""Characters of an offending value that are repeated in a message."""


def one_line(text: str) -> str:
    r"""Return the text with line breaks and other unprintable characters escaped.

    Examples
    --------
    >>> one_line("a\nb")
    'a\\nb'
    """
    return "".join(
        char if char.isprintable() else char.encode("unicode_escape").decode() for char in text
    )


def shown(value: object) -> str:
    """Return the value as a scenario file would write it, shortened where it is long."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    text = json.dumps(value, ensure_ascii=False) if isinstance(value, str | bool) else str(value)
    text = one_line(text)
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."


def listed(words: tuple[str, ...], *, last: str = "or") -> str:
    """Return the words as a list in a sentence: ``a, b or c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


class Refused(ValueError):
    """A value that is not accepted, why, and what would be.

    Parameters
    ----------
    value
        What was found.
    problem
        What is wrong with it, to be read after the value.
    accepted
        What would have been accepted.
    key
        Where, as field names and positions (from 0) below the table being checked; empty for
        the checked value itself.
    """

    def __init__(
        self, value: object, problem: str, *, accepted: str, key: tuple[str | int, ...] = ()
    ) -> None:
        super().__init__(f"{shown(value)} {problem}; accepted: {accepted}")
        self.value = value
        self.problem = problem
        self.accepted = accepted
        self.key = key
