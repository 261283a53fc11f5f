"""History of a tooth against statics, quadrature and closed forms of a thin layer.

Verification. Most tests hand a track made here to the history, so that nothing but the history
decides; the bone turnover is compared with volumes swept by a rigid socket wall.
"""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.loop import Track
from gomphosis.bone.overload import Lag
from gomphosis.bone.rates import Linear
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import ThicknessProfile, offset_surface
from gomphosis.bone.support import Resolution, support
from gomphosis.bone.wall import SocketWall
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.history import ToothHistory, bone_turnover, histories, tooth_history
from gomphosis.scenarios.model import ToothModel, tooth_models
from gomphosis.scenarios.persons import person_factor
from gomphosis.scenarios.run import run

COARSE = Resolution(along=10, root=2, ligament=1, bone=1, sectors=16)
# labial side of tooth 21 is +x and mesial +y, of tooth 11 mesial is -y (quadrant 2 against 1)
OUT_OF_LINE = {
    "vertical": "-1.5 mm",
    "labial": "0.7 mm",
    "mesial": "-0.4 mm",
    "angulation": "5 deg",
    "inclination": "-3 deg",
    "rotation": "8 deg",
}
STANDS = np.array([-1.5, 0.7, -0.4, *np.deg2rad([5.0, -3.0, 8.0])])


def scenario(number: int = 11, **changes):
    force = {"tooth": number, "force": "0.3 N", "direction": "lingual"}
    document = {
        "schema": 1,
        "duration": "4 days",
        "tooth": [{"number": number, **OUT_OF_LINE}],
        "force": [force],
        "rate": {"law": "linear", "constant": "10 um/day/kPa"},
    }
    return scenario_from({**document, **changes}, "test")


def only_tooth(case, size: Resolution = COARSE) -> ToothModel:
    return tooth_models(case, Linear(1.0), resolution=size)[0]


def track(wrenches, poses=None, days=None) -> Track:
    wrench = np.atleast_2d(np.asarray(wrenches, dtype=float))[:, None]
    pose = np.zeros_like(wrench) if poses is None else np.atleast_2d(poses)[:, None]
    times = np.arange(float(len(wrench))) if days is None else np.asarray(days, dtype=float)
    return Track(times, np.zeros(len(times), dtype=int), pose, pose, wrench)


def history(case, made: Track, *, rate_factor: float = 1.0) -> ToothHistory:
    return tooth_history(only_tooth(case), made, 0, case, rate_factor=rate_factor)


@pytest.mark.parametrize("number", [11, 24, 33, 46])
def test_position_at_the_start_is_the_malposition(number: int):
    case = scenario(number)
    found = history(case, track(np.zeros(6)))
    np.testing.assert_allclose(found.position[0], STANDS, rtol=0, atol=1e-12)
    for moved in (found.crown, found.apex, found.turn):
        np.testing.assert_allclose(moved, 0, atol=0)
    assert (found.number, found.movement, found.plane) == (number, ("none",), ("none",))


def test_base_thickness_moves_the_slot_and_not_the_tooth():
    tooth = {"number": 11, **OUT_OF_LINE, "prescription": {"in_out": "0.3 mm"}}
    case = scenario(tooth=[tooth])
    found = history(case, track(np.zeros(6)))
    np.testing.assert_allclose(found.position[0], STANDS, rtol=0, atol=1e-12)
    thicker, plain = only_tooth(case), only_tooth(scenario())
    np.testing.assert_allclose(thicker.slot - plain.slot, [0.3, 0, 0], atol=1e-12)
    # the wire meets the slot further out
    ahead = np.subtract(thicker.bracket.start, plain.bracket.start)
    np.testing.assert_allclose(ahead, [0.3, 0, 0, 0, 0, 0], atol=1e-12)


def test_position_later_adds_the_movement_of_the_slot():
    """A turn about the long axis carries a slot that stands labial of it sideways."""
    case = scenario(21)
    tooth = only_tooth(case)
    turn = 0.01
    found = history(case, track(np.zeros((2, 6)), [[0] * 6, [0.2, 0.1, -0.3, 0, 0, turn]]))
    sideways = 0.1 + turn * tooth.slot[0]
    np.testing.assert_allclose(
        found.position[1] - found.position[0], [-0.3, 0.2, sideways, 0, 0, turn], atol=1e-12
    )
    np.testing.assert_allclose(found.crown[1], [-0.3, 0.2, 0.1], atol=1e-12)


@pytest.mark.parametrize(("number", "mesial"), [(11, -1.0), (21, 1.0), (35, -1.0), (45, 1.0)])
def test_force_system_about_slot_and_centre_of_resistance(number: int, mesial: float):
    """Statics: M_P = M_O - r x F."""
    rng = np.random.default_rng(3)
    wrench = rng.normal(size=(4, 6))
    case = scenario(number)
    tooth = only_tooth(case)
    found = history(case, track(wrench))
    places = {"at_bracket": tooth.slot, "at_resistance": [0, 0, tooth.centre_of_resistance]}
    for name, place in places.items():
        force = wrench[:, :3]
        about = wrench[:, 3:] - np.cross(place, force)
        expected = np.stack(
            [
                force[:, 2],
                force[:, 0],
                mesial * force[:, 1],
                -mesial * about[:, 0],
                about[:, 1],
                mesial * about[:, 2],
            ],
            axis=1,
        )
        np.testing.assert_allclose(getattr(found, name), expected, rtol=1e-12, atol=1e-12)
    ratio = -found.at_bracket[:, 4] / found.at_bracket[:, 1]
    np.testing.assert_allclose(found.moment_to_force[:, 0], ratio, rtol=1e-12)


def test_centre_of_resistance_carries_no_moment_in_translation():
    case = scenario(11)
    tooth = only_tooth(case)
    push = np.array([0.5, 0.2, 0.0])
    moment = np.cross([0, 0, tooth.centre_of_resistance], push)
    found = history(case, track([*push, *moment], [0.3, 0.1, 0, 0, 0, 0]))
    np.testing.assert_allclose(found.at_resistance[0, 3:], 0, atol=1e-12)
    distance = tooth.slot[2] - tooth.centre_of_resistance
    np.testing.assert_allclose(found.moment_to_force[0], distance, rtol=1e-12)
    assert np.isnan(found.rotation_centre[0]).all()


def test_pressures_are_those_of_the_wall():
    case = scenario(11)
    wall = only_tooth(case).wall
    wrench = np.random.default_rng(5).normal(size=(3, 6)) * [0.3, 0.3, 0.3, 2, 2, 2]
    found = history(case, track(wrench))
    for k, load in enumerate(wrench):
        stress = wall.stress(load)
        pressure, area = stress.pressure.ravel(), wall.area.ravel()
        under = pressure > 0
        assert area[pressure > found.peak_pressure[k]].sum() == pytest.approx(
            0.01 * area.sum(), abs=area.max()
        )
        mean = np.average(pressure[under], weights=area[under])
        np.testing.assert_allclose(found.mean_pressure[k], mean, rtol=1e-12)
        above = area[pressure > 4.7e-3].sum() / area.sum()
        assert 0 < above < 1
        np.testing.assert_allclose(found.above_line[k], above, rtol=1e-12)
        strain = -stress.normal.ravel() / only_tooth(case).support.design.ligament.constrained
        assert area[strain > found.strain[k]].sum() == pytest.approx(
            0.01 * area.sum(), abs=area.max()
        )


def test_no_load_leaves_no_pressure():
    found = history(scenario(11), track(np.zeros(6)))
    for name in ("peak_pressure", "mean_pressure", "above_line", "strain", "resorbed"):
        np.testing.assert_array_equal(getattr(found, name), [0.0], err_msg=name)


def test_zones_cover_the_wall_and_follow_the_neutral_limit():
    wrench = [0.5, 0, 0.1, 0, 3.0, 0]
    area = only_tooth(scenario(11)).wall.area.sum()
    neutral = []
    for limit in ("0 kPa", "0.5 kPa", "2 kPa", "1000 kPa"):
        zones = history(scenario(11, neutral_below=limit), track(wrench)).zone_area[0]
        np.testing.assert_allclose(zones.sum(), area, rtol=1e-12)
        neutral.append(zones[1] / area)
    assert neutral[0] == 0
    assert 0 < neutral[1] < neutral[2] < 1
    np.testing.assert_allclose(neutral[3], 1, rtol=1e-12)


def test_intruded_wall_is_compressed_and_extruded_wall_stretched():
    for force, zone in ((-0.5, 0), (0.5, 2)):
        zones = history(
            scenario(11, neutral_below="0 kPa"), track([0, 0, force, 0, 0, 0])
        ).zone_area
        assert zones[0, zone] > 0.95 * zones.sum()


def test_overload_area_needs_a_limit_of_the_user():
    wrench = [0.5, 0, 0, 0, 0, 0]
    assert history(scenario(11), track(wrench)).overload_area[0] == 0
    tooth = only_tooth(scenario(11))
    pressure = tooth.wall.stress(np.array(wrench, dtype=float)).pressure
    limit = 0.5 * float(pressure.max())
    case = scenario(11, pressure_limit=f"{1e3 * limit!r} kPa")
    area = tooth.wall.area[pressure > limit].sum()
    assert 0 < area < 0.5 * tooth.wall.area.sum()
    np.testing.assert_allclose(history(case, track(wrench)).overload_area[0], area, rtol=1e-12)


THIN = 0.02  # mm; thin against the root's radius of about 3 mm
MANY = Resolution(along=24, ligament=2, sectors=96)


@pytest.fixture(scope="module")
def thin() -> ToothModel:
    """Tooth 11 in a thin compressible layer between a rigid root and a rigid socket."""
    tooth = only_tooth(scenario(11))
    design = replace(
        tooth.support.design, thickness=ThicknessProfile.uniform(THIN), dentine=None, bone=None
    )
    wall = SocketWall(support(design, MANY), MANY.sectors)
    return replace(tooth, remodelling=Remodelling(wall, Linear(2.0)))


def socket(tooth: ToothModel) -> np.ndarray:
    design = tooth.support.design
    return offset_surface(design.root, design.thickness, np.linspace(0, 1, 4001), fraction=1.0)


def test_translated_wall_removes_its_silhouette_times_the_distance(thin: ToothModel):
    """Closed form: a translating body of revolution sweeps its lengthwise outline, 2 r dz.

    Linear law and thin layer: the wall moves rigidly. Bar 1 %: thickness over radius is 0.7 %.
    """
    height = thin.centre_of_resistance
    wrench = np.tile([0.1, 0, 0, 0, 0.1 * height, 0], (3, 1))
    days = np.array([0.0, 1.0, 3.0])
    drift = thin.remodelling.drift(wrench[0])[0]
    assert abs(drift[4]) * thin.embedded < 0.01 * drift[0]
    r, z = socket(thin)
    outline = np.trapezoid(2 * r, z)
    resorbed, deposited = bone_turnover(thin, days, wrench, 1.0)
    np.testing.assert_allclose(resorbed, outline * drift[0] * days, rtol=0.01)
    np.testing.assert_allclose(deposited, resorbed, rtol=1e-9)
    assert drift[0] > 0


def test_intruded_wall_removes_its_cross_section_times_the_distance(thin: ToothModel):
    """Closed form: intrusion sweeps the opening of the socket, pi r^2, and deposits nothing."""
    wrench = np.tile([0, 0, -0.1, 0, 0, 0], (2, 1))
    sunk = -thin.remodelling.drift(wrench[0])[0][2]
    opening = np.pi * socket(thin)[0, -1] ** 2
    resorbed, deposited = bone_turnover(thin, np.array([0.0, 2.0]), wrench, 1.0)
    np.testing.assert_allclose(resorbed[1], opening * sunk * 2.0, rtol=0.01)
    assert deposited[1] < 0.01 * resorbed[1]
    raised = bone_turnover(thin, np.array([0.0, 2.0]), -wrench, 1.0)
    np.testing.assert_allclose(raised, (deposited, resorbed), rtol=1e-12, atol=1e-15)


def test_turnover_scales_with_the_persons_rate_and_skips_a_visit(thin: ToothModel):
    """The two records of a visit lie on one day; each step counts the load at its end."""
    one, two = np.array([[0.1, 0, 0, 0, -0.4, 0], [0.0, 0, -0.1, 0, 0, 0]])
    days = np.array([0.0, 1.0, 1.0, 3.0])
    resorbed, deposited = bone_turnover(thin, days, np.stack([two, one, two, two]), 1.7)
    first = bone_turnover(thin, np.array([0.0, 1.0]), np.stack([one, one]), 1.7)[0][1]
    second = bone_turnover(thin, np.array([0.0, 2.0]), np.stack([two, two]), 1.0)[0][1]
    np.testing.assert_allclose(resorbed, [0, first, first, first + 1.7 * second], rtol=1e-12)
    assert deposited[1] > 0


def test_wall_that_stands_still_removes_nothing(thin: ToothModel):
    """Two days of standstill of all compressed wall: only the third day resorbs."""
    wrench = np.tile([0.1, 0, 0, 0, 0.1 * thin.centre_of_resistance, 0], (4, 1))
    days = np.arange(4.0)
    slow = replace(thin, remodelling=replace(thin.remodelling, lag=Lag(1e-9, 2.0)))
    resorbed, deposited = bone_turnover(slow, days, wrench, 1.0)
    free, behind = bone_turnover(thin, days, wrench, 1.0)
    np.testing.assert_allclose(resorbed, free[[0, 0, 0, 1]], rtol=0, atol=1e-4 * free[1])
    # stretched wall is under no pressure and follows all the time
    np.testing.assert_allclose(deposited, behind, rtol=1e-4)
    assert free[1] > 0


def test_stopped_wall_of_a_run_is_told():
    lag = {"overload_pressure": "1 kPa", "overload_delay": "2 days"}
    result = run(scenario(11, rate=lag), resolution=COARSE)
    told = histories(result, result.cases[0])[0].stopped_area
    np.testing.assert_array_equal(told, result.cases[0].median.stopped[:, 0])
    assert told[0] > 1.0
    np.testing.assert_array_equal(told[2:], 0.0)


def test_history_of_a_run_uses_growth_and_quantile():
    """Constant load and any law: bone turned over per day is proportional to the rate."""
    case = scenario(11, growing="yes")
    result = run(case, resolution=COARSE)
    unknown = run(scenario(11), resolution=COARSE)
    by = {q: histories(result, result.cases[0], quantile=q)[0] for q in (0.1, 0.5, 0.9)}
    plain = histories(unknown, unknown.cases[0])[0]
    np.testing.assert_allclose(by[0.5].resorbed, 1.6**0.5 * plain.resorbed, rtol=1e-9)
    for q in (0.1, 0.9):
        np.testing.assert_allclose(by[q].resorbed, person_factor(q) * by[0.5].resorbed, rtol=1e-9)
    assert plain.resorbed[-1] > 0
    np.testing.assert_array_equal(plain.days, [0, 1, 2, 3, 4])
    # mass: a body of revolution pushed sideways deposits behind what it resorbs in front
    np.testing.assert_allclose(plain.deposited, plain.resorbed, rtol=1e-9)
