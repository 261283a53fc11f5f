"""Single files that are written aside and appear all together, or not at all."""

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import overload

from gomphosis.viz.staging import staging


@overload
def whole_files(*targets: Path) -> AbstractContextManager[list[Path]]: ...
@overload
def whole_files(*targets: Path | None) -> AbstractContextManager[list[Path | None]]: ...
@contextmanager
def whole_files(*targets: Path | None) -> Iterator[list[Path | None]]:
    """Yield a place to write for each target; on success they move there, else nothing stays.

    None stands for a file that is not wanted. Other files of the folders stay as they are.

    Raises
    ------
    OSError
        If a folder cannot be made or written.
    """
    wanted = [target for target in targets if target is not None]

    def move(stages: list[Path]) -> None:
        for stage, target in zip(stages, wanted, strict=True):
            (stage / target.name).replace(target)

    with staging([target.parent for target in wanted], move) as stages:
        free = iter(stages)
        yield [None if target is None else next(free) / target.name for target in targets]
