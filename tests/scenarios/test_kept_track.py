"""Checkpoint files: gone on from, recovered or refused, and never wrong. Verification."""

import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gomphosis.bone.checkpoint import Checkpoint, Reached, Row
from gomphosis.scenarios.checkpoint_file import CheckpointError, DamagedError, Label
from gomphosis.scenarios.kept_track import KeptTrack

STEPS = 5
LABEL = Label("scenario", {"numpy": "2.0", "source": "abc"}, "wires", 0.5)


def step(index: int, case: int = 0) -> Reached:
    numbers = np.random.default_rng([case, index])
    drift, pose, wrench = numbers.normal(size=(3, 2, 6))
    left = {"0.0.line": numbers.normal(size=(4, 3))}
    row = Row(float(index), index // 3, drift, pose, wrench, np.array([0.0, 0.5]), left)
    clocks = numbers.normal(size=7), np.full(2, np.inf)
    loads = {"0.rod": numbers.normal(size=(2, 5)), "0.holds": np.array([3]), "1.none": np.zeros(0)}
    return Reached(row, clocks, loads)


def same(found: Checkpoint, case: int = 0) -> bool:
    """Return whether a checkpoint is to the last bit what was kept at its last step."""
    wanted = [step(index, case) for index in range(len(found.rows))]
    last = wanted[-1]
    pairs = [(found.loads[name], last.loads[name]) for name in last.loads]
    pairs += zip(found.clocks, last.clocks, strict=True)
    for row, one in zip(found.rows, wanted, strict=True):
        pairs += zip(row[2:6], one.row[2:6], strict=True)
        pairs += [(row.left[name], one.row.left[name]) for name in one.row.left]
        if row[:2] != one.row[:2]:
            return False
    return set(found.loads) == set(last.loads) and all(
        a.shape == b.shape and a.tobytes() == b.tobytes() for a, b in pairs
    )


def keep(folder: Path, steps: range = range(STEPS), *, case: int = 0) -> KeptTrack:
    label = replace(LABEL, case=f"case {case}") if case else LABEL
    track = KeptTrack(folder, f"track-{case}", label)
    for index in steps:
        track.keep(step(index, case))
    return track


def found(folder: Path, label: Label = LABEL) -> KeptTrack:
    return KeptTrack(folder, "track-0", label)


def test_the_newest_step_is_gone_on_from(tmp_path: Path):
    assert found(tmp_path / "none").checkpoint is None
    for steps in range(1, STEPS + 1):
        assert keep(tmp_path, range(steps - 1, steps)).day == steps - 1
        track = found(tmp_path)
        assert track.checkpoint is not None
        assert (len(track.checkpoint.rows), track.day) == (steps, steps - 1)
        assert track.damaged is None
        assert same(track.checkpoint)
    assert {p.name for p in tmp_path.iterdir()} == {"track-0.a", "track-0.b", "track-0.rows"}


def test_what_a_killed_process_had_begun_to_write_does_not_count(tmp_path: Path):
    keep(tmp_path, range(3))
    # the fourth step would go to the second file
    half = (tmp_path / "track-0.b").read_bytes()[:200]
    begin = re.sub(rb"[0-9a-f]{64}", b"0" * 64, half, count=1)
    (tmp_path / "track-0.b").write_bytes(begin)
    with (tmp_path / "track-0.rows").open("ab") as journal:
        journal.write(b"half a row")
    track = found(tmp_path)
    assert track.checkpoint is not None
    assert track.damaged is None
    assert len(track.checkpoint.rows) == 3
    assert same(track.checkpoint)
    for index in (3, 4):
        track.keep(step(index))
    other = keep(tmp_path / "other")
    again = found(tmp_path)
    assert again.checkpoint is not None
    assert (len(again.checkpoint.rows), other.day) == (STEPS, again.day)
    assert same(again.checkpoint)
    for ending in ("a", "b", "rows"):
        one, two = (f / f"track-0.{ending}" for f in (tmp_path, tmp_path / "other"))
        assert one.read_bytes() == two.read_bytes()


@pytest.mark.parametrize("size", [0, 1])
def test_a_process_killed_in_its_first_step_leaves_nothing(tmp_path: Path, size: int):
    keep(tmp_path, range(1))
    begin = b"gomphosis checkpoint 1\n" + 64 * b"0" + b"\n"
    newest(tmp_path).write_bytes(size * begin)
    assert found(tmp_path).checkpoint is None


def newest(folder: Path) -> Path:
    return folder / "track-0.a"  # the fifth step is on the first file again


def test_a_damaged_newest_file_is_recovered_from_the_one_before(tmp_path: Path):
    keep(tmp_path)
    newest(tmp_path).write_bytes(newest(tmp_path).read_bytes()[:-1])
    track = found(tmp_path)
    assert track.checkpoint is not None
    assert len(track.checkpoint.rows) == STEPS - 1
    assert same(track.checkpoint)
    assert str(track.damaged).startswith(f"{newest(tmp_path)}: is damaged; accepted: delete")
    # the next step replaces the damaged file, not the good one
    track.keep(step(STEPS - 1))
    again = found(tmp_path)
    assert again.checkpoint is not None
    assert again.damaged is None
    assert len(again.checkpoint.rows) == STEPS
    assert same(again.checkpoint)


def test_a_damaged_last_row_is_recovered_from_the_one_before(tmp_path: Path):
    keep(tmp_path)
    journal = tmp_path / "track-0.rows"
    journal.write_bytes(journal.read_bytes()[:-1])
    track = found(tmp_path)
    assert track.checkpoint is not None
    assert len(track.checkpoint.rows) == STEPS - 1
    assert same(track.checkpoint)
    assert "does not fit track-0.rows, which is damaged" in str(track.damaged)
    journal.unlink()
    with pytest.raises(DamagedError, match="does not fit"):
        found(tmp_path)


def test_files_of_another_track_are_refused(tmp_path: Path):
    keep(tmp_path)
    keep(tmp_path, case=1)
    for ending in ("a", "b", "rows"):
        shutil.copy(tmp_path / f"track-1.{ending}", tmp_path / f"track-0.{ending}")
    with pytest.raises(DamagedError, match=r"belongs to 'case 1' at quantile 0\.5; accepted"):
        found(tmp_path)
    other = replace(LABEL, case="case 1", quantile=0.1)
    with pytest.raises(DamagedError, match=r"belongs to 'case 1' at quantile 0\.5; accepted"):
        found(tmp_path, other)


@pytest.mark.parametrize(
    ("label", "problem"),
    [
        (replace(LABEL, scenario="another"), "is of another scenario"),
        (
            replace(LABEL, program={"numpy": "2.1", "source": "abc", "scipy": "1"}),
            r"by another version \(numpy 2\.0, now 2\.1; scipy none, now 1\)",
        ),
    ],
)
def test_another_scenario_or_version_is_refused_in_one_line(tmp_path: Path, label, problem):
    keep(tmp_path)
    with pytest.raises(CheckpointError, match=f"{problem}; accepted: .*--afresh") as refused:
        found(tmp_path, label)
    assert "\n" not in str(refused.value)
    assert not isinstance(refused.value, DamagedError)


def test_another_layout_is_refused(tmp_path: Path):
    keep(tmp_path)
    content = newest(tmp_path).read_bytes()
    newest(tmp_path).write_bytes(content.replace(b"checkpoint 1\n", b"checkpoint 2\n", 1))
    with pytest.raises(CheckpointError, match="has layout 2, this program reads 1; accepted"):
        found(tmp_path)


def damage(folder: Path, random: np.random.Generator) -> None:
    """Cut, flip, empty, remove or swap files of two tracks, one to three times."""
    for _ in range(random.integers(1, 4)):
        paths = sorted(folder.iterdir())
        path = paths[random.integers(len(paths))]
        content = bytearray(path.read_bytes())
        kind = random.integers(6)
        if kind == 0:
            path.write_bytes(content[: random.integers(len(content) + 1)])
        elif kind in (1, 2) and content:
            for place in random.integers(len(content), size=random.integers(1, 4)):
                content[place] ^= 1 << random.integers(8)
            path.write_bytes(content)
        elif kind == 3 and content:
            begin, end = sorted(random.integers(len(content) + 1, size=2))
            path.write_bytes(content[:begin] + content[end:])
        elif kind == 4:
            path.unlink()
        else:
            other = paths[random.integers(len(paths))]
            swapped = other.read_bytes()
            other.write_bytes(path.read_bytes())
            path.write_bytes(swapped)


def test_of_200_damaged_checkpoints_none_is_wrong(tmp_path: Path):
    random = np.random.default_rng(20)
    good = tmp_path / "good"
    keep(good)
    keep(good, case=1)
    counts = {"refused": 0, "whole": 0, "recovered": 0, "anew": 0}
    for number in range(200):
        folder = tmp_path / str(number)
        shutil.copytree(good, folder)
        damage(folder, random)
        try:
            track = found(folder)
        except CheckpointError as error:
            assert str(folder / "track-0.") in str(error)
            assert "--afresh" in str(error)
            counts["refused"] += 1
            continue
        if track.checkpoint is None:
            left = [(folder / f"track-0.{turn}") for turn in "ab"]
            assert not any(path.exists() and path.stat().st_size for path in left)
            counts["anew"] += 1
            continue
        assert same(track.checkpoint)
        whole = len(track.checkpoint.rows) == STEPS
        assert whole or len(track.checkpoint.rows) == STEPS - 1
        counts["whole" if whole else "recovered"] += 1
    # what damage hit is a matter of chance, but each kind must have been met
    assert counts["refused"] > 20
    assert counts["recovered"] > 20
    assert counts["whole"] > 20
