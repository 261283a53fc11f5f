"""Files of a run appear all together or not at all. Verification, on a real folder."""

import errno
import os
import shutil
import signal
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from gomphosis.viz import outputs
from gomphosis.viz.outputs import staged


@pytest.fixture(autouse=True)
def interruptible() -> Iterator[None]:
    """Let Ctrl-C raise, also where the tests run in the background of a shell."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def tree(folder: Path) -> dict[str, str | None]:
    """Return everything below a folder: texts of files, None for folders."""
    return {
        str(path.relative_to(folder)): None if path.is_dir() else path.read_text()
        for path in sorted(folder.rglob("*"))
    }


def fill(stage: Path, word: str) -> None:
    (stage / "table.csv").write_text(word)
    (stage / "fields").mkdir()
    (stage / "fields" / f"{word}.vtu").write_text(word)


FILLED = {"fields": None, "fields/new.vtu": "new", "table.csv": "new"}


def test_success_moves_everything(tmp_path: Path):
    out = tmp_path / "a" / "b"
    with staged(out) as stage:
        assert stage.parent == out
        assert list(stage.iterdir()) == []
        fill(stage, "new")
        # nothing is in place before all is complete
        assert list(out.iterdir()) == [stage]
    assert tree(out) == FILLED


def test_failure_leaves_nothing_and_removes_the_folders_it_made(tmp_path: Path):
    (tmp_path / "there").mkdir()
    with (
        pytest.raises(RuntimeError, match="broken"),
        staged(tmp_path / "there" / "a" / "b") as stage,
    ):
        fill(stage, "new")
        raise RuntimeError("broken")
    assert tree(tmp_path) == {"there": None}


@pytest.mark.parametrize("failure", [KeyboardInterrupt, OSError, SystemExit])
def test_failure_keeps_what_was_there(tmp_path: Path, failure: type[BaseException]):
    with staged(tmp_path) as stage:
        fill(stage, "old")
    (tmp_path / "mine.txt").write_text("mine")
    before = tree(tmp_path)
    with pytest.raises(failure), staged(tmp_path) as stage:
        fill(stage, "new")
        raise failure
    assert tree(tmp_path) == before


def test_folders_that_someone_else_filled_meanwhile_stay(tmp_path: Path):
    out = tmp_path / "a" / "b"
    with pytest.raises(RuntimeError), staged(out):
        (tmp_path / "a" / "other.txt").write_text("other")
        raise RuntimeError
    assert tree(tmp_path) == {"a": None, "a/other.txt": "other"}


def test_new_files_replace_old_ones_and_leave_others(tmp_path: Path):
    with staged(tmp_path) as stage:
        fill(stage, "old")
    (tmp_path / "mine.txt").write_text("mine")
    with staged(tmp_path) as stage:
        fill(stage, "new")
        # the old ones stay until the end
        assert (tmp_path / "table.csv").read_text() == "old"
        assert (tmp_path / "fields" / "old.vtu").exists()
    # a folder is replaced as a whole: no week of an older, longer run is left in it
    assert tree(tmp_path) == {**FILLED, "mine.txt": "mine"}


def test_pictures_and_fields_of_slices_go_with_the_slices(tmp_path: Path):
    """A run without slices leaves none of an older run with slices behind."""
    with staged(tmp_path) as stage:
        fill(stage, "old")
        (stage / "slice.gif").write_text("old")
        (stage / "slice.png").write_text("old")
        inner = stage / "fields" / "1-case" / "slice-11"
        inner.mkdir(parents=True)
        for suffix in ("vtu", "vti", "pvd"):
            (inner / f"old.{suffix}").write_text("old")
    assert (tmp_path / "fields" / "1-case" / "slice-11" / "old.vti").exists()
    with staged(tmp_path) as stage:
        fill(stage, "new")
        assert (tmp_path / "slice.gif").exists()
    assert tree(tmp_path) == FILLED


def test_tables_of_elastics_go_with_the_elastics(tmp_path: Path):
    """A run without elastics leaves no table of an older run with them behind."""
    with staged(tmp_path) as stage:
        fill(stage, "old")
        (stage / "elastics.csv").write_text("old")
        (stage / "elastics.parquet").write_text("old")
    assert (tmp_path / "elastics.csv").exists()
    with staged(tmp_path) as stage:
        fill(stage, "new")
    assert tree(tmp_path) == FILLED


def test_place_below_a_file(tmp_path: Path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(NotADirectoryError), staged(tmp_path / "file" / "a" / "b"):
        pytest.fail("the body ran")
    assert tree(tmp_path) == {"file": "in the way"}


def test_full_disk_at_the_first_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """The folder is made, but there is no room for a second one in it."""

    def full(**_: object) -> str:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(tempfile, "mkdtemp", full)
    with pytest.raises(OSError, match="No space left"), staged(tmp_path / "a" / "b"):
        pytest.fail("the body ran")
    assert tree(tmp_path) == {}


def test_interrupt_waits_until_all_files_are_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Ctrl-C between two moves is answered after the last one."""
    handler = signal.getsignal(signal.SIGINT)
    moved = []
    replace = outputs._replace

    def interrupted(entry: Path, target: Path) -> None:
        moved.append(target.name)
        signal.raise_signal(signal.SIGINT)
        replace(entry, target)

    monkeypatch.setattr(outputs, "_replace", interrupted)
    with pytest.raises(KeyboardInterrupt), staged(tmp_path / "out") as stage:
        fill(stage, "new")
    assert moved == ["fields", "table.csv"]
    assert tree(tmp_path / "out") == FILLED
    assert signal.getsignal(signal.SIGINT) == handler


def test_second_interrupt_does_not_stop_the_clearing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    rmtree = shutil.rmtree

    def impatient(folder: Path, **kwargs: bool) -> None:
        signal.raise_signal(signal.SIGINT)
        rmtree(folder, **kwargs)

    monkeypatch.setattr(shutil, "rmtree", impatient)
    with pytest.raises(KeyboardInterrupt), staged(tmp_path / "out") as stage:
        fill(stage, "new")
        raise KeyboardInterrupt
    assert tree(tmp_path) == {}


def test_interrupt_before_the_end_is_answered_at_once(tmp_path: Path):
    with pytest.raises(KeyboardInterrupt), staged(tmp_path / "out") as stage:
        fill(stage, "new")
        signal.raise_signal(signal.SIGINT)
        pytest.fail("the interrupt was held back")
    assert tree(tmp_path) == {}


def test_other_threads_may_write_too(tmp_path: Path):
    """Signals belong to the main thread; elsewhere there is nothing to hold back."""
    found: list[BaseException] = []

    def work() -> None:
        try:
            with staged(tmp_path / "out") as stage:
                fill(stage, "new")
        except BaseException as error:
            found.append(error)

    worker = threading.Thread(target=work)
    worker.start()
    worker.join()
    assert found == []
    assert tree(tmp_path / "out") == FILLED
