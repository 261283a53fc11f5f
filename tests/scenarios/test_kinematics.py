"""Movement in trade words against rigid-body geometry worked out by hand.

Verification: every pose is a small rotation about a known point, u = turn x (p - centre), with
directions drawn from the patient's body and not from the code that is tested.
"""

import numpy as np
import pytest

from gomphosis.bone.library import lookup
from gomphosis.scenarios.kinematics import (
    moment_to_force,
    movement_type,
    orientation,
    point_movement,
    rotation_centre,
    tipping_type,
)

NUMBERS = (13, 21, 34, 42)
PLANES = ("labial", "mesial")
EDGE = np.array([0.0, 0.0, 11.0])
APEX = np.array([0.0, 0.0, -12.0])
SMALL = 1e-3  # rad


def directions(number: int) -> dict[str, np.ndarray]:
    """Return unit vectors of the tooth frame, from the body's left, posterior and superior."""
    left, anterior, superior = np.array([[1.0, 0, 0], [0, -1.0, 0], [0, 0, 1.0]])
    quadrant = number // 10
    labial = anterior
    crownward = -superior if quadrant in (1, 2) else superior
    axes = np.stack([labial, np.cross(crownward, labial), crownward])
    to_midline = left if quadrant in (1, 4) else -left
    return {"labial": axes @ labial, "mesial": axes @ to_midline, "extrusion": axes @ crownward}


def pose_about(turn: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Return the pose about the origin of a small rotation about a centre."""
    return np.concatenate([np.cross(turn, -centre), turn])


def tip(number: int, plane: str, angle: float, depth: float) -> np.ndarray:
    """Return the pose of a tip, crown towards the plane's direction, about a point at a depth."""
    axes = directions(number)
    turn = angle * np.cross(axes["extrusion"], axes[plane])
    return pose_about(turn, np.array([0.0, 0.0, -depth]))


def shift(number: int, **parts: float) -> np.ndarray:
    axes = directions(number)
    moved = np.sum([size * axes[name] for name, size in parts.items()], axis=0)
    return np.concatenate([moved, np.zeros(3)])


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("plane", PLANES)
@pytest.mark.parametrize("depth", [-4.0, 3.0, 7.5, 12.0])
@pytest.mark.parametrize("angle", [SMALL, -SMALL])
def test_tip_about_a_known_point(number: int, plane: str, depth: float, angle: float):
    pose = tip(number, plane, angle, depth)
    column = 1 + PLANES.index(plane)
    other = 3 - column
    centre = rotation_centre(number, pose)
    np.testing.assert_allclose(centre[column - 1], depth, rtol=1e-12)
    assert np.isnan(centre[other - 1])
    # arm times angle; the crown goes where the trade word says
    for point, height in ((EDGE, 11.0), (APEX, -12.0)):
        moved = point_movement(number, pose, point)
        np.testing.assert_allclose(moved[column], angle * (height + depth), rtol=0, atol=1e-15)
        np.testing.assert_allclose(moved[[0, other]], 0, atol=1e-15)
    expected = [angle, 0, 0] if plane == "mesial" else [0, angle, 0]
    np.testing.assert_allclose(orientation(number, pose), expected, rtol=0, atol=1e-15)


@pytest.mark.parametrize("number", NUMBERS)
def test_both_planes_at_once(number: int):
    pose = tip(number, "labial", SMALL, 5.0) + tip(number, "mesial", -2 * SMALL, 8.0)
    np.testing.assert_allclose(rotation_centre(number, pose), [5.0, 8.0], rtol=1e-12)


@pytest.mark.parametrize("number", NUMBERS)
def test_no_centre_of_a_translation_or_of_rest(number: int):
    assert np.isnan(rotation_centre(number, shift(number, labial=0.5, mesial=-0.2))).all()
    assert np.isnan(rotation_centre(number, shift(number, extrusion=0.5))).all()
    assert np.isnan(rotation_centre(number, np.zeros(6))).all()


@pytest.mark.parametrize(("depth", "there"), [(199.0, True), (201.0, False)])
def test_centre_beyond_200_mm_is_that_of_a_translation(depth: float, there: bool):
    centre = rotation_centre(11, tip(11, "labial", SMALL, depth))[0]
    assert np.isfinite(centre) == there


def test_axis_of_many_poses():
    poses = np.stack([tip(11, "labial", SMALL, d) for d in (2.0, 4.0, 6.0)]).reshape(3, 1, 6)
    np.testing.assert_allclose(rotation_centre(11, poses)[..., 0], [[2], [4], [6]], rtol=1e-12)


@pytest.mark.parametrize("number", NUMBERS)
def test_rotation_about_the_long_axis(number: int):
    """Mesiolingual: the mesial surface moves lingually, by angle times distance from the axis."""
    axes = directions(number)
    turn = SMALL * np.cross(axes["mesial"], -axes["labial"])
    pose = np.concatenate([np.zeros(3), turn])
    np.testing.assert_allclose(orientation(number, pose), [0, 0, SMALL], rtol=0, atol=1e-15)
    mesial_surface = point_movement(number, pose, 4.0 * axes["mesial"])
    np.testing.assert_allclose(mesial_surface, [0, -4.0 * SMALL, 0], rtol=0, atol=1e-15)


LIMITS = {
    name: lookup(f"movement_type.{name}").numbers
    for name in ("uncontrolled_tipping", "controlled_tipping", "translation")
}


def test_limits_of_the_types_are_the_published_ones():
    """Prog Orthod 2022, doi 10.1186/s40510-022-00433-4, Table 2: apex over incisal edge."""
    assert LIMITS == {
        "uncontrolled_tipping": (-1.5, -0.2),
        "controlled_tipping": (-0.2, 0.5),
        "translation": (0.5, 2.4),
    }


@pytest.mark.parametrize(
    ("ratio", "name"),
    [
        (-10.0, "root movement"),
        (np.nextafter(-1.5, -2), "root movement"),
        (-1.5, "uncontrolled tipping"),
        (-0.7, "uncontrolled tipping"),
        (np.nextafter(-0.2, -1), "uncontrolled tipping"),
        (-0.2, "controlled tipping"),
        (0.0, "controlled tipping"),
        (np.nextafter(0.5, 0), "controlled tipping"),
        (0.5, "translation"),
        (1.0, "translation"),
        (np.nextafter(2.4, 0), "translation"),
        (2.4, "root movement"),
        (50.0, "root movement"),
    ],
)
@pytest.mark.parametrize("edge", [1.0, -1.0])
def test_type_at_and_between_the_limits(ratio: float, name: str, edge: float):
    """A limit belongs to the type above it (engineering choice: the table does not say)."""
    assert tipping_type(edge, ratio * edge) == name


def test_apex_alone_is_root_movement():
    assert tipping_type(0.0, 0.4) == "root movement"


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("plane", PLANES)
@pytest.mark.parametrize("sense", [1, -1])
@pytest.mark.parametrize(
    ("depth", "name"),
    [
        # apex over edge is (depth - 12)/(depth + 11)
        (5.0, "uncontrolled tipping"),  # -0.44
        (12.0, "controlled tipping"),  # 0
        (20.0, "controlled tipping"),  # 0.26
        (60.0, "translation"),  # 0.68
        (-11.0, "root movement"),
    ],
)
def test_type_of_a_tip(number: int, plane: str, sense: int, depth: float, name: str):
    pose = tip(number, plane, sense * 0.02, depth)
    assert movement_type(number, pose, edge=EDGE, apex=APEX) == (name, plane)


def kind(number: int, pose: np.ndarray) -> tuple[str, str]:
    return movement_type(number, pose, edge=EDGE, apex=APEX)


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("plane", PLANES)
def test_axial_and_transverse_parts(number: int, plane: str):
    def moved(axial: float, across: float) -> tuple[str, str]:
        return kind(number, shift(number, extrusion=axial, **{plane: across}))

    assert moved(1.0, 0.0) == ("extrusion", "none")
    assert moved(-1.0, 0.0) == ("intrusion", "none")
    assert moved(0.0, -1.0) == ("translation", plane)
    # the larger part comes first; a part below 0.3 of it is not named
    assert moved(1.0, 0.31) == ("extrusion with translation", plane)
    assert moved(1.0, 0.29) == ("extrusion", "none")
    assert moved(-0.31, 1.0) == ("translation with intrusion", plane)
    assert moved(-0.29, 1.0) == ("translation", plane)


def test_plane_is_that_of_the_larger_movement():
    pose = shift(11, labial=0.4) + tip(11, "mesial", 0.02, 5.0)
    # apex 0.14 mm and edge 0.32 mm mesially against 0.4 mm labially
    assert kind(11, pose) == ("translation", "labial")
    assert kind(11, pose - shift(11, labial=0.2)) == ("uncontrolled tipping", "mesial")


@pytest.mark.parametrize(
    ("size", "name"), [(0.0, "none"), (0.0099, "none"), (0.0101, "translation")]
)
def test_less_than_a_hundredth_of_a_millimetre_is_rest(size: float, name: str):
    assert kind(21, shift(21, labial=size))[0] == name


@pytest.mark.parametrize(("degrees", "name"), [(0.9, "none"), (-1.1, "rotation"), (5, "rotation")])
def test_turn_about_the_axis_alone_is_rotation(degrees: float, name: str):
    pose = np.array([0, 0, 0, 0, 0, np.deg2rad(degrees)])
    assert kind(33, pose) == (name, "none")


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("plane", PLANES)
@pytest.mark.parametrize("force", [0.5, -0.5])
def test_translation_needs_the_distance_as_moment_to_force(number: int, plane: str, force: float):
    """Statics: M about the centre of resistance vanishes, M - (-d) e_z x F = 0."""
    distance = 9.0
    axes = directions(number)
    push = force * axes[plane]
    bracket_above = distance * axes["extrusion"]
    couple = -np.cross(bracket_above, push)
    # in trade words: force along the plane, moment positive that takes the crown the same way
    crown_follows = np.cross(axes["extrusion"], axes[plane])
    words = np.zeros(6)
    column = PLANES.index(plane)
    words[1 + column] = push @ axes[plane]
    words[4 - column] = couple @ crown_follows
    ratio = moment_to_force(words)
    np.testing.assert_allclose(ratio[column], distance, rtol=1e-12)
    assert np.isnan(ratio[1 - column])


def test_no_moment_to_force_below_two_hundredths_of_a_newton():
    words = np.array([[0, 0.02, -0.0199, 1.0, -1.0, 0], [0, -0.0199, -0.02, 1.0, -1.0, 0]])
    np.testing.assert_allclose(moment_to_force(words), [[50.0, np.nan], [np.nan, 50.0]], rtol=1e-12)
    everything = moment_to_force(words, least_force=0.01)
    np.testing.assert_allclose(everything, [[50, 1 / 0.0199], [-1 / 0.0199, 50]], rtol=1e-12)
