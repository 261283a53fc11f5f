"""A run goes on from any step as if it had never stopped, to the last bit. Verification."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.checkpoint import Checkpoint, Reached
from gomphosis.bone.joint_loads import Continued, Together
from gomphosis.bone.loads import ConstantLoads, LoadResponse, SpringLoads
from gomphosis.bone.loop import Period, simulate
from gomphosis.bone.overload import Lag
from gomphosis.bone.rates import Saturating
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.states import StateError, check_names
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, support
from gomphosis.bone.wall import SocketWall

PUSH = np.array([[0.3, 0.0, 0.0, 0.0, 2.0, 0.0]])
FIELDS = ("days", "period", "drift", "pose", "wrench", "stopped")


@pytest.fixture(scope="module")
def tooth():
    design = SupportDesign(
        RootProfile(3.24, 12.0, 0.35),
        ThicknessProfile(0.22, 0.16, 0.22),
        Elastic(0.05, 0.3),
        None,
        None,
    )
    wall = SocketWall(support(design, Resolution(along=12)), 12)
    return Remodelling(wall, Saturating(0.06, 0.0014), lag=Lag(0.003, 1.5))


class Tiring:
    """A push that loses a tenth at every commit, and shows what it was."""

    def __init__(self):
        self.left = np.ones(1)
        self.shown = {}

    def at_day(self, day):
        pass

    def engage(self, poses):
        self.left = np.ones(1)

    def evaluate(self, poses):
        return LoadResponse(self.left * PUSH, np.zeros((6, 6)))

    def commit(self, poses):
        self.left = 0.9 * self.left
        self.shown[poses.tobytes()] = self.left

    def rollback(self):
        raise AssertionError("every step converges")

    def state(self):
        return {"left": self.left}

    def restore(self, state):
        check_names(state, ("left",))
        self.left = state["left"]

    def record(self):
        return {"left": self.left}

    def recall(self, poses, record):
        self.shown[poses.tobytes()] = record["left"]


def periods():
    """Return three periods: the push goes on into the second, another one is in the third."""
    push, spring = Continued(Tiring()), SpringLoads(0.2 * PUSH, 0.5 * np.eye(6))
    return [
        Period(0.0, push),
        Period(2.0, Together([push, Continued(Tiring()), spring])),
        Period(4.0, Together([ConstantLoads(0.1 * PUSH), Tiring()])),
    ]


def run(tooth, acting=None, **options):
    return simulate([tooth], acting or periods(), days=6.0, step=0.8, **options)


def kept(tooth) -> tuple:
    reached: list[Reached] = []
    return run(tooth, keep=reached.append), reached


def checkpoint(reached, count: int) -> Checkpoint:
    last = reached[count - 1]
    return Checkpoint(tuple(one.row for one in reached[:count]), last.clocks, last.loads)


def test_a_run_goes_on_from_every_step_to_the_same_end(tooth):
    whole, reached = kept(tooth)
    # three starts and three steps each
    assert [one.row.day for one in reached] == list(whole.days)
    assert len(reached) == 12
    assert whole.stopped.max() > 0
    for count in range(1, 13):
        days: list[float] = []
        found = run(tooth, resume=checkpoint(reached, count), progress=days.append)
        for field in FIELDS:
            np.testing.assert_array_equal(getattr(found, field), getattr(whole, field), field)
        assert days == [day for k, day in enumerate(whole.days) if k >= count and k % 4]


def test_what_is_kept_does_not_change_the_run(tooth):
    whole, plain = kept(tooth)[0], run(tooth)
    for field in FIELDS:
        np.testing.assert_array_equal(getattr(plain, field), getattr(whole, field), field)


def test_what_loads_left_to_be_shown_comes_back(tooth):
    before = periods()
    reached: list[Reached] = []
    whole = run(tooth, before, keep=reached.append)
    after = periods()
    run(tooth, after, resume=checkpoint(reached, 10))

    def shown(acting):
        return acting[0].loads.loads.shown, acting[2].loads.loads[1].shown

    assert shown(before) == shown(after)
    assert len(shown(after)[0]) == 8
    assert whole.pose[0].tobytes() in shown(after)[0]
    # a load that ended stays as it was at its end
    assert after[0].loads.loads.left == before[0].loads.loads.left == pytest.approx(0.9**8)


def test_a_checkpoint_of_another_run_is_refused(tooth):
    good = checkpoint(kept(tooth)[1], 7)
    other = replace(good, rows=(*good.rows[:-1], good.rows[-1]._replace(day=3.1)))
    with pytest.raises(ValueError, match="a run with other steps or periods"):
        run(tooth, resume=other)
    with pytest.raises(ValueError, match="a run with other steps or periods"):
        simulate([tooth], periods(), days=6.0, step=1.0, resume=good)
    with pytest.raises(ValueError, match="a run with other teeth"):
        simulate([tooth, tooth], periods(), days=6.0, step=0.8, resume=good)
    with pytest.raises(ValueError, match="a run with other teeth"):
        run(tooth, resume=replace(good, clocks=(good.clocks[0][1:],)))
    with pytest.raises(StateError):
        run(tooth, resume=replace(good, loads={}))
    with pytest.raises(StateError, match="no place for"):
        run(tooth, resume=replace(good, loads={**good.loads, "9.left": np.ones(1)}))
    with pytest.raises(ValueError, match="at least one row"):
        replace(good, rows=())
