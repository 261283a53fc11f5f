"""What a film says under its pictures at a time, in plain words."""

from dataclasses import dataclass
from functools import cached_property

from gomphosis.scenarios.key_times import (
    ALIGNED,
    ELASTICS,
    FORCE_FADED,
    PLATE_OPENS,
    VISIT,
    WIRE,
    KeyTime,
    key_times,
)
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.visit_tables import REBONDED
from gomphosis.viz.wording import pull_text, wire_text

PUSHED = (
    "A constant force presses the ligament on one side of the root and stretches it on the other: "
    "bone is resorbed where it is pressed and laid down where it is stretched."
)
LINE_UP = (
    "The wire straightens and takes the teeth with it; the ligament between root and bone is "
    "pressed on one side and stretched on the other."
)
PULLED = (
    "Teeth that are pulled together slide along the wire, which guides them; the ligament between "
    "root and bone is pressed on one side and stretched on the other."
)
WEIGHT = (PLATE_OPENS, WIRE, VISIT, ALIGNED, ELASTICS, FORCE_FADED)
"""Kinds of key times, the weightiest first."""


@dataclass(frozen=True)
class Captions:
    """The captions of a run: those of its lesson, or else what happens.

    Parameters
    ----------
    result
        A finished run.
    """

    result: RunResult

    @cached_property
    def entries(self) -> tuple[tuple[float, str], ...]:
        """Day from which each caption holds, rising, and its text."""
        lesson = self.result.scenario.lesson
        if lesson is not None and lesson.captions:
            return tuple((caption.at, caption.text) for caption in lesson.captions)
        by_day: dict[float, list[str]] = {}
        for key in self.keys:
            by_day.setdefault(key.day, []).append(self._sentence(key))
        told = {day: " ".join(dict.fromkeys(texts)) for day, texts in by_day.items()}
        told[0.0] = f"{told.get(0.0, '')} {self._moves}".strip()
        return tuple(sorted(told.items()))

    @property
    def _moves(self) -> str:
        """What moves the teeth at first."""
        if not self.result.scenario.wires:
            return PUSHED
        pulled = any(elastic.put_on == 0.0 for elastic in self.result.scenario.elastic)
        return PULLED if pulled else LINE_UP

    @cached_property
    def keys(self) -> tuple[KeyTime, ...]:
        """Key times of the run, by day."""
        return key_times(self.result)

    def at(self, day: float) -> str:
        """Return what is said at a day; nothing before the first caption."""
        said = [text for start, text in self.entries if start <= day + 1e-9]
        return said[-1] if said else ""

    def story(self) -> list[float]:
        """Return days worth a still picture, the weightiest first."""
        lesson = self.result.scenario.lesson
        if lesson is not None and lesson.captions:
            return [caption.at for caption in lesson.captions]
        return [key.day for key in sorted(self.keys, key=lambda key: WEIGHT.index(key.kind))]

    def _sentence(self, key: KeyTime) -> str:
        case = f"{key.case}: " if key.case and len(self.result.cases) > 1 else ""
        if key.kind == WIRE:
            assert key.wire is not None
            size = wire_text(self.result.scenario.wires[key.wire])
            return f"Wire {key.wire + 1}, {size}, is tied in."
        if key.kind == VISIT:
            return _visit_text(key)
        if key.kind == ELASTICS:
            return self._elastics(key)
        if key.kind == PLATE_OPENS:
            return (
                f"{case}The {key.side} plate of tooth {key.tooth} lies open: no bone is left there."
            )
        assert key.threshold is not None
        if key.kind == ALIGNED:
            return f"{case}Neighbouring slots now stand within {key.threshold:g} mm of each other."
        return (
            f"{case}Forces have faded to {100 * key.threshold:.0f} % of those at the last change."
        )

    def _elastics(self, key: KeyTime) -> str:
        parts = (
            (key.lost, "is lost"),
            (key.taken_off, "is taken off"),
            (key.put_on, "is put on"),
        )
        elastics = self.result.scenario.elastic
        return " ".join(
            f"{pull_text(elastics[k])} {done}.".capitalize() for which, done in parts for k in which
        )


def _visit_text(key: KeyTime) -> str:
    """Say what is done at a visit to the wire and to brackets."""
    wire = [word for word in key.words if word != REBONDED]
    said = [f"At this visit the wire is {' and '.join(wire)}."] if wire else []
    teeth = " and ".join(map(str, dict.fromkeys(key.rebonded)))
    if len(set(key.rebonded)) > 1:
        said.append(f"The brackets of teeth {teeth} are bonded anew.")
    elif teeth:
        said.append(f"The bracket of tooth {teeth} is bonded anew.")
    return " ".join(said)
