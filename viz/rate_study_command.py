"""``gomphosis rate-study``: published findings on speed beside every rate law."""

from pathlib import Path

import numpy as np
from rich.console import Console

from gomphosis.bone.library import lookup
from gomphosis.scenarios.movement_table import write_csv
from gomphosis.scenarios.rate_findings import INSIDE, OUTSIDE, TIPPING
from gomphosis.scenarios.rate_study import (
    ERRORS,
    RateStudy,
    Row,
    rate_study,
    study_document,
    study_table,
)
from gomphosis.viz.console import DASH, console, print_json, print_notice, progress, table
from gomphosis.viz.whole_files import whole_files

MARKS = {INSIDE: "inside", OUTSIDE: "OUTSIDE"}
LAW_COLUMNS = (
    "law",
    "v_max\nµm/day",
    "S_half\nkPa",
    "worst\nresidual %",
    "numbers\nadded",
    "findings\ninside",
    "tipped cusp\nmm",
    "assumes",
)
BOUND_COLUMNS = ("stimulus", "ligament of", "speed with stress", "cusp\nmm", "bracket\nmm")


def rate_study_command(*, csv: Path | None, as_json: bool) -> None:
    """Compute the study, write the table that is wanted, and print what it found."""
    with whole_files(csv) as (csv_place,):
        with progress("study") as tell:
            study = rate_study(tell)
        if csv_place is not None:
            write_csv(study_table(study), csv_place)
    if as_json:
        print_json(study_document(study))
        return
    print_study(console(), study)


def print_study(screen: Console, study: RateStudy) -> None:
    """Print findings beside the default and the two best alternatives, all laws, and bounds."""
    shown = (0, *study.alternatives)
    names = [study.laws[k].candidate.name for k in shown]
    columns = ("finding", "published", "spread", f"{names[0]} (default)", *names[1:], "kind", "")
    sources = list(dict.fromkeys(_source(row) for row in study.rows))
    rows = [_cells(row, shown, sources.index(_source(row)) + 1) for row in study.rows]
    screen.print(table("Published findings and what the laws say", columns, rows))
    screen.print(table("All laws, each fitted to the same five speeds", LAW_COLUMNS, _laws(study)))
    title = f"Least tipping under any law that misses no translation by {ERRORS:g} standard errors"
    screen.print(table(title, BOUND_COLUMNS, _bounds(study)))
    for line in (*conclusions(study), *_notes(study)):
        screen.print(f"· {line}", markup=False)
    screen.print("Sources", style="bold")
    for index, source in enumerate(sources, start=1):
        screen.print(f"[{index}] {source}", markup=False)
    print_notice(screen)


def conclusions(study: RateStudy) -> list[str]:
    """Say what the bounds mean, place by place."""
    most = float(lookup("speed.dudic_2013.movement").high or np.inf)
    return [
        f"laws whose speed does not fall with stress move the {place} {study.least(place):.1f} mm "
        f"or more; the published range ends at {most:g} mm: "
        + ("none reaches it" if study.least(place) > most else "some reach its end")
        for place in ("cusp", "bracket")
    ]


def _bounds(study: RateStudy) -> list[list[str]]:
    return [
        [
            bound.stimulus,
            bound.ligament,
            "may fall" if bound.falling else "never falls",
            f"{bound.cusp:.1f}",
            f"{bound.bracket:.1f}",
        ]
        for bound in study.bounds
    ]


def _cells(row: Row, shown: tuple[int, ...], source: int) -> list[str]:
    finding = row.finding
    unit = "" if finding.unit == "1" else f" {finding.unit}"
    return [
        finding.quantity,
        f"{finding.published:.3g}{unit}",
        _spread(finding.low, finding.high),
        *(f"{row.ours[k]:.3g} {MARKS.get(row.verdicts[k], DASH)}" for k in shown),
        finding.kind,
        f"[{source}]",
    ]


def _spread(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return DASH
    return f"{low:.3g} to {high:.3g}" if np.isfinite(high) else f"from {low:.3g}"


def _source(row: Row) -> str:
    return f"{row.finding.source} ({row.finding.status})"


def _laws(study: RateStudy) -> list[list[str]]:
    (tipped,) = (row for row in study.rows if row.finding.key == TIPPING)
    return [
        [
            law.candidate.name,
            f"{1e3 * law.max_speed:.1f}",
            f"{1e3 * law.half_stress:.2f}",
            f"{100 * law.worst_residual:.1f}",
            f"{law.candidate.added}",
            f"{law.inside} of {law.judged}",
            f"{tipped.ours[k]:.1f}",
            law.candidate.words,
        ]
        for k, law in enumerate(study.laws)
    ]


def _notes(study: RateStudy) -> list[str]:
    by_note: dict[str, list[str]] = {}
    for row in study.rows:
        by_note.setdefault(row.finding.note, []).append(row.finding.quantity)
    return [f"{'; '.join(quantities)}: {note}" for note, quantities in by_note.items() if note]
