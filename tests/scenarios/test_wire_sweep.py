"""Sweeps of one input against single previews, torsion by closed form, and refusals.

Verification.
"""

import json
from typing import Any

import numpy as np
import pytest

from gomphosis.bone.rates import Linear
from gomphosis.bone.teeth import tooth
from gomphosis.scenarios import wire_sweep as module
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import ScenarioError, parse_scenario, scenario_from
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.play import torsional_play
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.sweep_keys import find_key, swept_document, with_value
from gomphosis.scenarios.sweep_report import COMPONENTS, sweep_document, sweep_table, unit_suffix
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_preview import wire_preview
from gomphosis.scenarios.wire_sweep import DRAWN_IN, HISTORY, Sweep, SweptWire, wire_sweep

STEEL = {"size": "0.017 x 0.025 in", "alloy": "steel"}
NITI = {"size": "0.014 in", "tied_in": "2 weeks"}
BRACKET = 3.0  # mm of a slot along the wire
CLOSE = {"height": "0.0174 in"}  # the steel wire turns by some degrees only


def document(**changes: Any) -> dict[str, Any]:
    teeth = [{"number": 12}, {"number": 11}, {"number": 21}]
    return {"schema": 1, "title": "three", "tooth": teeth, "wire": [STEEL]} | changes


def bent(**bend: object) -> dict[str, Any]:
    return STEEL | {"bend": [{"kind": "bend", "between": [12, 11]} | bend]}


@pytest.fixture(scope="module")
def torque() -> Sweep:
    whole = document(wire=[STEEL, NITI], slot=CLOSE)
    return wire_sweep(whole, "tooth[11].prescription.torque", ends=("0 deg", "9 deg"), points=4)


FILE = """
schema = 1
title = "three"
[slot]
height = "0.0174 in"
[[tooth]]
number = 12
[[tooth]]
number = 11
prescription = { torque = "6 deg" }
[[tooth]]
number = 21
[[wire]]
size = "0.017 x 0.025 in"
alloy = "steel"
[[wire]]
size = "0.014 in"
tied_in = "2 weeks"
"""


def single(text: str) -> np.ndarray:
    """Return force systems of every wire on every tooth of a file, shape (wires, teeth, 6)."""
    loads = wire_preview(parse_scenario(text, "single"))["loads"].values()
    return np.array(
        [
            [list(t["force_system_at_bracket"].values()) for t in load["teeth"].values()]
            for load in loads
        ]
    )


def test_a_value_is_what_a_file_with_that_value_gives(torque: Sweep):
    np.testing.assert_array_equal(torque.values, [0.0, 3.0, 6.0, 9.0])
    assert (torque.unit, torque.teeth, torque.tooth) == ("deg", (12, 11, 21), 11)
    assert [wire.name for wire in torque.wires] == [
        "0.017 x 0.025 in steel, week 0",
        "0.014 in nickel-titanium, week 2",
    ]
    expected = single(FILE)
    assert expected[0, 1, 4] > 10.0
    for wire, systems in zip(torque.wires, expected, strict=True):
        np.testing.assert_allclose(wire.systems[2], systems, rtol=1e-9, atol=1e-9)


def test_values_do_not_depend_on_those_before():
    """A plastic wire keeps a bend; none of it may come over from a greater value."""
    key, wires = "tooth[11].vertical", [{"size": "0.018 in", "alloy": "steel"}]
    there, back = (
        wire_sweep(document(wire=wires), key, ends=ends, points=2).wires[0].systems
        for ends in (("0.5 mm", "1.5 mm"), ("1.5 mm", "0.5 mm"))
    )
    np.testing.assert_array_equal(there, back[::-1])
    assert there[1, 1, 0] < there[0, 1, 0] < -1.0


def torsion_constant(long: float, short: float) -> float:
    """Return J of a rectangle with sharp edges by St Venant's series.

    Source: Timoshenko & Goodier, Theory of Elasticity, torsion of a rectangular bar; from memory,
    unverified.
    """
    odd = np.arange(1, 200, 2)
    tails = np.tanh(odd * np.pi * long / (2 * short)) / odd**5
    return long * short**3 / 3 * (1 - 192 / np.pi**5 * short / long * tails.sum())


def test_twisted_bracket_between_rigid_neighbours():
    """Torque over twist beyond the play is G J (1/L1 + 1/L2), L edge to edge of the slots.

    Teeth are held and the wire is elastic, sharp and free of friction. It turns by its play in
    the twisted slot and, the other way, in the slots beside it. The stiffest ligament of a
    scenario, 1000 MPa, leaves the give of dentine and bone; in series with the wire, with forces
    free, it takes 0.13 %. Less than a tenth of that is left for J of the fibres and the forces.
    """
    material = {"behaviour": "elastic", "young": "180 GPa", "poisson": 0.3}
    wire = STEEL | {"edge_radius": "0 mm", "material": material, "friction": 0.0}
    whole = document(wire=[wire], ligament={"young": "1000 MPa"}, slot=CLOSE)
    key = "tooth[11].prescription.torque"
    sweep = wire_sweep(whole, key, ends=("2 deg", "6 deg"), points=3)
    widths = [tooth(number).crown_mesiodistal for number in (12, 11, 21)]
    spans = 0.5 * np.add(widths[:-1], widths[1:]) - BRACKET
    stiffness = 180e3 / 2.6 * torsion_constant(0.025 * 25.4, 0.017 * 25.4) / spans
    section = WireSection(0.017 * 25.4, 0.025 * 25.4, round=False, edge_radius=0.0)
    idle = 2 * torsional_play(section, 0.0174 * 25.4)
    twist = np.radians(sweep.values) - idle
    assert 0.5 < np.rad2deg(idle) < 1.9
    torque = sweep.wires[0].systems[:, 1, 4]
    found = torque / twist
    np.testing.assert_allclose(found, stiffness.sum(), rtol=1.4e-3)
    give = []
    for model in tooth_models(scenario_from(whole, "rigid"), Linear(1.0)):
        held = model.support.planar
        give.append(held.lateral / (held.lateral * held.rocking - held.coupling**2))
    beside = 1 / (1 / stiffness + [give[0], give[2]])
    np.testing.assert_allclose(found, 1 / (give[1] + 1 / beside.sum()), rtol=1e-4)


def test_force_rises_with_temperature_and_the_limit_says_whose_it_is():
    """Clausius-Clapeyron: stresses of transformation 6 MPa/K higher, as if they were given so."""
    stresses = {"forward_start": 400, "forward_finish": 450, "reverse_start": 200}
    stresses |= {"reverse_finish": 150}
    law = {"temperature_slope": "6 MPa/K", "reference_temperature": "37 degC"}

    def wire(rise: float) -> dict[str, Any]:
        return NITI | {
            "tied_in": "0 weeks",
            "material": law | {name: f"{value + rise} MPa" for name, value in stresses.items()},
        }

    teeth = [{"number": 12}, {"number": 11, "vertical": "-1.2 mm"}, {"number": 21}]
    sweep = wire_sweep(
        document(tooth=teeth, wire=[wire(0)]), "temperature", ends=("32 degC", "47 degC"), points=4
    )
    force = sweep.wires[0].systems[:, 1, 0]
    assert np.all(np.diff(force) > 0.01)
    warmer = wire_preview(scenario_from(document(tooth=teeth, wire=[wire(60)]), "warmer"))
    (load,) = warmer["loads"].values()
    expected = load["teeth"]["11"]["force_system_at_bracket"]["extrusion_N"]
    np.testing.assert_allclose(force[3], expected, rtol=1e-6)
    assert sweep.tooth == 11
    assert not any("37 degC" in limit for limit in sweep.limits)
    assert sweep.limits[-1].startswith("At every value all wires have that temperature")
    assert sweep.limits[:2] == (HISTORY, DRAWN_IN)


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> list[Scenario]:
    """Count the scenarios that are asked for; the force on every tooth is the count."""
    calls: list[Scenario] = []

    def preview(scenario: Scenario) -> dict[str, Any]:
        calls.append(scenario)
        system = dict.fromkeys(COMPONENTS, float(len(calls)))
        teeth = {str(p.number): {"force_system_at_bracket": system} for p in scenario.teeth}
        mesh = {
            "elements_between_neighbouring_slots": 4 * (1 + len(calls) % 2),
            "change_by_half_as_many": 0.01 / len(calls),
        }
        play = {"torsion_deg": None if len(calls) % 2 else 5.0, "tip_deg": float(len(calls))}
        load = {"teeth": teeth, "mesh": mesh, "play": play}
        return {"loads": {str(k): load for k, _ in enumerate(scenario.wires)}}

    monkeypatch.setattr(module, "wire_preview", preview)
    return calls


@pytest.mark.parametrize(
    ("key", "ends", "unit", "values", "inside"),
    [
        ("slot.height", ("0.55 mm", "0.56mm"), "mm", [0.55, 0.555, 0.56], [0.55, 0.555, 0.56]),
        ("slot.height", ("0.02 in", "0.03 in"), "in", [0.02, 0.025, 0.03], [0.508, 0.635, 0.762]),
        (
            "slot.height",
            ("0.02 in", "0.762 mm"),
            "mm",
            [0.508, 0.635, 0.762],
            [0.508, 0.635, 0.762],
        ),
        ("temperature", ("300.15 K", "310.15 K"), "K", [300.15, 305.15, 310.15], [27, 32, 37]),
        ("temperature", ("310.15 K", "27 degC"), "degC", [37, 32, 27], [37, 32, 27]),
        ("ligament.poisson", ("0.1", "0.4"), "", [0.1, 0.25, 0.4], [0.1, 0.25, 0.4]),
    ],
)
def test_values_are_even_and_reach_the_scenario(key, ends, unit, values, inside, calls):
    sweep = wire_sweep(document(), key, ends=ends, points=3)
    assert (sweep.key, sweep.unit) == (key, unit)
    assert sweep.values.tolist() == values  # exact: as a user would write them
    table, _, field = key.rpartition(".")
    seen = [getattr(getattr(s, table) if table else s, field) for s in calls]
    np.testing.assert_allclose(seen, inside, rtol=1e-12)
    np.testing.assert_array_equal(sweep.wires[0].systems[:, 2, 3], [1, 2, 3])


@pytest.mark.parametrize(
    ("key", "ends", "field"),
    [
        ("tooth[21].crown_length", ("9 mm", "10 mm"), lambda s: s.tooth[2].crown_length),
        (
            "wire[1].material.young",
            ("150 GPa", "200 GPa"),
            lambda s: s.wires[0].alloy_constants.young,
        ),
        (
            "wire[1].bend[1].occlusal_angle",
            ("5 deg", "10 deg"),
            lambda s: s.wire[0].bends[0].occlusal_angle,
        ),
        (
            "wire[1].shape.points[1][2]",
            ("-31 mm", "-32 mm"),
            lambda s: s.wire[0].shape.points[0][1],
        ),
    ],
)
def test_keys_name_what_the_file_has_and_what_it_leaves_out(key, ends, field, calls):
    points = [["-25 mm", "-30 mm"], ["0 mm", "0 mm"], ["25 mm", "-30 mm"]]
    wire = bent(occlusal_angle="2 deg") | {"shape": {"points": points}}
    plain = field(scenario_from(document(wire=[wire]), "plain"))
    wire_sweep(document(wire=[wire]), key, ends=ends, points=2)
    first, second = map(field, calls)
    assert len({plain, first, second}) == 3
    assert abs(second) > abs(first)


def test_the_default_wire_can_be_swept(calls):
    ends = ("30 GPa", "40 GPa")
    sweep = wire_sweep(document(wire=[]), "wire[1].material.young", ends=ends, points=2)
    assert [s.wires[0].alloy_constants.young for s in calls] == [30e3, 40e3]
    assert sweep.wires[0].name == "0.014 in nickel-titanium, week 0"
    # the coarsest mesh and the largest change of all values
    assert (sweep.wires[0].elements, sweep.wires[0].change) == (4, 0.01)
    np.testing.assert_array_equal(sweep.wires[0].play, [[np.inf, 1.0], [5.0, 2.0]])
    (load,) = sweep_document(sweep)["loads"].values()
    assert load["play"] == {"torsion_deg": [None, 5.0], "tip_deg": [1.0, 2.0]}


def test_a_value_goes_into_a_copy():
    whole = swept_document(scenario_from(document(), "whole"))
    before = json.dumps(whole)
    changed = with_value(whole, find_key(whole, "tooth[11].prescription.tip"), "3 deg")
    assert json.dumps(whole) == before
    assert changed["tooth"][1]["prescription"]["tip"] == "3 deg"
    assert json.dumps(changed).replace('"3 deg"', json.dumps("0.0 rad")) == before


def test_progress_names_the_value_at_hand(calls):
    told = []
    wire_sweep(
        document(),
        "tooth[11].labial",
        ends=("0 mm", "1 mm"),
        points=3,
        progress=lambda *step: told.append(step),
    )
    steps = ["tooth[11].labial at 0 mm", "tooth[11].labial at 0.5 mm", "tooth[11].labial at 1 mm"]
    assert told == [*zip([0, 1 / 3, 2 / 3], steps, strict=True), (1.0, "done")]


REFUSED = [
    ("tooth[11].torque", ("0 deg", "9 deg"), 3, "accepted: tooth[11].prescription.torque"),
    ("tooth[2].labial", ("0 mm", "1 mm"), 3, "(teeth go by ISO 3950 number)"),
    ("temprature", ("0 degC", "9 degC"), 3, "is not a known key here; accepted: temperature"),
    ("wire[2].material.young", ("30 GPa", "40 GPa"), 3, "accepted: wire[1].material.young"),
    ("zzz", ("0", "1"), 3, "accepted: a path such as temperature"),
    ("wire[1].size", ("0.01 in", "0.02 in"), 3, "wire[1].size holds no quantity and no number"),
    ("seed", ("0", "1"), 3, "seed holds no quantity and no number"),
    ("tooth[11]", ("0", "1"), 3, "is not a known key here; accepted: tooth[11]."),
    ("tooth[11].labial", ("0", "1 mm"), 3, '"0" has no unit; accepted: a length in mm'),
    ("tooth[11].labial", ("0 mm", "1 deg"), 3, 'has the unit "deg"'),
    ("tooth[11].labial", ("0 mm", "inf mm"), 3, "is not finite"),
    ("ligament.poisson", ("0.1 mm", "0.2"), 3, "accepted: a number without a unit"),
    ("ligament.poisson", ("0.1", "nan"), 3, "accepted: a number without a unit"),
    ("tooth[11].labial", ("0 mm", "1 mm"), 1, "= 1 is too small; accepted: 2 to 200"),
    ("tooth[11].labial", ("0 mm", "1 mm"), 201, "= 201 is too large; accepted: 2 to 200"),
    ("tooth[11].labial", ("1 mm", "1 mm"), 3, "ends where it begins"),
    (
        "tooth[11].labial",
        ("0 mm", "20 mm"),
        3,
        'sweep, tooth[11].labial at 20 mm: tooth[2].labial = "20 mm" is too large; accepted: a '
        "length in mm, in or um, at least -10 mm",
    ),
    ("slot.height", ("0.4 mm", "0.5 mm"), 3, "wire[1].size"),
    ("ligament.poisson", ("0.4", "0.6"), 3, "at most 0.499"),
    ("rate.max_speed", ("1 um/day", "2 um/day"), 3, "rate.half_stress is missing"),
]


@pytest.mark.parametrize(("key", "ends", "points", "part"), REFUSED, ids=str)
def test_refusals_are_one_line_and_come_before_the_work(key, ends, points, part, calls):
    with pytest.raises(ScenarioError) as refused:
        wire_sweep(document(), key, ends=ends, points=points)
    text = str(refused.value)
    assert part in text
    assert text.startswith("sweep")
    assert "; accepted: " in text
    assert "\n" not in text
    assert calls == []


def test_prescribed_forces_answer_to_nothing(calls):
    force = [{"tooth": 11, "force": "1 N", "direction": "labial"}]
    forced = {k: v for k, v in document(force=force).items() if k != "wire"}
    with pytest.raises(ScenarioError, match=r"force is prescribed.*accepted: .*\[\[wire\]\]"):
        wire_sweep(forced, "temperature", ends=("0 degC", "9 degC"), points=2)


def test_value_that_cannot_be_computed_is_named():
    """Slots that pass each other along the wire are found on the way only."""
    with pytest.raises(ScenarioError) as refused:
        wire_sweep(document(), "tooth[11].mesial", ends=("0 mm", "9 mm"), points=2)
    assert str(refused.value) == (
        "sweep, tooth[11].mesial at 9 mm: cannot be computed: two brackets leave -3.5 mm of "
        "wire between them, less than 0.5 mm; accepted: a range without this value"
    )


FREE = np.full((2, 2), np.inf)


def swept(key: str, *systems: np.ndarray) -> Sweep:
    wires = [STEEL, NITI][: len(systems)]
    scenario = scenario_from(document(wire=wires), "made")
    made = tuple(SweptWire(f"wire {k}", s, 4 + k, 0.01 * k, FREE) for k, s in enumerate(systems, 1))
    return Sweep(key, "mm", np.array([0.0, 1.0]), scenario, made, ("a limit",))


def test_tooth_that_changes_most_counts_moments_at_ten_millimetres():
    systems = np.zeros((2, 3, 6))
    systems[1, 0, 0], systems[0, 2, 5] = 1.0, -11.0
    assert swept("slot.height", systems).tooth == 21
    assert swept("tooth[11].labial", systems).tooth == 11
    systems[0, 2, 5] = -9.0
    assert swept("slot.height", systems).tooth == 12


def test_key_of_a_wire_concerns_that_wire():
    first, second = np.zeros((2, 3, 6)), np.zeros((2, 3, 6))
    first[1, 1, 0] = 1.0
    own, other = (swept(f"wire[{k}].material.young", first, second) for k in (1, 2))
    assert [wire.name for wire in own.concerned] == ["wire 1"]
    assert own.changed
    assert not other.changed
    assert len(swept("slot.height", first, second).concerned) == 2


def test_force_systems_must_fit_and_be_finite():
    with pytest.raises(ValueError, match=r"shape \(values, teeth, 6\)"):
        SweptWire("a", np.zeros((2, 3)), 4, 0.0, FREE)
    with pytest.raises(ValueError, match=r"play needs the shape \(values, 2\)"):
        SweptWire("a", np.zeros((2, 3, 6)), 4, 0.0, FREE[:1])
    with pytest.raises(ValueError, match="finite"):
        SweptWire("a", np.full((2, 3, 6), np.nan), 4, 0.0, FREE)
    with pytest.raises(ValueError, match=r"needs shape \(2, 3, 6\), got \(2, 2, 6\)"):
        swept("slot.height", np.zeros((2, 2, 6)))


def test_inputs_that_change_nothing_say_so():
    sweep = wire_sweep(document(), "duration", ends=("4 weeks", "20 weeks"), points=2)
    assert not sweep.changed
    assert "Times beyond twelve weeks are extrapolated." in sweep.limits


def test_report_and_table_hold_every_tooth(torque: Sweep):
    report, table = sweep_document(torque), sweep_table(torque)
    assert json.loads(json.dumps(report, allow_nan=False)) == report
    assert (report["notice"], report["key"]) == (NOTICE, torque.key)
    assert report["values_deg"] == [0.0, 3.0, 6.0, 9.0]
    assert report["limits"][0] == HISTORY
    assert len(table) == 2 * 3 * 4
    for wire in torque.wires:
        for k, number in enumerate(torque.teeth):
            rows = table[(table["wire"] == wire.name) & (table["tooth"] == number)]
            system = report["loads"][wire.name]["teeth"][str(number)]["force_system_at_bracket"]
            assert rows["tooth[11].prescription.torque_deg"].tolist() == report["values_deg"]
            for part, name in enumerate(COMPONENTS):
                assert system[name] == rows[name].tolist() == wire.systems[:, k, part].tolist()


SUFFIXES = {"": "", "mm": "_mm", "°C": "_degC", "°": "_deg", "µm": "_um", "MPa/K": "_MPa_per_K"}


@pytest.mark.parametrize(("unit", "suffix"), SUFFIXES.items())
def test_units_end_the_names(unit: str, suffix: str):
    assert unit_suffix(unit) == suffix
