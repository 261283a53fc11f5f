"""Elastics on the command line: files of a run, lines of text, marks. Verification."""

import json
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import load_scenario
from gomphosis.viz.panels import between_visits, wire_key

HEAD = """
schema = 1
title = "Pulled for a week (invented)"
duration = "1 week"
step = "1 day"
rate = { max_speed = "60 um/day", half_stress = "1 kPa" }
[[tooth]]
number = 13
[[tooth]]
number = 15
[[wire]]
alloy = "steel"
size = "0.018 in"
"""
ELASTIC = """
[[elastic]]
kind = "chain"
teeth = [13, 15]
force = "100 gf"
stiffness = "0 N/mm"
put_on = "2 days"
decay = { lost_share = 0.5, time_constant = "0.01 days" }
[[elastic]]
kind = "coil-spring"
teeth = [15, 13]
force = "50 gf"
stiffness = "0 N/mm"
"""


@pytest.fixture(scope="module")
def pulled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scenario") / "pulled.toml"
    path.write_text(HEAD + ELASTIC)
    return path


@pytest.mark.slow
def test_run_writes_and_tells_the_pull(pulled: Path, tmp_path: Path, gomphosis):
    out = tmp_path / "out"
    answer = gomphosis("run", pulled, "--out", out, "--no-films")
    assert (answer.code, answer.err) == (0, "")
    table = pd.read_csv(out / "elastics.csv", comment="#")
    stored = pd.read_parquet(out / "elastics.parquet")
    assert table["elastic"].unique().tolist() == stored["elastic"].unique().tolist() == [1, 2]
    assert pq.read_schema(out / "elastics.parquet").metadata[b"notice"].decode() == NOTICE
    told = "elastic 1 (chain 13-15), week 0.3 to 1.0 (end of the run): 13-15: 0.98 N (100 gf) to "
    assert f"{told}0.49 N (50 gf)" in answer.words
    both = "15-13: 0.49 N (50 gf) to 0.49 N (50 gf)"
    assert f"elastic 2 (coil-spring 15-13), week 0.0 to 1.0 (end of the run): {both}" in (
        answer.words
    )
    document = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert len(document["elastics"]) == 2


def test_preview_tells_what_acts_at_the_start(pulled: Path, gomphosis):
    answer = gomphosis("wire", pulled)
    assert answer.code == 0
    assert "elastic 2 (coil-spring 15-13), on unmoved teeth: 15-13: 0.49 N (50 gf)" in answer.words
    assert "chain 13-15" not in answer.words
    assert "pull straight from attachment to attachment" in answer.words


def test_bad_elastic_is_refused_in_one_line(tmp_path: Path, gomphosis):
    path = tmp_path / "bad.toml"
    path.write_text(HEAD + ELASTIC.replace('"100 gf"', '"100 N"'))
    answer = gomphosis("run", path, "--json")
    assert answer.code != 0
    assert answer.out == ""
    assert 'elastic[1].force = "100 N" is too large; accepted: a force in N' in answer.err
    assert "\n" not in answer.err.strip()


def test_figures_dot_the_days_on_which_elastics_change(pulled: Path, tmp_path: Path):
    assert between_visits(load_scenario(pulled)) == [2.0]
    key = wire_key(load_scenario(pulled))
    assert key.endswith("0.018 in steel · dotted upright: elastics change")
    plain = tmp_path / "plain.toml"
    plain.write_text(HEAD)
    assert between_visits(load_scenario(plain)) == []
    assert "dotted" not in wire_key(load_scenario(plain))
