"""What slices of a run return, beside what the body of revolution says of the same tooth."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from gomphosis.bone.loop import Track
from gomphosis.bone.perforation import Opening
from gomphosis.bone.slice_run import Frame, SliceTrack, follow_slice
from gomphosis.fem.cholesky import best_factorise
from gomphosis.fem.section import Array
from gomphosis.fem.sparse_solve import scipy_factor
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.slice_model import (
    SIDE_NAMES,
    SliceModel,
    in_plane,
    last_of_day,
    slice_loads,
)

SAME_DAY = 1e-9  # day
MOST_FRAMES = 44  # states kept beside those of whole weeks: every other day of twelve weeks
MOST_BYTES = 2e8  # that they may take in memory, all slices of a run together
CHANGING = 3 * 8  # bytes of a cell that change from day to day: bone, mineral, covered


@dataclass(frozen=True)
class SliceResult:
    """One tooth opened as a plane and followed under the loads of its run.

    Attributes
    ----------
    model, track
        The slice and its record.
    beside
        Pose of the body of revolution in the plane on the same days, (x, z, turn), shape (T, 3).
    edge, apex
        Heights of incisal edge and apex above the crest, mm.
    """

    model: SliceModel
    track: SliceTrack
    beside: Array
    edge: float
    apex: float

    @property
    def pose(self) -> Array:
        """Place of the loaded tooth, (x, z, turn) about the crest, mm and rad, shape (T, 3)."""
        return self.track.drift + self.track.motion

    def frame_at(self, day: float) -> Frame:
        """Return the last kept state at or before a day.

        Raises
        ------
        LookupError
            If none was kept, as in a slice that stopped at once.
        """
        kept = [frame for frame in self.track.frames if frame.day <= day + SAME_DAY]
        if not kept:
            raise LookupError(f"no state of tooth {self.model.number} was kept by day {day:g}")
        return kept[-1]

    def difference(self, height: float) -> Array:
        """Return how far slice and body of revolution part at a height, mm, shape (T,)."""
        apart = self.pose - self.beside
        return np.hypot(apart[:, 0] + height * apart[:, 2], apart[:, 1])


def follow_slices(
    models: Sequence[SliceModel],
    teeth: Sequence[ToothModel],
    track: Track,
    *,
    rate_factor: float,
    keep: Sequence[float],
    progress: Callable[[float, str], None],
) -> tuple[SliceResult, ...]:
    """Follow every slice under the in-plane loads of a run."""
    results = []
    for index, model in enumerate(models):
        days, load = slice_loads(model, track)

        def on_day(day: float, index: int = index, model: SliceModel = model) -> None:
            share = (index + day / float(track.days[-1])) / len(models)
            progress(share, f"slice of tooth {model.number}")

        # a ligament with a law factors its own tangents, which a series of factors cannot share
        linear = model.case.ligament is None
        found = follow_slice(
            model.case,
            days,
            load,
            rate_factor=rate_factor,
            keep=keep,
            factorise=best_factorise() if linear else scipy_factor,
            progress=on_day,
        )
        pose = in_plane(model.number, model.plane, track.pose[last_of_day(track), model.index])
        tooth = teeth[model.index]
        results.append(
            SliceResult(model, found, pose[: len(found.days)], tooth.edge_height, -tooth.embedded)
        )
    return tuple(results)


def kept_days(track: Track, weeks: Array, models: Sequence[SliceModel], cases: int) -> Array:
    """Return the days of a track whose states are kept: those of the weeks, and some between.

    Between them a state is kept every day or every few days, so many that the density maps of
    all slices in all cases stay within 200 MB.

    Parameters
    ----------
    weeks
        Days from which the weekly outputs are taken.
    """
    frame = max((CHANGING * model.case.bones.bone.size for model in models), default=1)
    most = min(MOST_FRAMES, int(MOST_BYTES / (frame * max(1, len(models) * cases))))
    end = float(track.days[-1])
    between = np.arange(0.0, end, max(1.0, np.ceil(end / most))) if most else np.zeros(0)
    wanted = np.concatenate([weeks, between])
    rows = np.searchsorted(track.days, wanted + SAME_DAY, side="right") - 1
    return np.unique(track.days[rows])


def lasting(openings: Sequence[Opening]) -> tuple[Opening, ...]:
    """Return openings but those that a larger one on the same side takes in.

    The larger one is dated from the first day on which any part of it lay open.
    """
    kept = [
        opening
        for k, opening in enumerate(openings)
        # of two of the same extent the first is kept
        if not any(
            _takes_in(other, opening) and (i < k or not _takes_in(opening, other))
            for i, other in enumerate(openings)
            if i != k
        )
    ]
    return tuple(
        replace(
            opening,
            first_day=min(
                other.first_day
                for other in openings
                if other is opening or _takes_in(opening, other)
            ),
        )
        for opening in kept
    )


def _takes_in(larger: Opening, smaller: Opening) -> bool:
    return (
        larger.side == smaller.side
        and larger.lowest <= smaller.lowest
        and smaller.highest <= larger.highest
    )


def slice_document(result: SliceResult) -> dict[str, Any]:
    """Return a slice's result as plain data; units stand in the names."""
    track, plane = result.track, result.model.plane
    document: dict[str, Any] = {"plane": plane, "stopped": track.stopped or None}
    if not len(track.days):
        return document
    last = result.pose[-1]
    sides: dict[int, str] = dict(zip((1, -1), SIDE_NAMES[plane], strict=True))
    return document | {
        "days": float(track.days[-1]),
        "crown_movement_mm": _moved(last, result.edge, sides[1]),
        "apex_movement_mm": _moved(last, result.apex, sides[1]),
        "turn_deg": float(np.degrees(last[2])),
        "difference_from_body_of_revolution_mm": {
            "crown": float(result.difference(result.edge)[-1]),
            "apex": float(result.difference(result.apex)[-1]),
        },
        "least_plate_mm": {
            name: {"start": float(track.plate[0, k]), "end": float(track.plate[-1, k])}
            for k, name in enumerate(sides.values())
        },
        "openings": [_opening(opening, sides) for opening in lasting(track.openings)],
        "bone_mm2": {
            "swept": track.books.swept,
            "vacated": track.books.vacated,
            "resorbed": track.books.resorbed,
            "deposited": track.books.deposited,
            "mineral_removed": track.books.mineral_removed,
            "mineral_gained": track.books.mineral_deposited + track.books.mineral_matured,
        },
        "worst_book_residual": track.worst_residual,
        "swept_area_mismatch": float(track.mismatch.mean()),
        "largest_strain": float(track.strain.max()),
    }


def _moved(pose: Array, height: float, side: str) -> dict[str, float]:
    return {side: float(pose[0] + height * pose[2]), "extrusion": float(pose[1])}


def _opening(opening: Opening, sides: dict[int, str]) -> dict[str, Any]:
    return {
        "kind": opening.kind,
        "side": sides[opening.side],
        "from_below_crest_mm": -float(opening.highest),
        "to_below_crest_mm": -float(opening.lowest),
        "first_week": opening.first_day / 7,
        "last_week": opening.last_day / 7,
    }
