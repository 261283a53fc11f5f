"""What a run leaves: every file, readable, with its caution, and the same each time.

Verification, by reading the files back.
"""

import io
import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest
from PIL import Image
from rich.console import Console

from gomphosis.scenarios.caution import NOTICE
from gomphosis.viz.film_files import film_names
from gomphosis.viz.run_command import print_summary

NAMES = ("arch", "decay", "force", "movement", "turning", "zones")
FIGURES = tuple(f"{name}.png" for name in NAMES)
TABLES = ("movement.csv", "movement.parquet", "root_preview.csv")
FILES = {"summary.json", *TABLES, *film_names("teeth"), *film_names("arch"), "fields", *FIGURES}
FILES |= {"report.html", "report_data.gz"}


def test_run_writes_every_file(written):
    assert (written.answer.code, written.answer.err) == (0, "")
    assert {path.name for path in written.folder.iterdir()} == FILES
    assert f"Files: {written.folder}" in written.answer.out


def test_files_can_be_read(written):
    folder = written.folder
    table = pd.read_csv(folder / "movement.csv", comment="#", na_values="—")
    stored = pd.read_parquet(folder / "movement.parquet")
    assert list(table["day"]) == list(stored["day"]) == list(range(8))
    for name in FIGURES:
        with Image.open(folder / name) as picture:
            assert len(picture.convert("L").getcolors()) > 10
    with Image.open(folder / "teeth.gif") as film:
        assert film.n_frames > 1
    series = ET.parse(folder / "fields" / "weeks.pvd").getroot()
    listed = {entry.attrib["file"] for entry in series.iter("DataSet")}
    assert listed == {path.name for path in (folder / "fields").glob("*.vtu")}
    assert len(listed) == 2 * len(("teeth", "walls"))


def test_caution_is_in_every_file_of_data_and_in_the_film(written):
    folder = written.folder
    assert json.loads((folder / "summary.json").read_text(encoding="utf-8"))["notice"] == NOTICE
    for name in ("movement.csv", "root_preview.csv"):
        assert (folder / name).read_text(encoding="utf-8").startswith(f"# {NOTICE}\n")
    assert pq.read_schema(folder / "movement.parquet").metadata[b"notice"].decode() == NOTICE
    # figures carry it as drawn text: see their own tests
    with Image.open(folder / "teeth.gif") as film:
        assert film.info["comment"].decode() == NOTICE
    for path in (folder / "fields").iterdir():
        assert "not a medical device" in path.read_text(encoding="utf-8"), path.name


def test_no_file_names_a_place_on_this_machine(written, scenario: Path):
    places = [str(written.folder.parent), str(scenario.parent), str(Path.home())]
    for path in (p for p in written.folder.rglob("*") if p.is_file()):
        content = path.read_bytes()
        for place in places:
            assert place.encode() not in content, path.name


def test_second_run_replaces_the_first_with_the_same_bytes(
    written, scenario: Path, tmp_path: Path, gomphosis
):
    out = tmp_path / "out"
    (out / "fields").mkdir(parents=True)
    (out / "fields" / "week_099.vtu").write_text("of a longer run")
    (out / "notes.txt").write_text("mine")
    (out / "movement.csv").write_text("old")
    answer = gomphosis("run", scenario, "--out", out, "--json")
    assert json.loads(answer.out) == json.loads((out / "summary.json").read_text("utf-8"))
    files = {str(p.relative_to(out)): p.read_bytes() for p in out.rglob("*") if p.is_file()}
    assert files.pop("notes.txt") == b"mine"
    before = {
        str(p.relative_to(written.folder)): p.read_bytes()
        for p in written.folder.rglob("*")
        if p.is_file()
    }
    summaries = [json.loads(of.pop("summary.json")) for of in (files, before)]
    assert all(document.pop("wall_time_s") > 0 for document in summaries)
    assert summaries[0] == summaries[1]
    assert files == before


def test_figures_in_other_formats_and_a_run_without_films(
    scenario: Path, tmp_path: Path, gomphosis
):
    old = ("teeth.gif", "arch.mp4", "slice_sheet.png")
    for name in old:
        (tmp_path / name).write_text("of an older run")
    words = ["run", scenario, "--out", tmp_path, "--no-films"]
    answer = gomphosis(*words, "--also", "svg", "--also", "pdf")
    assert (answer.code, answer.err) == (0, "")
    more = {f"{name}.{kind}" for name in NAMES for kind in ("svg", "pdf")}
    films = {*film_names("teeth"), *film_names("arch")}
    assert {path.name for path in tmp_path.iterdir()} == (FILES | more) - films
    for name in NAMES:
        assert ET.parse(tmp_path / f"{name}.svg").getroot().tag.endswith("svg")
        assert (tmp_path / f"{name}.pdf").read_bytes().startswith(b"%PDF-")
    assert gomphosis("run", scenario, "--json", "--also", "svg").code == 2
    assert gomphosis("run", scenario, "--json", "--no-films").code == 2
    assert gomphosis("run", scenario, "--out", tmp_path, "--also", "bmp").code == 2


def test_json_alone_writes_no_file(scenario: Path, tmp_path: Path, monkeypatch, gomphosis):
    monkeypatch.chdir(tmp_path)
    answer = gomphosis("run", scenario, "--json")
    assert (answer.code, answer.err) == (0, "")
    assert json.loads(answer.out)["teeth"]["11"]["movement_type"] == "uncontrolled tipping"
    assert list(tmp_path.iterdir()) == []


def test_text_tells_movement_bands_forces_and_limits(written):
    text = written.answer.words
    summary = json.loads((written.folder / "summary.json").read_text(encoding="utf-8"))
    facts = summary["teeth"]["11"]
    band = " – ".join(f"{facts['crown_movement_band_mm'][k]:.2f}" for k in ("p10", "p50", "p90"))
    for part in (
        "Tipped for a week (invented): weeks 0 to 1",
        "uncontrolled tipping (labial plane)",
        band,
        f"{facts['centre_of_rotation_mm']:.1f}",
        f"{facts['peak_pressure_kPa']:.1f}",
        # 0.3 N is 30.6 gf
        "−0.30 (−31)",
        *summary["limits"],
    ):
        assert part in text, part


def test_text_of_a_lesson_tells_aim_and_question(written):
    assert "Question:" not in written.answer.out
    document = json.loads((written.folder / "summary.json").read_text(encoding="utf-8"))
    lesson = {"aim": "See it tip.", "question": "About [which] point?"}
    document["scenario"]["lesson"] = lesson
    told = io.StringIO()
    print_summary(Console(file=told, width=120), document)
    lines = told.getvalue().splitlines()
    assert lines[1:3] == ["Aim: See it tip.", "Question: About [which] point?"]


SLICE = """
[slice]
teeth = [11]
[slice.back]
crest = "0.1 mm"
middle = "0.5 mm"
"""


@pytest.mark.slow
def test_slices_are_written_told_and_replaced(scenario: Path, tmp_path: Path, gomphosis):
    sliced, out = tmp_path / "sliced.toml", tmp_path / "out"
    sliced.write_text(scenario.read_text() + SLICE)
    answer = gomphosis("run", sliced, "--out", out)
    assert (answer.code, answer.err) == (0, "")
    assert {path.name for path in out.iterdir()} == FILES | {"slice.png", *film_names("slice")}
    assert {p.suffix for p in (out / "fields" / "slice-11").iterdir()} == {".vtu", ".vti", ".pvd"}
    with Image.open(out / "slice.gif") as film:
        assert film.n_frames == 8
    facts = json.loads((out / "summary.json").read_text(encoding="utf-8"))["teeth"]["11"]["slice"]
    least = facts["least_plate_mm"]["lingual"]
    opened = [
        f"slice of 11: {opening['side']} plate open from week {round(opening['first_week'], 1):g} "
        f"to week {round(opening['last_week'], 1):g}, {opening['from_below_crest_mm']:.1f} to "
        f"{opening['to_below_crest_mm']:.1f} mm below the crest ({opening['kind']})."
        for opening in facts["openings"]
    ]
    assert opened
    for part in (
        f"labial {facts['crown_movement_mm']['labial']:.2f}".replace("-", "−"),
        f"{facts['difference_from_body_of_revolution_mm']['apex']:.2f}",
        f"lingual {least['start']:.2f} → {least['end']:.2f}",
        f"{facts['bone_mm2']['resorbed']:.2f}",
        f"{facts['worst_book_residual']:.0e}",
        *opened,
        "do not depend on where the slice goes",
    ):
        assert part in answer.words, part
    assert "…" not in answer.out
    gomphosis("run", scenario, "--out", out)
    assert {path.name for path in out.iterdir()} == FILES
    assert not (out / "fields" / "slice-11").exists()


def test_shipped_case_runs_by_name_and_no_table_is_cut(gomphosis):
    """Ten cases; the text of the wire command is the widest."""
    for words in (["wire", "light-and-heavy"], ["wire", "three-incisors"], ["tooth", 16]):
        answer = gomphosis(*words)
        assert answer.code == 0
        assert "…" not in answer.out
