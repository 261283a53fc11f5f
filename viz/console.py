"""Terminal output: tables, cautions, progress, JSON."""

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table

from gomphosis.scenarios.caution import NOTICE

DASH = "—"
SHORT_CELL = 24  # characters that a column keeps on one line
_NUMERIC = ("", DASH, "−", *"0123456789")
WIDTH = 160  # characters of a text that goes into a file, so that no table is cut
GRAM_FORCE = 0.00980665  # N, ISO 80000-4


def console() -> Console:
    """Return the console for results; tables stay whole when piped into a file."""
    # text is printed as it stands: a case called ":x:" is no picture
    screen = Console(highlight=False, emoji=False)
    return screen if screen.is_terminal else Console(highlight=False, emoji=False, width=WIDTH)


def table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    """Return a table; columns of numbers are set flush right."""
    made = Table(title=escape(title), title_justify="left", title_style="bold", header_style="bold")
    for index, column in enumerate(columns):
        numeric = index > 0 and all(row[index][:1] in _NUMERIC for row in rows)
        short = max((len(row[index]) for row in rows), default=0) <= SHORT_CELL
        made.add_column(column, justify="right" if numeric else "left", no_wrap=numeric or short)
    for row in rows:
        made.add_row(*(escape(cell) for cell in row))
    return made


def print_notice(screen: Console) -> None:
    """Print the cautions that travel with every output."""
    screen.print()
    screen.print(NOTICE, style="italic", markup=False)


def print_json(document: Any) -> None:  # noqa: ANN401 - any plain data
    """Print plain data as JSON on standard output."""
    plain = not (sys.stdout.encoding or "utf-8").lower().startswith("utf")
    text = json.dumps(document, indent=2, ensure_ascii=plain, allow_nan=False)
    sys.stdout.write(text + "\n")
    sys.stdout.flush()  # a full disk is told now, not after the last line of the program


def number(value: float | None, digits: int = 2) -> str:
    """Return a number with a sign where it is negative, or a dash for none."""
    if value is None:
        return DASH
    text = f"{value:.{digits}f}"
    # no minus before a number that prints as zero
    return text.lstrip("-") if float(text) == 0 else text.replace("-", "−")


@contextmanager
def progress(what: str) -> Iterator[Callable[[float, str], None]]:
    """Show a progress bar on standard error; yield a function of share and description.

    Where standard error is not a terminal there is no bar.
    """
    screen = Console(stderr=True)
    if not screen.is_terminal:
        yield lambda share, text: None
        return
    bar = Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeElapsedColumn(),
        console=screen,
        transient=True,
    )
    with bar:
        task = bar.add_task(what, total=1.0)
        yield lambda share, text: bar.update(task, completed=share, description=text)
