"""What ``gomphosis bend`` prints."""

from typing import Any

from rich.console import Console

from gomphosis.viz.console import DASH, GRAM_FORCE, console, number, print_notice, table

MODE_NAMES = {
    "surface": "rounded edges on\nthe wire's surface",
    "reference": "sharp edges on\nthe centre line",
}


def print_trial(document: dict[str, Any]) -> None:
    """Print the result of a test with its limits and the notice."""
    screen = console()
    head = f"{document['wire']}, {document['behaviour']}, {document['temperature_degC']:g} °C"
    screen.print(head, style="bold", markup=False)
    if document["kind"] == "three-point":
        _print_three_point(screen, document)
    else:
        _print_section(screen, document)
    screen.print(
        f"· fibres of the section: moments within {document['section_error_percent']:.2g} % of "
        "those with many more",
        markup=False,
    )
    for limit in document["limits"]:
        screen.print(f"· {limit}", markup=False)
    print_notice(screen)


def _print_three_point(screen: Console, document: dict[str, Any]) -> None:
    setup, modes = document["setup"], document["contact"]
    title = (
        f"Three-point bend, {document['order_of_bending']} order: span {setup['span_mm']:g} mm, "
        f"to {setup['deflection_mm']:g} mm and back, friction {setup['friction']:g}"
    )
    rows = [[name, *cells] for name, cells in _rows(list(modes.values()), document["behaviour"])]
    screen.print(table(title, ("", *(MODE_NAMES[mode] for mode in modes)), rows))
    _print_band(screen, document)
    for mode, facts in modes.items():
        screen.print(
            f"· {MODE_NAMES[mode].replace(chr(10), ' ')}: {facts['elements']} elements in half of "
            f"the wire; forces changed by at most {facts['element_error_percent']:.2g} % when they "
            f"were last doubled; {facts['increments']} increments",
            markup=False,
        )


def _print_band(screen: Console, document: dict[str, Any]) -> None:
    """Say what lies outside the published unloading forces."""
    if "against_published_band" not in document:
        return
    low, high = document["published_unloading_band_N"]
    for name, places in document["against_published_band"].items():
        forces = ", ".join(
            f"{facts['unloading_N']:.2f} N at {place} {facts['lies']}"
            for place, facts in places.items()
        )
        screen.print(
            f"· {name}, unloading, beside the published mean forces of {low:g} to {high:g} N "
            f"(sizes of the wires not stated): {forces}",
            markup=False,
        )


def _rows(modes: list[dict[str, Any]], behaviour: str) -> list[tuple[str, list[str]]]:
    rows = []
    for key, name in (("loading_N", "loading"), ("unloading_N", "unloading")):
        for place in modes[0][key]:
            rows.append((f"{name} at {place}", [_force(mode[key][place]) for mode in modes]))
    rows.append(("largest force", [_force(mode["peak_N"]) for mode in modes]))
    rows.append(_row("permanent deflection, mm", "permanent_deflection_mm", modes))
    if behaviour != "superelastic":
        rows.append(_row("bending rate, N/mm", "bending_rate_N_per_mm", modes))
        offset = [_force(mode["force_at_0.1_mm_offset_N"]) for mode in modes]
        rows.append(("force at 0.1 mm offset", offset))
    for key, name in (
        ("external_Nmm", "work of the indenter, N·mm"),
        ("stored_Nmm", "  elastic, left in the wire"),
        ("inelastic_Nmm", "  inelastic work"),
        ("friction_Nmm", "  friction"),
    ):
        rows.append(_row(name, key, modes))
    return rows


def _row(name: str, key: str, modes: list[dict[str, Any]]) -> tuple[str, list[str]]:
    return name, [number(mode[key]) for mode in modes]


def _force(newton: float | None) -> str:
    if newton is None:
        return DASH
    return f"{number(newton, 3)} N ({number(newton / GRAM_FORCE, 0)} gf)"


def _print_section(screen: Console, document: dict[str, Any]) -> None:
    torsion = document["kind"] == "torsion"
    unit = "rad_per_mm" if torsion else "per_mm"
    strain, shown_unit = ("twist", "rad/mm") if torsion else ("curvature", "1/mm")
    rows = [
        [
            number(entry[f"at_{unit}"], 4),
            number(entry["loading_Nmm"], 3),
            number(entry["unloading_Nmm"], 3),
        ]
        for entry in document["moments"]
    ]
    name = "Torsion" if torsion else f"Pure bending, {document['order_of_bending']} order"
    columns = (f"{strain}\n{shown_unit}", "loading\nN·mm", "unloading\nN·mm")
    screen.print(table(name, columns, rows))
    screen.print(f"· {strain} left without moment: {document[f'left_{unit}']:.4f} {shown_unit}")
    screen.print(
        f"· per mm of wire: {document['stored_at_peak_Nmm_per_mm']:.3f} N·mm elastic at the "
        f"largest {strain}, {document['inelastic_Nmm_per_mm']:.3f} N·mm inelastic work in all",
        markup=False,
    )
