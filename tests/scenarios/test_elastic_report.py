"""What a run and a preview say of elastics: tables, summary, names. Verification."""

import json

import numpy as np
import pandas as pd
import pytest

from gomphosis.bone.support import Resolution
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.elastic_report import elastic_histories, elastic_table
from gomphosis.scenarios.files import find_scenario, scenario_from
from gomphosis.scenarios.movement_table import movement_table, write_csv
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.run import run
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.summary import summary, summary_text
from gomphosis.scenarios.wire_preview import wire_preview

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
DECAY = {"lost_share": 0.5, "time_constant": "1 day"}
ELASTICS = [
    {"kind": "coil-spring", "teeth": [13, 15], "force": "0.5 N", "stiffness": "0 N/mm"},
    {
        "kind": "chain",
        "teeth": [13, 15, 16],
        "force": "1 N",
        "stiffness": "0.5 N/mm",
        "decay": DECAY,
        "put_on": "2 days",
        "taken_off": "6 days",
    },
    {
        "kind": "elastic",
        "teeth": [13, 16],
        "force": "0.4 N",
        "stiffness": "0.1 N/mm",
        "lost": "3 days",
        "decay": DECAY,
    },
]


def scenario(**changes: object) -> Scenario:
    base = {
        "schema": 1,
        "title": "pulled",
        "duration": "8 days",
        "step": "2 days",
        "rate": {"max_speed": "60 um/day", "half_stress": "1 kPa"},
        "tooth": [{"number": n} for n in (13, 15, 16)],
        "wire": [{"alloy": "steel", "size": "0.018 in"}],
        "elastic": ELASTICS,
    }
    return scenario_from({**base, **changes}, "test")


@pytest.fixture(scope="module")
def pulled() -> RunResult:
    return run(scenario(), resolution=COARSE)


def test_histories_span_the_time_in_place(pulled: RunResult):
    (case,) = pulled.cases
    found = elastic_histories(pulled, case)
    assert [history.number for history in found] == [1, 2, 3]
    assert [float(history.days[0]) for history in found] == [0.0, 2.0, 0.0]
    assert [float(history.days[-1]) for history in found] == [8.0, 6.0, 3.0]
    spring, chain, ring = found
    # a day of change stands twice
    assert spring.days.tolist() == [0.0, 2.0, 2.0, 3.0, 3.0, 4.5, 6.0, 6.0, 8.0]
    np.testing.assert_allclose(spring.tension, 0.5, rtol=1e-14)
    np.testing.assert_allclose(chain.left, 0.5 + 0.5 * np.exp(-(chain.days - 2.0)), rtol=1e-13)
    for history, force, stiffness in ((chain, 1.0, 0.5), (ring, 0.4, 0.1)):
        expected = (force + stiffness * history.extension) * history.left[:, None]
        np.testing.assert_allclose(history.tension, expected, rtol=1e-13)
        change = history.length - history.length[0]
        np.testing.assert_allclose(
            change, history.extension - history.extension[0], rtol=0, atol=1e-12
        )
    assert chain.tension.shape == (5, 2)


def test_table_has_a_row_per_link_and_record(pulled: RunResult):
    table = elastic_table(pulled)
    assert list(table.columns) == [
        *("case", "elastic", "kind", "between", "day", "week", "force_N", "length_mm"),
        *("longer_than_put_on_mm", "share_left"),
    ]
    counts = table.groupby(["elastic", "between"]).size()
    assert counts.to_dict() == {(1, "13-15"): 9, (2, "13-15"): 5, (2, "15-16"): 5, (3, "13-16"): 4}
    last = table[(table["elastic"] == 2) & (table["between"] == "15-16")].iloc[-1]
    chain = elastic_histories(pulled, pulled.cases[0])[1]
    assert (last["week"], last["kind"]) == (6.0 / 7, "chain")
    assert last["force_N"] == chain.tension[-1, 1]
    assert last["length_mm"] == chain.length[-1, 1]


def test_file_of_the_table_carries_the_caution(pulled: RunResult, tmp_path):
    path = tmp_path / "elastics.csv"
    write_csv(elastic_table(pulled), path)
    assert path.read_text(encoding="utf-8").startswith(f"# {NOTICE}\n")
    again = pd.read_csv(path, comment="#")
    np.testing.assert_allclose(again["force_N"], elastic_table(pulled)["force_N"], rtol=1e-14)


def test_summary_tells_start_end_and_why(pulled: RunResult):
    document = summary(pulled)
    found = document["elastics"]
    assert [(e["elastic"], e["kind"], e["teeth"]) for e in found] == [
        (1, "coil-spring", [13, 15]),
        (2, "chain", [13, 15, 16]),
        (3, "elastic", [13, 16]),
    ]
    assert [e["ended_by"] for e in found] == ["end of the run", "taken off", "lost"]
    assert [(e["from_week"], e["to_week"]) for e in found] == [
        (0.0, 8 / 7),
        (2 / 7, 6 / 7),
        (0.0, 3 / 7),
    ]
    chain = elastic_histories(pulled, pulled.cases[0])[1]
    assert found[1]["links"][1] == {
        "between": "15-16",
        "force_start_N": chain.tension[0, 1],
        "force_end_N": chain.tension[-1, 1],
    }
    assert json.loads(summary_text(document)) == document
    assert "pull straight" in " ".join(document["limits"])
    assert "elastics" not in summary(run(scenario(elastic=[]), resolution=COARSE))


def test_loads_of_the_movement_table_name_what_acts(pulled: RunResult):
    table = movement_table(pulled)
    rows = table[table["tooth"] == 13]
    wire = "0.018 in steel"
    spring, chain, ring = (
        "closed coil spring 13-15",
        "elastomeric chain 13-15-16",
        "rubber ring from tooth to tooth 13-16",
    )
    assert list(dict.fromkeys(rows["loads"])) == [
        f"{wire} + {spring} + {ring}",
        f"{wire} + {spring} + {chain} + {ring}",
        f"{wire} + {spring} + {chain}",
        f"{wire} + {spring}",
    ]


def test_preview_lists_what_acts_when_a_wire_is_tied_in():
    """At the start the spring and the ring; five days later the spring and an aged chain."""
    wires = [{"size": "0.016 in"}, {"tied_in": "5 days", "alloy": "steel", "size": "0.018 in"}]
    # the same pull at any length, so that what teeth give takes nothing from it
    elastics = [{**table, "stiffness": "0 N/mm"} for table in ELASTICS]
    preview = wire_preview(scenario(wire=wires, elastic=elastics))
    first, second = preview["loads"].values()
    assert [(e["elastic"], e["links"]) for e in first["elastics"]] == [
        (1, [{"between": "13-15", "force_N": 0.5}]),
        (3, [{"between": "13-16", "force_N": 0.4}]),
    ]
    left = 0.5 + 0.5 * np.exp(-3.0)
    assert [e["elastic"] for e in second["elastics"]] == [1, 2]
    np.testing.assert_allclose(
        [link["force_N"] for link in second["elastics"][1]["links"]], [left, left], rtol=1e-13
    )
    # the molar is pulled mesially by the ring, then by the chain; the wire slides and takes no part
    for content, pull in ((first, 0.4), (second, left)):
        mesial = content["teeth"]["16"]["force_system_at_bracket"]["mesial_N"]
        np.testing.assert_allclose(mesial, pull, rtol=0.02)
    assert preview["notice"] == NOTICE


def test_preview_without_elastics_is_as_it_was():
    for content in wire_preview(scenario(elastic=[]))["loads"].values():
        assert "elastics" not in content


@pytest.mark.slow
def test_shipped_case_pulls_the_canine_back():
    """The two ends are pulled alike, and the chain is put on after four weeks."""
    found = find_scenario("canine-retraction")
    assert found.invented
    spring, chain = found.elastic
    assert (spring.kind, spring.teeth, spring.stiffness) == ("coil-spring", (13, 15), 0.0)
    assert (chain.kind, chain.put_on) == ("chain", 28.0)
    result = run(found, resolution=COARSE)
    mesial = {
        number: facts["crown_movement_mm"]["mesial"]
        for number, facts in summary(result)["teeth"].items()
    }
    assert mesial["13"] < -1.0
    assert mesial["15"] > 0.5
    assert mesial["16"] > 0.5
    flags = [flag["what"] for t in summary(result)["teeth"].values() for flag in t["flags"]]
    assert not any(what.startswith("crowns of neighbours") for what in flags)
