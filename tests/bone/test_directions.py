"""Verification of the trade words against directions in the patient.

Every expectation is built in patient coordinates (left, posterior, superior; right-handed), from
what the words mean in the mouth, never from the signs of the module under test.
"""

import numpy as np
import pytest

from gomphosis.bone import directions

LEFT, POSTERIOR, SUPERIOR = np.eye(3)
NUMBERS = [quadrant + position for quadrant in (10, 20, 30, 40) for position in (1, 3, 6)]
EXACT = {"rtol": 0.0, "atol": 1e-14}


def anatomy(number):
    """Labial, mesial and apex-to-crown directions of a tooth in the patient."""
    quadrant, position = divmod(number, 10)
    outward = LEFT if quadrant in (2, 3) else -LEFT
    angle = {1: 0.0, 3: np.pi / 4, 6: np.pi / 2}[position]
    labial = -np.cos(angle) * POSTERIOR + np.sin(angle) * outward
    mesial = -np.sin(angle) * POSTERIOR - np.cos(angle) * outward
    crown = -SUPERIOR if quadrant in (1, 2) else SUPERIOR
    return labial, mesial, crown


def frame(number):
    """Rows x, y, z of the tooth frame in the patient: x labial, z to the crown, y = z cross x."""
    labial, _, crown = anatomy(number)
    return np.array([labial, np.cross(crown, labial), crown])


def in_frame(number, polar, axial):
    axes = frame(number)
    return np.concatenate([axes @ polar, axes @ axial])


def test_frame_of_upper_right_incisor_by_hand():
    # Crown hangs down, labial is forwards, so y = down x forwards = to the patient's right: distal.
    np.testing.assert_allclose(frame(11), [-POSTERIOR, -LEFT, -SUPERIOR], **EXACT)
    assert directions.arch_side(11) == -1


@pytest.mark.parametrize(("number", "side"), [(11, -1), (26, 1), (33, -1), (48, 1)])
def test_arch_side_of_each_quadrant(number, side):
    assert directions.arch_side(number) == side


@pytest.mark.parametrize("number", NUMBERS)
def test_displacement_words(number):
    labial, mesial, crown = anatomy(number)
    for place, direction in enumerate((crown, labial, mesial)):
        six = in_frame(number, 0.3 * direction, np.zeros(3))
        expected = np.zeros(6)
        expected[place] = 0.3
        np.testing.assert_allclose(directions.to_trade(number, six), expected, **EXACT)


@pytest.mark.parametrize("number", NUMBERS)
def test_rotation_words_move_the_crown_as_they_say(number):
    labial, mesial, crown = anatomy(number)
    turn = np.array([0.02, -0.05, 0.03])
    words = directions.to_trade(number, in_frame(number, np.zeros(3), turn))
    crown_moves = np.cross(turn, crown)
    mesial_side_moves = np.cross(turn, mesial)
    expected = [crown_moves @ mesial, crown_moves @ labial, mesial_side_moves @ -labial]
    np.testing.assert_allclose(words[3:], expected, **EXACT)


@pytest.mark.parametrize("number", NUMBERS)
def test_forces_on_the_crown_turn_it_their_own_way(number):
    labial, mesial, crown = anatomy(number)
    at_edge, at_mesial_side = 9.0 * crown, 4.0 * mesial
    cases = [(at_edge, mesial, 3, 18.0), (at_edge, labial, 4, 18.0)]
    cases.append((at_mesial_side, -labial, 5, 8.0))
    for point, direction, place, moment in cases:
        force = 2.0 * direction
        words = directions.to_trade(number, in_frame(number, force, np.cross(point, force)))
        expected = np.zeros(3)
        expected[place - 3] = moment
        np.testing.assert_allclose(words[3:], expected, rtol=0.0, atol=1e-13)


@pytest.mark.parametrize("number", NUMBERS)
def test_mirrored_patient_reads_the_same(number):
    reflect = np.diag([-1.0, 1.0, 1.0])
    force, moment = np.array([0.4, -1.1, 0.7]), np.array([3.0, 5.0, -2.0])
    other = directions.mirror_number(number)
    here = directions.to_trade(number, in_frame(number, force, moment))
    there = directions.to_trade(other, in_frame(other, reflect @ force, -reflect @ moment))
    np.testing.assert_allclose(there, here, **EXACT)


@pytest.mark.parametrize(("number", "other"), [(11, 21), (25, 15), (33, 43), (48, 38)])
def test_mirror_number(number, other):
    assert directions.mirror_number(number) == other


@pytest.mark.parametrize("number", [11, 23, 36, 47])
def test_from_trade_undoes_to_trade(number):
    six = np.random.default_rng(4).normal(size=(2, 5, 6))
    words = directions.to_trade(number, six)
    np.testing.assert_allclose(directions.from_trade(number, words), six, **EXACT)
    np.testing.assert_allclose(words, six @ directions.trade_matrix(number).T, **EXACT)
    # Work is the same in either language.
    np.testing.assert_allclose(words[0] @ words[1].T, six[0] @ six[1].T, rtol=1e-14, atol=1e-14)


def test_leading_axes_are_kept():
    six = np.random.default_rng(5).normal(size=(3, 4, 6))
    words = directions.to_trade(31, six)
    assert words.shape == (3, 4, 6)
    np.testing.assert_allclose(words[2, 1], directions.to_trade(31, six[2, 1]), **EXACT)


def test_words_are_in_the_order_of_the_matrix():
    assert directions.FORCE_WORDS == ("extrusion", "labial", "mesial")
    assert directions.MOMENT_WORDS == ("tip_moment", "torque_moment", "rotation_moment")
    assert directions.ORIENTATION_WORDS == ("angulation", "inclination", "rotation")


@pytest.mark.parametrize("number", [0, 10, 19, 51, 85, -11, 11.5])
@pytest.mark.parametrize("call", [directions.arch_side, directions.mirror_number])
def test_other_numbers_are_refused(number, call):
    with pytest.raises(ValueError, match=r"11 to 18, 21 to 28, 31 to 38 or 41 to 48"):
        call(number)


@pytest.mark.parametrize("values", [np.zeros(3), np.zeros((6, 3)), np.float64(1.0)])
@pytest.mark.parametrize("call", [directions.to_trade, directions.from_trade])
def test_wrong_length_is_refused(values, call):
    with pytest.raises(ValueError, match="last axis of length 6"):
        call(11, values)
