"""A sweep of one input as plain data and as a table; units stand in the names."""

import re
from typing import Any

import numpy as np
import pandas as pd

from gomphosis.bone.directions import FORCE_WORDS, MOMENT_WORDS
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.wire_sweep import Sweep

COMPONENTS = (*(f"{w}_N" for w in FORCE_WORDS), *(f"{w}_Nmm" for w in MOMENT_WORDS))
TIED = "new at every value, no history"


def unit_suffix(unit: str) -> str:
    """Return a unit as the end of a name; empty for none.

    Examples
    --------
    >>> unit_suffix("MPa/degC")
    '_MPa_per_degC'
    """
    if not unit:
        return ""
    words = re.sub(r"[µμ]", "u", unit.replace("°", "deg")).replace("/", "_per_")
    return "_" + re.sub(r"[^\w-]", "", words)


def sweep_document(sweep: Sweep) -> dict[str, Any]:
    """Return a sweep as plain data: values once, then every wire, tooth and component over them."""
    return {
        "notice": NOTICE,
        "limits": list(sweep.limits),
        "title": sweep.scenario.title,
        "key": sweep.key,
        f"values{unit_suffix(sweep.unit)}": sweep.values.tolist(),
        "wire_tied_in": TIED,
        "tooth": sweep.tooth,
        "anything_changes": sweep.changed,
        "loads": {
            wire.name: {
                "teeth": {
                    str(number): {
                        "force_system_at_bracket": dict(
                            zip(COMPONENTS, wire.systems[:, k].T.tolist(), strict=True)
                        )
                    }
                    for k, number in enumerate(sweep.teeth)
                },
                "mesh": {
                    "elements_between_neighbouring_slots": wire.elements,
                    "change_by_half_as_many": wire.change,
                },
                "play": {
                    "torsion_deg": [
                        p if np.isfinite(p) else None for p in wire.play[:, 0].tolist()
                    ],
                    "tip_deg": wire.play[:, 1].tolist(),
                },
            }
            for wire in sweep.wires
        },
    }


def sweep_table(sweep: Sweep) -> pd.DataFrame:
    """Return one row per wire, tooth and value; the swept value's column has the key's name."""
    frames = []
    for wire in sweep.wires:
        for k, number in enumerate(sweep.teeth):
            columns: dict[str, object] = {
                "wire": wire.name,
                "wire_tied_in": TIED,
                "tooth": number,
                f"{sweep.key}{unit_suffix(sweep.unit)}": sweep.values,
            }
            columns |= dict(zip(COMPONENTS, np.moveaxis(wire.systems[:, k], 1, 0), strict=True))
            frames.append(pd.DataFrame(columns))
    return pd.concat(frames, ignore_index=True)
