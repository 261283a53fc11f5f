"""The time loop: halving, refusals, periods, and steps too long for an explicit scheme."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.loads import ConstantLoads, LoadResponse, SpringLoads
from gomphosis.bone.loop import HALVINGS, Period, settle, simulate
from gomphosis.bone.overload import Lag
from gomphosis.bone.rates import Linear, Saturating
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, support
from gomphosis.bone.wall import SocketWall
from gomphosis.bone.yielding import ARM
from gomphosis.fem.newton import NotConvergedError

PUSH = np.array([[0.3, 0.0, 0.0, 0.0, 2.0, 0.0]])


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
    return Remodelling(wall, Saturating(0.06, 0.0014))


class Brittle:
    """A constant push that gives no number once the tooth moved too far since the last commit."""

    def __init__(self, limit, later=None):
        self.limit = limit
        self.later = limit if later is None else later
        self.last = np.zeros((1, 6))
        self.events = []
        self.days = []
        self.committed = []

    def evaluate(self, poses):
        near = abs(poses[0, 0] - self.last[0, 0]) <= self.limit
        return LoadResponse(PUSH if near else np.nan * PUSH, np.zeros((6, 6)))

    def at_day(self, day):
        self.days.append(day)

    def engage(self, poses):
        self.events.append("engage")
        self.last = poses.copy()
        self.committed.append(self.last)

    def commit(self, poses):
        self.events.append("commit")
        self.limit = self.later
        self.last = poses.copy()
        self.committed.append(self.last)

    def rollback(self):
        self.events.append("rollback")


def first_day(tooth):
    """Return elastic displacement and daily drift along x under the push."""
    elastic = tooth.wall.support.displacement(PUSH[0])[0]
    return elastic, tooth.drift(PUSH[0])[0][0]


def test_a_failing_step_is_halved_until_it_converges(tooth):
    elastic, speed = first_day(tooth)
    limit = elastic + 1.2 * speed
    loads = Brittle(limit)
    # four days do not converge, nor two, but one does; the answer is a straight line anyway
    found = simulate([tooth], [Period(0.0, loads)], days=4.0, step=4.0)
    plain = simulate([tooth], [Period(0.0, ConstantLoads(PUSH))], days=4.0, step=4.0)
    assert loads.events.count("rollback") == 3
    # once as tied in, then once a day
    assert loads.events.count("commit") == 5
    assert loads.events[0] == "engage"
    # the day before it is put on, then that at the end of every try, whole or halved
    assert loads.days == [0.0, 4.0, 2.0, 1.0, 2.0, 4.0, 3.0, 4.0]
    np.testing.assert_array_equal(found.days, [0.0, 4.0])
    np.testing.assert_allclose(found.drift, plain.drift, rtol=0, atol=1e-10)


def test_halves_of_a_step_share_the_standstill_of_the_whole(tooth):
    lag = Lag(0.5 * tooth.wall.stress(PUSH[0]).pressure.max(), 2.5)
    slow = replace(tooth, lag=lag)
    whole = simulate([slow], [Period(0.0, ConstantLoads(PUSH))], days=8.0, step=4.0)
    elastic, speed = first_day(tooth)
    halved = simulate([slow], [Period(0.0, Brittle(elastic + 1.2 * speed))], days=8.0, step=4.0)
    np.testing.assert_allclose(halved.drift, whole.drift, rtol=0, atol=1e-10)
    assert whole.stopped[0, 0] > 0.1 * tooth.wall.area.sum()
    np.testing.assert_array_equal(halved.stopped, whole.stopped)
    np.testing.assert_array_equal(whole.stopped[1:], 0.0)
    free = simulate([tooth], [Period(0.0, ConstantLoads(PUSH))], days=8.0, step=4.0)
    # what is lost is lost in the first step, which ends after the delay
    lost = free.drift[:, 0, 0] - whole.drift[:, 0, 0]
    assert lost[1] > 0.05 * free.drift[1, 0, 0]
    np.testing.assert_allclose(lost[2], lost[1], rtol=1e-9)


def test_a_stiff_spring_on_wall_that_stops_is_solved_and_lets_go_more_slowly(tooth):
    periods = [Period(0.0, stiff_spring())]
    slow = replace(tooth, lag=Lag(0.005, 10.0))
    force, held = (
        simulate([model], periods, days=28, step=1.0).wrench[:, 0, 0] for model in (tooth, slow)
    )
    assert np.diff(held).max() < 1e-9
    assert held[5] > 1.05 * force[5]


def test_a_step_that_never_converges_raises_with_its_history(tooth):
    elastic, _ = first_day(tooth)
    loads = Brittle(elastic + 1e-9, later=1e-9)
    with pytest.raises(NotConvergedError) as error:
        simulate([tooth], [Period(0.0, loads)], days=1.0, step=1.0)
    assert loads.events.count("rollback") == HALVINGS + 1
    assert len(error.value.history) >= 2
    # its first residual is the drift of the shortest step, rotations times the loop's arm
    drift = tooth.drift(PUSH[0])[0] * [1, 1, 1, ARM, ARM, ARM]
    np.testing.assert_allclose(error.value.history[0], np.abs(drift).max() / 2**HALVINGS, rtol=1e-6)


@pytest.mark.parametrize(
    "starts", [[], [1.0], [0.0, 3.0, 3.0], [0.0, 5.0, 2.0], [0.0, 10.0], [0.0, 12.0]]
)
def test_periods_out_of_order_are_refused(tooth, starts):
    periods = [Period(start, ConstantLoads(PUSH)) for start in starts]
    with pytest.raises(ValueError, match="must start at day 0, rise, and end before 10"):
        simulate([tooth], periods, days=10.0, step=1.0)


def test_a_day_of_change_appears_before_and_after(tooth):
    days = []
    periods = [Period(0.0, ConstantLoads(PUSH)), Period(2.5, ConstantLoads(-PUSH))]
    track = simulate([tooth], periods, days=4.0, step=1.0, progress=days.append)
    np.testing.assert_allclose(
        track.days, [0, 2.5 / 3, 5 / 3, 2.5, 2.5, 3.25, 4], rtol=0, atol=1e-12
    )
    np.testing.assert_array_equal(track.period, [0, 0, 0, 0, 1, 1, 1])
    np.testing.assert_allclose(days, np.delete(track.days, [0, 4]), rtol=0, atol=0)
    # the new load acts at once on the pose, and on the drift from then on
    np.testing.assert_array_equal(track.drift[4], track.drift[3])
    elastic = tooth.wall.support.displacement(PUSH[0])
    np.testing.assert_allclose(track.pose[3, 0] - track.pose[4, 0], 2 * elastic, atol=1e-10)
    np.testing.assert_array_equal(track.wrench[4:, 0], np.repeat(-PUSH, 3, axis=0))
    assert track.drift[6, 0, 0] < track.drift[4, 0, 0]


def test_wires_are_tied_in_where_the_teeth_stand(tooth):
    loads = Brittle(np.inf)
    periods = [Period(0.0, ConstantLoads(PUSH)), Period(2.0, loads)]
    track = simulate([tooth], periods, days=3.0, step=1.0)
    assert loads.events == ["engage", "commit", "commit"]
    np.testing.assert_array_equal(loads.committed, track.pose[[2, 3, 4]])
    assert track.days[2] == 2.0


def test_the_rate_factor_scales_the_drift_and_not_the_elastic_part(tooth):
    period = [Period(0.0, ConstantLoads(PUSH))]
    one, two = (simulate([tooth], period, days=3, step=1, rate_factor=f) for f in (1.0, 2.0))
    np.testing.assert_allclose(two.drift, 2 * one.drift, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(two.pose - two.drift, one.pose - one.drift, rtol=0, atol=1e-10)


def stiff_spring():
    """Return a spring a hundred times stiffer than the ligament, stretched by half a mm."""
    stiffness = np.diag([4000.0, 0, 0, 0, 0, 0])
    return SpringLoads(np.array([[2000.0, 0, 0, 0, 0, 0]]), stiffness)


def test_long_steps_with_a_stiff_spring_do_not_overshoot(tooth):
    """Explicit steps would be unstable from 2 S_half / (v_max k_n) on, a fraction of a day."""
    periods = [Period(0.0, stiff_spring())]
    coarse, fine = (simulate([tooth], periods, days=56, step=s) for s in (7.0, 0.5))
    for track in (coarse, fine):
        force = track.wrench[:, 0, 0]
        # two elastic bodies share the stretch; then the force only falls
        assert np.diff(force).max() < 1e-9
        assert force.min() > -1e-9
        assert force[0] > 5
    np.testing.assert_allclose(coarse.pose[-1, 0, 0], fine.pose[-1, 0, 0], rtol=0, atol=5e-3)


def test_teeth_that_share_no_load_do_not_feel_each_other(tooth):
    other = Remodelling(tooth.wall, Linear(20.0))
    pushes = np.concatenate([PUSH, -2 * PUSH])
    both = simulate([tooth, other], [Period(0.0, ConstantLoads(pushes))], days=3, step=1)
    for index, model in enumerate((tooth, other)):
        alone = simulate(
            [model], [Period(0.0, ConstantLoads(pushes[index : index + 1]))], days=3, step=1
        )
        np.testing.assert_allclose(both.drift[:, index], alone.drift[:, 0], rtol=1e-9, atol=1e-12)


def test_settled_teeth_share_the_stretch_of_a_spring_and_do_not_drift(tooth):
    """Verification: springs in a row, q = C W and W = W_0 - A q."""
    pose, wrench = settle([tooth], stiff_spring())
    compliance = tooth.wall.support.compliance[0, 0]
    force = 2000 / (1 + 4000 * compliance)
    np.testing.assert_allclose(wrench[0, 0], force, rtol=1e-9)
    np.testing.assert_allclose(pose[0], tooth.wall.support.displacement(wrench[0]), rtol=1e-9)


class Growing:
    """A push along x in proportion to the day, which notes what it was told and when."""

    def __init__(self):
        self.now = np.nan
        self.seen = []

    def at_day(self, day):
        self.now = day

    def engage(self, poses):
        self.seen.append(("engage", self.now))

    def evaluate(self, poses):
        return LoadResponse(self.now * PUSH, np.zeros((6, 6)))

    def commit(self, poses):
        self.seen.append(("commit", self.now))

    def rollback(self):
        raise AssertionError("every step converges")


def test_loads_are_told_the_day_of_the_end_of_every_step(tooth):
    """Verification: implicit steps under F = t P and a linear law drift by sum of t_k dt."""
    linear = Remodelling(tooth.wall, Linear(20.0))
    loads = Growing()
    first = Period(0.0, ConstantLoads(0.0 * PUSH))
    track = simulate([linear], [first, Period(3.0, loads)], days=6.0, step=1.0)
    days = [3.0, 4.0, 5.0, 6.0]
    assert loads.seen == [("engage", 3.0), *(("commit", day) for day in days)]
    np.testing.assert_allclose(track.wrench[-4:, 0], np.outer(days, PUSH[0]), rtol=1e-15)
    speed = linear.drift(PUSH[0])[0]
    np.testing.assert_allclose(track.drift[-1, 0], (4 + 5 + 6) * speed, rtol=1e-9, atol=1e-12)


def test_settled_teeth_are_loaded_as_on_a_day(tooth):
    loads = Growing()
    _, wrench = settle([tooth], loads, day=2.0)
    np.testing.assert_array_equal(wrench, 2.0 * PUSH)
    assert loads.seen == [("engage", 2.0)]
    assert settle([tooth], Growing())[1].max() == 0.0
