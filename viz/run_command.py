"""``gomphosis run``: follow a scenario and write everything about it."""

import shutil
from pathlib import Path
from typing import IO, Any

import click
from rich.console import Console

from gomphosis.bone.directions import FORCE_WORDS, MOMENT_WORDS
from gomphosis.scenarios.files import find_scenario
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.run import open_unfinished, run
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.summary import summary
from gomphosis.scenarios.unfinished import Unfinished, remove_checkpoints
from gomphosis.viz.console import (
    DASH,
    GRAM_FORCE,
    console,
    number,
    print_json,
    print_notice,
    progress,
    table,
)
from gomphosis.viz.elastic_lines import print_elastics
from gomphosis.viz.own_folder import own_folder
from gomphosis.viz.root_tables import print_roots
from gomphosis.viz.slice_tables import print_slices
from gomphosis.viz.staging import STAGE
from gomphosis.viz.wanted_files import ALL, Wanted

UNFINISHED = ".unfinished"
"""Folder of the checkpoints inside that of the files."""


class Interrupted(click.ClickException):
    """Ctrl-C during a run that can be gone on with."""

    exit_code = 130

    def show(self, file: IO[Any] | None = None) -> None:
        """Say it in one line on standard error."""
        click.echo(f"gomphosis: {self.message}", file=file, err=True)


def run_command(
    source: str,
    out: Path | None,
    *,
    as_json: bool,
    afresh: bool = False,
    wanted: Wanted = ALL,
) -> None:
    """Run a scenario; write the files that are wanted into out if given; print the summary.

    A run into a folder where one was killed or interrupted goes on with it, unless `afresh`.
    """
    scenario = find_scenario(source)
    if out is None:
        with progress("run") as tell:
            result = run(scenario, progress=tell)
    else:
        result = _kept_run(scenario, out, afresh=afresh, wanted=wanted)
    document = summary(result)
    if as_json:
        print_json(document)
        return
    screen = console()
    print_summary(screen, document)
    screen.print(f"Files: {out}", markup=False)


def _kept_run(scenario: Scenario, out: Path, *, afresh: bool, wanted: Wanted) -> RunResult:
    """Run a scenario with checkpoints, which go once all files are in place."""
    with own_folder(out / UNFINISHED):
        for stage in (out / UNFINISHED).glob(f"{STAGE}*"):
            # of a run that was killed
            shutil.rmtree(stage)
        if afresh:
            remove_checkpoints(out / UNFINISHED)
        unfinished = open_unfinished(out / UNFINISHED, scenario)
        for line in unfinished.told():
            click.echo(f"gomphosis: {line}", err=True)
        try:
            result = _written_run(scenario, out, unfinished, wanted=wanted)
        except KeyboardInterrupt:
            if not unfinished.begun:
                raise
            text = "interrupted; no partial file was left, and the same command goes on from "
            raise Interrupted(text + unfinished.where()) from None
        except (ValueError, ArithmeticError):
            # it would fail there again
            unfinished.remove()
            raise
        unfinished.remove()
    return result


def _written_run(
    scenario: Scenario, out: Path, unfinished: Unfinished, *, wanted: Wanted
) -> RunResult:
    from gomphosis.viz.outputs import staged, write_outputs

    said: list[str] = []
    with staged(out, aside=out / UNFINISHED) as folder, progress("run") as tell:
        result = run(
            scenario,
            progress=lambda share, what: tell(0.4 * share, what),
            unfinished=unfinished,
        )
        write_outputs(
            result,
            folder,
            wanted=wanted,
            progress=lambda share, what: tell(0.4 + 0.6 * share, what),
            say=said.append,
        )
    for line in said:
        click.echo(f"gomphosis: {line}", err=True)
    return result


def print_summary(screen: Console, document: dict[str, Any]) -> None:
    """Print what moved, how, under which forces, with bands and cautions."""
    cases = document.get("cases", {document["case"]: {"teeth": document["teeth"]}})
    teeth = [
        (tooth if len(cases) == 1 else f"{tooth}, {case}", facts)
        for case, content in cases.items()
        for tooth, facts in content["teeth"].items()
    ]
    head = f"{document['scenario']['title']}: weeks 0 to {document['weeks']:g}"
    screen.print(head, style="bold", markup=False)
    lesson = document["scenario"].get("lesson", {})
    for key in ("aim", "question") if lesson else ():
        screen.print(f"{key.capitalize()}: {lesson[key]}", markup=False)
    moved = [[name, *_movement_cells(facts)] for name, facts in teeth]
    screen.print(table("What moved, and how", _MOVEMENT_COLUMNS, moved))
    parts = [[name, *_part_cells(facts)] for name, facts in teeth]
    screen.print(table("Where to (median rate)", _PART_COLUMNS, parts))
    forces = [
        [name, when, *force_cells(facts[key])]
        for name, facts in teeth
        for when, key in _times(facts)
    ]
    screen.print(table("Force system on the bracket", FORCE_COLUMNS, forces))
    print_elastics(screen, document.get("elastics", []))
    print_roots(screen, teeth)
    print_slices(screen, teeth)
    print_remarks(screen, teeth)
    for limit in document["limits"]:
        screen.print(f"· {limit}", markup=False)
    print_notice(screen)


_MOVEMENT_COLUMNS = (
    "tooth",
    "movement",
    "centre of rotation\nmm below crest",
    "crown moved, mm\np10 – p50 – p90",
    "highest pressure\nin the run, kPa",
)
_PART_COLUMNS = (
    "tooth",
    "crown mm\nextrusion",
    "\nlabial",
    "\nmesial",
    "apex mm\nextrusion",
    "\nlabial",
    "\nmesial",
    "turn deg\ntip",
    "\ntorque",
    "\nrotation",
)
FORCE_COLUMNS = (
    "tooth",
    "at",
    "extrusion\nN (gf)",
    "labial\nN (gf)",
    "mesial\nN (gf)",
    "tip\nN·mm",
    "torque\nN·mm",
    "rotation\nN·mm",
)


def _times(facts: dict[str, Any]) -> list[tuple[str, str]]:
    if facts["force_system_start"] == facts["force_system_end"]:
        return [("throughout", "force_system_start")]
    return [("start", "force_system_start"), ("end", "force_system_end")]


def _movement_cells(facts: dict[str, Any]) -> list[str]:
    band = facts["crown_movement_band_mm"]
    plane = facts["movement_plane"]
    return [
        facts["movement_type"] + ("" if plane == "none" else f" ({plane} plane)"),
        number(facts["centre_of_rotation_mm"], 1),
        " – ".join(number(band[key]) for key in ("p10", "p50", "p90")),
        number(facts["peak_pressure_kPa"], 1),
    ]


def _part_cells(facts: dict[str, Any]) -> list[str]:
    return [
        number(value, digits)
        for key, digits in (
            ("crown_movement_mm", 2),
            ("apex_movement_mm", 2),
            ("orientation_change_deg", 1),
        )
        for value in facts[key].values()
    ]


def force_cells(system: dict[str, float]) -> list[str]:
    """Return a force system as cells: forces in N with gf beside, moments in N·mm."""
    forces = [system[f"{word}_N"] for word in FORCE_WORDS]
    moments = [system[f"{word}_Nmm"] for word in MOMENT_WORDS]
    return [f"{number(f)} ({number(f / GRAM_FORCE, 0)})" for f in forces] + [
        number(m, 1) for m in moments
    ]


def print_remarks(screen: Console, teeth: list[tuple[str, dict[str, Any]]]) -> None:
    """Print each kind of flag once: where it stands, its threshold and source."""
    kinds: dict[tuple[str, str, str], list[str]] = {}
    for name, facts in teeth:
        for flag in facts["flags"]:
            limit = f"{number(flag['threshold'], 1)} {flag['unit']}"
            key = (flag["what"], limit, f"{flag['source']} ({flag['status']})")
            kinds.setdefault(key, []).append(f"{name}: {number(flag['value'], 1)} {flag['unit']}")
    if not kinds:
        screen.print(f"Remarks: {DASH}")
        return
    screen.print("Remarks", style="bold")
    for (what, limit, source), where in kinds.items():
        text = f"· {what}: {'; '.join(where)}. Threshold {limit}; source: {source}."
        screen.print(text, markup=False)
