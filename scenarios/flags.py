"""Remarks on a tooth's run that a reader must not miss, each with threshold and source."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.scenarios.history import ToothHistory
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.slice_result import SliceResult

LARGE_ROTATION = np.deg2rad(10.0)
OVERLAP = 0.1  # mm


@dataclass(frozen=True)
class Flag:
    """One remark: what, its largest value, the threshold it passed, and where that comes from."""

    what: str
    value: float
    threshold: float
    unit: str
    source: str
    status: str

    def document(self) -> dict[str, object]:
        """Return the flag as plain data."""
        return asdict(self)


def tooth_flags(
    result: RunResult, histories: Sequence[ToothHistory], index: int
) -> tuple[Flag, ...]:
    """Return the flags of one tooth of a case."""
    history = histories[index]
    found = [
        _overload(result, history),
        _strain(history),
        _rotation(history),
        _overlap(result, histories, index),
    ]
    return tuple(flag for flag in found if flag is not None)


def slice_flags(opened: SliceResult) -> tuple[Flag, ...]:
    """Return the flags of one opened slice."""
    strain = opened.track.strain
    largest = float(strain.max()) if len(strain) else 0.0
    flag = _strained("slice: ligament strain beyond small strains", largest)
    return () if flag is None else (flag,)


def _overload(result: RunResult, history: ToothHistory) -> Flag | None:
    limit = result.scenario.pressure_limit
    if limit is None or history.peak_pressure.max() <= limit:
        return None
    return Flag(
        "overload: pressure above the limit set in the scenario",
        1e3 * float(history.peak_pressure.max()),
        1e3 * limit,
        "kPa",
        "scenario, pressure_limit",
        "set by the user",
    )


def _strain(history: ToothHistory) -> Flag | None:
    largest = float(history.strain.max())
    closed = ": the linear law would close the gap" if largest >= 1.0 else ""
    return _strained(f"ligament strain beyond the range of the linear law{closed}", largest)


def _strained(what: str, largest: float) -> Flag | None:
    limit = lookup("ligament.strain_limit.flag")
    if largest <= limit.number:
        return None
    return Flag(what, 100 * largest, 100 * limit.number, "%", limit.source, limit.status)


def _rotation(history: ToothHistory) -> Flag | None:
    largest = float(np.abs(history.turn).max())
    if largest <= LARGE_ROTATION:
        return None
    return Flag(
        "rotation beyond the range of small rotations",
        float(np.degrees(largest)),
        float(np.degrees(LARGE_ROTATION)),
        "deg",
        "first neglected term of the sine: 0.5 % at 10 deg",
        "engineering choice",
    )


def _overlap(result: RunResult, histories: Sequence[ToothHistory], index: int) -> Flag | None:
    """Compare the distance of neighbouring crowns, where slots were at first, with contact."""
    places = np.array([tooth.place for tooth in result.teeth])
    sides = np.array([1.0 if place >= 0 else -1.0 for place in places])
    worst = 0.0
    for other in (index - 1, index + 1):
        if not 0 <= other < len(histories):
            continue
        now = [places[i] - sides[i] * histories[i].first_place[:, 2] for i in (index, other)]
        # half a crown each: where a tooth is missing between them there is room
        contact = 0.5 * sum(result.teeth[i].anatomy.crown_mesiodistal for i in (index, other))
        worst = max(worst, float(np.max(contact - np.abs(now[0] - now[1]))))
    if worst <= OVERLAP:
        return None
    return Flag(
        "crowns of neighbours would overlap: contact between teeth is not modelled",
        worst,
        OVERLAP,
        "mm",
        "crown widths of the catalogue, at the height of the slots",
        "engineering choice",
    )
