"""``gomphosis report``: the page of one or two finished runs."""

from pathlib import Path

from gomphosis.viz.console import console, print_notice
from gomphosis.viz.report_page import PAGE, report_page
from gomphosis.viz.whole_files import whole_files


def report_command(folders: tuple[Path, ...], out: Path | None, *, language: str) -> None:
    """Write the page into the folder of a single run, or where the user says."""
    text = report_page(folders, language=language)
    target = folders[0] / PAGE if out is None else out
    with whole_files(target) as (path,):
        path.write_text(text, encoding="utf-8", newline="\n")
    screen = console()
    screen.print(f"Report: {target}", markup=False)
    print_notice(screen)
