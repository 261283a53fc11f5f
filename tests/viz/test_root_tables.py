"""Verification: the printed previews of roots hold the numbers of the summary, and their marks."""

import io
import re
from typing import Any

import pytest
from rich.console import Console

from gomphosis.bone.support import Resolution
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.run import run
from gomphosis.scenarios.summary import summary
from gomphosis.viz.root_tables import print_roots

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)


@pytest.fixture(scope="module")
def teeth() -> list[tuple[str, dict[str, Any]]]:
    pushed = [{"tooth": n, "force": "0.3 N", "direction": "labial"} for n in (11, 14)]
    document = {
        "schema": 1,
        "duration": "1 week",
        "rate": {"max_speed": "60 um/day", "half_stress": "8 kPa"},
        "pressure_limit": "3 kPa",
        "tooth": [{"number": 14}, {"number": 11, "crest_loss": "3 mm", "root_lost": "1 mm"}],
        "force": pushed,
    }
    result = run(scenario_from(document, "test"), resolution=COARSE)
    return list(summary(result)["teeth"].items())


@pytest.fixture(scope="module")
def printed(teeth) -> str:
    out = io.StringIO()
    print_roots(Console(file=out, width=160, highlight=False), teeth)
    return out.getvalue()


def row_of(text: str, title: str, tooth: str) -> list[str]:
    part = text[text.index(title) :]
    line = next(line for line in part.splitlines() if line.startswith(f"│ {tooth} "))
    return [cell.strip() for cell in line.strip("│").split("│")]


def shown(finding: dict[str, Any], digits: int = 2) -> str:
    slow, median, fast = (
        "—" if finding[k] is None else f"{finding[k]:.{digits}f}".replace("-", "−")
        for k in ("p10", "p50", "p90")
    )
    return median if slow == median == fast else f"{median} ({slow}; {fast})"


def test_rows_hold_the_numbers_of_the_summary(teeth, printed: str):
    facts = dict(teeth)["11"]["root_preview"]
    found = facts["quantities"]
    row = row_of(printed, "Roots: how they move", "11")
    assert row[1] == f"{found['movement_type']['words']['p50']} (labial plane)"
    assert row[2] == shown(found["movement_type"])
    assert row[3] == "−1.5 to −0.2"
    assert row[4:] == [
        shown(found["centre_of_rotation"], 1),
        shown(found["apex_displacement"]),
    ]
    row = row_of(printed, "Roots: nearest to each plate", "11")
    keys = [f"{key}_{side}" for side in ("labial", "lingual") for key in ("clearance", "bone_left")]
    assert row[1::2] == [shown(found[key]) for key in keys]
    assert row[2::2] == [shown(found[f"{key}_week"], 1) for key in keys]
    assert found["clearance_labial_week"]["p50"] is not None
    row = row_of(printed, "Roots: socket wall", "11")
    lines = ("schwarz", "capillary", "own_limit")
    assert row[1:4] == [shown(found[f"wall_above_{line}"], 0) for line in lines]
    row = row_of(printed, "Roots: how they are held", "11")
    held = facts["support"]
    assert row[1:4] == ["3.0", "1.0", "8.0"]
    assert row[6] == f"{held['translation_moment_to_force_mm']:.1f}"
    assert row[7] == f"{held['edge_mm_per_N']:.2f}"


def test_what_was_measured_on_other_teeth_is_marked(printed: str):
    row = row_of(printed, "Roots: how they move", "14")
    assert row[1].endswith("*")
    assert "*" in row[2]
    assert row_of(printed, "Roots: nearest to each plate", "14")[1:] == ["—"] * 8
    words = " ".join(printed.split())
    assert "Tooth 14: plates of this tooth are not given." in words
    assert "*: measured on other teeth" in words


def test_sources_stand_once_with_their_status(printed: str):
    words = " ".join(printed.split())
    for text in (
        "apex over edge: Prog Orthod 2022, doi 10.1186/s40510-022-00433-4, Table 2 (verified).",
        "line at 2.25 kPa: Schwarz AM, Int J Orthod 1932;18:331-352 (secondary source).",
        "line at 3 kPa: scenario, pressure_limit (given by the user).",
        "(from memory, unverified).",
    ):
        assert words.count(text) == 1, text


def test_no_table_is_cut_and_nothing_is_advice(printed: str):
    assert max(map(len, printed.splitlines())) <= 160
    assert "…" not in printed
    assert not re.search(r"\b(best|safe|dangerous|should|recommend\w*|avoid)\b", printed, re.I)
