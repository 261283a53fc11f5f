"""Files of a run: written aside, moved into place when all are complete."""

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from gomphosis.scenarios.elastic_report import elastic_table
from gomphosis.scenarios.movement_table import movement_table, write_csv, write_parquet
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.root_table import root_table
from gomphosis.scenarios.slice_vtu import write_slice_fields
from gomphosis.scenarios.summary import summary, summary_text
from gomphosis.scenarios.vtu import write_fields
from gomphosis.viz.animation import save_animation
from gomphosis.viz.arch_film import save_arch_film
from gomphosis.viz.figures import (
    FIGURES,
    LESSON_FIGURES,
    SLICE_FIGURES,
    figures_for,
    save_figure,
)
from gomphosis.viz.film_files import film_names
from gomphosis.viz.report_page import PAGE, write_report
from gomphosis.viz.report_record import report_record
from gomphosis.viz.report_store import SUMMARY, write_record
from gomphosis.viz.slice_film import STEM as SLICE_STEM
from gomphosis.viz.slice_film import save_slice_animation
from gomphosis.viz.slice_view import slice_views
from gomphosis.viz.staging import remove_empty, staging

FIELDS = "fields"
ALSO = (".svg", ".pdf")
"""Endings of figures that only runs asked for them have."""
OF_SLICES = (*film_names(SLICE_STEM), *(f"{name}.png" for name in SLICE_FIGURES))
"""Files that only runs with slices have; those of an older run go."""
OF_LESSONS = tuple(f"{name}.png" for name in LESSON_FIGURES)
"""Files that only lessons have."""
OF_ELASTICS = ("elastics.csv", "elastics.parquet")
"""Files that only runs with elastics have."""
OF_FORMATS = tuple(
    f"{name}{kind}" for name in (*FIGURES, *SLICE_FIGURES, *LESSON_FIGURES) for kind in ALSO
)
FIELD_FILES = (".vtu", ".vti", ".pvd")


@contextmanager
def staged(out: Path, *, aside: Path | None = None) -> Iterator[Path]:
    """Yield an empty folder inside a run's folder or `aside`; on success its content moves to out.

    What an older run left there and this one has not goes: field files, pictures of slices and of
    lessons, tables of elastics, figures in other formats.

    Raises
    ------
    OSError
        If out cannot be made or written.
    """

    def move(stages: list[Path]) -> None:
        written = [entry for stage in stages for entry in sorted(stage.iterdir())]
        for entry in written:
            _replace(entry, out / entry.name)
        may_go = {*OF_SLICES, *OF_LESSONS, *OF_ELASTICS, *OF_FORMATS}
        for name in may_go - {entry.name for entry in written}:
            (out / name).unlink(missing_ok=True)

    with staging([aside or out], move) as (stage,):
        yield stage


def write_outputs(
    result: RunResult,
    folder: Path,
    *,
    also: Sequence[str] = (),
    progress: Callable[[float, str], None] | None = None,
    say: Callable[[str], None] | None = None,
) -> None:
    """Write summary, tables, fields, figures, report and films of a run into a folder.

    Parameters
    ----------
    also
        Formats of the figures beside PNG: ``svg``, ``pdf``.
    progress
        Told the share done and what is being done.
    say
        Told what could not be made as it is meant, a line each.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    tell = progress or (lambda share, what: None)
    tell(0.0, "tables")
    (folder / SUMMARY).write_text(summary_text(summary(result)), encoding="utf-8")
    rows = movement_table(result)
    write_csv(rows, folder / "movement.csv")
    write_parquet(rows, folder / "movement.parquet")
    write_csv(root_table(result), folder / "root_preview.csv")
    if result.scenario.elastic:
        pulls = elastic_table(result)
        write_csv(pulls, folder / OF_ELASTICS[0])
        write_parquet(pulls, folder / OF_ELASTICS[1])
    tell(0.1, "fields")
    (folder / FIELDS).mkdir()
    write_fields(result, folder / FIELDS)
    write_slice_fields(result, folder / FIELDS)
    figures = figures_for(result)
    for index, (name, draw) in enumerate(figures.items()):
        tell(0.3 + 0.3 * index / len(figures), f"{name} figure")
        figure = draw(result)
        for kind in ("png", *also):
            save_figure(figure, folder / f"{name}.{kind}")
    tell(0.6, "report")
    document = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
    write_record(report_record(result, document), folder, [f"{name}.png" for name in figures])
    write_report([folder], folder / PAGE)
    save_films(result, folder, lambda share, what: tell(0.65 + 0.35 * share, what), say=say)
    tell(1.0, "done")


def save_films(
    result: RunResult,
    folder: Path,
    tell: Callable[[float, str], None],
    *,
    say: Callable[[str], None] | None = None,
) -> None:
    """Write the films of the teeth and of the arch, and that of the slices where there are any."""
    films = [save_animation, partial(save_arch_film, say=say)]
    if slice_views(result):
        films.append(save_slice_animation)
    for index, save in enumerate(films):

        def share(part: float, what: str, index: int = index) -> None:
            tell((index + part) / len(films), what)

        save(result, folder, share)


def _replace(entry: Path, target: Path) -> None:
    """Move a finished file or folder into place; only field files of an older run give way."""
    if entry.is_dir() and target.is_dir():
        for old in [path for path in target.rglob("*") if path.suffix in FIELD_FILES]:
            old.unlink()
        for part in sorted(entry.iterdir()):
            _replace(part, target / part.name)
        # a case or a slice that is gone leaves an empty folder
        remove_empty([p for p in target.rglob("*") if p.is_dir()])
        return
    entry.replace(target)
