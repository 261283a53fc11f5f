"""Data of a report that are damaged, old or of another run are refused in one line."""

import gzip
import json
import shutil

import pytest

from gomphosis.viz.report_record import RECORD_VERSION
from gomphosis.viz.report_store import DATA, SUMMARY, ReportError, read_record, write_record


@pytest.fixture
def folder(wires_folder, tmp_path):
    copy = tmp_path / "run"
    shutil.copytree(wires_folder, copy, ignore=shutil.ignore_patterns("fields", "*.html"))
    return copy


def changed(folder, **values):
    """Write the head of the data with other values."""
    head, _, block = gzip.decompress((folder / DATA).read_bytes()).partition(b"\n")
    text = json.dumps(json.loads(head) | values).encode()
    (folder / DATA).write_bytes(gzip.compress(text + b"\n" + block))


def refusal(folder):
    with pytest.raises(ReportError) as caught:
        read_record(folder)
    text = str(caught.value)
    assert "\n" not in text
    return text


def test_the_same_run_gives_the_same_bytes(folder):
    before = (folder / DATA).read_bytes()
    record, packed = read_record(folder)
    assert packed == before
    assert before[4:8] == bytes(4)  # no time of day in the head of the gzip file
    head = {k: v for k, v in record.head.items() if k not in ("format", "files", "block")}
    write_record(type(record)(head, record.block), folder, ["movement.png"])
    assert (folder / DATA).read_bytes() == before


def test_no_data_are_named(tmp_path):
    assert f"holds no {DATA}" in refusal(tmp_path)
    assert f"holds no {DATA}" in refusal(tmp_path / "nowhere")


@pytest.mark.parametrize("cut", [10, 1000, -1])
def test_a_file_that_was_cut_is_damaged(folder, cut):
    path = folder / DATA
    path.write_bytes(path.read_bytes()[:cut])
    assert "is damaged" in refusal(folder)


def test_a_changed_byte_of_the_arrays_is_noticed(folder):
    head, _, block = gzip.decompress((folder / DATA).read_bytes()).partition(b"\n")
    wrong = bytes([block[0] ^ 1]) + block[1:]
    (folder / DATA).write_bytes(gzip.compress(head + b"\n" + wrong))
    assert "is damaged" in refusal(folder)


def test_an_array_beyond_the_block_is_noticed(folder):
    record, _ = read_record(folder)
    cases = record.head["cases"]
    cases[0]["teeth"][0]["force_N"]["at"] = len(record.block)
    changed(folder, cases=cases)
    assert "is damaged" in refusal(folder)


def test_another_version_is_refused_with_both(folder):
    changed(folder, version=0)
    assert f"has version 0, this program reads {RECORD_VERSION}" in refusal(folder)


def test_another_format_is_refused(folder):
    changed(folder, format="something else")
    assert "is not the data of a report" in refusal(folder)
    (folder / DATA).write_bytes(gzip.compress(b"[1, 2]\n"))
    assert "is not the data of a report" in refusal(folder)


def test_files_of_another_run_are_noticed(folder, slices_folder):
    shutil.copy(slices_folder / SUMMARY, folder / SUMMARY)
    assert "summary.json: does not belong to" in refusal(folder)


def test_a_figure_that_is_gone_or_changed_is_noticed(folder):
    (folder / "movement.png").write_bytes(b"x")
    assert "movement.png: does not belong to" in refusal(folder)
    (folder / "movement.png").unlink()
    assert "movement.png: is missing" in refusal(folder)
