"""Checkpoints of one track in a folder, kept at every step so that a kill at any moment is safe.

Two checkpoint files are written in turn, so that the one before is there while the next one is
written, and should the newest be damaged.
"""

import hashlib
from pathlib import Path

from gomphosis.bone.checkpoint import Checkpoint, Reached
from gomphosis.scenarios.checkpoint_file import (
    DamagedError,
    Journal,
    Label,
    begun_only,
    read_checkpoint,
    row_bytes,
    write_checkpoint,
)

TURNS = (".a", ".b")
ROWS = ".rows"
ENDINGS = (*TURNS, ROWS)


class KeptTrack:
    """Read what was kept of a track, and keep what its next steps leave.

    Parameters
    ----------
    folder
        In which files are; made when there is something to keep.
    name
        Of the files, without ending.
    label
        Whose they are.

    Attributes
    ----------
    label
        As given.
    checkpoint
        To go on from; None where nothing was kept.
    damaged
        What was wrong with the newest file where the one before is gone on from; else None.
    day
        Reached by what is kept; None for nothing.

    Raises
    ------
    CheckpointError
        If there are files, but none to go on from.
    OSError
        If a file cannot be read.
    """

    def __init__(self, folder: Path, name: str, label: Label) -> None:
        self.label = label
        self.checkpoint: Checkpoint | None = None
        self.damaged: DamagedError | None = None
        self.day: float | None = None
        self._folder, self._name = folder, name
        self._size, self._hash = 0, hashlib.sha256()
        self._next, self._after = TURNS
        self._read()

    def keep(self, reached: Reached) -> None:
        """Keep what a step left.

        Raises
        ------
        OSError
            If a file cannot be written.
        """
        if self._size == 0:
            self._folder.mkdir(parents=True, exist_ok=True)
        row = row_bytes(reached.row)
        with self._path(ROWS).open("r+b" if self._size else "wb") as journal:
            journal.truncate(self._size)
            journal.seek(self._size)
            journal.write(row)
        self._hash.update(row)
        self._size += len(row)
        own = Journal(self._size, self._hash.hexdigest())
        write_checkpoint(self._path(self._next), self.label, reached, own)
        self._next, self._after = self._after, self._next
        self.day = reached.row.day

    def _path(self, ending: str) -> Path:
        return self._folder / f"{self._name}{ending}"

    def _read(self) -> None:
        found: dict[str, tuple[Checkpoint, Journal]] = {}
        for turn in TURNS:
            if self._path(turn).exists() and not begun_only(self._path(turn)):
                try:
                    found[turn] = read_checkpoint(self._path(turn), self.label, self._path(ROWS))
                except DamagedError as error:
                    self.damaged = error
        if not found:
            if self.damaged is not None:
                raise self.damaged
            return
        turn = max(found, key=lambda name: found[name][1].size)
        self.checkpoint, own = found[turn]
        self.day = self.checkpoint.rows[-1].day
        self._size = own.size
        self._hash = hashlib.sha256(self._path(ROWS).read_bytes()[: own.size])
        # the file gone on from stays until the next one is there
        self._after = turn
        self._next = next(other for other in TURNS if other != turn)
