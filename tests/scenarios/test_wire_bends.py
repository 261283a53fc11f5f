"""Verification of the tables [[wire.bend]] and of arches by points: signs, places, refusals."""

import re

import numpy as np
import pytest

from gomphosis.bone.teeth import tooth
from gomphosis.scenarios import arch
from gomphosis.scenarios.arch import PointsLine, StraightLine
from gomphosis.scenarios.files import ScenarioError, parse_scenario, scenario_from
from gomphosis.scenarios.wire_bends import plain_line, wire_shape
from gomphosis.scenarios.wire_preview import wire_preview
from gomphosis.scenarios.wire_shape import Bend, Loop

ALONG, OCCLUSAL, LABIAL = range(3)
# two central incisors of either jaw, in the order of the file and against it
PAIRS = [(11, 21), (21, 11), (31, 41), (41, 31)]
STEEL = "alloy = 'steel'\n"
U_LOOP = "points = [['0 mm', '6 mm', '0 mm'], ['2 mm', '6 mm', '1 mm'], ['2 mm', '0 mm', '0 mm']]"


def table(kind, rest, between=(11, 21)):
    return f"[[wire.bend]]\nkind = '{kind}'\nbetween = {list(between)}\n{rest}\n"


def scenario(text, numbers=(12, 11, 21)):
    teeth = "".join(f"[[tooth]]\nnumber = {number}\n" for number in numbers)
    return parse_scenario(f"schema = 1\n{teeth}[[wire]]\n{text}", "a.toml")


def shape_of(text, numbers=(12, 11, 21)):
    """Return the shape of the wire, the places of the slots and those by number."""
    found = scenario(text, numbers)
    stand = arch.places([place.anatomy for place in found.teeth])
    place = {t.number: float(p) for t, p in zip(found.teeth, stand, strict=True)}
    return wire_shape(found.wires[0], place), place


def seen(text, pair):
    """Return the second slot's place and triad in the wire's triad at the first one."""
    shape, place = shape_of(text, pair)
    mesh = shape.mesh(np.array([place[number] for number in pair]), per_span=4)
    nodes, triads = mesh.shape.place.nodes[mesh.slots], mesh.shape.place.triads[mesh.slots]
    return triads[0].T @ (nodes[1] - nodes[0]), triads[0].T @ triads[1]


def gap(pair):
    """Return the distance of two central incisors, whose crowns touch."""
    return sum(tooth(number).crown_mesiodistal for number in pair) / 2


def away(pair, place):
    """Return +1 if the second tooth stands at the greater place."""
    return 1.0 if place[pair[1]] > place[pair[0]] else -1.0


# --- signs -----------------------------------------------------------------------------------


@pytest.mark.parametrize("pair", PAIRS, ids=str)
@pytest.mark.parametrize(("key", "axis"), [("occlusal_angle", OCCLUSAL), ("labial_angle", LABIAL)])
def test_a_bend_leans_the_wire_beyond_and_looks_the_same_from_either_end(pair, key, axis):
    place, _ = seen(table("bend", f"{key} = '20 deg'", pair), pair)
    leg, angle = gap(pair) / 2, np.deg2rad(20)
    np.testing.assert_allclose(place[axis], leg * np.sin(angle), rtol=1e-12)
    np.testing.assert_allclose(abs(place[ALONG]), leg * (1 + np.cos(angle)), rtol=1e-12)
    same, _ = seen(table("bend", f"{key} = '20 deg'", pair[::-1]), pair)
    np.testing.assert_allclose(same, place, rtol=0, atol=1e-12)


@pytest.mark.parametrize("pair", PAIRS, ids=str)
def test_a_bend_may_lean_both_ways(pair):
    text = "occlusal_angle = '6 deg'\nlabial_angle = '-8 deg'"
    place, _ = seen(table("bend", text, pair), pair)
    lean = np.arcsin(2 * place[[OCCLUSAL, LABIAL]] / gap(pair))
    # one turn about a slanting axis: its parts are the angles, but for their third power
    np.testing.assert_allclose(np.rad2deg(lean), [6, -8], rtol=0.01)


@pytest.mark.parametrize("pair", PAIRS, ids=str)
def test_a_step_displaces_the_wire_beyond_as_seen_from_the_first_tooth(pair):
    text = "occlusal = '0.3 mm'\nlabial = '-0.4 mm'"
    place, triad = seen(table("step", text, pair), pair)
    np.testing.assert_allclose(place[[OCCLUSAL, LABIAL]], [0.3, -0.4], rtol=1e-12)
    np.testing.assert_allclose(triad, np.eye(3), rtol=0, atol=1e-12)
    # a millimetre of wire slopes: its projection is shorter
    np.testing.assert_allclose(abs(place[ALONG]), gap(pair) - 1 + np.sqrt(0.75), rtol=1e-12)
    other, _ = seen(table("step", text, pair[::-1]), pair)
    np.testing.assert_allclose(other[[OCCLUSAL, LABIAL]], [-0.3, 0.4], rtol=1e-12)
    opposite = "occlusal = '-0.3 mm'\nlabial = '0.4 mm'"
    same, _ = seen(table("step", opposite, pair[::-1]), pair)
    np.testing.assert_allclose(same, place, rtol=0, atol=1e-12)


@pytest.mark.parametrize("pair", PAIRS, ids=str)
def test_a_twist_turns_the_wire_beyond_crown_labially(pair):
    """Its occlusal side moves labially, wherever the first tooth named stands."""
    place, triad = seen(table("twist", "twist_angle = '15 deg'", pair), pair)
    angle = np.deg2rad(15)
    np.testing.assert_allclose(
        triad[:, OCCLUSAL], [0, np.cos(angle), np.sin(angle)], rtol=0, atol=1e-12
    )
    np.testing.assert_allclose(np.abs(place), [gap(pair), 0, 0], rtol=0, atol=1e-12)
    _, other = seen(table("twist", "twist_angle = '15 deg'", pair[::-1]), pair)
    np.testing.assert_allclose(other, triad.T, rtol=0, atol=1e-12)


@pytest.mark.parametrize("pair", PAIRS, ids=str)
def test_a_loop_begins_at_its_distance_and_goes_away_from_the_first_tooth(pair):
    # narrow enough for the two millimetres of wire between the slots of lower incisors
    points = "[['0 mm', '6 mm', '0 mm'], ['1 mm', '6 mm', '1 mm'], ['1 mm', '0 mm', '0 mm']]"
    text = table("loop", f"distance = '2 mm'\npoints = {points}", pair)
    shape, place = shape_of(text, pair)
    mesh = shape.mesh(np.array([place[number] for number in pair]), per_span=2)
    first, second = mesh.shape.place.nodes[mesh.slots]
    # upper and lower teeth have +z towards their own crowns, +x labially
    way = np.array([0.0, away(pair, place), 0.0])
    for corner in ([2, 0, 0], [2, 6, 0], [3, 6, 1], [3, 0, 0]):
        expected = first + corner[0] * way + [corner[2], 0, corner[1]]
        assert np.linalg.norm(mesh.shape.place.nodes - expected, axis=1).min() < 1e-12
    np.testing.assert_allclose(second - first, gap(pair) * way, rtol=0, atol=1e-12)
    legs = 6 + np.hypot(1, 1) + np.hypot(6, 1)
    np.testing.assert_allclose(
        np.abs(np.diff(mesh.shape.stations[mesh.slots])), gap(pair) - 1 + legs, rtol=1e-12
    )


def test_a_loop_named_from_its_other_end_is_the_same_loop():
    pair, back = (11, 21), "['2 mm', '6 mm', '0 mm'], ['2 mm', '0 mm', '0 mm']"
    there = shape_of(table("loop", f"distance = '3 mm'\n{U_LOOP}", pair), pair)[0]
    turned = f"distance = '{gap(pair) - 5} mm'\npoints = [['0 mm', '6 mm', '1 mm'], {back}]"
    again = shape_of(table("loop", turned, pair[::-1]), pair)[0]
    (one,), (other,) = there.features, again.features
    assert isinstance(one, Loop)
    assert isinstance(other, Loop)
    assert other.place == pytest.approx(one.place, abs=1e-12)
    np.testing.assert_allclose(other.points, one.points, rtol=0, atol=1e-12)


@pytest.mark.parametrize("pair", [(12, 11), (11, 12)], ids=str)
def test_distance_counts_from_the_first_tooth_and_is_half_way_by_default(pair):
    for rest, share in (("", None), ("distance = '2 mm'\n", 2.0)):
        shape, place = shape_of(table("bend", f"{rest}occlusal_angle = '5 deg'", pair))
        (bend,) = shape.features
        from_first = abs(place[pair[1]] - place[pair[0]]) / 2 if share is None else share
        assert bend.place == pytest.approx(
            place[pair[0]] + away(pair, place) * from_first, abs=1e-12
        )


def test_only_what_is_bent_by_hand_takes_a_length_of_wire():
    for rest, over in (("", None), ("by_hand = true\n", 1.0), ("by_hand = true\nlength='2 mm'", 2)):
        for kind, angle in (("bend", "labial_angle"), ("twist", "twist_angle")):
            text = STEEL + table(kind, f"{angle} = '5 deg'\n{rest}")
            (bend,) = shape_of(text)[0].features
            assert isinstance(bend, Bend)
            assert bend.over == over


def test_bends_of_a_wire_add_up():
    """Two bends of equal and opposite lean are a step."""
    pair = (11, 21)
    lean = float(np.rad2deg(np.arcsin(0.5)))
    two = "".join(
        table("bend", f"occlusal_angle = '{sign * lean!r} deg'\ndistance = '{at} mm'", pair)
        for sign, at in ((1, 3), (-1, 4))
    )
    place, triad = seen(two, pair)
    expected = seen(table("step", "occlusal = '0.5 mm'\ndistance = '3.5 mm'", pair), pair)
    np.testing.assert_allclose(place, expected[0], rtol=0, atol=1e-12)
    np.testing.assert_allclose(triad, expected[1], rtol=0, atol=1e-12)


@pytest.mark.parametrize("pair", PAIRS, ids=str)
def test_a_step_extrudes_the_tooth_beyond_and_a_twist_torques_it_labially(pair):
    """A wire of 0.4064 mm in a slot of 0.41 mm: it lifts and turns by far more than its play."""

    def systems(kind, rest):
        wire = f"{STEEL}size = '0.016 x 0.022 in'\nfriction = 0.0\n"
        text = f"{wire}{table(kind, rest, pair)}[slot]\nheight = '0.41 mm'\n"
        (load,) = wire_preview(scenario(text, pair))["loads"].values()
        return [load["teeth"][str(number)]["force_system_at_bracket"] for number in pair]

    step = systems("step", "occlusal = '0.2 mm'")
    extrusion = [one["extrusion_N"] for one in step]
    assert -extrusion[0] == pytest.approx(extrusion[1], rel=1e-6)
    assert extrusion[1] > 0.5
    twist = systems("twist", "twist_angle = '5 deg'")
    torques = [one["torque_moment_Nmm"] for one in twist]
    assert -torques[0] == pytest.approx(torques[1], rel=0.05)
    assert torques[1] > 1.0


# --- the document ----------------------------------------------------------------------------

EACH = [
    table("bend", "occlusal_angle = '10 deg'\nby_hand = true\nlength = '1.5 mm'"),
    table("bend", "occlusal_angle = '10 deg'\nlabial_angle = '-0.1 rad'\ndistance = '2 mm'"),
    table("step", "labial = '-0.02 in'\nlength = '2 mm'"),
    table("twist", "twist_angle = '-7 deg'", (12, 11)),
    table("loop", U_LOOP),
]


@pytest.mark.parametrize("text", EACH, ids=["hand", "bend", "step", "twist", "loop"])
def test_document_reads_back_as_an_equal_scenario(text):
    found = scenario(STEEL + text)
    document = found.document()
    again = scenario_from(document, "b.toml")
    assert again == found
    assert again.wire[0].bends == found.wire[0].bends != ()
    assert again.document() == document


def test_document_has_what_the_file_said():
    (bend,) = scenario(EACH[2]).document()["wire"][0]["bend"]
    assert bend == {
        "kind": "step",
        "between": [11, 21],
        "labial": "-0.508 mm",
        "length": "2.0 mm",
    }
    (loop,) = scenario(EACH[4]).document()["wire"][0]["bend"]
    assert set(loop) == {"kind", "between", "points"}
    assert loop["points"][1] == ["2.0 mm", "6.0 mm", "1.0 mm"]
    (bend,) = scenario(STEEL + EACH[0]).document()["wire"][0]["bend"]
    assert (bend["by_hand"], bend["length"]) == (True, "1.5 mm")


# --- what is refused -------------------------------------------------------------------------

NONZERO = "a value other than zero"
NEIGHBOURS = "between (a list) does not name two neighbouring teeth; accepted: neighbours among "
OFF_LINE = (
    "does not lead back to the wire's line; accepted: a last corner such as "
    '["0 mm", "0 mm", "0 mm"], its first number >= 0 mm'
)
NEAR = "is less than 0.1 mm from the corner before; accepted: corners at least 0.1 mm apart"
LEAN = "an angle in deg or rad, at least -90 deg, at most 90 deg"
CORNER = "a length in mm, in or um, at least -20 mm, at most 20 mm"
KEPT = "accepted: only with an alloy whose behaviour is plastic"
UP = "occlusal_angle = '5 deg'"
REFUSALS = {
    # what belongs to which kind
    table("bend", f"{UP}\ntwist_angle = '5 deg'"): 'twist_angle = "5 deg" does not belong to kind '
    '"bend"; accepted: only with kind = "twist"',
    table("bend", f"{UP}\n{U_LOOP}"): 'points (a list) does not belong to kind "bend"; '
    'accepted: only with kind = "loop"',
    table("step", f"occlusal = '0.5 mm'\n{UP}"): 'occlusal_angle = "5 deg" does not belong to kind '
    '"step"; accepted: only with kind = "bend"',
    table("step", "occlusal = '0.5 mm'\nby_hand = false"): "by_hand = false does not belong to "
    'kind "step"; accepted: only with kind = "bend" or "twist"',
    table("twist", "twist_angle = '5 deg'\nlabial = '1 mm'"): 'labial = "1 mm" does not belong to '
    'kind "twist"; accepted: only with kind = "step"',
    table("loop", f"{U_LOOP}\nlength = '1 mm'"): 'length = "1 mm" does not belong to kind "loop"; '
    'accepted: only with kind = "bend", "step" or "twist"',
    # nothing bent
    table("bend", ""): 'occlusal_angle is missing, which kind "bend" needs; accepted: ' + NONZERO,
    table("step", ""): 'occlusal is missing, which kind "step" needs; accepted: ' + NONZERO,
    table("twist", ""): 'twist_angle is missing, which kind "twist" needs; accepted: ' + NONZERO,
    table("loop", ""): 'points is missing, which kind "loop" needs; accepted: one or more corners',
    table("loop", "points = []"): "points (a list) makes no loop; accepted: one or more corners",
    table("bend", "occlusal_angle = '0 deg'"): 'occlusal_angle = "0 deg" makes no bend; accepted: '
    + NONZERO,
    table("twist", "twist_angle = '0 rad'"): 'twist_angle = "0 rad" makes no twist; accepted: '
    + NONZERO,
    # amounts that do not go together
    table("bend", f"{UP}\nlabial_angle = '-5 deg'\nby_hand = true"): 'labial_angle = "-5 deg" '
    "leans two ways; accepted: one angle for a bend by hand",
    table("step", "occlusal = '0.6 mm'\nlabial = '0.8 mm'"): "length is too short for the step; "
    "accepted: more than 1 mm",
    table("step", "occlusal = '-2 mm'\nlength = '1.5 mm'"): 'length = "1.5 mm" is too short for '
    "the step; accepted: more than 2 mm",
    # corners
    table("loop", "points = [['0 mm', '6 mm', '0 mm'], ['2 mm', '1 mm', '0 mm']]"): "points[2] "
    f"(a list) {OFF_LINE}",
    table("loop", "points = [['0 mm', '6 mm', '0 mm'], ['2 mm', '0 mm', '1 mm']]"): "points[2] "
    f"(a list) {OFF_LINE}",
    table("loop", "points = [['0 mm', '6 mm', '0 mm'], ['-2 mm', '0 mm', '0 mm']]"): "points[2] "
    f"(a list) {OFF_LINE}",
    table("loop", "points = [['0.05 mm', '0.05 mm', '0.05 mm'], ['2 mm', '0 mm', '0 mm']]"): (
        f"points[1] (a list) {NEAR}"
    ),
    table(
        "loop",
        "points = [['0 mm', '6 mm', '0 mm'], ['0 mm', '6 mm', '0.09 mm'], "
        "['2 mm', '0 mm', '0 mm']]",
    ): f"points[2] (a list) {NEAR}",
    table("loop", "points = [['0 mm', '6 mm']]"): f"points[1][3] is missing; accepted: {CORNER}, "
    'such as "6 mm"',
    table("loop", "points = [['0 mm', '6', '0 mm']]"): 'points[1][2] = "6" has no unit; accepted: '
    f'{CORNER}, such as "6 mm"',
    table("loop", "points = ['0 mm']"): 'points[1] = "0 mm" is not a list; accepted: a list, '
    "at least 3, at most 3",
    # single values
    table("knot", ""): 'kind = "knot" is not one of the options; accepted: "bend", "step", "twist" '
    'or "loop"',
    table("bend", "occlusal_angle = '91 deg'"): 'occlusal_angle = "91 deg" is too large; accepted: '
    f'{LEAN}, such as "15 deg"',
    table("bend", "labial_angle = '-91 deg'"): 'labial_angle = "-91 deg" is too small; accepted: '
    f'{LEAN}, such as "15 deg"',
    table("twist", "twist_angle = '5'"): f'twist_angle = "5" has no unit; accepted: {LEAN}, '
    'such as "15 deg"',
    table("step", "labial = '-5.1 mm'\nlength = '9 mm'"): 'labial = "-5.1 mm" is too small; '
    'accepted: a length in mm, in or um, at least -5 mm, at most 5 mm, such as "0.5 mm"',
    table("step", "occlusal = '1 mm'\nlength = '11 mm'"): 'length = "11 mm" is too large; accepted'
    ': a length in mm, in or um, at least 0.2 mm, at most 10 mm, such as "1 mm"',
    table("bend", f"{UP}\ndistance = '0 mm'"): 'distance = "0 mm" is too small; accepted: '
    'a length in mm, in or um, above 0 mm, at most 40 mm, such as "3 mm"',
    table("bend", f"{UP}\nby_hand = 1"): "by_hand = 1 is not true or false; accepted: true or "
    "false",
    # teeth
    table("bend", UP, (12, 21)): f"{NEIGHBOURS}12, 11 or 21",
    table("bend", UP, (11, 22)): f"{NEIGHBOURS}12, 11 or 21",
    table("bend", UP, (22, 23)): f"{NEIGHBOURS}12, 11 or 21",
    table("bend", UP, (11, 11)): f"{NEIGHBOURS}12, 11 or 21",
    table("bend", UP, (11,)): "between[2] is missing; accepted: an ISO 3950 number of a permanent "
    "tooth: 11-18, 21-28, 31-38 or 41-48",
    table("bend", UP, (11, 19)): "between[2] = 19 is no tooth; accepted: an ISO 3950 number of a "
    "permanent tooth: 11-18, 21-28, 31-38 or 41-48",
    # room
    table("bend", f"{UP}\ndistance = '8.5 mm'"): 'distance = "8.5 mm" is not between the two '
    "slots; accepted: less than their distance of 8.5 mm",
    table("bend", f"{UP}\ndistance = '8.6 mm'", (21, 11)): 'distance = "8.6 mm" is not between the '
    "two slots; accepted: less than their distance of 8.5 mm",
    table("step", "occlusal = '0.5 mm'\nlength = '10 mm'"): 'length = "10 mm" reaches beyond the '
    "two slots; accepted: a step within their distance of 8.5 mm",
    table("step", "occlusal = '0.5 mm'\ndistance = '0.3 mm'"): "length reaches beyond the two "
    "slots; accepted: a step within their distance of 8.5 mm",
    table("loop", f"distance = '7 mm'\n{U_LOOP}"): "points (a list) reaches beyond the two slots; "
    "accepted: a loop within their distance of 8.5 mm",
    table("loop", f"distance = '7 mm'\n{U_LOOP}", (21, 11)): "points (a list) reaches beyond the "
    "two slots; accepted: a loop within their distance of 8.5 mm",
    STEEL + table("bend", f"{UP}\nby_hand = true\nlength = '9 mm'"): 'length = "9 mm" reaches '
    "beyond the two slots; accepted: a bend within their distance of 8.5 mm",
    # wires that keep no bend
    table("bend", f"{UP}\nby_hand = true"): "by_hand = true is not kept by a wire of behaviour "
    f'"superelastic"; {KEPT}',
    f"{STEEL}[wire.material]\nbehaviour = 'elastic'\n"
    + table("twist", "twist_angle = '5 deg'\nby_hand = true"): "by_hand = true is not kept by a "
    f'wire of behaviour "elastic"; {KEPT}',
}
OF_THE_WIRE = {
    table("bend", f"{UP}\ndistance = '0.03 mm'"): "bend (a list) do not fit: a slot at 4.25 mm "
    "from the midline meets the bend at 4.22 mm",
    # a bracket reaches 1.5 mm to either side
    table("bend", f"{UP}\ndistance = '1.49 mm'"): "bend (a list) do not fit: a slot at 4.25 mm "
    "from the midline meets the bend at 2.76 mm",
    table("step", "occlusal = '0.5 mm'\nlength = '5.6 mm'"): "bend (a list) do not fit: a slot at "
    "-4.25 mm from the midline meets the bend at -2.8 mm",
    table("bend", UP) + table("twist", "twist_angle = '5 deg'"): "bend (a list) do not fit: bends "
    "at 0 and 0 mm from the midline meet",
    table("bend", f"{UP}\ndistance = '4 mm'") + table("loop", f"{U_LOOP}\ndistance = '3 mm'"): (
        "bend (a list) do not fit: bends at -0.75 and 0.25 mm from the midline meet"
    ),
}


def refusal(text):
    with pytest.raises(ScenarioError) as caught:
        scenario(text)
    message = str(caught.value)
    assert message.isprintable()
    return message


def plain(text):
    return re.sub(r"\W+", " ", text.replace("wire.bend", ""))


@pytest.mark.parametrize("text", REFUSALS, ids=plain)
def test_bad_bend_is_refused_in_one_line(text):
    assert refusal(text) == f"a.toml: wire[1].bend[1].{REFUSALS[text]}"


@pytest.mark.parametrize("text", OF_THE_WIRE, ids=plain)
def test_bends_that_do_not_fit_are_refused_in_one_line(text):
    accepted = "accepted: bends apart from each other and from slots"
    assert refusal(text) == f"a.toml: wire[1].{OF_THE_WIRE[text]}; {accepted}"


def test_the_bend_that_is_meant_is_told():
    good = table("bend", f"{UP}\ndistance = '2 mm'")
    message = refusal(good + table("twist", "twist_angle = '5 deg'", (11, 22)))
    assert message == f"a.toml: wire[1].bend[2].{NEIGHBOURS}12, 11 or 21"
    many = "".join(table("bend", UP) for _ in range(51))
    assert refusal(many) == "a.toml: wire[1].bend (a list) has too many entries; accepted: " + (
        "tables [[bend]], at most 50"
    )


@pytest.mark.parametrize("length", ["1.01 mm", "5.4 mm"])
def test_a_step_that_just_fits_is_taken(length):
    text = table("step", f"occlusal = '0.6 mm'\nlabial = '0.8 mm'\nlength = '{length}'")
    assert scenario(text).wires[0].bends[0].length == float(length.split()[0])


# --- arches ----------------------------------------------------------------------------------

POINTS = [(-24.0, -27.0), (-14.0, -7.5), (0.0, 0.5), (15.0, -8.0), (25.0, -29.0)]


def points_text(points):
    return "[wire.shape]\npoints = " + str([[f"{y} mm", f"{x} mm"] for y, x in points])


def test_an_arch_by_points_goes_through_them_sideways_first():
    (wire,) = scenario(points_text(POINTS)).wires
    line = plain_line(wire.shape)
    assert isinstance(line, PointsLine)
    fine = line.point(np.linspace(-45, 45, 18001))
    for sideways, forward in POINTS:
        assert np.linalg.norm(fine - [forward, sideways, 0], axis=1).min() < 0.003
    np.testing.assert_allclose(line.point(np.array([0.0]))[0], [0.5, 0, 0], rtol=0, atol=1e-6)
    # towards greater places the line goes on to the side of positive numbers
    assert line.point(np.array([10.0]))[0, 1] > 5


def test_document_of_an_arch_has_its_points_or_its_sizes():
    found = scenario(points_text(POINTS))
    document = found.document()
    places = [[f"{y} mm", f"{x} mm"] for y, x in POINTS]
    assert document["wire"][0]["shape"] == {"points": places}
    assert scenario_from(document, "b.toml") == found
    text = "[wire.shape]\nhalf_width = '25 mm'\ndepth = '30 mm'"
    sizes = {"half_width": "25.0 mm", "depth": "30.0 mm", "squareness": 0.0}
    assert scenario(text).document()["wire"][0]["shape"] == sizes


def test_a_wire_without_a_shape_is_straight_and_one_with_sizes_is_that_arch():
    assert plain_line(scenario(STEEL).wires[0].shape) == StraightLine()
    text = "[wire.shape]\nhalf_width = '25 mm'\ndepth = '30 mm'\nsquareness = 0.3"
    assert plain_line(scenario(text).wires[0].shape) == arch.ArchForm(25.0, 30.0, 0.3)


THREE = (
    'accepted: three or more points such as [["-25 mm", "-30 mm"], ["0 mm", "0 mm"], '
    '["25 mm", "-30 mm"]]'
)
PLACE = 'a length in mm, in or um, at least -100 mm, at most 100 mm, such as "25 mm"'
ARCHES = {
    points_text([]): "points (a list) makes no arch: a line through points needs at least three of "
    f"them; {THREE}",
    points_text(POINTS[:2]): "points (a list) makes no arch: a line through points needs at least "
    f"three of them; {THREE}",
    points_text(POINTS[::-1]): "points (a list) makes no arch: a line through points must cross "
    f"the midline once, from y < 0; {THREE}",
    f"{points_text(POINTS)}\ndepth = '30 mm'": 'depth = "30 mm" stands beside points; '
    "accepted: one of both",
    f"{points_text(POINTS)}\nsquareness = 0.0": "squareness = 0.0 stands beside points; "
    "accepted: one of both",
    "[wire.shape]\npoints = [['-5 mm', '0 mm'], ['0 mm'], ['5 mm', '0 mm']]": "points[2][2] is "
    f"missing; accepted: {PLACE}",
    "[wire.shape]\npoints = [['-5 mm', '0 mm'], ['0 mm', '0'], ['5 mm', '0 mm']]": "points[2][2] = "
    f'"0" has no unit; accepted: {PLACE}',
    "[wire.shape]\npoints = 3": "points = 3 is not a list; accepted: a list",
}


@pytest.mark.parametrize("text", ARCHES, ids=plain)
def test_bad_points_are_refused_in_one_line(text):
    assert refusal(text) == f"a.toml: wire[1].shape.{ARCHES[text]}"
