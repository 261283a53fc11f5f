"""``gomphosis bend``: one wire in a three-point bend, in pure bending or in torsion."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from gomphosis.scenarios.bend_report import (
    section_report,
    section_table,
    three_point_report,
    three_point_table,
)
from gomphosis.scenarios.bend_trial import SectionTrial, Specimen, ThreePointTrial
from gomphosis.scenarios.files import find_scenario, scenario_from
from gomphosis.scenarios.movement_table import write_csv
from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.units import LENGTH, Kind
from gomphosis.viz.bend_tables import print_trial
from gomphosis.viz.console import print_json
from gomphosis.viz.one_wire import (
    NAME,
    SPAN,
    check_figure,
    check_steepness,
    friction,
    option_value,
    refused,
    specimen,
    wire_document,
)
from gomphosis.viz.whole_files import whole_files

CURVATURE = Kind("a curvature", "mm^-1", ("mm^-1", "in^-1"), "0.3 mm^-1")
TWIST = Kind("a twist per length", "rad/mm", ("deg/mm", "rad/mm"), "20 deg/mm")

# Bounds are engineering choices, to catch a slip of unit.
QUANTITIES = {
    "span": SPAN,
    "deflection": Bounded(LENGTH, least="0.1 mm", most="24 mm", example="3.1 mm"),
    "curvature": Bounded(CURVATURE, least="0.001 mm^-1", most="1 mm^-1"),
    "twist": Bounded(TWIST, least="0.001 rad/mm", most="1 rad/mm"),
}
USUAL = {
    "span": "10 mm",
    "deflection": "3.1 mm",
    "curvature": "0.3 mm^-1",
    "twist": "20 deg/mm",
}
KINDS = {
    "three-point": ("span", "deflection", "friction", "beside"),
    "bending": ("curvature",),
    "torsion": ("twist",),
}
"""Kinds of test, and the options that only one of them has."""

Trial = ThreePointTrial | SectionTrial


@dataclass(frozen=True)
class Wanted:
    """What the command line says: texts as given, None for what it leaves out.

    Parameters
    ----------
    wire
        ``size``, ``alloy``, ``temperature``, ``order``.
    scenario, number
        File or shipped case, and which of its wires, from 1; None for a wire by its size.
    kind
        A key of `KINDS`.
    test
        Options of the kind, by name.
    """

    wire: dict[str, str | None]
    scenario: str | None
    number: int
    kind: str
    test: dict[str, Any]


def bend_command(wanted: Wanted, *, figure: Path | None, csv: Path | None, as_json: bool) -> None:
    """Test a wire, write the files that are wanted, and print the result."""
    _check_files(figure, csv)
    scenario, trial = trial_of(wanted)
    with whole_files(figure, csv) as (figure_place, csv_place):
        document, rows = _results(trial)
        if csv_place is not None:
            write_csv(rows, csv_place)
        if figure_place is not None:
            _draw(scenario, trial, figure_place)
    if as_json:
        print_json(document)
        return
    print_trial(document)


def trial_of(wanted: Wanted) -> tuple[Scenario, Trial]:
    """Return the scenario that holds the wire, and its test.

    Raises
    ------
    ScenarioError
        If an option or the file cannot be used.
    """
    scenario, index = _scenario(wanted)
    wire = specimen(scenario, index, wanted.wire.get("order") or "second")
    given = {name: value for name, value in wanted.test.items() if value is not None}
    for name in given:
        if name not in KINDS[wanted.kind]:
            owner = next(kind for kind, names in KINDS.items() if name in names)
            raise refused(name, given[name], f"belongs to --kind {owner}", "no such option here")
    values = {name: _value(name, given.get(name, USUAL.get(name))) for name in KINDS[wanted.kind]}
    if wanted.kind != "three-point":
        return scenario, SectionTrial(wire, *values.values(), torsion=wanted.kind == "torsion")
    return scenario, _three_point(wire, values)


def _three_point(specimen: Specimen, values: dict[str, float]) -> ThreePointTrial:
    beside = bool(values.pop("beside"))
    check_steepness(values["deflection"], values["span"])
    return ThreePointTrial(specimen, **values, beside=beside)


def _value(name: str, text: Any) -> float:  # noqa: ANN401 - text, or a plain number
    if name == "beside":
        return bool(text)
    if name == "friction":
        return friction(text)
    return option_value(name, text, QUANTITIES[name])


def _check_files(figure: Path | None, csv: Path | None) -> None:
    check_figure(figure)
    if figure is not None and figure == csv:
        raise refused("csv", str(csv), "is the figure as well", "another name")


def _scenario(wanted: Wanted) -> tuple[Scenario, int]:
    """Return a scenario with the wire, and the wire's place in it."""
    warm = wanted.wire.get("temperature")
    changes = {} if warm is None else {"temperature": warm}
    if wanted.scenario is None:
        return scenario_from(wire_document(wanted.wire) | changes, NAME), 0
    scenario = find_scenario(wanted.scenario)
    if not 1 <= wanted.number <= len(scenario.wires):
        count = len(scenario.wires)
        accepted = f"1 to {count}" if count else "a scenario with tables [[wire]]"
        raise refused("wire", wanted.number, f"is not in {wanted.scenario}", accepted)
    if changes:
        scenario = scenario_from(scenario.document() | changes, NAME)
    return scenario, wanted.number - 1


def _results(trial: Trial) -> tuple[dict[str, Any], Any]:
    if isinstance(trial, ThreePointTrial):
        return three_point_report(trial), three_point_table(trial)
    return section_report(trial), section_table(trial)


def _draw(scenario: Scenario, trial: Trial, path: Path) -> None:
    from gomphosis.viz import bend_figure, theme

    if isinstance(trial, ThreePointTrial):
        figure = bend_figure.three_point_figure(scenario, trial)
    else:
        figure = bend_figure.section_figure(scenario, trial)
    theme.save_figure(figure, path)
