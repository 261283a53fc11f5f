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
from gomphosis.viz.animation import STEM as TEETH
from gomphosis.viz.animation import save_animation
from gomphosis.viz.arch_film import STEM as ARCH
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
from gomphosis.viz.slice_film import STEM as SLICE
from gomphosis.viz.slice_film import save_slice_animation
from gomphosis.viz.slice_view import slice_views
from gomphosis.viz.staging import remove_empty, staging
from gomphosis.viz.wanted_files import ALL, Wanted

FIELDS = "fields"
ELASTICS = ("elastics.csv", "elastics.parquet")
STEMS = (TEETH, ARCH, SLICE)
MAY_LACK = {
    *ELASTICS,
    *(f"{name}.png" for name in (*SLICE_FIGURES, *LESSON_FIGURES)),
    *(
        f"{name}.{kind}"
        for name in (*FIGURES, *SLICE_FIGURES, *LESSON_FIGURES)
        for kind in ("svg", "pdf")
    ),
    *(name for stem in STEMS for name in film_names(stem)),
}
"""Files that not every run has; those of an older run go."""
FIELD_FILES = (".vtu", ".vti", ".pvd")


@contextmanager
def staged(out: Path, *, aside: Path | None = None) -> Iterator[Path]:
    """Yield an empty folder inside a run's folder or `aside`; on success its content moves to out.

    What an older run left there and this one has not goes: field files, pictures of slices and of
    lessons, tables of elastics, figures in other formats, films.

    Raises
    ------
    OSError
        If out cannot be made or written.
    """

    def move(stages: list[Path]) -> None:
        written = [entry for stage in stages for entry in sorted(stage.iterdir())]
        for entry in written:
            _replace(entry, out / entry.name)
        for name in MAY_LACK - {entry.name for entry in written}:
            (out / name).unlink(missing_ok=True)

    with staging([aside or out], move) as (stage,):
        yield stage


def write_outputs(
    result: RunResult,
    folder: Path,
    *,
    wanted: Wanted = ALL,
    progress: Callable[[float, str], None] | None = None,
    say: Callable[[str], None] | None = None,
) -> None:
    """Write summary, tables, fields, figures, report and films of a run into a folder.

    Parameters
    ----------
    wanted
        Which of them.
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
        write_csv(pulls, folder / ELASTICS[0])
        write_parquet(pulls, folder / ELASTICS[1])
    tell(0.1, "fields")
    (folder / FIELDS).mkdir()
    write_fields(result, folder / FIELDS)
    write_slice_fields(result, folder / FIELDS)
    figures_told = partial(_within, tell, 0.3, 0.6)
    names = _write_figures(result, folder, wanted.also, figures_told)
    tell(0.6, "report")
    document = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
    write_record(report_record(result, document), folder, [f"{name}.png" for name in names])
    write_report([folder], folder / PAGE)
    if wanted.films:
        save_films(result, folder, partial(_within, tell, 0.65, 1.0), say=say)
    tell(1.0, "done")


def _within(
    tell: Callable[[float, str], None], begin: float, end: float, share: float, what: str
) -> None:
    """Tell the share of a part as that of the whole, of which it takes from begin to end."""
    tell(begin + (end - begin) * share, what)


def _write_figures(
    result: RunResult,
    folder: Path,
    also: Sequence[str],
    tell: Callable[[float, str], None],
) -> list[str]:
    """Write every figure as PNG, and in other formats as well; return their names."""
    figures = figures_for(result)
    for index, (name, draw) in enumerate(figures.items()):
        tell(index / len(figures), f"{name} figure")
        figure = draw(result)
        for kind in ("png", *also):
            save_figure(figure, folder / f"{name}.{kind}")
    return list(figures)


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
