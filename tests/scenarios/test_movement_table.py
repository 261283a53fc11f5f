"""The table of a run and its two files. Verification, by reading the files back."""

import re
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest

from gomphosis.bone.support import Resolution
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.movement_table import (
    movement_table,
    stage_name,
    wire_name,
    write_csv,
    write_parquet,
)
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.run import run
from gomphosis.scenarios.stages import stages

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
RATE = {"max_speed": "60 um/day", "half_stress": "1 kPa"}
# as a reader might call them: a comment sign, quotes and commas must survive the file
NAMES = ["tip #1", 'of "two", #2', "#3; y"]


def followed(**document: object) -> RunResult:
    base = {"schema": 1, "title": "test", "duration": "8 days", "step": "2 days", "rate": RATE}
    return run(scenario_from({**base, **document}, "test"), resolution=COARSE)


@pytest.fixture(scope="module")
def wired() -> RunResult:
    """Two wires; the second is tied in on day 4."""
    wires = [
        {"alloy": "nickel-titanium", "size": "0.014 in"},
        {"tied_in": "4 days", "alloy": "steel", "size": "0.016 x 0.022 in"},
    ]
    return followed(tooth=[{"number": 11, "vertical": "-1 mm"}, {"number": 21}], wire=wires)


@pytest.fixture(scope="module")
def forced() -> RunResult:
    """Three cases on two teeth; one tooth is left alone in two of them."""
    forces = [
        {"case": NAMES[0], "tooth": 11, "force": "0.3 N", "direction": "lingual"},
        {"case": NAMES[1], "tooth": 11, "mesial": "0.0199 N", "labial": "0.0201 N"},
        {"case": NAMES[2], "tooth": 21, "force": "0.3 N", "direction": "intrusion"},
    ]
    return followed(tooth=[{"number": 11}, {"number": 21}], force=forces)


RUNS = ("wired", "forced")


@pytest.fixture
def table(request: pytest.FixtureRequest) -> pd.DataFrame:
    return movement_table(request.getfixturevalue(request.param))


def read_csv(path: Path) -> pd.DataFrame:
    return pd.read_csv(path, comment="#", na_values="—")


def test_rows_per_case_tooth_and_record(forced: RunResult):
    table = movement_table(forced)
    keys = list(zip(table["case"], table["tooth"], table["day"], strict=True))
    assert keys == list(product(NAMES, [11, 21], [0.0, 2.0, 4.0, 6.0, 8.0]))
    np.testing.assert_allclose(table["week"], table["day"] / 7, rtol=1e-15)
    assert list(table["loads"]) == list(table["case"])


def test_visit_day_stands_twice_with_the_old_and_the_new_wire(wired: RunResult):
    table = movement_table(wired)
    assert list(table["case"].unique()) == ["wires"]
    for number in (11, 21):
        rows = table[table["tooth"] == number]
        assert list(rows["day"]) == [0.0, 2.0, 4.0, 4.0, 6.0, 8.0]
        old, new = "0.014 in nickel-titanium", "0.016 x 0.022 in steel"
        assert list(rows["loads"]) == [old, old, old, new, new, new]
        before, after = rows.iloc[2], rows.iloc[3]
        assert abs(after["extrusion_bracket_N"]) > 1.5 * abs(before["extrusion_bracket_N"])


def test_wire_names_are_in_inches(wired: RunResult):
    assert wire_name(wired.scenario, 0) == "0.014 in nickel-titanium"
    assert wire_name(wired.scenario, 1) == "0.016 x 0.022 in steel"


def test_stages_are_named_by_wire_last_visit_and_elastics():
    wires = [
        {"alloy": "steel", "size": "0.016 x 0.022 in"},
        {"tied_in": "8 weeks", "alloy": "nickel-titanium", "size": "0.018 in"},
    ]
    bend = {"kind": "twist", "between": [11, 21], "twist_angle": "3 deg", "by_hand": True}
    spring = {
        **{"kind": "coil-spring", "teeth": [11, 21], "force": "50 gf", "stiffness": "0 N/mm"},
        **{"put_on": "3 weeks", "taken_off": "9 weeks"},
    }
    made = scenario_from(
        {
            **{"schema": 1, "title": "test", "duration": "10 weeks", "wire": wires},
            "tooth": [{"number": 11}, {"number": 21}],
            "visit": [
                {"at": "9.5 weeks", "rebond": [{"tooth": 11, "tip": "2 deg"}]},
                {"at": "4 weeks", "bend": [bend]},
                {"at": "2 weeks", "religate": True},
            ],
            "elastic": [spring],
        },
        "test",
    )
    steel, light = "0.016 x 0.022 in steel", "0.018 in nickel-titanium"
    chain = made.elastic[0].name
    assert [stage_name(made, stage) for stage in stages(made)] == [
        steel,
        f"{steel} (religated in week 2)",
        f"{steel} (religated in week 2) + {chain}",
        f"{steel} (religated and bent in week 4) + {chain}",
        f"{light} + {chain}",
        light,
        f"{light} (re-bonded in week 9.5)",
    ]


WITHOUT_UNIT = {
    *("case", "tooth", "day", "week", "loads", "movement_type", "movement_plane"),
    # shares
    *("wall_above_capillary_line", "largest_strain"),
}


@pytest.mark.parametrize("table", RUNS, indirect=True)
def test_units_stand_in_the_names(table: pd.DataFrame):
    unit = re.compile(r"_(mm|mm2|mm3|deg|N|Nmm|kPa)$")
    assert {name for name in table if not unit.search(name)} == WITHOUT_UNIT
    assert table.columns.is_unique
    assert len(table.columns) > 40


def test_values_carry_the_unit_of_their_name(wired: RunResult):
    table = movement_table(wired)
    rows = table[table["tooth"] == 11]
    history = histories(wired, wired.cases[0])[0]
    for name, values in (
        ("vertical_mm", history.position[:, 0]),
        ("angulation_deg", history.position[:, 3] * 180 / np.pi),
        ("extrusion_bracket_N", history.at_bracket[:, 0]),
        ("torque_moment_resistance_Nmm", history.at_resistance[:, 4]),
        ("peak_pressure_kPa", history.peak_pressure * 1000),
        ("tension_area_mm2", history.zone_area[:, 2]),
        ("resorbed_mm3", history.resorbed),
        ("mesial_apex_movement_mm", history.apex[:, 2]),
        ("crown_movement_p50_mm", np.sqrt((history.crown**2).sum(axis=1))),
        ("labial_centre_of_rotation_mm", history.rotation_centre[:, 0]),
    ):
        np.testing.assert_allclose(rows[name], values, rtol=1e-12, atol=1e-15, err_msg=name)


def test_band_is_in_order_and_comes_from_the_runs_at_its_quantiles(forced: RunResult):
    table = movement_table(forced)
    rows = table[(table["case"] == NAMES[0]) & (table["tooth"] == 11) & (table["day"] == 8)]
    (row,) = rows.to_dict("records")
    for q, name in ((0.1, "p10"), (0.9, "p90")):
        crown = histories(forced, forced.cases[0], quantile=q)[0].crown[-1]
        np.testing.assert_allclose(row[f"crown_movement_{name}_mm"], np.linalg.norm(crown))
    assert row["crown_movement_p10_mm"] < row["crown_movement_p50_mm"]
    assert row["crown_movement_p50_mm"] < row["crown_movement_p90_mm"]


def test_no_moment_to_force_below_two_hundredths_of_a_newton(forced: RunResult, tmp_path: Path):
    table = movement_table(forced)
    write_csv(table, tmp_path / "t.csv")
    text = pd.read_csv(tmp_path / "t.csv", comment="#", dtype=str, keep_default_na=False)
    rows = text[(text["case"] == NAMES[1]) & (text["tooth"] == "11")]
    assert set(rows["mesial_moment_to_force_mm"]) == {"—"}
    np.testing.assert_allclose(rows["labial_moment_to_force_mm"].astype(float), 0, atol=1e-9)
    for plane in ("labial", "mesial"):
        alone = text[(text["case"] == NAMES[1]) & (text["tooth"] == "21")]
        assert set(alone[f"{plane}_moment_to_force_mm"]) == {"—"}
        assert set(alone[f"{plane}_centre_of_rotation_mm"]) == {"—"}
        # a force of exactly nothing is a number, not a missing one
        assert set(alone[f"{plane}_bracket_N"].astype(float)) == {0.0}


@pytest.mark.parametrize("table", RUNS, indirect=True)
def test_csv_opens_with_the_caution(table: pd.DataFrame, tmp_path: Path):
    write_csv(table, tmp_path / "t.csv")
    raw = (tmp_path / "t.csv").read_bytes()
    assert b"\r" not in raw
    lines = raw.decode("utf-8").splitlines()
    comments = [line for line in lines if line.startswith("# ")]
    assert lines[: len(comments)] == comments
    assert " ".join(line[2:] for line in comments) == " ".join(NOTICE.split())
    assert len(lines) == len(comments) + 1 + len(table)


@pytest.mark.parametrize("table", RUNS, indirect=True)
def test_both_files_hold_the_same_table(table: pd.DataFrame, tmp_path: Path):
    write_csv(table, tmp_path / "t.csv")
    write_parquet(table, tmp_path / "t.parquet")
    from_csv, from_parquet = read_csv(tmp_path / "t.csv"), pd.read_parquet(tmp_path / "t.parquet")
    assert list(from_csv["case"].unique()) == list(table["case"].unique())
    # pandas before 3 reads text to 15 digits only unless told otherwise
    pd.testing.assert_frame_equal(from_csv, from_parquet, rtol=1e-12, atol=0)
    pd.testing.assert_frame_equal(from_parquet, table, check_exact=True)
    assert from_parquet.isna().any().any()


def test_parquet_carries_the_caution_and_nulls(forced: RunResult, tmp_path: Path):
    write_parquet(movement_table(forced), tmp_path / "t.parquet")
    stored = pq.read_table(tmp_path / "t.parquet")
    assert stored.schema.metadata[b"notice"].decode() == NOTICE
    column = stored["mesial_moment_to_force_mm"]
    assert column.null_count == len(column)


def test_same_table_gives_the_same_bytes(wired: RunResult, tmp_path: Path):
    table = movement_table(wired)
    for write, name in ((write_csv, "csv"), (write_parquet, "parquet")):
        written = []
        for copy in "ab":
            write(table, tmp_path / f"{copy}.{name}")
            written.append((tmp_path / f"{copy}.{name}").read_bytes())
        assert written[0] == written[1]


def test_place_that_cannot_be_written_is_an_os_error(wired: RunResult, tmp_path: Path):
    table = movement_table(wired)
    for write in (write_csv, write_parquet):
        with pytest.raises(OSError):
            write(table, tmp_path / "no such folder" / "t")
