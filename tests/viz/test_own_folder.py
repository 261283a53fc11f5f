"""A folder for one process alone. Verification."""

import subprocess
import sys
from pathlib import Path

import pytest

from gomphosis.viz.own_folder import BusyError, own_folder

HOLD = (
    "import sys, time; from pathlib import Path\n"
    "from gomphosis.viz.own_folder import own_folder\n"
    "with own_folder(Path(sys.argv[1])):\n    print('mine', flush=True)\n    time.sleep(60)\n"
)


def test_folder_goes_again_unless_something_is_in_it(tmp_path: Path):
    folder = tmp_path / "a" / "b"
    with own_folder(folder):
        assert folder.is_dir()
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(KeyError), own_folder(folder):
        raise KeyError
    assert list(tmp_path.iterdir()) == []
    with own_folder(folder):
        (folder / "kept").write_text("x")
    assert [path.name for path in folder.iterdir()] == ["kept"]


def test_another_process_is_refused_until_the_first_is_killed(tmp_path: Path):
    words = [sys.executable, "-c", HOLD, str(tmp_path / "a")]
    with subprocess.Popen(words, stdout=subprocess.PIPE, encoding="utf-8") as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline() == "mine\n"
            message = "another run is writing here; accepted"
            with pytest.raises(BusyError, match=message), own_folder(tmp_path / "a"):
                raise AssertionError("it was not refused")
            assert (tmp_path / "a" / "lock").exists()
        finally:
            process.kill()
    with own_folder(tmp_path / "a"):
        pass
    assert not (tmp_path / "a").exists()
