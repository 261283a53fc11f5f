"""Single files appear all together or not at all, and take nothing away. Verification."""

import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from gomphosis.viz.staging import STAGE
from gomphosis.viz.tooth_command import draw_rotation
from gomphosis.viz.whole_files import whole_files


@pytest.fixture(autouse=True)
def interruptible() -> Iterator[None]:
    """Let Ctrl-C raise, also where the tests run in the background of a shell."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def texts(folder: Path) -> dict[str, str]:
    """Return the text of every file below a folder."""
    return {
        str(path.relative_to(folder)): path.read_text()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_files_appear_together_and_others_stay(tmp_path: Path):
    (tmp_path / "slice.png").write_text("mine")
    (tmp_path / "a.csv").write_text("old")
    new = tmp_path / "deep" / "er" / "b.png"
    with whole_files(new, None, tmp_path / "a.csv") as (first, nothing, second):
        assert nothing is None
        assert first is not None
        assert second is not None
        first.write_text("new")
        second.write_text("newer")
        assert (first.name, second.name) == ("b.png", "a.csv")
        assert all(place.parent.name.startswith(STAGE) for place in (first, second))
        assert (tmp_path / "a.csv").read_text() == "old"
        assert not new.exists()
    assert texts(tmp_path) == {"slice.png": "mine", "a.csv": "newer", "deep/er/b.png": "new"}
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.csv", "deep", "slice.png"]
    assert [path.name for path in new.parent.iterdir()] == ["b.png"]


def test_failure_keeps_old_files_and_removes_new_folders(tmp_path: Path):
    (tmp_path / "a.csv").write_text("old")
    with (
        pytest.raises(OSError, match="full"),
        whole_files(tmp_path / "x" / "y" / "b.png", tmp_path / "a.csv") as places,
    ):
        for place in places:
            place.write_text("half")
        raise OSError("full")
    assert texts(tmp_path) == {"a.csv": "old"}
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


def test_interrupt_waits_until_all_files_are_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Ctrl-C between two moves is answered after the last one."""
    handler, replace = signal.getsignal(signal.SIGINT), Path.replace
    moved = []

    def interrupted(place: Path, target: Path) -> Path:
        moved.append(target.name)
        signal.raise_signal(signal.SIGINT)
        return replace(place, target)

    monkeypatch.setattr(Path, "replace", interrupted)
    with (
        pytest.raises(KeyboardInterrupt),
        whole_files(tmp_path / "new" / "a", tmp_path / "b") as places,
    ):
        for place in places:
            place.write_text("new")
    assert moved == ["a", "b"]
    assert texts(tmp_path) == {"new/a": "new", "b": "new"}
    assert {path.name for path in tmp_path.iterdir()} == {"new", "b"}
    assert signal.getsignal(signal.SIGINT) == handler


def test_interrupt_before_the_end_is_answered_at_once(tmp_path: Path):
    with pytest.raises(KeyboardInterrupt), whole_files(tmp_path / "new" / "a") as (place,):
        place.write_text("new")
        signal.raise_signal(signal.SIGINT)
        pytest.fail("the interrupt was held back")
    assert list(tmp_path.iterdir()) == []


def test_other_threads_may_write_too(tmp_path: Path):
    """Signals belong to the main thread; elsewhere there is nothing to hold back."""

    def work() -> None:
        with whole_files(tmp_path / "a") as (place,):
            place.write_text("new")

    worker = threading.Thread(target=work)
    worker.start()
    worker.join()
    assert texts(tmp_path) == {"a": "new"}


def test_figure_of_a_tooth_beside_a_run_takes_nothing_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Pictures of slices that a run left in the folder stay."""
    old = {"slice.gif": "run", "slice.png": "run", "summary.json": "run", "fields/a.vtu": "run"}
    (tmp_path / "fields").mkdir()
    for name, text in old.items():
        (tmp_path / name).write_text(text)
    monkeypatch.setattr("gomphosis.viz.tooth_command.rotation_curves", lambda *_, **__: [])
    monkeypatch.setattr("gomphosis.viz.rotation_figure.rotation_figure", lambda *_: "drawn")
    monkeypatch.setattr(
        "gomphosis.viz.theme.save_figure", lambda figure, path: path.write_text(figure)
    )
    ligament = {"young": None, "poisson": None}
    draw_rotation(11, None, ligament=ligament, path=tmp_path / "a.png")
    assert texts(tmp_path) == old | {"a.png": "drawn"}
