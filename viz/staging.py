"""Folders in which files are written aside, until all are complete and move into place."""

import shutil
import signal
import tempfile
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

STAGE = ".gomphosis-unfinished-"


@contextmanager
def staging(folders: Sequence[Path], move: Callable[[list[Path]], None]) -> Iterator[list[Path]]:
    """Yield an empty stage inside each folder; on success `move` empties them, then they go.

    Folders on the way are made, and go again if nothing was moved. Ctrl-C is held back while
    files move.

    Raises
    ------
    OSError
        If a folder cannot be made or written.
    """
    made: list[Path] = []
    stages: list[Path] = []
    finished = False
    try:
        for folder in folders:
            made += [p for p in (folder, *folder.parents) if not p.exists()]
            folder.mkdir(parents=True, exist_ok=True)
            stages.append(Path(tempfile.mkdtemp(prefix=STAGE, dir=folder)))
        yield stages
        with _uninterrupted():
            move(stages)
            finished = True
    finally:
        with _uninterrupted():
            for stage in stages:
                shutil.rmtree(stage, ignore_errors=True)
            if not finished:
                remove_empty(made)


def remove_empty(folders: Iterable[Path]) -> None:
    """Remove those of the folders that are there and empty, inner ones first."""
    for folder in sorted(folders, reverse=True):
        if folder.exists() and not any(folder.iterdir()):
            folder.rmdir()


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Hold back Ctrl-C for the moment in which finished files move into place."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    pressed: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, frame: pressed.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if pressed:
        raise KeyboardInterrupt
