"""Table of the previews of all roots: one row per case, tooth, finding and, for some, week."""

import pandas as pd

from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.root_preview import RootPreview, root_previews
from gomphosis.scenarios.root_quantities import BAND, Origin, Quantity

SUPPORT_UNITS = {"_mm": "mm", "_mm_per_N": "mm/N", "_share": "1"}
"""Unit by the end of a name, the longest that fits."""


def root_table(result: RunResult) -> pd.DataFrame:
    """Return every finding about every root; the unit of a row stands in its column ``unit``.

    Findings of the whole run and of the tooth's support have no week.
    """
    rows = [
        row
        for case in result.cases
        for preview in root_previews(result, case)
        for row in _preview_rows(preview)
    ]
    return pd.DataFrame(rows)


def _preview_rows(preview: RootPreview) -> list[dict[str, object]]:
    found = [*preview.quantities, *preview.weekly, *_support(preview)]
    return [_row(preview, quantity) for quantity in found]


def _row(preview: RootPreview, quantity: Quantity) -> dict[str, object]:
    words = quantity.words or (None,) * len(BAND)
    threshold = quantity.origin.threshold
    return {
        "case": preview.case,
        "tooth": preview.number,
        "finding": quantity.key,
        "week": quantity.week,
        **dict(zip(BAND, quantity.values, strict=True)),
        "unit": quantity.unit,
        **{f"{name}_words": word for name, word in zip(BAND, words, strict=True)},
        "threshold_low": threshold[0] if threshold else None,
        "threshold_high": threshold[-1] if threshold else None,
        "threshold_unit": (quantity.origin.threshold_unit or quantity.unit) if threshold else None,
        "source": quantity.origin.source,
        "status": quantity.origin.status,
        "extrapolated": quantity.origin.extrapolated,
        "sentence": quantity.sentence,
    }


def _support(preview: RootPreview) -> list[Quantity]:
    """Return the facts of a tooth's support as findings that no rate changes."""
    found = []
    for name, value in preview.support.document().items():
        end = max((e for e in SUPPORT_UNITS if name.endswith(e)), key=len)
        words = name.removesuffix(end if end != "_share" else "").replace("_", " ")
        unit = SUPPORT_UNITS[end]
        text = f"Tooth {preview.number} in the model: {words} {value:.4g} {unit}."
        found.append(Quantity(f"support_{name}", words, unit, (value,) * len(BAND), text, Origin()))
    return found
