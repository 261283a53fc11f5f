"""Every flag raised just beyond its threshold and silent just below it. Verification."""

from collections.abc import Sequence
from types import SimpleNamespace

import numpy as np
import pytest

from gomphosis.bone.directions import from_trade
from gomphosis.bone.library import lookup
from gomphosis.bone.loop import Track
from gomphosis.bone.rates import Linear
from gomphosis.bone.support import Resolution
from gomphosis.bone.teeth import catalogue
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.flags import Flag, slice_flags, tooth_flags
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.result import CaseResult, RunResult

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)


def made(
    numbers: Sequence[int] = (11,),
    *,
    forces: dict[int, list[float]] | None = None,
    moves: dict[int, list[float]] | None = None,
    **changes: object,
) -> dict[int, tuple[Flag, ...]]:
    """Return the flags of a run whose loads and poses (in trade words) are given.

    The first record is at rest and the last one too, so that a flag must look at all records.
    """
    document = {
        "schema": 1,
        "tooth": [{"number": n} for n in numbers],
        "force": [{"tooth": numbers[0], "force": "1 N", "direction": "labial"}],
        **changes,
    }
    scenario = scenario_from(document, "test")
    law = Linear(1.0)
    teeth = tooth_models(scenario, law, resolution=COARSE)

    def record(given: dict[int, list[float]] | None) -> np.ndarray:
        rows = np.zeros((3, len(teeth), 6))
        for k, tooth in enumerate(teeth):
            words = np.array((given or {}).get(tooth.number, [0.0] * 6), dtype=float)
            rows[1, k] = from_trade(tooth.number, words)
        return rows

    pose = record(moves)
    track = Track(np.arange(3.0), np.zeros(3, dtype=int), pose, pose, record(forces))
    case = CaseResult("forces", {0.5: track})
    result = RunResult(scenario, teeth, law, None, (case,), 0.0)
    found = histories(result, case)
    return {t.number: tooth_flags(result, found, k) for k, t in enumerate(teeth)}


def peak_kpa(force: list[float]) -> float:
    """Return the peak pressure under a force, found by trying user limits (no internals)."""
    (flag,) = made(forces={11: force}, pressure_limit="0.001 kPa")[11]
    return flag.value


LIGHT = [0.0, 0.1, 0.0, 0.0, 0.0, 0.0]


def test_nothing_to_remark():
    assert made(forces={11: LIGHT}, moves={11: [0.5, 0.5, 0.5, 0.1, 0.1, 0.1]})[11] == ()


def test_overload_is_raised_against_the_limit_of_the_user_only():
    peak = peak_kpa(LIGHT)
    (flag,) = made(forces={11: LIGHT}, pressure_limit=f"{0.999 * peak} kPa")[11]
    assert flag.what.startswith("overload")
    np.testing.assert_allclose([flag.value, flag.threshold], [peak, 0.999 * peak], rtol=1e-9)
    assert (flag.unit, flag.source) == ("kPa", "scenario, pressure_limit")
    assert made(forces={11: LIGHT}, pressure_limit=f"{1.001 * peak} kPa")[11] == ()


def strained(share: float) -> list[float]:
    """Return a force at which the largest strain is a share of the library's limit."""
    (flag,) = made(forces={11: [0.0, 5.0, 0.0, 0.0, 0.0, 0.0]})[11]
    # linear ligament: strain is proportional to the force
    return [0.0, 5.0 * share * flag.threshold / flag.value, 0.0, 0.0, 0.0, 0.0]


def test_strain_beyond_the_linear_law():
    limit = lookup("ligament.strain_limit.flag")
    (flag,) = made(forces={11: strained(1.001)})[11]
    assert flag.what == "ligament strain beyond the range of the linear law"
    np.testing.assert_allclose(
        [flag.value, flag.threshold], [100 * 1.001 * limit.number, 100 * limit.number], rtol=1e-9
    )
    assert (flag.unit, flag.source, flag.status) == ("%", limit.source, limit.status)
    assert made(forces={11: strained(0.999)})[11] == ()


@pytest.mark.parametrize(("strain", "closed"), [(0.999, False), (1.001, True)])
def test_closed_gap_is_named(strain: float, closed: bool):
    share = strain / lookup("ligament.strain_limit.flag").number
    (flag,) = made(forces={11: strained(share)})[11]
    assert ("close the gap" in flag.what) == closed
    np.testing.assert_allclose(flag.value, 100 * strain, rtol=1e-9)


def opened(strain: list[float]) -> SimpleNamespace:
    """Return the only part of an opened slice that its flags look at."""
    return SimpleNamespace(track=SimpleNamespace(strain=np.array(strain)))


def test_strain_of_a_slice():
    limit = lookup("ligament.strain_limit.flag")
    (flag,) = slice_flags(opened([0.0, 1.001 * limit.number, 0.0]))
    assert flag.what == "slice: ligament strain beyond small strains"
    np.testing.assert_allclose(
        [flag.value, flag.threshold], [100 * 1.001 * limit.number, 100 * limit.number], rtol=1e-9
    )
    assert (flag.unit, flag.source, flag.status) == ("%", limit.source, limit.status)
    assert slice_flags(opened([0.0, 0.999 * limit.number, 0.0])) == ()


def test_slice_stopped_before_its_first_day_has_no_strain():
    assert slice_flags(opened([])) == ()


@pytest.mark.parametrize("axis", [3, 4, 5])
@pytest.mark.parametrize("sense", [1, -1])
def test_rotation_beyond_small_rotations(axis: int, sense: int):
    def turned(degrees: float) -> tuple[Flag, ...]:
        move = np.zeros(6)
        move[axis] = sense * np.deg2rad(degrees)
        return made(moves={11: list(move)})[11]

    (flag,) = turned(10.01)
    assert flag.what == "rotation beyond the range of small rotations"
    np.testing.assert_allclose([flag.value, flag.threshold], [10.01, 10.0], rtol=1e-9)
    assert flag.unit == "deg"
    assert turned(9.99) == ()


def test_range_of_small_rotations():
    """The first neglected term of the sine is a^2/6, as the flag's source says: 0.5 % at 10 deg."""
    (flag,) = made(moves={11: [0, 0, 0, 0.3, 0, 0]})[11]
    angle = np.deg2rad(flag.threshold)
    np.testing.assert_allclose(1 - np.sin(angle) / angle, 0.005, atol=1e-4)
    assert flag.source == "first neglected term of the sine: 0.5 % at 10 deg"


def mesially(size: float) -> list[float]:
    return [0.0, 0.0, size, 0.0, 0.0, 0.0]


@pytest.mark.parametrize("pair", [(11, 21), (41, 31)], ids=str)
def test_crowns_overlap_across_the_midline(pair: tuple[int, int]):
    """Both teeth move towards the midline: their shares add up."""
    flags = made(pair, moves={pair[0]: mesially(0.06), pair[1]: mesially(0.06)})
    for number in pair:
        (flag,) = flags[number]
        assert flag.what.startswith("crowns of neighbours would overlap")
        np.testing.assert_allclose([flag.value, flag.threshold], [0.12, 0.1], rtol=1e-9)
        assert flag.unit == "mm"
    below = made(pair, moves={pair[0]: mesially(0.06), pair[1]: mesially(0.03)})
    apart = made(pair, moves={pair[0]: mesially(-0.5), pair[1]: mesially(-0.5)})
    for quiet in (below, apart):
        assert quiet == {pair[0]: (), pair[1]: ()}


@pytest.mark.parametrize("order", [(13, 12, 11), (23, 22, 21), (33, 32, 31), (43, 42, 41)], ids=str)
def test_crowns_overlap_on_one_side(order: tuple[int, int, int]):
    """The middle tooth moves towards one neighbour and away from the other."""
    outer, middle, inner = order
    flags = made(order, moves={middle: mesially(0.2)})
    assert [len(flags[n]) for n in (outer, middle, inner)] == [0, 1, 1]
    flags = made(order, moves={middle: mesially(-0.2)})
    assert [len(flags[n]) for n in (outer, middle, inner)] == [1, 1, 0]
    # moving together, they keep their distance
    together = made(order, moves=dict.fromkeys(order, mesially(0.2)))
    assert all(found == () for found in together.values())


def test_room_of_a_missing_tooth_is_not_overlap():
    """The space of 14 is its crown's width; 13 moves into it until it meets 15."""
    room = catalogue()[14].crown_mesiodistal
    assert made((13, 15), moves={13: mesially(0.05 - room)}) == {13: (), 15: ()}
    beyond = made((13, 15), moves={13: mesially(-0.2 - room)})
    for number in (13, 15):
        (flag,) = beyond[number]
        np.testing.assert_allclose(flag.value, 0.2, rtol=1e-9)


def test_overlap_at_the_start_counts():
    teeth = [{"number": 11, "mesial": "0.5 mm"}, {"number": 21}]
    (flag,) = made((11, 21), tooth=teeth)[21]
    np.testing.assert_allclose(flag.value, 0.5, rtol=1e-9)


def test_several_flags_at_once_keep_their_order():
    flags = made(
        (11, 21),
        forces={11: strained(2.0)},
        moves={11: [0, 0, 0.5, 0.5, 0, 0]},
        pressure_limit="0.1 kPa",
    )[11]
    words = [flag.what.split()[0] for flag in flags]
    assert words == ["overload:", "ligament", "rotation", "crowns"]


def test_flag_as_plain_data():
    (flag,) = made(moves={11: [0, 0, 0, 0.3, 0, 0]})[11]
    plain = flag.document()
    assert list(plain) == ["what", "value", "threshold", "unit", "source", "status"]
    assert all(type(plain[key]) is float for key in ("value", "threshold"))
