"""Slices of a run as tables for the terminal."""

from collections.abc import Sequence
from typing import Any

from rich.console import Console

from gomphosis.viz.console import DASH, number, table

Facts = dict[str, Any]


def print_slices(screen: Console, teeth: Sequence[tuple[str, Facts]]) -> None:
    """Print where slices went, what became of their bone, and openings; nothing without slices."""
    found = [(name, facts["slice"]) for name, facts in teeth if "slice" in facts]
    followed = [(name, facts) for name, facts in found if "days" in facts]
    if followed:
        title = "Slices: where to, and the difference from the body of revolution"
        moved = [[name, *_movement_cells(facts)] for name, facts in followed]
        screen.print(table(title, _MOVEMENT_COLUMNS, moved))
        bones = [[name, *_bone_cells(facts)] for name, facts in followed]
        screen.print(table("Slices: bone", _BONE_COLUMNS, bones))
    for name, facts in found:
        for text in _remarks(facts):
            screen.print(f"· slice of {name}: {text}.", markup=False)


_MOVEMENT_COLUMNS = (
    "tooth",
    "plane",
    "crown mm\nacross",
    "\nextrusion",
    "\ndifference",
    "apex mm\nacross",
    "\nextrusion",
    "\ndifference",
    "turn\ndeg",
)
_BONE_COLUMNS = (
    "tooth",
    "least plate, mm\nstart → end",
    "\nstart → end",
    "resorbed\nmm²",
    "laid down\nmm²",
    "swept area against\nthe wall's rule, off by",
    "largest\nstrain",
    "worst book\nresidual",
)


def _movement_cells(facts: Facts) -> list[str]:
    apart = facts["difference_from_body_of_revolution_mm"]
    cells = [facts["plane"]]
    for part in ("crown", "apex"):
        moved = facts[f"{part}_movement_mm"]
        side = next(word for word in moved if word != "extrusion")
        cells += [f"{side} {number(moved[side])}", number(moved["extrusion"]), number(apart[part])]
    return [*cells, number(facts["turn_deg"], 1)]


def _bone_cells(facts: Facts) -> list[str]:
    plates = [
        f"{side} {number(least['start'])} → {number(least['end'])}"
        for side, least in facts["least_plate_mm"].items()
    ]
    bone = facts["bone_mm2"]
    return [
        *plates,
        number(bone["resorbed"]),
        number(bone["deposited"]),
        f"{number(100 * facts['swept_area_mismatch'], 0)} %",
        f"{number(100 * facts['largest_strain'], 0)} %",
        f"{facts['worst_book_residual']:.0e}",
    ]


def _remarks(facts: Facts) -> list[str]:
    """Say what opened, when and where, and why the slice stopped if it did."""
    texts = [_opening_text(opening) for opening in facts.get("openings", ())]
    if "days" in facts and not texts:
        texts.append("no plate opened")
    if facts["stopped"]:
        texts.append(f"stopped: {facts['stopped']}")
    return texts or [DASH]


def _opening_text(opening: Facts) -> str:
    first, last = (round(opening[key], 1) for key in ("first_week", "last_week"))
    low, high = opening["from_below_crest_mm"], opening["to_below_crest_mm"]
    return (
        f"{opening['side']} plate open from week {first:g} to week {last:g}, "
        f"{number(low, 1)} to {number(high, 1)} mm below the crest ({opening['kind']})"
    )
