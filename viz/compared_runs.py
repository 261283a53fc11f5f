"""Two finished runs beside each other: what is drawn of each, and what both have."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.key_times import WIRE
from gomphosis.viz import theme
from gomphosis.viz.film_scene import LEAST_FORCE
from gomphosis.viz.report_packing import unpacked
from gomphosis.viz.report_record import Record
from gomphosis.viz.report_store import ReportError, read_record
from gomphosis.viz.wall_map import LEAST_TRACTION
from gomphosis.viz.wording import DAYS_A_WEEK, INVENTED

LETTERS = ("A", "B")
MOST_TEETH = 4  # with curves of their own
SAME_DAY = 1e-9


@dataclass(frozen=True)
class ComparedRun:
    """One case of a finished run, read from its record alone.

    Parameters
    ----------
    letter
        ``A`` or ``B``.
    record
        Of the run.
    index
        Of the case.
    """

    letter: str
    record: Record
    index: int = 0

    @property
    def head(self) -> dict[str, Any]:
        """Plain data of the record."""
        return self.record.head

    @property
    def case(self) -> dict[str, Any]:
        """Plain data of the case."""
        return self.head["cases"][self.index]

    @property
    def heading(self) -> str:
        """Letter, title, and the case where there are several."""
        title = self.head["summary"]["scenario"]["title"]
        cases = self.head["cases"]
        which = f" · case {self.index + 1} of {len(cases)}: {self.case['name']}"
        return theme.printable(f"{self.letter}: {title}{which if len(cases) > 1 else ''}")

    @property
    def invented(self) -> bool:
        """Whether its data are made up."""
        return bool(self.head["summary"]["scenario"].get("invented"))

    @cached_property
    def days(self) -> Array:
        """Days of the record, rising."""
        return np.array(self.head["days"], dtype=float)

    @property
    def end(self) -> float:
        """Last day."""
        return float(self.days[-1])

    @cached_property
    def numbers(self) -> tuple[int, ...]:
        """Teeth of the run."""
        return tuple(tooth["number"] for tooth in self.case["teeth"])

    def series(self, number: int, name: str) -> Array:
        """Return a quantity of a tooth on the days of the record."""
        tooth = self.case["teeth"][self.numbers.index(number)]
        return unpacked(self.record.block, tooth[name])

    def drawing(self, k: int, name: str) -> Array:
        """Return an outline or another part of the drawing of the k-th tooth."""
        return unpacked(self.record.block, self.case["arch"]["teeth"][k][name])

    def wire(self, view: str) -> Array | None:
        """Return the wire in a view, ``front`` or ``above``, shape (days, points, 2)."""
        place = self.case["arch"].get(f"wire_{view}")
        return None if place is None else unpacked(self.record.block, place)

    def facts(self, number: int) -> dict[str, Any]:
        """Return the summary of a tooth."""
        summary = self.head["summary"]
        cases = summary.get("cases", {summary["case"]: {"teeth": summary["teeth"]}})
        return cases[self.case["name"]]["teeth"][str(number)]

    def row(self, day: float) -> int:
        """Return the last record at or before a day; after the end the last one."""
        return int(np.searchsorted(self.days, day + SAME_DAY, side="right")) - 1

    def ended(self, day: float) -> bool:
        """Return whether the run has ended before a day."""
        return day > self.end + SAME_DAY

    def acting(self, day: float) -> str:
        """Return the wire in place at a day; nothing where forces are prescribed."""
        tied = [key["wire"] for key in self.wire_keys if key["day"] <= day + SAME_DAY]
        return self.head["wires"][tied[-1]] if tied else ""

    @property
    def wire_keys(self) -> list[dict[str, Any]]:
        """Days on which wires are tied in."""
        return [key for key in self.head["keys"] if key["kind"] == WIRE]

    def week_of(self, kind: str) -> float | None:
        """Return the week of a key time of this case, or None where there is none."""
        found = [
            key["day"] / DAYS_A_WEEK
            for key in self.head["keys"]
            if key["kind"] == kind and key["case"] == self.case["name"]
        ]
        return found[0] if found else None

    @property
    def captions(self) -> list[tuple[float, str]]:
        """Day and text of every caption of the record; none where it holds none."""
        found = self.head.get("captions", [])
        return [(float(day), theme.printable(text)) for day, text in found]

    def caption(self, day: float) -> str:
        """Return what is said at a day."""
        said = [text for start, text in self.captions if start <= day + SAME_DAY]
        return said[-1] if said else ""

    @cached_property
    def largest_force(self) -> float:
        """Largest force on a tooth, N."""
        found = [float(np.nanmax(self.series(n, "force_N"))) for n in self.numbers]
        return max(LEAST_FORCE, *found)

    @cached_property
    def largest_traction(self) -> float:
        """Largest traction on the sides of sockets that are drawn, kPa."""
        found = [np.abs(self.drawing(k, "normal")).max() for k in range(len(self.numbers))]
        return max(LEAST_TRACTION, *map(float, found))


@dataclass(frozen=True)
class Pair:
    """Two runs to be compared.

    Parameters
    ----------
    first, second
        A and B.
    """

    first: ComparedRun
    second: ComparedRun

    @property
    def runs(self) -> tuple[ComparedRun, ComparedRun]:
        """Both."""
        return self.first, self.second

    @property
    def end(self) -> float:
        """Last day of the longer one."""
        return max(run.end for run in self.runs)

    @property
    def common_end(self) -> float:
        """Last day of the shorter one."""
        return min(run.end for run in self.runs)

    @cached_property
    def different_inputs(self) -> tuple[dict[str, Any], ...]:
        """Inputs whose values differ: key, and the value of each, None where it has no such one."""
        first, second = (
            {row["key"]: row["value"] for row in run.head["inputs"]} for run in self.runs
        )
        return tuple(
            {"key": key, "A": first.get(key), "B": second.get(key)}
            for key in dict.fromkeys((*first, *second))
            if first.get(key) != second.get(key)
        )

    @property
    def headings(self) -> tuple[str, ...]:
        """Heading of each; where they read alike, with the first input in which they differ."""
        found = self.different_inputs
        alike = len({run.heading.removeprefix(run.letter) for run in self.runs}) == 1
        if not (alike and found):
            return tuple(run.heading for run in self.runs)
        first = found[0]
        more = f" (first of {len(found)} differences)" if len(found) > 1 else ""
        told = [f"{first['key']} {first[letter] or 'not given'}{more}" for letter in LETTERS]
        return tuple(
            f"{run.heading} · {theme.printable(text)}"
            for run, text in zip(self.runs, told, strict=True)
        )

    @cached_property
    def common(self) -> tuple[int, ...]:
        """Teeth that both have, in the order of A."""
        return tuple(n for n in self.first.numbers if n in self.second.numbers)

    @cached_property
    def shown(self) -> tuple[int, ...]:
        """Teeth with curves: those of both that move most, or of each where none is in both."""
        if self.common:
            return self._most_moved(self.common, self.runs, MOST_TEETH)
        half = MOST_TEETH // 2
        return tuple(n for run in self.runs for n in self._most_moved(run.numbers, (run,), half))

    @staticmethod
    def _most_moved(
        numbers: Sequence[int], runs: Sequence[ComparedRun], most: int
    ) -> tuple[int, ...]:
        """Return the teeth that move most in any of some runs, in their given order."""
        reach = {
            n: max(float(run.series(n, "crown_band_mm")[:, 1].max()) for run in runs)
            for n in numbers
        }
        chosen = sorted(numbers, key=lambda n: -reach[n])[:most]
        return tuple(n for n in numbers if n in chosen)

    @property
    def note(self) -> str:
        """What the choice of teeth leaves out."""
        if not self.common:
            return "The runs have no tooth in common: each curve belongs to one of them."
        if len(self.shown) < len(self.common):
            return (
                f"Curves of the {len(self.shown)} teeth that move most, of {len(self.common)} "
                "that both runs have."
            )
        return ""

    @property
    def mark(self) -> str:
        """Mark of made-up data, with the letter where only one run has it."""
        letters = [run.letter for run in self.runs if run.invented]
        if not letters:
            return ""
        return INVENTED if len(letters) == len(self.runs) else f"{letters[0]}: {INVENTED}"

    def story(self) -> list[float]:
        """Return days worth a still picture: those on which something happens in either run."""
        said = [day for run in self.runs for day, _ in run.captions]
        keys = [key["day"] for run in self.runs for key in run.head["keys"]]
        return [*(run.end for run in self.runs), *said, *keys]

    @cached_property
    def largest_force(self) -> float:
        """Of both, N."""
        return max(run.largest_force for run in self.runs)

    @cached_property
    def largest_traction(self) -> float:
        """Of both, kPa."""
        return max(run.largest_traction for run in self.runs)


def read_pair(folders: Sequence[Path], cases: Sequence[str] = ()) -> Pair:
    """Read two finished runs.

    Parameters
    ----------
    folders
        Two.
    cases
        Names of the cases: none for the first of each, one for both, or one for each.

    Raises
    ------
    ReportError
        If a folder holds no finished run, or a run has no such case.
    """
    wanted = [None, None] if not cases else [cases[0], cases[-1]]
    runs = []
    for letter, folder, name in zip(LETTERS, folders, wanted, strict=True):
        record, _ = read_record(folder)
        runs.append(ComparedRun(letter, record, _case_index(folder, record, name)))
    return Pair(*runs)


def _case_index(folder: Path, record: Record, name: str | None) -> int:
    names = [case["name"] for case in record.head["cases"]]
    if name is None:
        return 0
    if name not in names:
        raise ReportError(f"{folder}: has no case {name!r}; accepted: {', '.join(names)}")
    return names.index(name)
