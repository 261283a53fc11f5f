"""How near a root comes to the plates beside it, and when."""

from collections.abc import Sequence
from dataclasses import dataclass

from gomphosis.fem.section import Array
from gomphosis.scenarios.plates import Plate, first_day, plates_of, root_outline, socket_wall
from gomphosis.scenarios.root_quantities import Origin, Quantity, band_text, number_text
from gomphosis.scenarios.root_runs import RootRuns, weekly_series


@dataclass(frozen=True)
class _Meeting:
    """What nears which face of a plate."""

    key: str
    what: str
    face: str


ROOT = _Meeting("clearance", "root", "inner face")
SOCKET = _Meeting("bone_left", "socket wall", "outer face")


def plate_findings(root: RootRuns) -> tuple[list[Quantity], list[Quantity]]:
    """Return clearances of the whole run and at the end of each week; none without plates.

    The root stands where the load holds it, the socket wall where the bone has drifted to.
    """
    whole, by_week = [], []
    for plate in known_plates(root):
        gap = [plate.clearance(root_outline(root.tooth), pose) for pose in root.planar("pose")]
        left = [plate.bone_left(socket_wall(root.tooth), drift) for drift in root.planar("drift")]
        for meeting, distances in ((ROOT, gap), (SOCKET, left)):
            whole += [
                _least(root, plate, meeting, distances),
                _week(root, plate, meeting, distances),
            ]
        by_week += weekly_series(
            root,
            f"{ROOT.key}_{plate.side}",
            f"least distance of the root from the {ROOT.face} of the {plate.side} plate",
            root.at_weeks(gap),
            origin=_origin(plate, (0.0,)),
        )
    return whole, by_week


def known_plates(root: RootRuns) -> tuple[Plate, ...]:
    """Return the plates of a tooth of a run that are known."""
    opened = (s.model for s in root.case.slices if s.model.index == root.index)
    return plates_of(root.result.scenario, root.tooth, next(opened, None))


def _origin(plate: Plate, threshold: tuple[float, ...]) -> Origin:
    return Origin(threshold, plate.source, plate.status, plate.extrapolated)


def _least(root: RootRuns, plate: Plate, meeting: _Meeting, distances: Sequence[Array]) -> Quantity:
    least = tuple(float(values.min()) for values in distances)
    return Quantity(
        f"{meeting.key}_{plate.side}",
        f"least distance of the {meeting.what} from the {meeting.face} of the {plate.side} plate",
        "mm",
        least,
        f"The model shows the {meeting.what} of tooth {root.number} {root.end} no nearer than "
        f"{band_text(least, 'mm')} to the {meeting.face} of the {plate.side} plate, as that stood "
        "at the start.",
        _origin(plate, (0.0,)),
    )


def _week(root: RootRuns, plate: Plate, meeting: _Meeting, distances: Sequence[Array]) -> Quantity:
    days = [first_day(run.days, values) for run, values in zip(root.runs, distances, strict=True)]
    weeks = tuple(None if day is None else day / 7 for day in days)
    subject = f"the {meeting.what} of tooth {root.number}"
    place = f"the {meeting.face} of the {plate.side} plate"
    return Quantity(
        f"{meeting.key}_{plate.side}_week",
        f"week in which the {meeting.what} reaches {place}",
        "week",
        weeks,
        _meeting_words(root, f"{subject} reaches {place}, as that stood at the start", weeks),
        _origin(plate, ()),
    )


def _meeting_words(root: RootRuns, event: str, weeks: tuple[float | None, ...]) -> str:
    if all(week is None for week in weeks):
        return f"None of the three runs of the model shows {root.end} that {event}."
    slow, median, fast = (
        f"not {root.end}" if week is None else f"in week {number_text(week, 1)}" for week in weeks
    )
    return (
        f"In the model {event}: {median} at the median rate, {slow} at the slow and {fast} at the "
        "fast one."
    )
