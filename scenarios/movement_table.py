"""Table of a run, one row per case, tooth and record, and its CSV and Parquet files."""

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from gomphosis.bone.directions import FORCE_WORDS, MOMENT_WORDS, ORIENTATION_WORDS
from gomphosis.fem.section import Array
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.kinematics import PLANES
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.stages import Stage, stages

MISSING = "—"
POSITION_WORDS = ("vertical", "labial", "mesial")
ZONES = ("compression", "neutral", "tension")


def movement_table(result: RunResult) -> pd.DataFrame:
    """Return the table of a run; units stand in the column names.

    A day on which the wire changes has two rows, with the old and the new wire.
    ``attrs["notice"]`` holds the cautions.
    """
    frames = []
    for case in result.cases:
        runs = [histories(result, case, quantile=quantile) for quantile in QUANTILES]
        frames += [_tooth_frame(result, case, rates) for rates in zip(*runs, strict=True)]
    table = pd.concat(frames, ignore_index=True)
    table.attrs["notice"] = NOTICE
    return table


def write_csv(table: pd.DataFrame, path: Path) -> None:
    """Write the table with the cautions as leading comment lines; missing values are "—"."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.writelines(f"# {line}\n" for line in NOTICE.splitlines())
        # texts in quotes: a case may have the comment sign in its name
        table.to_csv(
            file, index=False, na_rep=MISSING, lineterminator="\n", quoting=csv.QUOTE_NONNUMERIC
        )


def write_parquet(table: pd.DataFrame, path: Path) -> None:
    """Write the table with the cautions in the file's metadata; missing values are null."""
    arrow = pa.Table.from_pandas(table, preserve_index=False)
    notes = {**(arrow.schema.metadata or {}), b"notice": NOTICE.encode()}
    # a file of our own: a full disk would leave that of the library open
    with path.open("wb") as file:
        pq.write_table(arrow.replace_schema_metadata(notes), file)


def _tooth_frame(
    result: RunResult, case: CaseResult, rates: tuple[ToothHistory, ...]
) -> pd.DataFrame:
    slow, median, fast = rates
    columns: dict[str, object] = {
        "case": case.name,
        "tooth": median.number,
        "day": median.days,
        "week": median.days / 7,
        "loads": _loads_names(result, case, median),
    }
    columns |= _labelled(POSITION_WORDS, "_mm", median.position[:, :3])
    columns |= _labelled(ORIENTATION_WORDS, "_deg", np.degrees(median.position[:, 3:]))
    for place, system in (("bracket", median.at_bracket), ("resistance", median.at_resistance)):
        columns |= _labelled(FORCE_WORDS, f"_{place}_N", system[:, :3])
        columns |= _labelled(MOMENT_WORDS, f"_{place}_Nmm", system[:, 3:])
    columns |= _labelled(PLANES, "_moment_to_force_mm", median.moment_to_force)
    columns |= _labelled(PLANES, "_centre_of_rotation_mm", median.rotation_centre)
    columns |= {
        "movement_type": list(median.movement),
        "movement_plane": list(median.plane),
        "peak_pressure_kPa": 1e3 * median.peak_pressure,
        "mean_pressure_kPa": 1e3 * median.mean_pressure,
    }
    columns |= _labelled(ZONES, "_area_mm2", median.zone_area)
    columns |= {
        "wall_above_capillary_line": median.above_line,
        "overload_area_mm2": median.overload_area,
        "stopped_area_mm2": median.stopped_area,
        "largest_strain": median.strain,
        "resorbed_mm3": median.resorbed,
        "deposited_mm3": median.deposited,
    }
    columns |= _labelled(FORCE_WORDS, "_crown_movement_mm", median.crown)
    columns |= _labelled(FORCE_WORDS, "_apex_movement_mm", median.apex)
    for name, history in (("p10", slow), ("p50", median), ("p90", fast)):
        columns[f"crown_movement_{name}_mm"] = np.linalg.norm(history.crown, axis=1)
    return pd.DataFrame(columns)


def _labelled(words: tuple[str, ...], suffix: str, values: Array) -> dict[str, Array]:
    return {f"{word}{suffix}": values[:, k] for k, word in enumerate(words)}


def _loads_names(result: RunResult, case: CaseResult, history: ToothHistory) -> list[str]:
    if not case.wires:
        return [case.name] * len(history.days)
    names = [stage_name(result.scenario, stage) for stage in stages(result.scenario)]
    return [names[k] for k in history.period]


def stage_name(scenario: Scenario, stage: Stage) -> str:
    """Return the wire, its last visit and the elastics of a stage, as a reader would say them."""
    wire = wire_name(scenario, stage.wire)
    if stage.visits:
        visit = scenario.visit[stage.visits[-1]]
        wire += f" ({' and '.join(visit.words)} in week {visit.at / 7:.3g})"
    elastics = [scenario.elastic[k].name for k in stage.elastics]
    return " + ".join([wire, *elastics])


def wire_name(scenario: Scenario, index: int) -> str:
    """Return size and alloy of a wire, as a reader would say them."""
    wire = scenario.wires[index]
    sizes = [wire.section.height] + ([] if wire.section.is_round else [wire.section.into_slot])
    inches = " x ".join(f"{size / 25.4:.4g}" for size in sizes)
    return f"{inches} in {wire.alloy}"
