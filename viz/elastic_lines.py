"""Elastics in words, one line each, as commands print them."""

from typing import Any

from rich.console import Console

from gomphosis.viz.console import GRAM_FORCE, number


def print_elastics(screen: Console, elastics: list[dict[str, Any]]) -> None:
    """Print from when to when every elastic of a run pulled, how much at first and at last."""
    for elastic in elastics:
        pulls = ", ".join(
            f"{link['between']}: {pull(link['force_start_N'])} to {pull(link['force_end_N'])}"
            for link in elastic["links"]
        )
        when = f"week {number(elastic['from_week'], 1)} to {number(elastic['to_week'], 1)}"
        text = f"{_name(elastic)}, {when} ({elastic['ended_by']}): {pulls}"
        screen.print(text, markup=False)


def print_acting(screen: Console, elastics: list[dict[str, Any]]) -> None:
    """Print how much every elastic pulls that acts beside a wire."""
    for elastic in elastics:
        pulls = ", ".join(
            f"{link['between']}: {pull(link['force_N'])}" for link in elastic["links"]
        )
        screen.print(f"{_name(elastic)}, on unmoved teeth: {pulls}", markup=False)


def pull(newton: float) -> str:
    """Return a force in N with gf beside it."""
    return f"{number(newton)} N ({number(newton / GRAM_FORCE, 0)} gf)"


def _name(elastic: dict[str, Any]) -> str:
    teeth = "-".join(map(str, elastic["teeth"]))
    return f"elastic {elastic['elastic']} ({elastic['kind']} {teeth})"
