"""The time loop: halving, refusals, periods and order of events."""

import numpy as np
import pytest
from gomphosis.bone.loads import ConstantLoads, LoadResponse, SpringLoads
from gomphosis.bone.loop import HALVINGS, Period, simulate
from gomphosis.bone.rates import Linear, Saturating
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, support
from gomphosis.bone.wall import SocketWall
from gomphosis.fem.newton import NotConvergedError

PUSH = np.array([[0.3, 0.0, 0.0, 0.0, 2.0, 0.0]])
LAW = Saturating(0.06, 0.0014)


@pytest.fixture(scope="module")
def wall():
    design = SupportDesign(
        RootProfile(3.24, 12.0, 0.35),
        ThicknessProfile(0.22, 0.16, 0.22),
        Elastic(0.05, 0.3),
        None,
        None,
    )
    return SocketWall(support(design, Resolution(along=12)), 12)


@pytest.fixture(scope="module")
def tooth(wall):
    return Remodelling(wall, LAW)


class Stubborn:
    """Constant loads that have no answer if the pose moved further than a limit since commit.

    Beyond the limit the residual has no root in reach: the response jumps away from it.
    """

    def __init__(self, limit):
        self.limit = limit
        self.last = np.zeros((1, 6))
        self.events = []

    def evaluate(self, poses):
        far = np.abs(poses[:, 0] - self.last[:, 0]).max() > self.limit
        # a load that throws the tooth far back beyond the limit: no equilibrium there
        return LoadResponse(PUSH if not far else -1e3 * PUSH, np.zeros((6, 6)))

    def commit(self, poses):
        self.events.append("commit")
        self.last = poses.copy()

    def rollback(self):
        self.events.append("rollback")


def test_a_failing_step_is_halved_and_the_answer_is_that_of_constant_loads(tooth):
    """Under a constant load every step length gives the same straight line."""
    speed = tooth.drift(PUSH[0])[0][0]
    elastic = tooth.wall.support.displacement(PUSH[0])[0]
    loads = Stubborn(limit=elastic + 1e-6)
    simple = simulate([tooth], [Period(0.0, ConstantLoads(PUSH))], days=4.0, step=4.0)
    loads.limit = max(elastic, 1.5 * speed) * 1.0001
    assert 4 * speed > loads.limit > 1.5 * speed
    halved = simulate([tooth], [Period(0.0, loads)], days=4.0, step=4.0)
    assert loads.events.count("rollback") >= 1
    np.testing.assert_allclose(halved.drift[-1], simple.drift[-1], rtol=1e-9, atol=1e-12)
    np.testing.assert_array_equal(halved.days, [0.0, 4.0])


def test_a_step_that_never_converges_raises_with_its_history(tooth):
    class Hopeless(Stubborn):
        def evaluate(self, poses):
            # flips with the sign of the pose: no equilibrium at all once time passes
            first = poses[0, 0] - self.last[0, 0]
            if not self.events[1:]:
                return LoadResponse(PUSH, np.zeros((6, 6)))
            return LoadResponse(np.where(first < 1.0, 1e4, -1e4) * PUSH, np.zeros((6, 6)))

    loads = Hopeless(1.0)
    loads.evaluate_first = True
    with pytest.raises(NotConvergedError) as error:
        simulate([tooth], [Period(0.0, loads)], days=1.0, step=1.0)
    assert len(error.value.history) > 1


def test_the_shortest_step_is_the_first_one_halved_a_fixed_number_of_times(tooth):
    class Never(Stubborn):
        """Answers the first equilibrium only; then its residual cannot vanish."""

        def evaluate(self, poses):
            started = len(self.events) > 1 or getattr(self, "ready", False)
            if not started:
                return LoadResponse(PUSH, np.zeros((6, 6)))
            return LoadResponse(np.full((1, 6), np.nan), np.zeros((6, 6)))

    loads = Never(1.0)

    def start(day):
        loads.ready = True

    quiet = ConstantLoads(PUSH)
    periods = [Period(0.0, quiet), Period(1.0, loads)]
    loads.ready = False
    with pytest.raises(NotConvergedError):
        # ready once the second period has been tied in and balanced
        simulate([tooth], [periods[0], Period(1.0, _After(loads))], days=2.0, step=1.0)
    assert loads.events.count("rollback") == HALVINGS + 1
    assert start is not None


class _After:
    """Let the first equilibrium of wrapped loads pass, then switch them on."""

    def __init__(self, loads):
        self.loads = loads
        self.calls = 0

    def evaluate(self, poses):
        self.calls += 1
        # tying in: one solve of the equilibrium (two evaluations) and the record (one)
        self.loads.ready = self.calls > 3
        return self.loads.evaluate(poses)

    def commit(self, poses):
        self.loads.last = poses

    def rollback(self):
        self.loads.rollback()
