"""The lag of overloaded wall: its clock, and a run against the closed form of an even wall."""

import numpy as np
import pytest

from gomphosis.bone.loads import ConstantLoads
from gomphosis.bone.loop import Period, simulate
from gomphosis.bone.overload import Lag
from gomphosis.bone.rates import Linear
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.standstill import Standstill
from gomphosis.bone.support import Elastic, Resolution, SupportDesign, motion_at, support
from gomphosis.bone.wall import SocketWall

LAG = Lag(0.005, 3.0)


def test_clock_of_one_piece_of_wall_day_by_day():
    """Loaded, let go on day 1, moving from day 3, loaded again, let go, loaded: stops again."""
    clock = LAG.start(1)
    pressures = [0.006, 0.0, 0.0, 0.006, 0.006, 0.0, 0.006]
    stopped, moved = [], []
    for pressure in pressures:
        clock = LAG.advanced(clock, np.array([pressure]), 1.0)
        stopped.append(bool(LAG.stopped(clock)[0]))
        moved.append(LAG.moving(clock, 1.0)[0])
    # it stays stopped after the load has gone, and overload that lasts does not stop it twice
    assert stopped == [True, True, True, False, False, False, True]
    assert moved == [0, 0, 0, 1, 1, 1, 0]


def test_the_end_of_the_delay_is_met_within_a_step():
    clock = LAG.advanced(LAG.start(2), np.array([0.006, 0.004]), 0.0)
    np.testing.assert_allclose(LAG.moving(clock, 4.0), [0.25, 1.0], rtol=1e-12)
    later = LAG.advanced(clock, np.array([0.006, 0.004]), 2.0)
    np.testing.assert_allclose(LAG.moving(later, 4.0), [0.75, 1.0], rtol=1e-12)


def test_pressure_at_the_limit_is_no_overload():
    clock = LAG.advanced(LAG.start(1), np.array([LAG.pressure]), 1.0)
    assert not LAG.stopped(clock)[0]


@pytest.mark.parametrize(
    ("pressure", "delay", "message"),
    [(0.0, 3.0, "pressure > 0, got 0"), (0.1, -1.0, "delay > 0, got -1"), (np.nan, 1, "got nan")],
)
def test_impossible_lags_are_refused(pressure, delay, message):
    with pytest.raises(ValueError, match=message):
        Lag(pressure, delay)


# An even wall: a cylinder in a thin layer of even thickness, translated. There the pressure is
# p_0 cos(theta), so the wall within +-theta_0, cos(theta_0) = limit / p_0, stops.

RADIUS, LENGTH, THIN = 3.0, 10.0, 0.01
PAIR = Elastic(0.05, 0.3)
CONSTANT = 20.0  # mm/day per MPa
DELAY, DAYS, STEP = 3.3, 9.0, 0.5
SHARE = 0.7  # limit over the largest pressure


@pytest.fixture(scope="module")
def cylinder():
    design = SupportDesign(
        RootProfile(RADIUS, LENGTH, 0.0), ThicknessProfile.uniform(THIN * RADIUS), PAIR, None, None
    )
    return SocketWall(support(design, Resolution(along=16)), 360)


def translated(wall):
    centre = wall.support.planar.centre_of_resistance
    return motion_at(np.array([0, 0, centre])).T @ np.array([0.5, 0, 0, 0, 0, 0])


def largest_pressure(wall, force=0.5):
    """Return p_0 of the closed form: mean stress K e, e = u cos(theta)/t across the layer."""
    layer = np.pi * RADIUS * LENGTH / (THIN * RADIUS)
    displacement = force / (layer * (PAIR.constrained + PAIR.shear))
    bulk = PAIR.young / (3 * (1 - 2 * PAIR.poisson))
    return bulk * displacement / (THIN * RADIUS)


def followed(wall, lag):
    model = Remodelling(wall, Linear(CONSTANT), None, "traction", lag)
    periods = [Period(0.0, ConstantLoads(translated(wall)[None]))]
    return simulate([model], periods, days=DAYS, step=STEP)


def test_area_and_delay_of_an_even_wall_in_closed_form(cylinder):
    """Verification: stopped area 2 theta_0 R h, and the drift with and without that wall.

    A uniform translation of the wall drives the tooth in proportion to the layer's stiffness
    M cos^2 + G sin^2 of the wall that moves. 1 %: thickness over radius, free edges at bottom and
    crest; sectors are 1 degree.
    """
    lag = Lag(SHARE * largest_pressure(cylinder), DELAY)
    track, free = followed(cylinder, lag), followed(cylinder, None)
    angle = np.arccos(SHARE)
    wall_area = 2 * angle * RADIUS * (1 + THIN) * LENGTH
    assert track.stopped is not None
    still = track.days < DELAY
    np.testing.assert_allclose(track.stopped[still, 0], wall_area, rtol=0.01)
    np.testing.assert_array_equal(track.stopped[~still, 0], 0.0)
    M, G = PAIR.constrained, PAIR.shear
    stiff = M * (angle + np.sin(angle) * np.cos(angle)) + G * (angle - np.sin(angle) * SHARE)
    kept = 1 - stiff / (np.pi * (M + G))
    speed = free.drift[-1, 0] / DAYS
    centre = motion_at(np.array([0, 0, cylinder.support.planar.centre_of_resistance]))[0]
    moved = track.drift[:, 0] @ centre / (speed @ centre)
    expected = np.where(still, kept * track.days, track.days - (1 - kept) * DELAY)
    np.testing.assert_allclose(moved, expected, rtol=0, atol=0.01 * DAYS)
    # the delay falls inside a step and yet is met: 3.3 days in steps of half a day
    late = track.days > DELAY
    lost = track.days[late] - moved[late]
    np.testing.assert_allclose(lost, (1 - kept) * DELAY, rtol=0.01)
    np.testing.assert_allclose(lost, lost[0], rtol=1e-6)


def test_without_overload_a_lag_changes_nothing(cylinder):
    lag = Lag(1.2 * largest_pressure(cylinder), DELAY)
    track, free = followed(cylinder, lag), followed(cylinder, None)
    np.testing.assert_array_equal(track.stopped, 0.0)
    np.testing.assert_array_equal(track.drift, free.drift)


def test_a_record_of_force_systems_repeats_the_clocks(cylinder):
    lag = Lag(SHARE * largest_pressure(cylinder), DELAY)
    track = followed(cylinder, lag)
    model = Remodelling(cylinder, Linear(CONSTANT), None, "traction", lag)
    other = Remodelling(cylinder, Linear(CONSTANT))
    still = Standstill.start([model, other])
    areas = []
    for length, wrench in zip(np.diff(track.days, prepend=0.0), track.wrench[:, 0], strict=True):
        still = still.after(np.stack([wrench, wrench]), float(length))
        areas.append(still.area())
    np.testing.assert_array_equal(np.array(areas)[:, 0], track.stopped[:, 0])
    # the tooth without a lag never stops
    assert np.array(areas)[:, 1].max() == 0.0
    assert still.moving(1.0)[1] is None
