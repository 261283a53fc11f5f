"""Verification: plates beside a root against the density map, and distances by hand."""

import numpy as np
import pytest

from gomphosis.bone.coverage import moved
from gomphosis.bone.library import lookup
from gomphosis.bone.outline import side_at
from gomphosis.bone.rates import Linear
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.files import scenario_from
from gomphosis.scenarios.model import ToothModel, tooth_models
from gomphosis.scenarios.plates import (
    GIVEN,
    Plate,
    first_day,
    measured_plates,
    moved_outline,
    plates_of,
    root_outline,
    socket_wall,
)
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slice_model import slice_models

COARSE = Resolution(along=12, root=2, ligament=1, bone=1, sectors=16)
STILL = np.zeros((1, 3))
FACE = np.array([1.0, 1.0])


def built(number: int, **table: object) -> tuple[Scenario, ToothModel]:
    force = {"tooth": number, "force": "0.1 N", "direction": "labial"}
    document = {"schema": 1, "tooth": [{"number": number}], "force": [force]}
    opened = {"slice": {"teeth": [number], **table}} if table else {}
    scenario = scenario_from({**document, **opened}, "test")
    return scenario, tooth_models(scenario, Linear(1.0), resolution=COARSE)[0]


def wall(sign: int, inner: float, outer: float) -> Plate:
    """An upright plate beside everything from 10 mm below the crest to the crest."""
    height = np.array([-10.0, 0.0])
    return Plate("labial", sign, height, inner * FACE, outer * FACE, "test", GIVEN, False)


SQUARE = np.array([[-1.0, 1.0, 1.0, -1.0], [-4.0, -4.0, -2.0, -2.0]])


@pytest.mark.parametrize("sign", [1, -1])
def test_distance_of_a_square_from_an_upright_plate(sign: int):
    plate = wall(sign, 3.0 * sign, 4.0 * sign)
    shift = np.array([[0.0, 0.0, 0.0], [0.5 * sign, 0.0, 0.0], [-1.0 * sign, 0.0, 0.0]])
    np.testing.assert_allclose(plate.clearance(SQUARE, shift), [2.0, 1.5, 3.0], rtol=1e-12)
    np.testing.assert_allclose(plate.bone_left(SQUARE, shift), [3.0, 2.5, 4.0], rtol=1e-12)


def test_a_quarter_turn_carries_what_lay_below_to_the_other_side():
    plate = wall(-1, -6.0, -7.0)
    # the turn carries points above the crest towards +x, so those below it towards -x
    x, z = moved_outline(SQUARE, np.array([[0.0, 0.0, np.pi / 2]]))
    np.testing.assert_allclose([x.min(), x.max(), z.min(), z.max()], [-4, -2, -1, 1], atol=1e-12)
    # half of it is above the crest now, where no plate is
    np.testing.assert_allclose(
        plate.clearance(SQUARE, np.array([[0, 0, np.pi / 2]])), [2.0], atol=1e-12
    )
    np.testing.assert_allclose(
        np.stack([x[0], z[0]]), moved(SQUARE, np.array([0.0, 0.0, np.pi / 2])), atol=1e-12
    )


def test_what_is_above_the_crest_meets_no_plate():
    plate = wall(1, 0.0, 0.0)
    assert np.isinf(plate.clearance(SQUARE, np.array([[0.0, 5.0, 0.0]]))).all()


@pytest.mark.parametrize(
    ("distance", "day"),
    [
        ([1.0, 0.5, -0.5, 0.2], 1.5),
        ([1.0, 0.5, 0.1, 0.2], None),
        ([-0.1, 1.0, 1.0, 1.0], 0.0),
        ([1.0, 0.0, -1.0, -1.0], 1.0),
    ],
)
def test_day_on_which_a_distance_falls_to_zero(distance: list, day: float | None):
    assert first_day(np.arange(4.0), np.array(distance)) == day


@pytest.mark.parametrize("number", [11, 12])
def test_clearance_at_rest_is_the_ligament_across_the_axis_where_bone_is_thin(number: int):
    scenario, tooth = built(number)
    labial, lingual = plates_of(scenario, tooth)
    assert (labial.side, lingual.side) == ("labial", "lingual")
    # above the middle the labial bone is thinner than the dense layer: its face is the socket
    z = np.linspace(-0.5, -5.0, 10)
    np.testing.assert_allclose(
        np.interp(z, labial.height, labial.inner), side_at(socket_wall(tooth), z, 1), atol=2e-4
    )
    across = side_at(socket_wall(tooth), z, 1) - side_at(root_outline(tooth), z, 1)
    rest = labial.clearance(root_outline(tooth), STILL)[0]
    assert 0.15 < rest <= across.min() + 1e-9


def test_thickness_is_that_of_the_library_with_its_status():
    for number, key in ((11, "U1"), (22, "U2"), (13, "U3")):
        scenario, tooth = built(number)
        labial = plates_of(scenario, tooth)[0]
        cited = lookup(f"plate_thickness.labial.{key}")
        assert (labial.source, labial.status) == (cited.source, cited.status)
        assert not labial.extrapolated
        crest = float(labial.outer[-1] - socket_wall(tooth)[0].max())
        np.testing.assert_allclose(crest, cited.numbers[0], atol=1e-6)


def test_teeth_without_known_plates_have_none():
    assert plates_of(*built(14)) == ()
    assert plates_of(*built(31)) == ()
    # over the canine the labial plate alone is known
    assert [plate.side for plate in plates_of(*built(23))] == ["labial"]


def test_plates_of_a_slice_are_those_of_its_table():
    given = {"crest": "0.6 mm", "middle": "0.7 mm", "apex": "0.8 mm"}
    scenario, tooth = built(14, front=given, back={"crest": "2 mm"})
    opened = slice_models(scenario, [tooth])[0]
    labial, lingual = plates_of(scenario, tooth, opened)
    assert (labial.source, labial.status, labial.extrapolated) == (
        "scenario, slice.front",
        GIVEN,
        False,
    )
    # one number of three was given: the rest is another tooth's, and from memory
    assert lingual.source.startswith("scenario, slice.back; the rest: ")
    assert (lingual.status, lingual.extrapolated) == ("from memory, unverified", True)
    edge = socket_wall(tooth)[0].max()
    np.testing.assert_allclose(labial.outer[-1] - edge, 0.6, atol=1e-6)
    # a mesiodistal slice says nothing of these plates
    other, tooth = built(14, plane="mesiodistal", front=given)
    assert plates_of(other, tooth, slice_models(other, [tooth])[0]) == ()


def test_drawn_plates_agree_with_those_measured_on_the_density_map():
    """To half a cell of 0.1 mm across, and half a row along a face that slopes."""
    scenario, tooth = built(11, plane="labiolingual")
    opened = slice_models(scenario, [tooth])[0]
    table = scenario.slice
    assert table is not None
    drawn, measured = (
        plates_of(scenario, tooth, opened),
        measured_plates(opened, table, tooth),
    )
    for by_table, by_map in zip(drawn, measured, strict=True):
        assert by_table.side == by_map.side
        # beside the blunt end of the root a row's middle is no measure of its ends
        upper = by_map.height > 0.8 * by_map.height[0]
        for face in ("inner", "outer"):
            expected = np.interp(by_map.height, by_table.height, getattr(by_table, face))
            slope = np.abs(np.gradient(expected[upper], by_map.height[upper])).max()
            np.testing.assert_allclose(
                getattr(by_map, face)[upper],
                expected[upper],
                rtol=0,
                atol=0.05 * (1 + slope),
                err_msg=face,
            )
