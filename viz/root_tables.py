"""Previews of roots as tables for the terminal: what the model shows, beside what is published."""

from collections.abc import Sequence
from typing import Any

from rich.console import Console

from gomphosis.viz.console import DASH, number, table

Facts = dict[str, Any]
FOREIGN = "*"  # marks what was measured on other teeth
LEGEND = (
    "p50, and in brackets the slow and the fast whole run (p10, p90). "
    "Apex over edge: published ratio table, made on incisors. "
    "Distances: across the long axis, against plates as they stood at the start; the week is that "
    "in which the root (or the socket) reaches the face. "
    f"{FOREIGN}: measured on other teeth. Reference lines and thresholds decide nothing."
)


def print_roots(screen: Console, teeth: Sequence[tuple[str, Facts]]) -> None:
    """Print how each root moves, what it nears, what its wall bears and how it is held."""
    found = [(name, facts["root_preview"]) for name, facts in teeth]
    for title, columns, cells in (
        ("Roots: how they move", _MOVEMENT_COLUMNS, _movement_cells),
        ("Roots: nearest to each plate, mm", _PLATE_COLUMNS, _plate_cells),
        ("Roots: socket wall", _wall_columns(found), _wall_cells),
        ("Roots: how they are held", _SUPPORT_COLUMNS, _support_cells),
    ):
        screen.print(table(title, columns, [[name, *cells(facts)] for name, facts in found]))
    screen.print(f"· {LEGEND}", markup=False)
    for text in _sources(found):
        screen.print(f"· {text}", markup=False)
    for remark in dict.fromkeys(text for _, facts in found for text in facts["remarks"]):
        screen.print(f"· {remark}", markup=False)


_MOVEMENT_COLUMNS = (
    "tooth",
    "movement",
    "apex over\nedge",
    "published range\nof that movement",
    "centre of rotation\nmm below crest",
    "apex moved\nmm",
)
_PLATE_COLUMNS = (
    "tooth",
    "root to inner\nface, labial",
    "week",
    "socket to outer\nface, labial",
    "week",
    "root to inner\nface, lingual",
    "week",
    "socket to outer\nface, lingual",
    "week",
)
_SUPPORT_COLUMNS = (
    "tooth",
    "crest lost\nmm",
    "root lost\nmm",
    "root in\nbone mm",
    "centre of resistance\nmm below crest",
    "over root\nin bone",
    "M/F of\ntranslation mm",
    "edge per N\nmm",
    "apex per N\nmm",
    "single force turns\nmm below crest",
)


def _movement_cells(facts: Facts) -> list[str]:
    found = facts["quantities"]
    kind = found["movement_type"]
    plane = f" ({facts['plane']} plane)"
    return [
        kind["words"]["p50"] + plane + (FOREIGN if kind["extrapolated"] else ""),
        _band(kind),
        _range(kind),
        _band(found["centre_of_rotation"], 1),
        _band(found["apex_displacement"]),
    ]


def _range(kind: Facts) -> str:
    limits = kind["threshold"]
    if limits is None:
        return DASH
    low, high = (number(limit, 1) for limit in limits)
    # root movement is what lies outside of two limits
    within = limits[0] <= kind["p50"] < limits[1]
    return f"{low} to {high}" if within else f"below {low} or above {high}"


def _plate_cells(facts: Facts) -> list[str]:
    found = facts["quantities"]
    return [
        text
        for side in ("labial", "lingual")
        for key in ("clearance", "bone_left")
        for text in (
            _band(found.get(f"{key}_{side}")),
            _week(found.get(f"{key}_{side}_week")),
        )
    ]


def _wall_columns(found: Sequence[tuple[str, Facts]]) -> tuple[str, ...]:
    findings = found[0][1]["quantities"]
    shares = [
        f"wall above\n{findings[key]['threshold'][0]:g} kPa, %" for key in _share_keys(findings)
    ]
    return (
        "tooth",
        *shares,
        "traction at the apex,\nalong the axis, kPa",
        "traction at the apex,\nacross the axis, kPa",
    )


def _share_keys(findings: Facts) -> list[str]:
    return [key for key in findings if key.startswith("wall_above_")]


def _wall_cells(facts: Facts) -> list[str]:
    found = facts["quantities"]
    shares = [_band(found[key], 0) for key in _share_keys(found)]
    return [*shares, _band(found["apex_axial_traction"]), _band(found["apex_transverse_traction"])]


def _support_cells(facts: Facts) -> list[str]:
    held = facts["support"]
    return [
        number(held[key], digits)
        for key, digits in (
            ("crest_loss_mm", 1),
            ("root_lost_mm", 1),
            ("embedded_root_mm", 1),
            ("centre_of_resistance_below_crest_mm", 2),
            ("centre_of_resistance_share", 3),
            ("translation_moment_to_force_mm", 1),
            ("edge_mm_per_N", 2),
            ("apex_mm_per_N", 2),
            ("single_force_centre_of_rotation_mm", 2),
        )
    ]


def _band(finding: Facts | None, digits: int = 2) -> str:
    """Return the median, and in brackets the slow and the fast run where they differ."""
    if finding is None:
        return DASH
    slow, median, fast = (number(finding[key], digits) for key in ("p10", "p50", "p90"))
    mark = FOREIGN if finding["extrapolated"] else ""
    return f"{median}{mark}" if slow == median == fast else f"{median}{mark} ({slow}; {fast})"


def _week(finding: Facts | None) -> str:
    return DASH if finding is None else _band(finding | {"extrapolated": False}, 1)


def _sources(found: Sequence[tuple[str, Facts]]) -> list[str]:
    """Say once where each threshold or thickness comes from, and how far it is known."""
    origins: dict[str, dict[str, None]] = {}
    for _, facts in found:
        for key, finding in facts["quantities"].items():
            if finding["threshold"] is not None:
                source = f"{finding['source']} ({finding['status']})"
                origins.setdefault(source, {})[_subject(key, finding)] = None
    return [f"{', '.join(subjects)}: {source}." for source, subjects in origins.items()]


def _subject(key: str, finding: Facts) -> str:
    if key.startswith("wall_above_"):
        return f"line at {finding['threshold'][0]:g} kPa"
    side = key.rpartition("_")[2]
    return f"{side} plate" if side in ("labial", "lingual") else "apex over edge"
