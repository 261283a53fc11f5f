"""``gomphosis cases`` and ``gomphosis schema``: what is shipped, and how a file must look."""

from typing import Any

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import case_names, find_scenario, scenario_schema
from gomphosis.viz.console import console, print_json, print_notice, table


def cases_command(*, as_json: bool) -> None:
    """Print the shipped cases, lessons apart."""
    found = [_document(name) for name in case_names()]
    if as_json:
        print_json({"notice": NOTICE, "cases": found})
        return
    screen = console()
    rows = [
        [c["name"], c["title"], f"{c['weeks']:.3g}", " ".join(map(str, c["teeth"]))]
        for c in found
        if "lesson" not in c
    ]
    screen.print(table("Shipped cases (invented)", ("name", "title", "weeks", "teeth"), rows))
    lessons = [[c["name"], c["lesson"]["aim"]] for c in found if "lesson" in c]
    screen.print(table("Lessons (invented)", ("name", "aim"), lessons))
    screen.print("Run one with: gomphosis run NAME --out DIR", markup=False)
    print_notice(screen)


def _document(name: str) -> dict[str, Any]:
    """Return what is known of a shipped case before it is run."""
    scenario = find_scenario(name)
    lesson = scenario.lesson
    return {
        "name": name,
        "title": scenario.title,
        "invented": scenario.invented,
        "weeks": scenario.duration / 7,
        "teeth": [place.number for place in scenario.teeth],
        "note": " ".join(scenario.note.split()),
        **({"lesson": {"aim": lesson.aim, "question": lesson.question}} if lesson else {}),
    }


def schema_command() -> None:
    """Print the JSON schema of scenario files."""
    print_json({"$comment": NOTICE, **scenario_schema()})
