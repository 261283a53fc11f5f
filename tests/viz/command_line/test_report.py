"""The command ``report``: pages of finished runs, and refusals in one line."""

import shutil

from gomphosis.scenarios.caution import NOTICE
from gomphosis.viz.figures import FIGURES
from gomphosis.viz.report_store import DATA, read_record


def test_a_run_writes_its_page_and_the_command_makes_it_again(gomphosis, written, tmp_path):
    page = (written.folder / "report.html").read_bytes()
    copy = tmp_path / "run"
    shutil.copytree(written.folder, copy)
    (copy / "report.html").unlink()
    answer = gomphosis("report", copy)
    assert answer.code == 0 and answer.words == f"Report: {copy / 'report.html'} {NOTICE}"
    assert (copy / "report.html").read_bytes() == page
    assert page.decode().count(NOTICE) >= 2


def test_the_page_holds_the_figures_of_its_run(written):
    record, _ = read_record(written.folder)
    names = set(record.head["files"])
    assert names == {"summary.json", *(f"{name}.png" for name in FIGURES)}


def test_two_runs_go_to_a_file_that_is_named(gomphosis, written, tmp_path):
    answer = gomphosis("report", written.folder, written.folder)
    assert answer.code == 2 and "give --out FILE.html" in answer.err
    out = tmp_path / "two.html"
    answer = gomphosis("report", written.folder, written.folder, "--out", out, "--language", "de")
    assert answer.code == 0
    text = out.read_text(encoding="utf-8")
    assert '<html lang="de">' in text and 'id="run-1"' in text
    assert [path.name for path in tmp_path.iterdir()] == ["two.html"]


def test_three_runs_are_refused(gomphosis, written):
    answer = gomphosis("report", written.folder, written.folder, written.folder)
    assert answer.code == 2 and "one run or two" in answer.err


def test_what_cannot_be_read_is_refused_in_one_line_and_nothing_is_left(
    gomphosis, written, tmp_path
):
    copy = tmp_path / "run"
    shutil.copytree(written.folder, copy)
    (copy / "report.html").unlink()
    packed = (copy / DATA).read_bytes()
    (copy / DATA).write_bytes(packed[: len(packed) // 2])
    answer = gomphosis("report", copy)
    assert answer.code == 2
    assert answer.err == f"gomphosis: {copy / DATA}: is damaged; run the scenario again\n"
    assert not (copy / "report.html").exists()
    empty = gomphosis("report", tmp_path)
    assert empty.err.startswith(f"gomphosis: {tmp_path}: holds no {DATA}; expected the folder")
    assert empty.err.count("\n") == 1
