"""How a root moves: type of movement, centre of rotation and displacement of the apex."""

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.scenarios.kinematics import STILL, tipping_type
from gomphosis.scenarios.root_quantities import Origin, Quantity, band_text, number_text
from gomphosis.scenarios.root_runs import RootRuns, finite, weekly_series


def movement_found(root: RootRuns) -> Quantity:
    """Classify the movement by the published ratio of apical to incisal movement."""
    part = 1 + root.across
    ends = [(float(run.crown[-1, part]), float(run.apex[-1, part])) for run in root.runs]
    moved = [max(abs(edge), abs(apex)) >= STILL for edge, apex in ends]
    ratios = tuple(
        apex / edge if far and abs(edge) > 1e-12 else None
        for far, (edge, apex) in zip(moved, ends, strict=True)
    )
    kinds = tuple(run.movement[-1] for run in root.runs)
    cited = lookup("movement_type.translation")
    foreign = root.number % 10 > 2
    bounds = _class_bounds(tipping_type(*ends[1])) if moved[1] else ()
    return Quantity(
        "movement_type",
        f"apical over incisal movement, {root.plane} plane",
        "1",
        ratios,
        _movement_words(root, kinds, ratios, foreign=foreign),
        Origin(bounds, cited.source, cited.status, foreign),
        words=kinds,
    )


def _movement_words(
    root: RootRuns, kinds: tuple[str, ...], ratios: tuple[float | None, ...], *, foreign: bool
) -> str:
    if ratios[1] is None:
        return f"The model shows no apical over incisal movement of tooth {root.number} to tell."
    others = "" if len(set(kinds)) == 1 else f" (slow: {kinds[0]}; fast: {kinds[2]})"
    table = "; the table was made on incisors" if foreign else ""
    return (
        f"The model shows {kinds[1]}{others} of tooth {root.number} {root.end}: in the "
        f"{root.plane} plane the apex moves {band_text(ratios, '1')} times as far as the incisal "
        f"edge{table}."
    )


def _class_bounds(kind: str) -> tuple[float, ...]:
    """Return the published bounds of a type of movement; root movement lies outside of two."""
    if kind == "root movement":
        return tuple(
            lookup(f"movement_type.root_movement_{end}").number for end in ("below", "above")
        )
    return lookup(f"movement_type.{kind.replace(' ', '_')}").numbers


def rotation_found(root: RootRuns) -> Quantity:
    """Tell about which point of its long axis the tooth has turned since the start."""
    ends = tuple(finite(run.rotation_centre[-1, root.across]) for run in root.runs)
    words = (
        "no centre of rotation: it does not turn, or too little for its movement"
        if ends[1] is None
        else f"a turn about a point {band_text(ends, 'mm', digits=1)} below the bone crest"
    )
    return Quantity(
        "centre_of_rotation",
        f"centre of rotation below the crest since the start, {root.plane} plane",
        "mm",
        ends,
        f"The model shows for tooth {root.number} {root.end} {words}.",
    )


def apex_found(root: RootRuns) -> Quantity:
    """Tell how far the apex has gone since the start."""
    ends = tuple(float(np.linalg.norm(run.apex[-1])) for run in root.runs)
    way = root.runs[1].apex[-1]
    parts = ", ".join(
        f"{word} {number_text(value)}"
        for word, value in zip(("extrusion", "labial", "mesial"), way.tolist(), strict=True)
    )
    return Quantity(
        "apex_displacement",
        "displacement of the apex since the start",
        "mm",
        ends,
        f"The model shows the apex of tooth {root.number} displaced by {band_text(ends, 'mm')} "
        f"{root.end} (median: {parts}); the library has no threshold for it.",
    )


def rotation_weekly(root: RootRuns) -> list[Quantity]:
    """Tell the centre of rotation since the start at the end of each week."""
    plane = root.across
    values = root.at_weeks([run.rotation_centre[:, plane] for run in root.runs])
    name = f"centre of rotation below the crest, {root.plane} plane"
    return weekly_series(root, "centre_of_rotation", name, values)


def apex_weekly(root: RootRuns) -> list[Quantity]:
    """Tell the apex's displacement at the end of each week."""
    values = root.at_weeks([np.linalg.norm(run.apex, axis=1) for run in root.runs])
    return weekly_series(root, "apex_displacement", "displacement of the apex", values)
