"""What a report is made from: one record of a finished run, complete in itself."""

from dataclasses import asdict, dataclass
from importlib.metadata import version
from typing import Any

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.section import Array
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.input_sources import input_rows
from gomphosis.scenarios.key_times import IN_LINE, SOURCE, out_of_line
from gomphosis.scenarios.result import CaseResult, RunResult, rows_at
from gomphosis.scenarios.vtu import KILO
from gomphosis.viz import palette
from gomphosis.viz.captions import Captions
from gomphosis.viz.film_scene import LEAST_FORCE
from gomphosis.viz.report_arch import ArchScene
from gomphosis.viz.report_numbers import tooth_numbers
from gomphosis.viz.report_packing import Packing
from gomphosis.viz.report_slices import slice_document
from gomphosis.viz.report_steps import report_days, report_frames, report_records
from gomphosis.viz.slice_figure import largest_traction
from gomphosis.viz.slice_view import SliceView, slice_views
from gomphosis.viz.wall_map import LEAST_TRACTION
from gomphosis.viz.wording import wire_text

RECORD_VERSION = 4
LEAST_MOMENT = 0.1  # N·mm, engineering choice: a smaller one has no arc worth a look


@dataclass(frozen=True)
class Record:
    """One run as a report needs it.

    Attributes
    ----------
    head
        Plain data: texts, days, and where each array lies in the block.
    block
        All arrays, as `gomphosis.viz.report_packing` keeps them.
    """

    head: dict[str, Any]
    block: bytes


def report_record(result: RunResult, document: dict[str, Any]) -> Record:
    """Gather what a report shows of a run.

    Parameters
    ----------
    result
        The run.
    document
        Its summary.
    """
    packing = Packing()
    captions = Captions(result)
    keys = captions.keys
    days = report_days(result, keys, [day for day, _ in captions.entries])
    views = slice_views(result)
    head = {
        "version": RECORD_VERSION,
        "program": version("gomphosis"),
        "summary": document,
        "upper": result.teeth[0].anatomy.upper,
        "days": [float(day) for day in days],
        "keys": [asdict(key) for key in keys],
        "captions": [[day, text] for day, text in captions.entries],
        "wires": [wire_text(wire) for wire in result.scenario.wires],
        "inputs": [asdict(row) for row in input_rows(result.scenario)],
        "pressure_line_kPa": lookup("pressure_line.capillary").number,
        "neutral_below_kPa": KILO * result.scenario.neutral_below,
        "scales": _scales(result, views),
        "cases": _cases(packing, result, days, views),
    }
    return Record(head, packing.bytes())


def _scales(result: RunResult, views: tuple[SliceView, ...]) -> dict[str, float]:
    """Return what stands at the ends of the colour scales, fixed over all days and cases."""
    walls = [
        np.abs(tooth.wall.stress(case.median.wrench[:, k]).normal).max()
        for case in result.cases
        for k, tooth in enumerate(result.teeth)
    ]
    moved = [
        np.linalg.norm(history.crown, axis=1).max()
        for case in result.cases
        for history in histories(result, case)
    ]
    displaced = [
        np.abs(frame.state.displacement).max() for v in views for frame in v.opened.track.frames
    ]
    return {
        "wall_traction_kPa": max(LEAST_TRACTION, KILO * float(max(walls))),
        "slice_traction_kPa": largest_traction(views) if views else LEAST_TRACTION,
        "moved_mm": max(0.05, float(max(moved))),
        "displaced_mm": max([0.001, *map(float, displaced)]),
        "force_N": _largest_force(result),
        "moment_Nmm": _largest_moment(result),
    }


def _largest_force(result: RunResult) -> float:
    forces = [case.median.wrench[..., :3] for case in result.cases]
    return max(LEAST_FORCE, *(float(np.linalg.norm(f, axis=-1).max()) for f in forces))


def _largest_moment(result: RunResult) -> float:
    moments = [
        np.linalg.norm(history.at_bracket[:, 3:], axis=1).max()
        for case in result.cases
        for history in histories(result, case)
    ]
    return max(LEAST_MOMENT, float(max(moments)))


def _cases(
    packing: Packing, result: RunResult, days: Array, views: tuple[SliceView, ...]
) -> list[dict[str, Any]]:
    found = []
    force = _largest_force(result)
    for case, records in zip(result.cases, report_records(result, days), strict=True):
        rows = {q: rows_at(track, days) for q, track in case.tracks.items()}
        document: dict[str, Any] = {
            "name": case.name,
            "wires": bool(case.wires),
            "teeth": tooth_numbers(packing, result, case, rows),
            "arch": ArchScene(result, case, records, force).document(packing),
            "slices": [
                slice_document(packing, view, report_frames(view.opened, days, len(views)))
                for view in views
                if view.case is case
            ],
        }
        found.append(document | _line(result, case))
    return found


def _line(result: RunResult, case: CaseResult) -> dict[str, Any]:
    """Return how far neighbouring slots are out of line at the start and the end, mm."""
    if not case.wires or len(result.teeth) < 2:
        return {}
    steps = out_of_line(histories(result, case))
    return {
        "out_of_line": {
            "start_mm": float(steps[0]),
            "end_mm": float(steps[-1]),
            "threshold_mm": IN_LINE,
            "source": SOURCE,
        }
    }


def colours() -> dict[str, Any]:
    """Return the colours of a page's pictures, those of all other pictures."""
    ramp = palette.traction_bytes()[::8]
    return {
        "paper": palette.PAPER,
        "ink": palette.INK,
        "quiet": palette.QUIET,
        "metal": palette.METAL,
        "rule": palette.RULE,
        "tooth": palette.TOOTH,
        "tooth_edge": palette.TOOTH_EDGE,
        "root": palette.ROOT,
        "soft": palette.SOFT_TISSUE,
        "ligament": palette.LIGAMENT,
        "bone_new": palette.BONE_NEW,
        "bone_full": palette.BONE_FULL,
        "compression": palette.COMPRESSION,
        "tension": palette.TENSION,
        "neutral": palette.NEUTRAL,
        "force": palette.SERIES[5],
        "moved": palette.SERIES[1],
        "ramp": ["#" + bytes(colour).hex() for colour in ramp],
    }
