"""Single files that are written aside and appear all together, or not at all."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

STAGE = ".gomphosis-unfinished-"


@contextmanager
def whole_files(*targets: Path | None) -> Iterator[list[Path | None]]:
    """Yield a place to write for each target; on success they move there, else nothing stays.

    None stands for a file that is not wanted. Folders on the way are made, and go again if
    nothing was written.

    Raises
    ------
    OSError
        If a folder cannot be made or written.
    """
    wanted = [target for target in targets if target is not None]
    made: list[Path] = []
    stages: list[Path] = []
    finished = False
    try:
        places: list[Path | None] = []
        for target in targets:
            if target is None:
                places.append(None)
                continue
            made += [p for p in (target.parent, *target.parent.parents) if not p.exists()]
            target.parent.mkdir(parents=True, exist_ok=True)
            stages.append(Path(tempfile.mkdtemp(prefix=STAGE, dir=target.parent)))
            places.append(stages[-1] / target.name)
        yield places
        for stage, target in zip(stages, wanted, strict=True):
            (stage / target.name).replace(target)
        finished = True
    finally:
        for stage in stages:
            shutil.rmtree(stage, ignore_errors=True)
        if not finished:
            for folder in sorted(made, reverse=True):
                if folder.exists() and not any(folder.iterdir()):
                    folder.rmdir()
