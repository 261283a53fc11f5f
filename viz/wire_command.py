"""``gomphosis wire``: force systems before anything moves."""

from typing import Any

from gomphosis.scenarios.files import find_scenario
from gomphosis.scenarios.wire_preview import wire_preview
from gomphosis.viz.console import console, number, print_json, print_notice, table
from gomphosis.viz.elastic_lines import print_acting
from gomphosis.viz.run_command import FORCE_COLUMNS, force_cells


def wire_command(source: str, *, as_json: bool) -> None:
    """Print the force system on every bracket for every wire or force case."""
    document = wire_preview(find_scenario(source))
    if as_json:
        print_json(document)
        return
    screen = console()
    screen.print(document["title"], style="bold", markup=False)
    columns = (*FORCE_COLUMNS, "M/F labial\nmm", "M/F mesial\nmm")
    for name, content in document["loads"].items():
        screen.print(table(name, columns, _rows(content["teeth"])))
        if "mesh" in content:
            screen.print(mesh_words(content["mesh"]), markup=False)
        print_acting(screen, content.get("elastics", []))
        if "play_left_out" in content:
            screen.print(play_words(content["play_left_out"]), markup=False)
    for limit in document["limits"]:
        screen.print(f"· {limit}", markup=False)
    print_notice(screen)


def mesh_words(mesh: dict[str, Any]) -> str:
    """Return how finely a wire is meshed, and what a finer mesh would change."""
    return (
        f"{mesh['elements_between_neighbouring_slots']} or more elements between neighbouring "
        f"slots; twice as many change the forces by {100 * mesh['change_by_twice_as_many']:.1g} % "
        "of the largest"
    )


def play_words(play: dict[str, Any]) -> str:
    """Return how far a wire could turn and tip in its slot, which the forces leave out."""
    torsion = play["torsion_deg"]
    turned = "turns freely about itself" if torsion is None else f"turns by {torsion:.1f} degrees"
    return (
        f"play that the forces leave out (engagement angle in one direction, straight walls): the "
        f"wire {turned} and tips by {play['tip_deg']:.1f} degrees before it touches"
    )


def _rows(teeth: dict[str, Any]) -> list[list[str]]:
    rows = []
    for tooth, facts in teeth.items():
        ratio = [number(value, 1) for value in facts["moment_to_force_mm"].values()]
        rows.append([tooth, "bracket", *force_cells(facts["force_system_at_bracket"]), *ratio])
        centre = force_cells(facts["force_system_at_centre_of_resistance"])
        rows.append(["", "centre of resistance", *centre, "", ""])
    return rows
