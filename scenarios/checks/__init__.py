"""Every comparison with the outside: closed forms, other programs, published data."""

from gomphosis.scenarios.checks import (
    balance,
    bending,
    bone_loss,
    density,
    elastics,
    element,
    fibres,
    layer,
    movement,
    overload,
    plane,
    play,
    rates,
    rod_deflections,
    rods,
    slice,
    slice_motion,
    slot_binding,
    slot_energy,
    slot_play,
    slot_published,
    slot_round,
    slot_rows,
    slot_sliding,
    slot_tooth,
    slot_torque,
    solid,
    speeds,
    support,
    time_loop,
    two_brackets,
    wire,
)
from gomphosis.scenarios.checks.check import (
    AGREES,
    DISAGREES,
    KINDS,
    SHOWN,
    Check,
    Outcome,
    Report,
)

__all__ = [
    "AGREES",
    "DISAGREES",
    "KINDS",
    "SHOWN",
    "Check",
    "Outcome",
    "Report",
    "all_checks",
]


def all_checks() -> tuple[Check, ...]:
    """Return every check, in the order in which a reader should see them.

    Raises
    ------
    ValueError
        If two checks share a name.
    """
    parts = (
        layer,
        element,
        solid,
        plane,
        balance,
        support,
        bone_loss,
        two_brackets,
        wire,
        play,
        slot_play,
        slot_torque,
        slot_round,
        slot_binding,
        slot_tooth,
        slot_energy,
        slot_rows,
        slot_published,
        slot_sliding,
        elastics,
        rods,
        rod_deflections,
        fibres,
        bending,
        movement,
        rates,
        speeds,
        time_loop,
        overload,
        density,
        slice,
        slice_motion,
    )
    found = tuple(check for part in parts for check in part.checks())
    names = [check.name for check in found]
    again = {name for name in names if names.count(name) > 1}
    if again:
        raise ValueError(f"checks share a name: {', '.join(sorted(again))}")
    return found
