"""The library of cited numbers: reading, refusals, and what was derived recomputed."""

import tomllib
from math import log

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from gomphosis.bone.library import (
    STATUSES,
    Cited,
    entries,
    lookup,
    read_documents,
    read_entries,
)
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.teeth import tooth
from gomphosis.bone.thin_layer import surface_integrals

GF = 0.00980665
STEP_NAMES = ("bending_stiffness", "step", "span", "moment", "force")
UNITS = {
    "1", "text", "mm", "mm2", "N", "MPa", "kPa", "deg", "day", "week", "um/day", "mm/month",
    "mm/week", "gf", "gf·mm", "cN", "N·mm", "N·mm2", "g/cm3", "J/g", "1/day", "(g/cm3)2/MPa/day",
    "MPa/(g/cm3)2", "degC", "MPa/K", "rad/(N·mm)",
}  # fmt: skip


def parse(text):
    return read_entries(tomllib.loads(text))


# Reading


def test_source_status_and_unit_come_from_the_enclosing_tables():
    found = parse("""
        source = "outer"
        status = "verified"
        [a]
        unit = "mm"
        near = { value = 1, low = 0.5, high = 2, note = "n" }
        far = { value = [2, 3.5], unit = "N", source = "own" }
        [a.deep]
        status = "derived here"
        words = { value = "up", unit = "text" }
    """)
    assert found == {
        "a.near": Cited(1.0, "mm", "outer", "verified", 0.5, 2.0, "n"),
        "a.far": Cited((2.0, 3.5), "N", "own", "verified"),
        "a.deep.words": Cited("up", "text", "outer", "derived here"),
    }


@pytest.mark.parametrize(
    ("leaf", "message"),
    [
        ('value = 1, unit = "mm", status = "verified"', "source is missing"),
        ('value = 1, unit = "mm", status = "verified", source = " "', "source is missing"),
        ('value = 1, source = "s", status = "verified"', "unit is missing"),
        ('value = 1, unit = "mm", source = "s"', "unknown status ''"),
        ('value = 1, unit = "mm", source = "s", status = "sure"', "unknown status 'sure'"),
        ('value = 1, unit = "mm", source = "s", status = 3', "status is not text"),
        ('value = true, unit = "1", source = "s", status = "verified"', "True is not a number"),
        ('value = [], unit = "1", source = "s", status = "verified"', "empty list"),
        ('value = [1, "x"], unit = "1", source = "s", status = "verified"', "'x' is not a number"),
        ('value = nan, unit = "1", source = "s", status = "verified"', "nan is not a finite"),
        ('value = 1, high = inf, unit = "1", source = "s", status = "verified"', "inf is not a"),
        ('value = 3, high = 2, unit = "1", source = "s", status = "verified"', "outside its spr"),
        ('value = 1, low = 2, unit = "1", source = "s", status = "verified"', "outside its spr"),
        ('value = [1], low = 0, unit = "1", source = "s", status = "verified"', "single number"),
        ('value = "up", unit = "mm", source = "s", status = "verified"', "does not fit"),
        ('value = 1, unit = "text", source = "s", status = "verified"', "does not fit"),
        ('value = 1, units = "1", source = "s", status = "verified"', "unknown field units"),
        ("", "without entries"),
    ],
)
def test_a_bad_entry_is_refused_by_its_key(leaf, message):
    with pytest.raises(ValueError, match=rf"^ligament\.odd: .*{message}"):
        parse(f"[ligament]\nodd = {{ {leaf} }}")


def test_a_bare_number_is_refused_by_its_key():
    with pytest.raises(ValueError, match=r"^ligament\.young: expected a table with a value"):
        parse("[ligament]\nyoung = 0.05")


def test_documents_are_joined_and_a_key_given_twice_is_refused():
    text = '[a]\nb = { value = 1, unit = "mm", source = "s", status = "verified" }'
    other = text.replace("[a]", "[c]")
    one = Cited(1.0, "mm", "s", "verified")
    assert read_documents({"x.toml": text, "y.toml": other}) == {"a.b": one, "c.b": one}
    with pytest.raises(ValueError, match=r"^a\.b: given again in z\.toml"):
        read_documents({"x.toml": text, "z.toml": text})
    with pytest.raises(ValueError, match=r"^odd\.toml: "):
        read_documents({"odd.toml": "[a"})


def test_unknown_key_lists_keys_near_to_it():
    with pytest.raises(KeyError, match=r"no entry 'ligament\.pope\.young_first'.*poppe\.young_fir"):
        lookup("ligament.pope.young_first")
    table = "two_bracket.classes_1974"
    with pytest.raises(KeyError) as caught:
        lookup(table)
    for name in ("angle_ratio", "force", "moment_a", "moment_b", "moment_ratio", "span"):
        assert f"{table}.{name}" in str(caught.value)


def test_a_list_is_not_a_number_nor_the_reverse():
    speeds, poisson = lookup("speed.nickel_2014.speed"), lookup("ligament.poppe.poisson")
    assert speeds.numbers == (28.0, 40.0, 50.0, 54.0, 61.0)
    assert poisson.number == 0.30
    with pytest.raises(TypeError, match="not a single number"):
        _ = speeds.number
    with pytest.raises(TypeError, match="not a list of numbers"):
        _ = poisson.numbers
    with pytest.raises(TypeError, match="not a list of numbers"):
        _ = lookup("force_and_rate.rat_2017").numbers


# The shipped entries


def test_entries_are_sorted_read_only_and_from_every_file():
    keys = list(entries())
    assert keys == sorted(keys)
    for top in ("teeth", "root_area", "ligament", "speed", "alloy", "two_bracket"):
        assert any(key.startswith(f"{top}.") for key in keys), top
    with pytest.raises(TypeError, match="does not support item assignment"):
        entries()["x"] = lookup("slot.height_022")


def test_every_status_is_used_and_every_unit_known():
    assert {entry.status for entry in entries().values()} == set(STATUSES)
    assert {entry.unit for entry in entries().values()} == UNITS


def test_no_source_and_memory_are_said_where_they_apply():
    for key, entry in entries().items():
        untraced = entry.source == "common practice, no source"
        assert untraced == (entry.status == "common practice, no source"), key


@pytest.mark.parametrize(
    ("key", "value", "unit", "status"),
    [
        ("ligament.poppe.young_first", 0.05, "MPa", "verified"),
        ("ligament.poppe.young_second", 0.28, "MPa", "verified"),
        ("ligament.poppe.switch_strain", 0.075, "1", "verified"),
        ("ligament.tanne.young", 0.68, "MPa", "from memory, unverified"),
        ("ligament.tanne.poisson", 0.49, "1", "from memory, unverified"),
        ("tooth_tissue.young", 20000.0, "MPa", "verified"),
        ("bone_tissue.young", 2000.0, "MPa", "verified"),
        ("ligament.thickness.middle", 0.16, "mm", "from memory, unverified"),
        ("bone.crest_below_cervix", 1.0, "mm", "engineering choice"),
        ("centre_of_resistance.poppe", 0.42, "1", "verified"),
        ("centre_of_resistance.tanne", 0.24, "1", "from memory, unverified"),
        ("pressure_line.capillary", 4.7, "kPa", "secondary source"),
        ("speed.growing_factor", 1.6, "1", "verified"),
        ("speed.dudic_2013.movement", 2.42, "mm", "verified"),
        ("spread.range_82_teeth", 9.0, "1", "verified"),
        ("alloy.steel.young", 180e3, "MPa", "engineering choice"),
        ("alloy.nickel_titanium.young", 50e3, "MPa", "engineering choice"),
        ("bracket.from_incisal_edge", 4.5, "mm", "common practice, no source"),
        ("visit.interval", 6.0, "week", "secondary source"),
    ],
)
def test_key_numbers_carry_their_value_unit_and_status(key, value, unit, status):
    entry = lookup(key)
    assert (entry.number, entry.unit, entry.status) == (value, unit, status)


@pytest.mark.parametrize(
    "group",
    [
        ("speed.nickel_2014.stress", "speed.nickel_2014.speed", "speed.nickel_2014.force"),
        ("speed.iwasaki_2000.stress", "speed.iwasaki_2000.speed", "speed.iwasaki_2000.force"),
        ("two_bracket.classes_1974.angle_ratio", "two_bracket.classes_1974.moment_ratio"),
        ("two_bracket.v_bend_1988.position", "two_bracket.v_bend_1988.moment_ratio"),
        ("three_point.deflection", "three_point.load"),
    ],
)
def test_columns_of_a_data_set_have_one_length(group):
    assert len({len(lookup(key).numbers) for key in group}) == 1


def test_movement_types_cover_the_line_without_gap_or_overlap():
    kinds = ("uncontrolled_tipping", "controlled_tipping", "translation")
    bounds = [lookup(f"movement_type.{kind}").numbers for kind in kinds]
    edges = [lookup("movement_type.root_movement_below").number]
    for low, high in bounds:
        assert low == edges[-1] < high
        edges.append(high)
    assert edges[-1] == lookup("movement_type.root_movement_above").number


# Verification: what is marked as derived, computed again from what it was derived from


def expected_range_of_normal_sample(size):
    """Mean of largest minus smallest of `size` standard normal values."""

    def spread(x):
        return 1.0 - norm.cdf(x) ** size - norm.sf(x) ** size

    return quad(spread, -10.0, 10.0, limit=400)[0]


@pytest.mark.parametrize(
    ("ratio_key", "size", "field"),
    [
        ("spread.range_82_teeth", 82, "value"),
        ("spread.range_82_teeth", 41, "high"),
        ("spread.range_7_subjects", 7, "low"),
    ],
)
def test_spread_follows_from_the_published_ranges(ratio_key, size, field):
    sigma = log(lookup(ratio_key).number) / expected_range_of_normal_sample(size)
    np.testing.assert_allclose(getattr(lookup("spread.sigma"), field), sigma, rtol=0.0, atol=0.005)


def test_expected_range_of_two_values_in_closed_form():
    np.testing.assert_allclose(
        expected_range_of_normal_sample(2), 2.0 / np.sqrt(np.pi), rtol=1e-8, atol=0.0
    )


def test_loaded_area_and_forces_follow_from_force_over_stress():
    area = lookup("speed.loaded_area")
    force = np.array(lookup("speed.iwasaki_2000.force").numbers) * GF
    stress = np.array(lookup("speed.iwasaki_2000.stress").numbers) * 1e-3
    np.testing.assert_allclose([area.low, area.high], force / stress, rtol=0.0, atol=0.05)
    stress = np.array(lookup("speed.nickel_2014.stress").numbers) * 1e-3
    printed = lookup("speed.nickel_2014.force").numbers
    np.testing.assert_allclose(printed, stress * area.number, rtol=1e-12, atol=0.0)


def test_logarithmic_fit_of_the_speeds():
    stress, speed = (lookup(f"speed.nickel_2014.{name}").numbers for name in ("stress", "speed"))
    slope, offset = np.polyfit(np.log(stress), speed, 1)
    np.testing.assert_allclose(
        [
            lookup("speed.nickel_2014.log_slope").number,
            lookup("speed.nickel_2014.log_offset").number,
        ],
        [slope, offset],
        rtol=0.0,
        atol=0.05,
    )


def profile_moments(exponent):
    """Mean and variance of depth under the weight (1 - z)^exponent on 0 to 1."""
    mass, first, second = (
        quad(lambda z, p=power: z**p * (1.0 - z) ** exponent, 0.0, 1.0)[0] for power in (0, 1, 2)
    )
    return first / mass, second / mass - (first / mass) ** 2


def test_centres_of_resistance_and_rotation_constants_of_simple_roots():
    for name, exponent in (("plane_parabola", 0.5), ("paraboloid", 1.0), ("cylinder", 0.0)):
        mean, _ = profile_moments(exponent)
        entry = lookup(f"centre_of_resistance.{name}")
        np.testing.assert_allclose(entry.number, mean, rtol=1e-7, atol=0.0)
    for name, exponent in (("plane_parabola", 0.5), ("paraboloid", 1.0)):
        _, variance = profile_moments(exponent)
        entry = lookup(f"rotation_constant.{name}")
        np.testing.assert_allclose(entry.number, variance, rtol=1e-7, atol=0.0)


def test_root_profile_exponent_puts_the_centre_where_it_was_measured():
    """Calibration: the exponent was chosen for this number, with the thin-layer integral."""
    incisor = tooth(11)
    embedded = incisor.root_length - lookup("bone.crest_below_cervix").number
    root = RootProfile(incisor.cervical_radius, embedded, lookup("root.profile_exponent").number)
    gap = [lookup(f"ligament.thickness.{at}").number for at in ("crest", "middle", "apex")]
    layer = surface_integrals(root, ThicknessProfile(*gap), young=1.0, poisson=0.3)
    measured = lookup("centre_of_resistance.poppe").number
    np.testing.assert_allclose(
        -layer.centre_of_resistance / embedded, measured, rtol=0.0, atol=0.0005
    )


def test_two_bracket_moment_ratios_follow_beam_theory():
    ratio = np.array(lookup("two_bracket.classes_1974.angle_ratio").numbers)
    listed = lookup("two_bracket.classes_1974.moment_ratio").numbers
    end_a, end_b = np.array([[4.0, 2.0], [2.0, 4.0]]) @ np.array([ratio, np.ones_like(ratio)])
    np.testing.assert_allclose(listed, end_a / end_b, rtol=0.0, atol=1e-12)
    # The remembered forces balance the remembered moments to 0.5 %.
    moment = np.array(lookup("two_bracket.classes_1974.moment_a").numbers)
    moment = moment + lookup("two_bracket.classes_1974.moment_b").number
    force = moment / lookup("two_bracket.classes_1974.span").number
    remembered = lookup("two_bracket.classes_1974.force").numbers
    np.testing.assert_allclose(remembered, force, rtol=0.005, atol=1e-9)


def test_published_bends_agree_with_beam_theory():
    """Validation of the closed forms on Burstone, Koenig 1988 at its printed precision."""
    span = lookup("two_bracket.v_bend_1988.span").number
    place = np.array(lookup("two_bracket.v_bend_1988.position").numbers) / span
    printed = lookup("two_bracket.v_bend_1988.moment_ratio").numbers
    half_decimal = 0.05 + 1e-12  # at 2.8 mm the closed form is -0.25, printed -0.3
    closed = (1 - 3 * place) / (2 - 3 * place)
    np.testing.assert_allclose(printed, closed, rtol=0.0, atol=half_decimal)
    step = {name: lookup(f"two_bracket.step_bend_1988.{name}").number for name in STEP_NAMES}
    moment = 6 * step["bending_stiffness"] * step["step"] / step["span"] ** 2
    np.testing.assert_allclose(step["moment"] * GF, moment, rtol=0.005, atol=0.0)
    np.testing.assert_allclose(step["force"] * GF, 2 * moment / step["span"], rtol=0.005, atol=0.0)


def test_bending_stiffness_and_slot_sizes_follow_from_inches():
    inch, psi = 25.4, 0.45359237 * 9.80665 / 25.4**2
    stiffness = 30e6 * psi * np.pi / 64 * (0.016 * inch) ** 4
    listed = lookup("two_bracket.step_bend_1988.bending_stiffness").number
    np.testing.assert_allclose(listed, stiffness, rtol=0.0, atol=0.005)
    sizes = [lookup(f"slot.{name}").number for name in ("height_022", "depth_022", "height_018")]
    np.testing.assert_allclose(sizes, np.array([0.022, 0.028, 0.018]) * inch, rtol=1e-12, atol=0.0)


def test_sharp_play_follows_from_the_rectangle_in_its_slot():
    """Verification: w sin + h cos = H, root in the first quadrant, for the published angles."""
    slot = 0.022
    for width in (0.019, 0.022, 0.025):
        diagonal = np.hypot(width, 0.019)
        angle = np.degrees(np.arcsin(slot / diagonal) - np.arctan2(0.019, width))
        published = lookup(f"play.sharp.wire_019_{round(1000 * width):03d}").number
        np.testing.assert_allclose(published, angle, rtol=0.0, atol=0.01)


def test_edge_radius_gives_the_measured_play_both_ways():
    """Verification: rounded rectangle in a measured 0.476 mm slot, both directions summed.

    Tolerance: the published mean is printed to 0.1 degree.
    """
    radius = lookup("wire.edge_radius").number
    flat_height, flat_width = (25.4 * size - 2 * radius for size in (0.016, 0.022))
    diagonal = np.hypot(flat_height, flat_width)
    one_way = np.arcsin((0.476 - 2 * radius) / diagonal) - np.arctan2(flat_height, flat_width)
    measured = lookup("play.measured_both_ways").number
    np.testing.assert_allclose(2 * np.degrees(one_way), measured, rtol=0.0, atol=0.05)


def test_moment_to_force_gaps_follow_from_the_root_profile():
    """Verification: variance over the distance from the centre of resistance, printed to 0.05 mm.

    Upper central incisor: embedded root 12 mm, incisal edge 11.5 mm above the crest.
    """
    embedded, edge = 12.0, 11.5
    to_apex, to_edge = [], []
    for name in ("paraboloid", "plane_parabola"):
        depth = lookup(f"centre_of_resistance.{name}").number * embedded
        variance = lookup(f"rotation_constant.{name}").number * embedded**2
        to_apex.append(variance / (embedded - depth))
        to_edge.append(variance / (edge + depth))
    for key, gaps in (("gap_apex_to_translation", to_apex), ("gap_translation_to_edge", to_edge)):
        entry = lookup(f"moment_to_force.{key}")
        np.testing.assert_allclose([entry.low, entry.high], gaps, rtol=0.0, atol=0.05)
        np.testing.assert_allclose(entry.number, np.mean(gaps), rtol=0.0, atol=0.05)
