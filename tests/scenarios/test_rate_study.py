"""The study of rate laws: its candidates, its findings, its proof, and its tables."""

import json

import numpy as np
import pandas as pd
import pytest

from gomphosis.bone.library import lookup
from gomphosis.bone.rates import UserLaw
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.stimulus import STIMULI
from gomphosis.scenarios.calibration import calibrate
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.checks import speeds
from gomphosis.scenarios.checks.rates import movement_ratio, tipped_premolar
from gomphosis.scenarios.movement_table import write_csv
from gomphosis.scenarios.rate_bound import Family
from gomphosis.scenarios.rate_candidates import (
    DEFAULT,
    FORCES,
    SPEEDS,
    Candidate,
    Fitted,
    at_height,
    candidates,
    point_speed,
    solved_wall,
)
from gomphosis.scenarios.rate_findings import (
    INSIDE,
    NOT_JUDGED,
    OUTSIDE,
    PREMOLAR,
    Finding,
    bracket_height,
    cusp_height,
    findings,
    tipping,
)
from gomphosis.scenarios.rate_study import rate_study, study_document, study_table
from gomphosis.scenarios.schema import Ligament

BY_NAME = {candidate.name: candidate for candidate in candidates()}
FINDINGS = {finding.key: finding for finding in findings()}
TIP = tipping(PREMOLAR, 1.0)


def fitted(name: str) -> Fitted:
    return Fitted(BY_NAME[name])


# Candidates


def test_the_default_is_the_law_of_the_program():
    law = calibrate(Ligament()).law
    found = fitted(DEFAULT).law
    np.testing.assert_allclose(
        [found.max_speed, found.half_stress], [law.max_speed, law.half_stress], rtol=1e-9
    )
    assert candidates()[0].name == DEFAULT


def test_numbers_agree_with_the_checks_that_were_there_before():
    """Verification: another path through the time loop, and another through the checks' teeth."""
    law = fitted(DEFAULT)
    np.testing.assert_allclose(FINDINGS["tipping-cusp"].compute(law), tipped_premolar(), rtol=1e-6)
    np.testing.assert_allclose(FINDINGS["rats-centre"].compute(law), movement_ratio(1.0), rtol=1e-6)


@pytest.mark.parametrize("name", ["pressure", "tooth", "overload", "new bone"])
def test_every_candidate_is_a_least_squares_fit(name: str):
    """No constant moved by 1 % fits better: least squares of log speeds."""
    law = fitted(name)

    def misfit(max_speed: float, half_stress: float) -> float:
        moved = type(law.law)(max_speed, half_stress)
        return float(np.sum(np.log(law.speed(moved, FORCES) / SPEEDS) ** 2))

    v, s = law.law.max_speed, law.law.half_stress
    best = misfit(v, s)
    assert all(misfit(a * v, b * s) > best for a, b in ((1.01, 1), (0.99, 1), (1, 1.01), (1, 0.99)))


def test_the_limit_of_overload_is_the_least_without_a_lag_in_translation():
    law = fitted("lag")
    height = law.centre(13)
    assert law.stopped(13, at_height(height, FORCES.max())) == 0.0
    assert law.stopped(13, at_height(height, 1.01 * FORCES.max())) > 0.0
    assert law.lag.delay == lookup("lag.iwasaki").number
    # tipping by a third of that force overloads wall all the same
    assert law.stopped(PREMOLAR, TIP) > 0.03


def test_a_lag_takes_movement_away_and_gives_it_back_no_more():
    plain, slow = fitted(DEFAULT), fitted("lag")
    gone = [
        point_speed(
            plain.travel(PREMOLAR, TIP, days=days) - slow.travel(PREMOLAR, TIP, days=days), 9.5
        )
        for days in (21.0, 42.0, 56.0)
    ]
    assert gone[0] > 0.1
    np.testing.assert_allclose(gone[1:], gone[0], rtol=1e-6)


def test_a_standstill_costs_a_heavily_loaded_tooth_its_whole_delay():
    law, plain = fitted("standstill"), fitted("tooth")
    height = law.centre(13)
    assert law.stopped(13, at_height(height, FORCES.max())) == 0.0
    assert law.stopped(PREMOLAR, TIP) == 1.0
    free = plain.travel(PREMOLAR, TIP, days=56)
    np.testing.assert_allclose(law.travel(PREMOLAR, TIP, days=56), 35 / 56 * free, rtol=1e-12)
    np.testing.assert_array_equal(law.travel(PREMOLAR, TIP, days=20), 0.0)
    light = tipping(PREMOLAR, 0.1)
    np.testing.assert_array_equal(
        law.travel(PREMOLAR, light, days=20), plain.travel(PREMOLAR, light, days=20)
    )


def test_new_bone_is_no_faster_than_its_limit():
    slow = Fitted(Candidate("x", "x", 1, new_bone_speed=1e-6))
    free = Fitted(Candidate("y", "y", 0))
    # without new bone the compressed half drives the tooth alone: half the speed, twice v_max
    np.testing.assert_allclose(slow.law.max_speed / free.law.max_speed, 2.0, rtol=0.1)
    # intrusion compresses the whole wall and extrusion stretches it
    down, up = (slow.drift(13, np.array([0, 0, f, 0, 0, 0.0]))[2] for f in (-0.5, 0.5))
    assert down < 0 < up < 0.01 * -down


def test_wall_overloaded_for_good_stops_a_heavily_tipped_tooth():
    law, plain = fitted("overload"), fitted(DEFAULT)
    heavy = tipping(13, 3.0)
    ours, free = (point_speed(f.drift(13, heavy), 11.0) for f in (law, plain))
    assert 0 <= ours < 0.05 * free


def test_a_plate_slows_only_what_goes_through_it():
    law, plain = fitted("plate"), fitted(DEFAULT)
    density = lookup("bone_layer.trabecular_density").number
    through = law.travel(PREMOLAR, TIP, days=56, plate=True)
    np.testing.assert_allclose(through, density * plain.travel(PREMOLAR, TIP, days=56), rtol=1e-9)
    np.testing.assert_array_equal(
        law.travel(PREMOLAR, TIP, days=56), plain.travel(PREMOLAR, TIP, days=56)
    )


# Findings


def test_findings_carry_their_source_and_status():
    cited = lookup("speed.dudic_2013.movement")
    found = FINDINGS["tipping-cusp"]
    assert (found.source, found.status) == (cited.source, cited.status)
    assert (found.published, found.low, found.high) == (2.42, 0.3, 5.8)
    assert len(FINDINGS) == len(findings()) == 22


def test_numbers_from_memory_are_not_judged():
    for finding in findings():
        if finding.status == "from memory, unverified":
            assert finding.verdict(finding.published) == NOT_JUDGED
    assert FINDINGS["largest-speed"].status == "from memory, unverified"


def test_verdicts_at_the_ends_of_a_spread():
    def finding(low, high):
        return Finding("k", "q", "1", 1.0, low, high, "validation", "s", "t", lambda _: 0.0)

    assert [finding(0.5, 2.0).verdict(v) for v in (0.49, 0.5, 2.0, 2.01)] == [
        OUTSIDE,
        INSIDE,
        INSIDE,
        OUTSIDE,
    ]
    assert finding(1.0, np.inf).verdict(1e9) == INSIDE
    assert finding(None, None).verdict(1.0) == NOT_JUDGED


def test_calibration_is_not_sold_as_validation():
    kinds = {key: finding.kind for key, finding in FINDINGS.items()}
    calibrated = {key for key, kind in kinds.items() if kind == "calibration"}
    # the five means, the same group's two, and the absence of a lag that set the limits of overload
    assert len(calibrated) == 8
    assert all(key.startswith("translation-") for key in calibrated)


def test_growth_scales_tipping_by_the_published_ratio():
    law = fitted(DEFAULT)
    young, grown = (FINDINGS[f"tipping-{k}-16"].compute(law) for k in ("under", "from"))
    np.testing.assert_allclose(young / grown, lookup("speed.growing_factor").number, rtol=1e-9)


def test_known_disagreements_of_the_checks_are_those_of_the_study():
    law = speeds.default_law()
    outside = {f.key for f in findings() if f.verdict(f.compute(law)) == OUTSIDE}
    assert outside == {*speeds.WRONG, "tipping-cusp", "rats-centre"}


# The proof


@pytest.mark.parametrize("stimulus", STIMULI)
def test_movement_is_the_weighted_sum_of_the_law(stimulus: str):
    """Verification: weights times R at the knots, against the drift under the same law."""
    family = Family(stimulus)
    rng = np.random.default_rng(5)
    values = np.cumsum(rng.random(len(family.knots))) * 1e-3
    law = UserLaw(
        lambda s: np.interp(s, family.knots, values), lambda s: np.zeros_like(np.asarray(s))
    )
    model = Remodelling(solved_wall(PREMOLAR, Ligament()), law, None, stimulus)
    direct = point_speed(model.drift(TIP)[0], 9.5)
    np.testing.assert_allclose(family.weights(PREMOLAR, TIP, 9.5) @ values, direct, rtol=1e-9)


@pytest.mark.parametrize("stimulus", STIMULI)
def test_the_law_of_least_movement_is_one_of_the_family(stimulus: str):
    """It rises, it meets the translations, and driven through the model it moves so far."""
    family = Family(stimulus)
    least = family.least(PREMOLAR, TIP, height=9.5, days=56)
    assert np.diff(least.speed).min() > -1e-12
    law = UserLaw(
        lambda s: np.interp(s, least.stimulus, least.speed), lambda s: np.zeros_like(np.asarray(s))
    )
    model = Remodelling(solved_wall(PREMOLAR, Ligament()), law, None, stimulus)
    np.testing.assert_allclose(
        56 * point_speed(model.drift(TIP)[0], 9.5), least.movement, rtol=1e-9
    )
    canine = Remodelling(solved_wall(13, Ligament()), law, None, stimulus)
    height = canine.wall.support.planar.centre_of_resistance
    speed = [point_speed(canine.drift(at_height(height, f))[0], height) for f in FORCES]
    assert np.abs(np.array(speed) - SPEEDS).max() < 0.008 * (1 + 1e-9)


def test_no_fitted_candidate_of_the_family_beats_the_least():
    for name in STIMULI:
        moved = FINDINGS["tipping-cusp"].compute(fitted(name))
        least = Family(name).least(PREMOLAR, TIP, height=cusp_height(PREMOLAR), days=56)
        assert 0.8 * moved < least.movement < moved


def test_no_law_that_does_not_fall_reaches_the_published_tipping():
    """The knot: 5.8 mm is the largest movement of one tooth, 2.42 mm the mean."""
    largest = lookup("speed.dudic_2013.movement").high
    for stimulus in STIMULI:
        for height in (cusp_height(PREMOLAR), bracket_height(PREMOLAR)):
            found = Family(stimulus).least(PREMOLAR, TIP, height=height, days=56)
            assert found.movement > largest
    falling = Family().least(PREMOLAR, TIP, height=9.5, days=56, falling=True)
    assert falling.movement < largest


def test_more_room_lets_a_tooth_move_less_and_knots_hardly_matter(monkeypatch):
    at = {
        e: Family().least(PREMOLAR, TIP, height=9.5, days=56, errors=e).movement for e in (0.5, 2.0)
    }
    assert at[2.0] < at[0.5]
    monkeypatch.setattr("gomphosis.scenarios.rate_bound.KNOTS", 400)
    finer = Family().least(PREMOLAR, TIP, height=9.5, days=56).movement
    np.testing.assert_allclose(finer, at[2.0], rtol=1e-3)


def test_a_fit_that_is_asked_too_much_is_refused():
    with pytest.raises(RuntimeError, match="no rate law within -1 standard errors"):
        Family().least(PREMOLAR, TIP, height=9.5, days=56, errors=-1.0)


# The whole


@pytest.fixture(scope="module")
def small():
    """The study with three laws."""
    return rate_study(laws=[BY_NAME[name] for name in (DEFAULT, "tooth", "plate")])


def test_counts_and_choice_follow_from_the_rows(small):
    inside = [sum(row.verdicts[k] == INSIDE for row in small.rows) for k in range(3)]
    assert [law.inside for law in small.laws] == inside
    assert all(law.judged == 21 for law in small.laws)
    assert inside[2] > inside[0]
    # the plate before the pace of the tooth
    assert small.alternatives == (2, 1)


def test_translation_and_tipping_are_both_inside_only_beyond_the_family(small):
    def both(k: int) -> bool:
        keys = [key for key in FINDINGS if key.endswith("-N")] + ["tipping-cusp", "tipping-bracket"]
        rows = {row.finding.key: row.verdicts[k] for row in small.rows}
        return all(rows[key] == INSIDE for key in keys)

    assert [both(k) for k in range(3)] == [False, False, True]


def test_table_has_a_row_per_finding_and_law_and_is_written_with_the_caution(small, tmp_path):
    table = study_table(small)
    assert len(table) == 22 * 3
    row = table[(table.finding == "tipping-cusp") & (table.law == "plate")].iloc[0]
    assert (row.verdict, row.kind, row.unit, row.high) == (INSIDE, "validation", "mm", 5.8)
    expected = [value for line in small.rows for value in line.ours]
    np.testing.assert_array_equal(table.model, expected)
    assert list(table.law[:3]) == [DEFAULT, "tooth", "plate"]
    path = tmp_path / "study.csv"
    write_csv(table, path)
    assert path.read_text(encoding="utf-8").startswith(f"# {NOTICE[:40]}")
    back = pd.read_csv(path, comment="#")
    np.testing.assert_allclose(back.model, table.model, rtol=1e-12)


def test_document_is_plain_and_says_what_is_not_known(small):
    document = study_document(small)
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert (document["default"], document["best_alternatives"]) == (DEFAULT, ["plate", "tooth"])
    by_key = {finding["finding"]: finding for finding in document["findings"]}
    assert by_key["dogs-600-over-10-cN"]["high"] is None
    assert by_key["largest-speed"]["verdict"][DEFAULT] == NOT_JUDGED
    assert len(document["least_tipping"]["bounds"]) == 9


def test_progress_rises_to_one():
    shares: list[float] = []
    rate_study(lambda share, what: shares.append(share), laws=[BY_NAME[DEFAULT]] * 3)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


@pytest.mark.slow
def test_options_of_the_rate_bring_nothing_inside_that_the_default_leaves_out():
    """What the cautions say of another stimulus; and of the lag."""
    study = rate_study()
    names = [law.candidate.name for law in study.laws]
    for name in ("pressure", "tooth", "lag", "tooth, lag"):
        gained = [
            row.finding.key
            for row in study.rows
            if row.verdicts[names.index(name)] == INSIDE and row.verdicts[0] == OUTSIDE
        ]
        assert gained == [], name
    assert names[study.alternatives[0]] == "plate"
    # the two that stand still win tipping and lose the canine under heavy and light force
    rows = {row.finding.key: row.verdicts for row in study.rows}
    for name in ("standstill", "overload"):
        k = names.index(name)
        assert (rows["tipping-cusp"][k], rows["heavy-light-4-weeks"][k]) == (INSIDE, OUTSIDE)
