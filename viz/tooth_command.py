"""``gomphosis tooth``: the support of one tooth."""

from pathlib import Path
from typing import Any

from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.rotation_curve import LAWS, rotation_curves, single_slice
from gomphosis.scenarios.tooth_facts import tooth_facts
from gomphosis.viz.console import console, number, print_json, print_notice, progress, table
from gomphosis.viz.one_wire import check_figure
from gomphosis.viz.whole_files import whole_files


def tooth_command(
    tooth: int, crest_loss: str | None, *, ligament: dict[str, Any], as_json: bool
) -> None:
    """Print the support facts of a tooth of the catalogue."""
    facts = tooth_facts(scenario_from(single_tooth(tooth, crest_loss, ligament), "command line"))
    if as_json:
        print_json(facts)
        return
    screen = console()
    screen.print(f"{facts['tooth']} {facts['name']}", style="bold", markup=False)
    screen.print(table("Sizes", ("size", "mm", "status"), _size_rows(facts)))
    screen.print(table("Support", ("quantity", "value", "unit"), _support_rows(facts)))
    area = facts["root_area"]
    rows = [
        [name, number(p["value_mm2"], 0), number(p["model_less_published_percent"], 0), p["status"]]
        for name, p in area["published"].items()
    ]
    title = f"Root area: model {area['model_mm2']:.0f} mm² (embedded part) beside whole roots"
    screen.print(table(title, ("published", "mm²", "model less published, %", "status"), rows))
    screen.print(f"· {facts['averaged']}", markup=False)
    print_notice(screen)


def draw_rotation(
    tooth: int, crest_loss: str | None, *, ligament: dict[str, Any], path: Path
) -> None:
    """Draw the centre of rotation against the force into a file, whole or not at all."""
    from gomphosis.viz import theme
    from gomphosis.viz.rotation_figure import rotation_figure

    check_figure(path)
    document = single_tooth(tooth, crest_loss, ligament)
    scenario = single_slice(document, LAWS[0])
    with whole_files(path) as (place,):
        with progress("centre of rotation") as tell:
            curves = rotation_curves(document, progress=tell)
        theme.save_figure(rotation_figure(scenario, curves), place)


def single_tooth(tooth: int, crest_loss: str | None, ligament: dict[str, Any]) -> dict[str, Any]:
    """Return a scenario document of one tooth under a unit force."""
    place: dict[str, Any] = {"number": tooth}
    if crest_loss is not None:
        place["crest_loss"] = crest_loss
    return {
        "schema": 1,
        "title": f"tooth {tooth}",
        "tooth": [place],
        "ligament": {key: value for key, value in ligament.items() if value is not None},
        "force": [{"tooth": tooth, "force": "1 N", "direction": "labial"}],
    }


def _size_rows(facts: dict[str, Any]) -> list[list[str]]:
    return [
        [name.replace("_", " "), number(entry["value"], 1), entry["status"]]
        for name, entry in facts["sizes_mm"].items()
    ]


def _support_rows(facts: dict[str, Any]) -> list[list[str]]:
    centre, stiff = facts["centre_of_resistance"], facts["stiffness"]
    ratio = facts["moment_to_force_at_bracket_mm"]
    rows = [
        ("ligament Young's modulus", facts["ligament"]["young_MPa"], "MPa", 3),
        ("ligament Poisson's ratio", facts["ligament"]["poisson"], "", 3),
        ("embedded root h", facts["embedded_root_mm"], "mm", 1),
        ("slot above bone crest", facts["bracket_above_crest_mm"], "mm", 1),
        ("centre of resistance below crest", centre["below_crest_mm"], "mm", 2),
        ("  as share of h", centre["share_of_embedded_root"], "", 3),
        ("  published share (8 teeth)", centre["published_share"], "", 3),
        ("a·b, force distance x rotation distance", facts["moment_distance_ab_mm2"], "mm²", 2),
        ("M/F at bracket, rotation about apex", ratio["rotation_about_apex"], "mm", 1),
        ("M/F at bracket, translation", ratio["translation"], "mm", 1),
        ("M/F at bracket, rotation about edge", ratio["rotation_about_incisal_edge"], "mm", 1),
        ("lateral stiffness", stiff["lateral_N_per_mm"], "N/mm", 1),
        ("axial stiffness", stiff["axial_N_per_mm"], "N/mm", 1),
        (
            "rocking stiffness about centre of resistance",
            stiff["rocking_about_centre_of_resistance_Nmm_per_deg"],
            "N·mm/deg",
            1,
        ),
        ("torsional stiffness", stiff["torsional_Nmm_per_deg"], "N·mm/deg", 1),
    ]
    return [[name, number(value, digits), unit] for name, value, unit, digits in rows]
