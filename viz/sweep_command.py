"""``gomphosis wire --sweep``: force systems before anything moves, over one input's values."""

import math
import re
from pathlib import Path
from typing import Any

from rich.console import Console

from gomphosis.scenarios.files import find_scenario
from gomphosis.scenarios.movement_table import write_csv
from gomphosis.scenarios.sweep_report import COMPONENTS, sweep_document, sweep_table
from gomphosis.scenarios.wire_sweep import Sweep, SweptWire, wire_sweep
from gomphosis.viz.console import console, print_json, print_notice, progress, table
from gomphosis.viz.one_wire import check_figure, refused
from gomphosis.viz.run_command import FORCE_COLUMNS, force_cells
from gomphosis.viz.whole_files import whole_files
from gomphosis.viz.wire_command import mesh_words, play_words

FORM = "KEY=FROM:TO:N, such as tooth[11].inclination=0 deg:20 deg:11"


def sweep_command(
    source: str, wanted: str, *, figure: Path | None, csv: Path | None, as_json: bool
) -> None:
    """Compute a sweep, write the files that are wanted, and print the tooth in question."""
    key, ends, points = parse_sweep(wanted)
    check_figure(figure)
    if figure is not None and figure == csv:
        raise refused("csv", str(csv), "is the figure as well", "another name")
    document = find_scenario(source).document()
    with whole_files(figure, csv) as (figure_place, csv_place):
        with progress("sweep") as tell:
            sweep = wire_sweep(document, key, ends=ends, points=points, progress=tell)
        if csv_place is not None:
            write_csv(sweep_table(sweep), csv_place)
        if figure_place is not None:
            _draw(sweep, figure_place)
    if as_json:
        print_json(sweep_document(sweep))
        return
    print_sweep(console(), sweep)


def parse_sweep(text: str) -> tuple[str, tuple[str, str], int]:
    """Return key, ends and number of values of an option ``KEY=FROM:TO:N``.

    Raises
    ------
    ScenarioError
        If the text has another form.
    """
    key, equals, rest = (part.strip() for part in text.partition("="))
    parts = [part.strip() for part in rest.split(":")]
    if not (key and equals and len(parts) == 3 and all(parts)):
        raise refused("sweep", text, "is not of the form", FORM)
    if not re.fullmatch(r"[+-]?[0-9]{1,9}", parts[2]):
        raise refused("sweep", text, "has no whole number of values", FORM)
    return key, (parts[0], parts[1]), int(parts[2])


def print_sweep(screen: Console, sweep: Sweep) -> None:
    """Print what each wire exerts on the tooth in question, with limits and the notice."""
    screen.print(sweep.scenario.title, style="bold", markup=False)
    for wire in sweep.concerned:
        title = f"Tooth {sweep.tooth} at its bracket: {wire.name}"
        columns = (f"{sweep.key}\n{sweep.unit}", *FORCE_COLUMNS[2:])
        screen.print(table(title, columns, _rows(sweep, wire)))
        mesh = {
            "elements_between_neighbouring_slots": wire.elements,
            "change_by_half_as_many": wire.change,
        }
        screen.print(mesh_words(mesh), markup=False)
        for words in _play_lines(sweep, wire):
            screen.print(words, markup=False)
    if not sweep.changed:
        screen.print(f"No force or moment changes over these values of {sweep.key}.", markup=False)
    for limit in sweep.limits:
        screen.print(f"· {limit}", markup=False)
    print_notice(screen)


def _play_lines(sweep: Sweep, wire: SweptWire) -> list[str]:
    """Return the play that is left out, once or at both ends of the sweep."""
    ends = (0, -1)
    lines = []
    for torsion, tip in wire.play[ends, :].tolist():
        free = not math.isfinite(torsion)
        lines.append(play_words({"torsion_deg": None if free else torsion, "tip_deg": tip}))
    if lines[0] == lines[1]:
        return lines[:1]
    values = sweep.values[list(ends)].tolist()
    return [
        f"at {value:.6g} {sweep.unit}: {text}" for value, text in zip(values, lines, strict=True)
    ]


def _rows(sweep: Sweep, wire: SweptWire) -> list[list[str]]:
    systems = wire.systems[:, sweep.teeth.index(sweep.tooth)]
    rows: list[list[str]] = []
    for value, system in zip(sweep.values, systems, strict=True):
        named: dict[str, Any] = dict(zip(COMPONENTS, system.tolist(), strict=True))
        rows.append([f"{value:.6g}".replace("-", "−"), *force_cells(named)])
    return rows


def _draw(sweep: Sweep, path: Path) -> None:
    from gomphosis.viz import theme
    from gomphosis.viz.sweep_figure import sweep_figure

    theme.save_figure(sweep_figure(sweep), path)
