"""The tooth catalogue: data against independent numbers, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.library import STATUSES, lookup
from gomphosis.bone.teeth import catalogue, published_root_areas, tooth, tooth_citations


def elliptic_paraboloid_area(half_a, half_b, length):
    """Lateral area of x^2/a^2 + y^2/b^2 = 1 - z/h by midpoints over s (radius) and angle."""
    count = 400
    s = (np.arange(count) + 0.5)[:, np.newaxis] / count
    angle = (np.arange(count) + 0.5) * 2.0 * np.pi / count
    # Point (a s cos, b s sin, h (1 - s^2)); area element is the norm of the cross product.
    normal_x = 2.0 * length * s**2 * half_b * np.cos(angle)
    normal_y = 2.0 * length * s**2 * half_a * np.sin(angle)
    normal_z = half_a * half_b * s * np.ones_like(angle)
    density = np.sqrt(normal_x**2 + normal_y**2 + normal_z**2)
    return density.sum() * (1.0 / count) * (2.0 * np.pi / count)


def test_paraboloid_area_of_a_body_of_revolution_in_closed_form():
    radius, length = 3.0, 13.0
    closed = np.pi * radius * ((radius**2 + 4 * length**2) ** 1.5 - radius**3) / (6 * length**2)
    computed = elliptic_paraboloid_area(radius, radius, length)
    np.testing.assert_allclose(computed, closed, rtol=1e-5, atol=0.0)


@pytest.mark.parametrize(
    ("number", "area"),
    [(11, 181), (22, 138), (13, 226), (31, 118), (42, 146), (33, 213), (44, 172), (35, 186)],
)
def test_single_roots_have_the_paraboloid_area_derived_separately(number, area):
    """Verification: areas derived from the same handbook sizes, printed to 1 mm2.

    Root length and both cervical diameters enter, so a slip in any of them shows.
    """
    t = tooth(number)
    computed = elliptic_paraboloid_area(
        t.cervix_mesiodistal / 2, t.cervix_labiolingual / 2, t.root_length
    )
    np.testing.assert_allclose(computed, area, rtol=0.0, atol=0.5)


@pytest.mark.parametrize("kind", ["U1", "U2", "U3"])
@pytest.mark.parametrize("size", ["crown_mesiodistal", "crown_length"])
def test_upper_front_crowns_lie_near_an_independent_measurement(kind, size):
    """Validation: Orozco-Varo et al. 2015, 412 casts, doi 10.1016/j.prosdent.2014.11.006.

    Tolerance 0.7 mm: about one standard deviation of such sizes between persons (from memory,
    unverified); it tells a wrong column, not a fine difference between populations.
    """
    average = getattr(tooth(10 + int(kind[1])), size)
    measured = lookup(f"crown_measured.{kind}.{size}").number
    np.testing.assert_allclose(average, measured, rtol=0.0, atol=0.7)


def test_catalogue_holds_every_permanent_tooth_alike_on_both_sides():
    teeth = catalogue()
    assert sorted(teeth) == [10 * q + p for q in (1, 2, 3, 4) for p in range(1, 9)]
    for number, other in ((11, 21), (16, 26), (33, 43), (38, 48)):
        mirrored = replace(teeth[number], number=other, name=teeth[other].name)
        assert mirrored == teeth[other]
    assert teeth[11] != replace(teeth[41], number=11, name=teeth[11].name)


def test_sizes_of_a_molar_land_in_their_fields():
    first_molar = tooth(36)
    assert first_molar.crown_length == 7.5
    assert first_molar.root_length == 14.0
    assert first_molar.crown_mesiodistal == 11.0
    assert first_molar.cervix_mesiodistal == 9.0
    assert first_molar.crown_labiolingual == 10.5
    assert first_molar.cervix_labiolingual == 9.0
    np.testing.assert_allclose(first_molar.cervical_radius, 4.5, rtol=1e-15, atol=0.0)


def test_cervical_circle_has_the_area_of_the_ellipse():
    t = tooth(13)
    ellipse = np.pi / 4 * t.cervix_mesiodistal * t.cervix_labiolingual
    np.testing.assert_allclose(np.pi * t.cervical_radius**2, ellipse, rtol=1e-14, atol=0.0)


@pytest.mark.parametrize(
    ("number", "name", "roots", "upper", "right", "anterior"),
    [
        (11, "upper right central incisor", 1, True, True, True),
        (14, "upper right first premolar", 2, True, True, False),
        (23, "upper left canine", 1, True, False, True),
        (27, "upper left second molar", 3, True, False, False),
        (32, "lower left lateral incisor", 1, False, False, True),
        (35, "lower left second premolar", 1, False, False, False),
        (46, "lower right first molar", 2, False, True, False),
        (48, "lower right third molar", 2, False, True, False),
    ],
)
def test_words_about_a_tooth(number, name, roots, upper, right, anterior):
    t = tooth(number)
    assert (t.name, t.roots) == (name, roots)
    assert (t.upper, t.right, t.anterior) == (upper, right, anterior)
    assert t.single_rooted is (roots == 1)


def test_root_areas_by_study():
    assert set(published_root_areas(11)) == {"jepsen", "freeman"}
    assert published_root_areas(11)["jepsen"].number == 204.0
    canine = published_root_areas(43)
    assert {study: entry.number for study, entry in canine.items()} == {
        "freeman": 270.0,
        "jepsen": 268.0,
        "mowry": 275.9,
    }
    assert canine["mowry"].status == "verified"
    assert canine["jepsen"].status == "from memory, unverified"
    assert dict(published_root_areas(18)) == {}


def test_every_size_is_cited_with_its_own_status():
    cited = tooth_citations(21)
    assert cited["crown_length"].status == "secondary source"
    assert cited["cervix_labiolingual"].status == "from memory, unverified"
    assert all(entry.status in STATUSES[1:3] for entry in tooth_citations(17).values())
    for number, t in catalogue().items():
        for name, entry in tooth_citations(number).items():
            assert getattr(t, name) == entry.number


@pytest.mark.parametrize("number", [0, 9, 10, 19, 29, 50, 61])
@pytest.mark.parametrize("call", [tooth, tooth_citations, published_root_areas])
def test_other_numbers_are_refused(number, call):
    with pytest.raises(ValueError, match=r"11 to 18, 21 to 28, 31 to 38 or 41 to 48"):
        call(number)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"root_length": 0.0}, r"tooth 11: root_length is 0\.0 mm"),
        ({"crown_length": float("nan")}, "tooth 11: crown_length is nan mm"),
        ({"cervix_mesiodistal": float("inf")}, "tooth 11: cervix_mesiodistal is inf mm"),
        ({"crown_labiolingual": -7.0}, r"tooth 11: crown_labiolingual is -7\.0 mm"),
        ({"roots": 0}, "tooth 11: roots is 0"),
        ({"number": 99}, "tooth number 99"),
    ],
)
def test_a_changed_tooth_is_checked(change, message):
    with pytest.raises(ValueError, match=message):
        replace(tooth(11), **change)


def test_catalogue_cannot_be_changed():
    with pytest.raises(TypeError, match="does not support item assignment"):
        catalogue()[11] = tooth(21)
