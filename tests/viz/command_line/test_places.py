"""Places that cannot be written and full disks: one line, and nothing left behind."""

import errno
import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from gomphosis.viz import outputs
from gomphosis.viz.run_command import UNFINISHED


def check_not_written(answer, *parts: str) -> None:
    assert answer.code == 1
    assert answer.out == ""
    (line,) = answer.err.splitlines()
    assert line.startswith("gomphosis: ")
    assert line.endswith("; expected a writable place")
    for part in parts:
        assert part in line


def check_only_checkpoints(out: Path) -> None:
    assert [path.name for path in out.iterdir()] == [UNFINISHED]
    for path in (out / UNFINISHED).iterdir():
        assert path.name.startswith("case-1-rate-")


@pytest.mark.usefixtures("never_run")
def test_file_in_the_way(scenario: Path, tmp_path: Path, gomphosis):
    (tmp_path / "file").write_text("mine")
    answer = gomphosis("run", scenario, "--out", tmp_path / "file")
    assert answer.code == 2
    assert "is a file" in answer.err
    below = gomphosis("run", scenario, "--out", tmp_path / "file" / "a" / "b")
    check_not_written(below, str(tmp_path / "file"), "not a directory")
    assert [p.read_text() for p in tmp_path.iterdir()] == ["mine"]


@pytest.mark.usefixtures("never_run")
def test_place_in_which_nobody_may_write(scenario: Path, gomphosis):
    """Not even the superuser can make a folder in the list of processes."""
    check_not_written(gomphosis("run", scenario, "--out", "/proc/gomphosis-out"), "/proc/")


@pytest.mark.parametrize("writer", ["write_csv", "write_parquet", "save_figure", "save_animation"])
def test_full_disk_leaves_only_what_it_takes_to_go_on(
    writer: str, scenario: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gomphosis
):
    def full(_: object, path: Path, *__: object) -> None:
        (path / "half" if path.is_dir() else path).write_bytes(b"half")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    out = tmp_path / "a" / "out"
    words = ["run", scenario, "--out", out]
    with monkeypatch.context() as patched:
        patched.setattr(outputs, writer, full)
        check_not_written(gomphosis(*words), "no space left on device")
    check_only_checkpoints(out)
    answer = gomphosis(*words, "--no-films")
    assert answer.err == "gomphosis: goes on from day 7 of 7 (3 of 3 tracks done)\n"
    assert not (out / UNFINISHED).exists()


@contextmanager
def tiny_disk(folder: Path) -> Iterator[None]:
    """Mount 64 kB, where this is allowed."""
    if os.geteuid() != 0:
        pytest.skip("only the superuser may mount a tiny disk")
    words = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)]
    if subprocess.run(words, capture_output=True, check=False).returncode != 0:
        pytest.skip("mounting a tiny disk is not allowed here")
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def test_disk_that_is_really_full(scenario: Path, tmp_path: Path, gomphosis):
    with tiny_disk(tmp_path):
        answer = gomphosis("run", scenario, "--out", tmp_path / "out")
        check_not_written(answer, "no space left on device")
        check_only_checkpoints(tmp_path / "out")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
@pytest.mark.parametrize("words", [["cases"], ["cases", "--json"], ["--help"]], ids=str)
def test_output_to_a_full_disk(words: list[str], started):
    with open("/dev/full", "w") as full:  # noqa: PTH123 - a device
        process = started(*words, stdout=full)
        _, err = process.communicate(timeout=120)
    assert process.returncode == 1
    assert err.splitlines() == ["gomphosis: no space left on device; expected a writable place"]
