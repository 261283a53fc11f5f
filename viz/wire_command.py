"""``gomphosis wire``: force systems before anything moves."""

from typing import Any

from gomphosis.scenarios.files import find_scenario
from gomphosis.scenarios.wire_preview import wire_preview
from gomphosis.viz.console import DASH, console, number, print_json, print_notice, table
from gomphosis.viz.elastic_lines import print_acting
from gomphosis.viz.run_command import FORCE_COLUMNS, force_cells

SLOT_COLUMNS = (
    "tooth",
    "slot",
    "edges touched",
    "torsional play\nleft, deg",
    "tip play\nleft, deg",
    "friction\nused",
)


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
        if "play" in content:
            screen.print(table("", SLOT_COLUMNS, slot_rows(content["teeth"])))
            screen.print(play_words(content["play"]), markup=False)
    for limit in document["limits"]:
        screen.print(f"· {limit}", markup=False)
    print_notice(screen)


def mesh_words(mesh: dict[str, Any]) -> str:
    """Return how finely a wire is meshed, and what a coarser one changes."""
    return (
        f"{mesh['elements_between_neighbouring_slots']} or more elements between neighbouring "
        f"slots; half as many change the forces by {100 * mesh['change_by_half_as_many']:.1g} % "
        "of the largest"
    )


def play_words(play: dict[str, Any]) -> str:
    """Return how far a wire could turn and tip in its slot by itself."""
    torsion = play["torsion_deg"]
    turned = "turns freely about itself" if torsion is None else f"turns by {torsion:.1f} degrees"
    return (
        f"play by itself (engagement angle in one direction, straight walls): the wire {turned} "
        f"and tips by {play['tip_deg']:.1f} degrees before it touches"
    )


def slot_rows(teeth: dict[str, Any]) -> list[list[str]]:
    """Return what the wire touches in every slot, and the play that is left, as cells."""
    rows = []
    for tooth, facts in teeth.items():
        slot = facts["slot"]
        left = slot["play_left"]
        torsion = "free" if left["torsion_deg"] is None else number(left["torsion_deg"], 1)
        touches = [_touch_words(touch) for touch in slot["touches"]]
        used = max((touch["friction_used"] for touch in slot["touches"]), default=None)
        share = DASH if used is None else f"{100 * used:.0f} %"
        rows.append(
            [
                tooth,
                slot["state"],
                "; ".join(touches) or DASH,
                torsion,
                number(left["tip_deg"], 1),
                share,
            ]
        )
    return rows


def _touch_words(touch: dict[str, Any]) -> str:
    return f"{touch['wall']} {touch['end']} {number(touch['push_N'])} N"


def _rows(teeth: dict[str, Any]) -> list[list[str]]:
    rows = []
    for tooth, facts in teeth.items():
        ratio = [number(value, 1) for value in facts["moment_to_force_mm"].values()]
        rows.append([tooth, "bracket", *force_cells(facts["force_system_at_bracket"]), *ratio])
        centre = force_cells(facts["force_system_at_centre_of_resistance"])
        rows.append(["", "centre of resistance", *centre, "", ""])
    return rows
