"""``gomphosis rate-study``: its table, its CSV file, its JSON.

Verification: what is printed is what the study found.
"""

import csv
import json

import pytest

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.rate_candidates import candidates
from gomphosis.scenarios.rate_study import rate_study
from gomphosis.viz import rate_study_command


@pytest.fixture
def three_laws(monkeypatch):
    """Keep the default and two more laws."""
    kept = [c for c in candidates() if c.name in ("traction", "stiff", "plate")]
    monkeypatch.setattr(
        rate_study_command, "rate_study", lambda progress: rate_study(progress, laws=kept)
    )


@pytest.mark.usefixtures("three_laws")
def test_text_and_csv_and_json_say_the_same(gomphosis, tmp_path):
    path = tmp_path / "study.csv"
    answer = gomphosis("rate-study", "--csv", path)
    assert (answer.code, answer.err) == (0, "")
    document = json.loads(gomphosis("rate-study", "--json").out)
    assert document["best_alternatives"] == ["plate", "stiff"]
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# This is a simulation")
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(rows) == 3 * len(document["findings"])
    (row,) = [r for r in rows if r["finding"] == "tipping-cusp" and r["law"] == "traction"]
    (finding,) = [f for f in document["findings"] if f["finding"] == "tipping-cusp"]
    assert float(row["model"]) == finding["model"]["traction"]
    assert row["verdict"] == finding["verdict"]["traction"] == "outside"
    assert f"{finding['model']['traction']:.3g} OUTSIDE" in answer.words
    assert f"{finding['model']['plate']:.3g} inside" in answer.words
    assert NOTICE in answer.words


@pytest.mark.usefixtures("three_laws")
def test_text_says_what_no_law_can_reach(gomphosis):
    answer = gomphosis("rate-study")
    document = json.loads(gomphosis("rate-study", "--json").out)
    rising = [
        bound
        for bound in document["least_tipping"]["bounds"]
        if not bound["speed_may_fall_with_stress"]
    ]
    least = min(bound["cusp_mm"] for bound in rising)
    assert least > 5.8
    end = "mm or more; the published range ends at 5.8 mm:"
    assert f"move the cusp {least:.1f} {end} none reaches it" in answer.words
    least = min(bound["bracket_mm"] for bound in rising)
    verdict = "none reaches it" if least > 5.8 else "some reach its end"
    assert f"move the bracket {least:.1f} {end} {verdict}" in answer.words
    assert "(from memory, unverified)" in answer.words


def test_a_file_that_cannot_be_written_is_refused(gomphosis, tmp_path):
    (tmp_path / "file").write_text("x")
    answer = gomphosis("rate-study", "--csv", tmp_path / "file" / "study.csv")
    assert answer.code == 1
    assert "expected a writable place" in answer.err
