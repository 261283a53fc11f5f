"""The file from which a report is made again: ``report_data.gz`` in the folder of a run.

gzip of one line of JSON, then the arrays. It names the checksums of the files beside it that a
report shows, so that a file of another run is noticed.
"""

import gzip
import hashlib
import json
import zlib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from gomphosis.viz.report_packing import unpacked
from gomphosis.viz.report_record import RECORD_VERSION, Record

DATA = "report_data.gz"
SUMMARY = "summary.json"
FORMAT = "gomphosis report data"
AGAIN = "run the scenario again"


class ReportError(ValueError):
    """A folder from which no report can be made; the message says why, in one line."""


def write_record(record: Record, folder: Path, beside: Iterable[str]) -> Path:
    """Write a record into the folder of a run, the same bytes for the same record.

    Parameters
    ----------
    record
        What the report needs.
    folder
        Of the run, with its other files.
    beside
        Names of files there that belong to the run and are shown: figures. The summary always.

    Raises
    ------
    OSError
        If a file cannot be read or written.
    """
    names = [SUMMARY, *beside]
    head = {
        "format": FORMAT,
        "files": {name: checksum(folder / name) for name in names},
        "block": hashlib.sha256(record.block).hexdigest(),
        **record.head,
        "summary": timeless(record.head["summary"]),
    }
    line = json.dumps(head, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    path = folder / DATA
    path.write_bytes(gzip.compress(line.encode() + b"\n" + record.block, 6, mtime=0))
    return path


def read_record(folder: Path) -> tuple[Record, bytes]:
    """Read the record of a finished run, and the bytes of its file.

    Raises
    ------
    ReportError
        If the folder holds no record, or one that is damaged, of another version, or of another
        run than the files beside it.
    """
    path = folder / DATA
    try:
        packed = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        raise ReportError(
            f"{folder}: holds no {DATA}; expected the folder of a finished run"
        ) from None
    head, block = _opened(path, packed)
    if head.get("format") != FORMAT:
        raise ReportError(f"{path}: is not the data of a report; {AGAIN}")
    if head.get("version") != RECORD_VERSION:
        raise ReportError(
            f"{path}: has version {head.get('version')}, this program reads {RECORD_VERSION}; "
            f"{AGAIN}"
        )
    if hashlib.sha256(block).hexdigest() != head.get("block"):
        raise ReportError(f"{path}: is damaged; {AGAIN}")
    _check_arrays(path, head.get("cases"), block)
    _check_beside(folder, head["files"])
    return Record(head, block), packed


def _opened(path: Path, packed: bytes) -> tuple[dict[str, Any], bytes]:
    try:
        line, _, block = gzip.decompress(packed).partition(b"\n")
        head = json.loads(line)
    except (OSError, EOFError, zlib.error, ValueError):
        raise ReportError(f"{path}: is damaged; {AGAIN}") from None
    if not isinstance(head, dict):
        raise ReportError(f"{path}: is not the data of a report; {AGAIN}")
    return head, block


def _check_arrays(path: Path, part: Any, block: bytes) -> None:  # noqa: ANN401 - plain data
    if isinstance(part, dict) and "kind" in part and "shape" in part:
        try:
            unpacked(block, part)
        except (ValueError, TypeError, KeyError):
            raise ReportError(f"{path}: is damaged; {AGAIN}") from None
    elif isinstance(part, dict):
        for value in part.values():
            _check_arrays(path, value, block)
    elif isinstance(part, list):
        for value in part:
            _check_arrays(path, value, block)


def _check_beside(folder: Path, files: dict[str, str]) -> None:
    for name, expected in files.items():
        path = folder / name
        if not path.is_file():
            raise ReportError(f"{path}: is missing beside {DATA}; {AGAIN}")
        if checksum(path) != expected:
            raise ReportError(f"{path}: does not belong to {DATA} beside it; {AGAIN}")


def checksum(path: Path) -> str:
    """Return the checksum of a file of a run; that of a summary leaves out the time it took."""
    content = path.read_bytes()
    if path.name == SUMMARY:
        try:
            document = json.loads(content)
        except ValueError:
            document = {"text": content.hex()}
        content = json.dumps(timeless(document), sort_keys=True).encode()
    return hashlib.sha256(content).hexdigest()


def timeless(document: dict[str, Any]) -> dict[str, Any]:
    """Return a summary without what differs from run to run of the same scenario."""
    return {key: value for key, value in document.items() if key != "wall_time_s"}
