"""A folder that one process has for itself."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from gomphosis.viz.staging import remove_empty

LOCK = "lock"


class BusyError(ValueError):
    """A folder that another process has."""


@contextmanager
def own_folder(folder: Path) -> Iterator[None]:
    """Make a folder and have it alone; folders that were made and are empty go in the end.

    A process that is killed gives its folder free. On systems without such locks the folder is
    taken to be free.

    Raises
    ------
    BusyError
        If another process has it.
    OSError
        If it cannot be made or written.
    """
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = folder / LOCK
        with lock.open("ab") as held:
            _take(held, folder)
            try:
                yield
            finally:
                lock.unlink(missing_ok=True)
    finally:
        remove_empty({folder, *made})


def _take(held: IO[bytes], folder: Path) -> None:
    if sys.platform == "win32":
        return
    import fcntl

    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise BusyError(
            f"{folder}: another run is writing here; accepted: another folder, or its end"
        ) from None
