"""``gomphosis compare``: two finished runs beside each other."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from gomphosis.viz.compared_runs import Pair, read_pair
from gomphosis.viz.console import DASH, console, print_json, print_notice, progress, table
from gomphosis.viz.film_files import Progress
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
    """Write figure and film of two runs, and a film of their slices: all files, or none.

    A film of slices that an earlier comparison left there goes where now there is none.

    Raises
    ------
    OSError
        If the folder cannot be made or written.
    """
    from gomphosis.viz import compared_film, compared_slices
    from gomphosis.viz.compared_figure import compared_figure
    from gomphosis.viz.film_files import film_names
    from gomphosis.viz.slice_pairs import slice_pairs
    from gomphosis.viz.theme import save_figure

    sliced = bool(slice_pairs(pair))
    of_slices = film_names(compared_slices.STEM)

    def move(stages: list[Path]) -> None:
        names = [*FIGURES, *film_names(compared_film.STEM), *(of_slices if sliced else ())]
        for name in names:
            (stages[0] / name).replace(out / name)
        for name in () if sliced else of_slices:
            (out / name).unlink(missing_ok=True)

    with staging([out], move) as stages, progress("compare") as tell:
        figure = compared_figure(pair)
        for name in FIGURES:
            save_figure(figure, stages[0] / name)
        films = [compared_film.save_compared_film]
        if sliced:
            films.append(compared_slices.save_compared_slices)
        for k, save in enumerate(films):
            save(pair, stages[0], _part(tell, k, len(films)))


def _part(tell: Progress, k: int, parts: int) -> Progress:
    """Return what tells the share done within the k-th of equal parts."""
    return lambda share, text: tell((k + share) / parts, text)


def _print(screen: "Console", pair: Pair, document: dict) -> None:
    from gomphosis.viz.compared_table import RUN_COLUMNS, TOOTH_COLUMNS, run_rows, tooth_rows
    from gomphosis.viz.slice_pairs import missing_slices

    screen.print(table("Two runs compared (median person)", RUN_COLUMNS, run_rows(document)))
    screen.print(table("Teeth", TOOTH_COLUMNS, tooth_rows(document)))
    for note in (pair.note, missing_slices(pair)):
        if note:
            screen.print(note, markup=False)
    found = document["different_inputs"]
    rows = [[row["key"], row["A"] or DASH, row["B"] or DASH] for row in found[:MOST_INPUTS]]
    if rows:
        left = f" (first {len(rows)} of {len(found)})" if len(rows) < len(found) else ""
        screen.print(table(f"Inputs that differ{left}", ("input", "A", "B"), rows))
    for letter, run in document["runs"].items():
        if run["invented"]:
            screen.print(f"{letter}: invented data", markup=False)
