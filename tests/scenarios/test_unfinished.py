"""Runs that go on from their checkpoints, to the last bit. Verification."""

import shutil
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from gomphosis.bone.checkpoint import Checkpoint, Reached
from gomphosis.bone.loop import Period, Track, simulate
from gomphosis.bone.rates import Saturating
from gomphosis.bone.states import StateError
from gomphosis.bone.support import Resolution
from gomphosis.scenarios import unfinished as unfinished_module
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.checkpoint_file import CheckpointError
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.periods import elastics_of, wires_of
from gomphosis.scenarios.persons import person_factor
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.run import WIRES, case_names, case_periods, run
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.unfinished import Unfinished, remove_checkpoints

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
FIELDS = ("days", "period", "drift", "pose", "wrench", "stopped")
TEETH = [{"number": 11, "vertical": "-0.4 mm"}, {"number": 21, "labial": "0.3 mm"}]
TIED = {"kind": "active", "seating": "1 N", "lasting": 0.5}
WIRE = {"size": "0.016 in", "alloy": "steel", "friction": 0.15, "ligation": TIED}
CHAIN = {"kind": "chain", "teeth": [11, 21], "force": "0.5 N", "stiffness": "0.2 N/mm"}
BEND = {"kind": "bend", "between": [11, 21], "distance": "4 mm", "occlusal_angle": "5 deg"}
RATE = {"max_speed": "60 um/day", "half_stress": "1 kPa"}
PUSH = {"tooth": 11, "force": "0.3 N", "direction": "lingual"}


def scenario(**document: object) -> Scenario:
    base = {"schema": 1, "duration": "3 days", "step": "1 day", "tooth": TEETH, "rate": RATE}
    return scenario_from({**base, **document}, "test")


def forces(**document: object) -> Scenario:
    cases = [{**PUSH, "case": "light"}, {**PUSH, "case": "heavy", "force": "1 N"}]
    return scenario(force=cases, **document)


def opened(folder: Path, made: Scenario) -> Unfinished:
    return Unfinished(folder, made, case_names(made), resolution=COARSE)


class Killed(Exception):
    """Stands for the end of the process."""


def killed_after(count: int, unfinished: Unfinished, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the process end once so many steps have been kept."""
    keeper = unfinished.keeper
    kept: list[float] = []

    def counting(case: str, quantile: float) -> Callable[[Reached], None]:
        keep = keeper(case, quantile)

        def then(reached: Reached) -> None:
            keep(reached)
            kept.append(reached.row.day)
            if len(kept) == count:
                raise Killed

        return then

    monkeypatch.setattr(unfinished, "keeper", counting)


def check_same(one: RunResult, two: RunResult) -> None:
    assert [case.name for case in one.cases] == [case.name for case in two.cases]
    for mine, theirs in zip(one.cases, two.cases, strict=True):
        assert list(mine.tracks) == list(theirs.tracks)
        for quantile in mine.tracks:
            check_same_track(mine.tracks[quantile], theirs.tracks[quantile])


def check_same_track(one: Track, two: Track) -> None:
    for field in FIELDS:
        np.testing.assert_array_equal(getattr(one, field), getattr(two, field), field)


# --- folders -------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [1, 4, 5, 14, 24])
def test_a_run_goes_on_after_any_step(tmp_path: Path, monkeypatch, count: int):
    made = forces()
    whole = run(made, resolution=COARSE)
    first = opened(tmp_path, made)
    assert not first.begun
    assert first.told() == []
    killed_after(count, first, monkeypatch)
    with pytest.raises(Killed):
        run(made, resolution=COARSE, unfinished=first)
    second = opened(tmp_path, made)
    assert second.begun
    check_same(run(made, resolution=COARSE, unfinished=second), whole)
    second.remove()
    assert list(tmp_path.iterdir()) == []


def test_it_tells_from_where(tmp_path: Path, monkeypatch):
    made = forces()
    first = opened(tmp_path, made)
    killed_after(6, first, monkeypatch)
    with pytest.raises(Killed):
        run(made, resolution=COARSE, unfinished=first)
    where = "goes on from day 1 of 3 (light at rate quantile 0.1; 1 of 6 tracks done)"
    assert opened(tmp_path, made).told() == [where]
    # the second step of the second track is on the second file
    (tmp_path / "case-1-rate-10.b").write_bytes(b"x")
    damaged, told = opened(tmp_path, made).told()
    assert damaged.startswith(f"{tmp_path}/case-1-rate-10.b: is damaged: it does not begin as a")
    assert damaged.endswith("; went back to day 0, the step before")
    assert told == where.replace("day 1", "day 0")
    run(made, resolution=COARSE, unfinished=opened(tmp_path, made))
    assert opened(tmp_path, made).told() == ["goes on from day 3 of 3 (6 of 6 tracks done)"]


def test_other_scenarios_meshes_and_versions_are_refused(tmp_path: Path, monkeypatch):
    made = forces()
    run(made, resolution=COARSE, unfinished=opened(tmp_path, made))
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    for other in (forces(growing="yes"), forces(duration="4 days"), scenario(force=[PUSH])):
        with pytest.raises(CheckpointError, match="is of another scenario; accepted: "):
            opened(tmp_path, other)
    with pytest.raises(CheckpointError, match="is of another scenario; accepted: "):
        Unfinished(tmp_path, made, case_names(made))
    versions = {**unfinished_module.program_versions(), "numpy": "1.0"}
    monkeypatch.setattr(unfinished_module, "program_versions", lambda: versions)
    with pytest.raises(CheckpointError, match=r"another version \(numpy .*, now 1\.0\); accepted"):
        opened(tmp_path, made)
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_swapped_tracks_are_refused(tmp_path: Path):
    made = forces()
    run(made, resolution=COARSE, unfinished=opened(tmp_path, made))
    for ending in ("a", "b", "rows"):
        shutil.copy(tmp_path / f"case-1-rate-50.{ending}", tmp_path / f"case-2-rate-50.{ending}")
    with pytest.raises(CheckpointError, match=r"belongs to 'light' at quantile 0\.5; accepted: "):
        opened(tmp_path, made)


def test_only_checkpoints_are_removed(tmp_path: Path):
    made = forces()
    run(made, resolution=COARSE, unfinished=opened(tmp_path, made))
    (tmp_path / "case-9-rate-50.rows").write_text("half")
    (tmp_path / "notes.txt").write_text("mine")
    remove_checkpoints(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]
    remove_checkpoints(tmp_path / "none")


# --- wires ---------------------------------------------------------------------------------------


def followed(made: Scenario, **options) -> tuple[Track, list[Period]]:
    teeth = tooth_models(made, Saturating(0.06, 0.001), resolution=COARSE)
    periods = case_periods(made, teeth, WIRES)
    models = [tooth.remodelling for tooth in teeth]
    return simulate(models, periods, days=made.duration, step=made.step, **options), periods


def check_goes_on(made: Scenario, counts: Sequence[int] | None = None) -> None:
    """Check that tracks, wires and elastics are the same to the last bit, after every step."""
    reached: list[Reached] = []
    whole, before = followed(made, keep=reached.append)
    for count in counts or range(1, len(reached) + 1):
        rows, last = tuple(one.row for one in reached[:count]), reached[count - 1]
        found, after = followed(made, resume=Checkpoint(rows, last.clocks, last.loads))
        check_same_track(found, whole)
        for index, pose in zip(whole.period, whole.pose, strict=True):
            one, two = wires_of(before)[index], wires_of(after)[index]
            np.testing.assert_array_equal(one.centre_line(pose), two.centre_line(pose))
            np.testing.assert_array_equal(one.held.slot_stations, two.held.slot_stations)
            assert one.discretisation == two.discretisation
            pairs = zip(elastics_of(before)[index], elastics_of(after)[index], strict=True)
            for mine, theirs in pairs:
                np.testing.assert_array_equal(mine.extensions(pose), theirs.extensions(pose))


def test_a_wire_with_friction_goes_on_to_the_last_bit():
    # bent by hand: its fibres have a history from the start
    wire = {**WIRE, "bend": [{**BEND, "by_hand": True}]}
    made = scenario(wire=[wire], elastic=[{**CHAIN, "put_on": "1 day"}], duration="2 days")
    check_goes_on(made, counts=[3])


@pytest.mark.slow
def test_wires_elastics_and_visits_go_on_from_every_step():
    made = scenario(
        duration="8 days",
        wire=[WIRE, {"size": "0.016 x 0.022 in", "tied_in": "6 days"}],
        elastic=[{**CHAIN, "put_on": "2 days"}],
        visit=[{"at": "4 days", "religate": True, "bend": [{**BEND, "by_hand": True}]}],
    )
    check_goes_on(made)


def test_a_wire_is_tied_in_once_for_all_rates_with_the_same_tracks_to_the_last_bit(monkeypatch):
    made = scenario(wire=[WIRE], elastic=[CHAIN], duration="2 days")
    engaged = []

    def counted(self: WireLoads, poses: np.ndarray) -> None:
        engaged.append(poses)
        engage(self, poses)

    engage = WireLoads.engage
    monkeypatch.setattr(WireLoads, "engage", counted)
    case = run(made, resolution=COARSE).cases[0]
    assert len(engaged) == 1
    for quantile, track in case.tracks.items():
        check_same_track(track, followed(made, rate_factor=person_factor(quantile))[0])
    assert len(engaged) == 1 + len(case.tracks)
    ends = [track.drift[-1] for track in case.tracks.values()]
    assert all(np.abs(one - two).max() > 1e-4 for one, two in pairwise(ends))


def test_a_state_of_another_wire_is_refused():
    made = scenario(wire=[WIRE], duration="1 day")
    wire = wires_of(followed(made)[1])[0]
    teeth = tooth_models(made, Saturating(0.06, 0.001), resolution=COARSE)
    state = wire.state()

    def fresh():
        return wires_of(case_periods(made, teeth, WIRES))[0]

    same = fresh()
    same.restore(state)
    np.testing.assert_array_equal(same.state()["rod.history"], state["rod.history"])
    with pytest.raises(RuntimeError, match="no state before it is tied in"):
        fresh().state()
    for name in state:
        with pytest.raises(StateError, match="a state needs"):
            fresh().restore({key: array for key, array in state.items() if key != name})
    shorter = {**state, "rod.history": state["rod.history"][:, 1:]}
    with pytest.raises(StateError, match=r"rod\.history of this wire has shape"):
        fresh().restore(shorter)
