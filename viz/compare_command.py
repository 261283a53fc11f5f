"""``gomphosis compare``: two finished runs beside each other."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from gomphosis.viz.compared_runs import Pair, read_pair
from gomphosis.viz.console import DASH, console, print_json, print_notice, progress, table
from gomphosis.viz.staging import staging

if TYPE_CHECKING:
    from rich.console import Console

FIGURES = ("compared.png", "compared.svg", "compared.pdf")
MOST_INPUTS = 12


def compare_command(
    folders: Sequence[Path], out: Path, *, cases: Sequence[str], as_json: bool
) -> None:
    """Write figure and film of two runs into a folder, and print their main numbers."""
    from gomphosis.viz.compared_table import compared_document

    pair = read_pair(folders, cases)
    document = compared_document(pair)
    write_compared(pair, out)
    if as_json:
        print_json(document)
        return
    _print(console(), pair, document)
    screen = console()
    print_notice(screen)
    screen.print(f"Files: {out}", markup=False)


def write_compared(pair: Pair, out: Path) -> None:
    """Write figure and film of two runs: all files, or none.

    Raises
    ------
    OSError
        If the folder cannot be made or written.
    """
    from gomphosis.viz.compared_figure import compared_figure
    from gomphosis.viz.compared_film import STEM, save_compared_film
    from gomphosis.viz.film_files import film_names
    from gomphosis.viz.theme import save_figure

    def move(stages: list[Path]) -> None:
        for name in (*FIGURES, *film_names(STEM)):
            (stages[0] / name).replace(out / name)

    with staging([out], move) as stages, progress("compare") as tell:
        figure = compared_figure(pair)
        for name in FIGURES:
            save_figure(figure, stages[0] / name)
        save_compared_film(pair, stages[0], tell)


def _print(screen: "Console", pair: Pair, document: dict) -> None:
    from gomphosis.viz.compared_table import RUN_COLUMNS, TOOTH_COLUMNS, run_rows, tooth_rows

    screen.print(table("Two runs compared (median person)", RUN_COLUMNS, run_rows(document)))
    screen.print(table("Teeth", TOOTH_COLUMNS, tooth_rows(document)))
    if pair.note:
        screen.print(pair.note, markup=False)
    found = document["different_inputs"]
    rows = [[row["key"], row["A"] or DASH, row["B"] or DASH] for row in found[:MOST_INPUTS]]
    if rows:
        left = f" (first {len(rows)} of {len(found)})" if len(rows) < len(found) else ""
        screen.print(table(f"Inputs that differ{left}", ("input", "A", "B"), rows))
    for letter, run in document["runs"].items():
        if run["invented"]:
            screen.print(f"{letter}: invented data", markup=False)
