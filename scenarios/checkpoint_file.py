r"""Files of a track's checkpoint: a journal that grows by one row a step, and what a step left.

A checkpoint file begins with two lines, the layout and the SHA-256 of all bytes that follow: a
line of JSON that says whose it is, and packed arrays. It names length and SHA-256 of that part of
the journal which belongs to it; what a killed process wrote beyond it does not count. The two
lines are written last: until then zeros stand for the SHA-256, and the file does not count either.
"""

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gomphosis.bone.checkpoint import Checkpoint, Reached, Row
from gomphosis.bone.states import joined, parted
from gomphosis.scenarios import messages
from gomphosis.scenarios.packed_arrays import packed, unpacked

LAYOUT = 1
"""Version of the checkpoint files that this program writes and reads."""

_OPENING = re.compile(rb"gomphosis checkpoint ([1-9][0-9]{0,5})\n([0-9a-f]{64})\n")
_NO_DIGEST = "0" * 64
_DAMAGED = "delete the folder, or run with --afresh to begin anew"


class CheckpointError(ValueError):
    """A checkpoint that is not gone on from; its text is one line."""


class DamagedError(CheckpointError):
    """A checkpoint that is not as it was written, or is another track's."""


@dataclass(frozen=True)
class Label:
    """Whose a checkpoint is.

    Attributes
    ----------
    scenario
        SHA-256 of the scenario with every default written out, and of the mesh.
    program
        Versions of all that has a say in the last bit of a result.
    case
        Name of the loads.
    quantile
        Of the rate between persons.
    """

    scenario: str
    program: Mapping[str, str]
    case: str
    quantile: float


@dataclass(frozen=True)
class Journal:
    """Length in bytes and SHA-256 of the part of a journal that belongs to a checkpoint."""

    size: int
    digest: str


def row_bytes(row: Row) -> bytes:
    """Return a row as it stands in a journal."""
    own = {
        "day": np.array([row.day]),
        "period": np.array([row.period], dtype=np.int64),
        "drift": row.drift,
        "pose": row.pose,
        "wrench": row.wrench,
        "stopped": row.stopped,
    }
    return packed(joined([own, row.left]))


def write_checkpoint(path: Path, label: Label, reached: Reached, journal: Journal) -> None:
    """Write a checkpoint file over an older one.

    It is not moved into place: on usual file systems every file that is moved over another one is
    waited for, which takes longer than a small step.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    clocks = {str(index): clock for index, clock in enumerate(reached.clocks)}
    facts = {**vars(label), "day": reached.row.day, "journal": vars(journal)}
    head = json.dumps(facts, ensure_ascii=True).encode() + b"\n"
    body = head + packed(joined([clocks, reached.loads]))
    with path.open("r+b" if path.exists() else "wb") as file:
        file.write(_opening(_NO_DIGEST))
        file.flush()
        file.write(body)
        file.truncate()
        file.flush()
        file.seek(0)
        file.write(_opening(hashlib.sha256(body).hexdigest()))


def begun_only(path: Path) -> bool:
    """Return whether a checkpoint file was being written when the process was killed."""
    begin = _opening(_NO_DIGEST)
    with path.open("rb") as file:
        return file.read(len(begin)) in (b"", begin)


def _opening(digest: str) -> bytes:
    return f"gomphosis checkpoint {LAYOUT}\n{digest}\n".encode()


def read_checkpoint(path: Path, label: Label, journal: Path) -> tuple[Checkpoint, Journal]:
    """Return the checkpoint in a file, and which part of the journal is its own.

    Raises
    ------
    DamagedError
        If the file or its journal is damaged, or they belong to another track of the run.
    CheckpointError
        If the checkpoint is of another scenario, layout or version.
    OSError
        If the file cannot be read.
    """
    content = path.read_bytes()
    opening = _OPENING.match(content)
    if opening is None:
        raise _damaged(path, "is damaged: it does not begin as a checkpoint")
    body = content[opening.end() :]
    if hashlib.sha256(body).hexdigest().encode() != opening[2]:
        raise _damaged(path, "is damaged")
    if int(opening[1]) != LAYOUT:
        raise _refused(path, f"has layout {int(opening[1])}, this program reads {LAYOUT}")
    # from here on the bytes are as they were written
    head, _, rest = body.partition(b"\n")
    facts = json.loads(head)
    _check_label(path, facts, label)
    own = Journal(**facts["journal"])
    rows = _rows(path, journal, own)
    clocks, loads = parted(unpacked(rest)[0], 2)
    return Checkpoint(rows, tuple(clocks[str(k)] for k in range(len(clocks))), loads), own


def _check_label(path: Path, facts: Mapping[str, Any], label: Label) -> None:
    if facts["scenario"] != label.scenario:
        raise _refused(path, "is of another scenario")
    if facts["program"] != dict(label.program):
        names = sorted({*facts["program"], *label.program})
        changed = [
            f"{name} {facts['program'].get(name, 'none')}, now {label.program.get(name, 'none')}"
            for name in names
            if facts["program"].get(name) != label.program.get(name)
        ]
        raise _refused(path, f"was written by another version ({'; '.join(changed)})")
    if (facts["case"], facts["quantile"]) != (label.case, label.quantile):
        raise _damaged(path, f"belongs to {facts['case']!r} at quantile {facts['quantile']:g}")


def _rows(path: Path, journal: Path, own: Journal) -> tuple[Row, ...]:
    content = journal.read_bytes()[: own.size] if journal.is_file() else b""
    if len(content) < own.size or hashlib.sha256(content).hexdigest() != own.digest:
        raise _damaged(path, f"does not fit {journal.name}, which is damaged")
    rows, end = [], 0
    while end < len(content):
        state, end = unpacked(content, end)
        row, left = parted(state, 2)
        day, period = float(row["day"][0]), int(row["period"][0])
        drift, pose, wrench = row["drift"], row["pose"], row["wrench"]
        rows.append(Row(day, period, drift, pose, wrench, row["stopped"], left))
    return tuple(rows)


def _refused(path: Path, problem: str) -> CheckpointError:
    accepted = "the scenario and the program that it was begun with, or --afresh to begin anew"
    return CheckpointError(messages.line(str(path), problem, accepted))


def _damaged(path: Path, problem: str) -> DamagedError:
    return DamagedError(messages.line(str(path), problem, _DAMAGED))
