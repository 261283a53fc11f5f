"""Bone resorbed and laid down as the tooth travels; its mineralisation; the books."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone import mineral
from gomphosis.bone.coverage import Raster, moved
from gomphosis.bone.density_map import CORTICAL
from gomphosis.bone.jaw_section import JawSection, PlateThickness, jaw_map, tooth_outline
from gomphosis.bone.library import lookup
from gomphosis.bone.mineral import (
    BALANCE,
    Books,
    BooksError,
    Exponential,
    Linear,
    closed,
    mineralised,
    travelled,
    turned_over,
)
from gomphosis.bone.root import RootProfile, ThicknessProfile

RASTER = Raster((-12.0, -18.0), (240, 240), 0.1)
TOOTH = tooth_outline(RootProfile(3.0, 12.0, 0.35), ThicknessProfile(0.22, 0.16, 0.22), above=5.0)
SECTION = JawSection(PlateThickness(0.5, 0.5, 0.5), PlateThickness(1.25, 3.5, 6.5), 1.5, 0.3)
BONES = jaw_map(RASTER, TOOTH, SECTION)
PEG = np.array([[-1.03, 1.03, 1.03, -1.03], [-5.07, -5.07, 3.0, 3.0]])
WIDE = JawSection(PlateThickness(4.0, 4.0, 4.0), PlateThickness(4.0, 4.0, 4.0), 4.0, 1.0)
MOTION = np.array([0.05, 0.02, 0.004])


def journey(steps, motion=MOTION):
    """Yield map and books of each step, mineralising between them."""
    bones, old = BONES, TOOTH
    for count in range(1, steps + 1):
        new = moved(TOOTH, count * motion)
        bones, books = travelled(bones, old, new, new_density=0.1)
        bones, matured = mineralised(bones, Exponential(18.0), days=1.0)
        old = new
        yield bones, books + matured


def test_verification_a_peg_moved_sideways_resorbs_and_deposits_its_height():
    bones = jaw_map(RASTER, PEG, WIDE)
    shift = 0.37
    after, books = travelled(bones, PEG, moved(PEG, np.array([shift, 0, 0])), new_density=0.25)
    embedded, whole = 5.07 * shift, 8.07 * shift
    np.testing.assert_allclose([books.swept, books.vacated], whole, rtol=1e-12)
    np.testing.assert_allclose([books.resorbed, books.deposited], embedded, rtol=1e-12)
    np.testing.assert_allclose(books.mineral_removed, embedded, rtol=1e-12)
    np.testing.assert_allclose(books.mineral_deposited, 0.25 * embedded, rtol=1e-12)
    np.testing.assert_allclose(after.bone_area, bones.bone_area, rtol=1e-12)
    np.testing.assert_allclose(after.mineral_area, bones.mineral_area - 0.75 * embedded, rtol=1e-12)
    place = np.array([[-1.0 + 0.17], [-3.0]])
    np.testing.assert_allclose(after.density_at(place), 0.25, rtol=1e-12)


def test_books_balance_at_every_step_of_six_millimetres():
    total = Books()
    for bones, books in journey(84, np.array([-6.0 / 84, 0.0, 0.001])):
        swept = books.swept
        for residual in (books.area_residual, books.bone_residual, books.mineral_residual):
            assert abs(residual) < BALANCE * swept
        assert bones.density.min() >= 0.0
        assert bones.density.max() <= 1.0 + 1e-12
        total += books
    assert total.resorbed > 20.0
    assert total.deposited > 40.0
    np.testing.assert_allclose(
        bones.mineral_area - BONES.mineral_area, total.mineral_change, rtol=1e-10
    )
    np.testing.assert_allclose(
        bones.bone_area - BONES.bone_area, total.deposited - total.resorbed, rtol=1e-10
    )


def test_there_and_back_leaves_the_place_but_not_the_mineral():
    away = moved(TOOTH, 8 * MOTION)
    out, _ = travelled(BONES, TOOTH, away, new_density=0.1)
    back, _ = travelled(out, away, TOOTH, new_density=0.1)
    np.testing.assert_allclose(back.covered, BONES.covered, rtol=0, atol=1e-12)
    assert back.mineral_area < BONES.mineral_area - 1.0
    # the same area of bone but where crown and plate swept cells only partly within the jaw
    np.testing.assert_allclose(back.bone_area, BONES.bone_area, rtol=2e-3)


def test_no_bone_is_laid_down_over_the_crest_or_outside_the_plate():
    *_, (bones, _) = journey(30, np.array([-0.1, 0.0, 0.0]))
    z = RASTER.centres(1)
    assert bones.bone[:, z > 0].max() == 0.0
    assert np.all(bones.bone <= BONES.envelope + 1e-9)


def test_smaller_steps_resorb_the_same():
    whole = sum((books for _, books in journey(1, 4 * MOTION)), Books())
    parts = sum((books for _, books in journey(4)), Books())
    # a turning outline sweeps some area twice in small steps, of second order in the turn
    np.testing.assert_allclose(parts.resorbed, whole.resorbed, rtol=2e-3)
    np.testing.assert_allclose(parts.mineral_removed, whole.mineral_removed, rtol=2e-3)


def test_verification_exponential_mineralisation():
    bones, books = travelled(BONES, TOOTH, moved(TOOTH, 6 * MOTION), new_density=0.1)
    new = (bones.bone > 0.999) & (bones.density < 0.1 + 1e-9)
    assert new.sum() > 80
    once, gained = mineralised(bones, Exponential(18.0), days=9.0)
    share = 1 - np.exp(-0.5)
    expected = 0.1 + share * (bones.mature[new] - 0.1)
    np.testing.assert_allclose(once.density[new], expected, rtol=1e-9)
    assert gained.mineral_matured > 0.05 * books.deposited
    twice = mineralised(
        mineralised(bones, Exponential(18.0), days=4.5)[0], Exponential(18.0), days=4.5
    )
    np.testing.assert_allclose(twice[0].mineral, once.mineral, rtol=0, atol=1e-13)


def test_verification_linear_mineralisation_ends_on_time():
    bones, _ = travelled(BONES, TOOTH, moved(TOOTH, 6 * MOTION), new_density=0.1)
    law = Linear(duration=40.0, start=0.1)
    half, _ = mineralised(bones, law, days=20.0)
    full, _ = mineralised(half, law, days=20.0)
    new = (bones.bone > 0.999) & (bones.density < 0.1 + 1e-9)
    np.testing.assert_allclose(half.density[new], 0.1 + 0.5 * (bones.mature[new] - 0.1), atol=1e-9)
    np.testing.assert_allclose(full.density[new], bones.mature[new], atol=1e-9)
    done, books = mineralised(full, law, days=20.0)
    assert abs(books.mineral_matured) < 1e-12 * done.mineral_area


def test_bone_that_stood_is_mature():
    after, books = mineralised(BONES, Exponential(18.0), days=1000.0)
    assert abs(books.mineral_matured) < 1e-12 * BONES.mineral_area
    np.testing.assert_allclose(after.mineral, BONES.mineral, rtol=0, atol=1e-14)


def test_default_time_constant_passes_through_the_measured_point():
    start, share = lookup("new_bone.density").number, lookup("new_bone.osteon_share").number
    law = Exponential(lookup("new_bone.time_constant").number)
    missing = np.array(1.0 - start)
    gained = law.gained(missing, np.array(1.0), lookup("new_bone.osteon_age").number)
    # four digits in the library
    assert abs(start + gained - share) < 5e-4


def test_turnover_softens_plates_alone_and_keeps_its_books():
    after, books = turned_over(BONES, per_day=0.01, new_density=0.1, days=10.0)
    share = 1 - np.exp(-0.1)
    plate = BONES.kind == CORTICAL
    lost = share * (BONES.mineral[plate] - 0.1 * BONES.bone[plate])
    expected = -lost.sum() * RASTER.cell_area
    assert expected < -1.0
    np.testing.assert_allclose(books.mineral_turned_over, expected, rtol=1e-10)
    assert after.bone_area == BONES.bone_area
    np.testing.assert_array_equal(after.mineral[~plate], BONES.mineral[~plate])
    same, none = turned_over(BONES, per_day=0.0, new_density=0.1, days=10.0)
    assert none.mineral_turned_over == 0.0
    np.testing.assert_array_equal(same.mineral, BONES.mineral)


def test_books_that_do_not_balance_are_refused():
    after = replace(BONES, mineral=0.999 * BONES.mineral)
    with pytest.raises(BooksError, match="books do not balance: area 0, bone 0, mineral -"):
        closed(BONES, after, Books())
    thinner = replace(BONES, bone=0.999 * BONES.bone, mineral=0.999 * BONES.mineral)
    with pytest.raises(BooksError, match="bone -"):
        closed(BONES, thinner, Books(mineral_removed=0.001 * BONES.mineral_area))
    with pytest.raises(BooksError, match=r"area 0\.5"):
        closed(BONES, BONES, Books(), covered=0.5)


def test_losing_bone_unseen_is_noticed(monkeypatch):
    plain = mineral.overlay

    def leaky(raster, first, second):
        found = plain(raster, first, second)
        return replace(found, second_only=0.9999 * found.second_only)

    monkeypatch.setattr(mineral, "overlay", leaky)
    with pytest.raises(BooksError, match="area"):
        travelled(BONES, TOOTH, moved(TOOTH, MOTION), new_density=0.1)


def test_an_outline_elsewhere_is_refused():
    with pytest.raises(ValueError, match="covers other cells than the map's tooth"):
        travelled(BONES, moved(TOOTH, MOTION), TOOTH, new_density=0.1)


def test_numbers_out_of_range_are_refused():
    with pytest.raises(ValueError, match=r"density of new bone must lie in \[0, 1\], got 1\.5"):
        travelled(BONES, TOOTH, TOOTH, new_density=1.5)
    with pytest.raises(ValueError, match="time constant must be > 0 days, got 0"):
        Exponential(0.0)
    with pytest.raises(ValueError, match="duration must be > 0"):
        Linear(-1.0, 0.1)
    with pytest.raises(ValueError, match="density of new bone"):
        Linear(1.0, np.nan)
    with pytest.raises(ValueError, match="turnover must be >= 0"):
        turned_over(BONES, per_day=-1.0, new_density=0.1, days=1.0)
