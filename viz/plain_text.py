"""Signs of the trade in plain letters, for terminals and files that know no others."""

import codecs
import io
from typing import TextIO

PLAIN = {
    "−": "-",
    "–": "-",
    "—": "-",
    "·": ".",
    "µ": "u",
    "×": "x",
    "²": "2",
    "³": "3",
    "°": "deg",
    "≤": "<=",
    "≥": ">=",
}
_HANDLER = "gomphosis.plain"


def speak_plainly(stream: TextIO | None) -> None:
    """Let a stream write a plain letter for a sign that its encoding lacks: a minus stays one."""
    codecs.register_error(_HANDLER, _plain)
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(errors=_HANDLER)


def _plain(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = error.object[error.start : error.end]
    return "".join(PLAIN.get(sign, "?") for sign in signs), error.end
