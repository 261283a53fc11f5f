"""Folder in which a run keeps its checkpoints until it has ended well."""

import re
from collections.abc import Callable, Sequence
from pathlib import Path

from gomphosis.bone.checkpoint import Checkpoint, Reached
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.checkpoint_file import Label
from gomphosis.scenarios.kept_track import ENDINGS, KeptTrack
from gomphosis.scenarios.persons import MEDIAN_FIRST
from gomphosis.scenarios.program_versions import program_versions, scenario_digest
from gomphosis.scenarios.schema import Scenario

_OWN = re.compile(rf"case-\d+-rate-\d+({'|'.join(map(re.escape, ENDINGS))})")


class Unfinished:
    """Checkpoints of every track of one run: of each case at each rate.

    Parameters
    ----------
    folder
        For nothing else; need not be there.
    scenario, resolution
        As given to the run.
    cases
        Names of its cases in their order.

    Raises
    ------
    CheckpointError
        If the folder holds checkpoints of another scenario or version, or damaged ones without
        one before to go on from.
    OSError
        If a file cannot be read.
    """

    def __init__(
        self,
        folder: Path,
        scenario: Scenario,
        cases: Sequence[str],
        *,
        resolution: Resolution | None = None,
    ) -> None:
        self.folder = folder
        self._days = scenario.duration
        digest, program = scenario_digest(scenario, resolution), program_versions()
        self._tracks = {
            (case, quantile): KeptTrack(
                folder,
                f"case-{number}-rate-{round(100 * quantile)}",
                Label(digest, program, case, quantile),
            )
            for number, case in enumerate(cases, 1)
            for quantile in MEDIAN_FIRST
        }

    def checkpoint(self, case: str, quantile: float) -> Checkpoint | None:
        """Return where a track can go on from; None for its start."""
        return self._tracks[case, quantile].checkpoint

    def keeper(self, case: str, quantile: float) -> Callable[[Reached], None]:
        """Return what keeps the steps of a track."""
        return self._tracks[case, quantile].keep

    @property
    def begun(self) -> bool:
        """Whether anything is kept."""
        return any(track.day is not None for track in self._tracks.values())

    def told(self) -> list[str]:
        """Return lines that say from where the run goes on, and what was recovered."""
        lines = [
            f"{track.damaged}; went back to day {track.day:g}, the step before"
            for track in self._tracks.values()
            if track.damaged is not None
        ]
        return [*lines, f"goes on from {self.where()}"] if self.begun else lines

    def where(self) -> str:
        """Return in words how far the run is."""
        done = [track for track in self._tracks.values() if track.day == self._days]
        text = f"{len(done)} of {len(self._tracks)} tracks done"
        for track in self._tracks.values():
            if track.day is not None and track.day < self._days:
                label = track.label
                where = f"{label.case} at rate quantile {label.quantile:g}"
                return f"day {track.day:g} of {self._days:g} ({where}; {text})"
        return f"day {self._days:g} of {self._days:g} ({text})" if len(done) else "day 0"

    def remove(self) -> None:
        """Remove the checkpoints."""
        remove_checkpoints(self.folder)


def remove_checkpoints(folder: Path) -> None:
    """Remove all checkpoints in a folder, whosever they are.

    Raises
    ------
    OSError
        If a file cannot be removed.
    """
    if not folder.is_dir():
        return
    for path in folder.iterdir():
        if _OWN.fullmatch(path.name):
            path.unlink()
