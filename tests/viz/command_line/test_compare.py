"""The command ``compare``: files and table of two finished runs, and refusals in one line."""

import json
import shutil

from gomphosis.scenarios.caution import NOTICE
from gomphosis.viz.compare_command import FIGURES
from gomphosis.viz.film_files import film_names
from gomphosis.viz.report_store import DATA


def test_two_runs_give_files_and_a_table(gomphosis, written, tmp_path):
    out = tmp_path / "deep" / "pair"
    answer = gomphosis("compare", written.folder, written.folder, "--out", out)
    assert answer.code == 0 and answer.err == ""
    assert {path.name for path in out.iterdir()} == {*FIGURES, *film_names("compared")}
    assert NOTICE in answer.words and f"Files: {out}" in answer.words
    assert "Tipped for a week (invented)" in answer.out and "peak pressure" in answer.out


def test_json_is_the_table_as_data(gomphosis, written, tmp_path):
    answer = gomphosis("compare", written.folder, written.folder, "--out", tmp_path / "o", "--json")
    document = json.loads(answer.out)
    assert answer.code == 0 and document["notice"] == NOTICE
    tooth = document["teeth"]["11"]
    assert tooth["A"] == tooth["B"]
    summary = json.loads((written.folder / "summary.json").read_text(encoding="utf-8"))
    assert tooth["A"]["crown_moved_mm"] == summary["teeth"]["11"]["crown_movement_band_mm"]
    assert document["different_inputs"] == []


def test_bad_folders_are_refused_in_one_line_and_nothing_is_left(gomphosis, written, tmp_path):
    out = tmp_path / "out"
    empty = tmp_path / "empty"
    empty.mkdir()
    answer = gomphosis("compare", written.folder, empty, "--out", out)
    assert answer.code == 2 and answer.err.count("\n") == 1
    assert answer.err.startswith(f"gomphosis: {empty}: holds no {DATA}; expected the folder")
    copy = tmp_path / "copy"
    shutil.copytree(written.folder, copy)
    packed = (copy / DATA).read_bytes()
    (copy / DATA).write_bytes(packed[: len(packed) // 2])
    answer = gomphosis("compare", copy, written.folder, "--out", out)
    assert answer.code == 2
    assert answer.err == f"gomphosis: {copy / DATA}: is damaged; run the scenario again\n"
    answer = gomphosis("compare", written.folder, written.folder, "--out", out, "--case", "x")
    assert answer.code == 2 and "has no case 'x'; accepted: " in answer.err
    assert answer.err.count("\n") == 1 and not out.exists()


def test_misuse_is_refused(gomphosis, written, tmp_path):
    answer = gomphosis("compare", written.folder, written.folder)
    assert answer.code == 2 and "--out" in answer.err
    answer = gomphosis("compare", written.folder, "--out", tmp_path)
    assert answer.code == 2
    words = ("--case", "a") * 3
    answer = gomphosis("compare", written.folder, written.folder, "--out", tmp_path, *words)
    assert answer.code == 2 and "give --case once or twice" in answer.err


def test_a_file_where_the_folder_should_be_is_refused(gomphosis, written, tmp_path):
    place = tmp_path / "file"
    place.write_text("mine")
    answer = gomphosis("compare", written.folder, written.folder, "--out", place)
    assert answer.code == 2 and place.read_text() == "mine"
