"""``gomphosis cases`` and ``gomphosis schema``: what is shipped, and how a file must look."""

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import case_names, find_scenario, scenario_schema
from gomphosis.viz.console import console, print_json, print_notice, table


def cases_command(*, as_json: bool) -> None:
    """Print the shipped cases."""
    found = []
    for name in case_names():
        scenario = find_scenario(name)
        found.append(
            {
                "name": name,
                "title": scenario.title,
                "invented": scenario.invented,
                "weeks": scenario.duration / 7,
                "teeth": [place.number for place in scenario.teeth],
                "note": " ".join(scenario.note.split()),
            }
        )
    if as_json:
        print_json({"notice": NOTICE, "cases": found})
        return
    screen = console()
    rows = [
        [c["name"], c["title"], f"{c['weeks']:g}", " ".join(map(str, c["teeth"]))] for c in found
    ]
    screen.print(table("Shipped cases (invented)", ("name", "title", "weeks", "teeth"), rows))
    screen.print("Run one with: gomphosis run NAME --out DIR", markup=False)
    print_notice(screen)


def schema_command() -> None:
    """Print the JSON schema of scenario files."""
    print_json({"$comment": NOTICE, **scenario_schema()})
