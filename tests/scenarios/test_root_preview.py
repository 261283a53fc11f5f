"""The preview of a root against its own field files and against plain geometry. Verification."""

import math
import re
from itertools import chain

import meshio
import numpy as np
import pandas as pd
import pytest

from gomphosis.bone.library import lookup
from gomphosis.bone.outline import side_at
from gomphosis.bone.support import Resolution
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import case_text, parse_scenario, scenario_from
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.movement_table import write_csv
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.plates import (
    GIVEN,
    moved_outline,
    plates_of,
    root_outline,
    socket_wall,
)
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.root_preview import RootPreview, root_previews
from gomphosis.scenarios.root_quantities import Origin, Quantity, band_text
from gomphosis.scenarios.root_table import root_table
from gomphosis.scenarios.root_wall import apex_traction
from gomphosis.scenarios.run import run
from gomphosis.scenarios.slice_model import in_plane
from gomphosis.scenarios.tooth_shape import ROOT_ROWS
from gomphosis.scenarios.vtu import write_fields

COARSE = Resolution(along=12, root=2, ligament=1, bone=1, sectors=16)
RATE = {"max_speed": "60 um/day", "half_stress": "8 kPa"}
SECTORS = 32  # of a tooth's surface in the field files
ADVICE = re.compile(
    r"\b(best|safe|unsafe|dangerous|should|must|recommend\w*|advis\w*|avoid|ideal|optimal|risky)\b",
    re.IGNORECASE,
)


def followed(*forces: dict, numbers: tuple[int, ...] = (11,), **document: object) -> RunResult:
    base = {"schema": 1, "title": "test", "duration": "3 weeks", "rate": RATE}
    teeth = {"tooth": [{"number": number} for number in numbers], "force": list(forces)}
    return run(scenario_from({**base, **teeth, **document}, "test"), resolution=COARSE)


def force(case: str, direction: str, ratio: str, **parts: object) -> dict[str, object]:
    return {
        "case": case,
        "tooth": 11,
        "force": "0.08 N",
        "direction": direction,
        "moment_to_force": ratio,
        **parts,
    }


FORCES = (
    force("labial", "labial", "0 mm"),
    force("lingual", "lingual", "0 mm"),
    force("over", "labial", "11 mm"),
    force("bodily", "labial", "translation"),
    force("root", "lingual", "12.5 mm"),
    force("mesial", "mesial", "0 mm"),
    force("heavy", "labial", "0 mm", force="0.5 N"),
)


@pytest.fixture(scope="module")
def forced() -> RunResult:
    return followed(*FORCES, pressure_limit="3 kPa")


@pytest.fixture(scope="module")
def previews(forced: RunResult) -> dict[str, RootPreview]:
    return {case.name: root_previews(forced, case)[0] for case in forced.cases}


@pytest.fixture(scope="module")
def files(forced: RunResult, tmp_path_factory) -> dict[str, list[tuple[meshio.Mesh, ...]]]:
    """Weekly field files of every case, tooth and wall, read back."""
    folder = tmp_path_factory.mktemp("fields")
    paths = [path for path in write_fields(forced, folder) if path.suffix == ".vtu"]
    written = list(zip(paths[::2], paths[1::2], strict=True))
    names = [case.name for case in forced.cases]
    each = len(written) // len(names)
    return {
        name: [
            tuple(meshio.read(path) for path in week) for week in written[k * each : (k + 1) * each]
        ]
        for k, name in enumerate(names)
    }


class Geometry:
    """One week's files in the tooth's own plane at the start, from nothing but their points."""

    def __init__(self, week: tuple[meshio.Mesh, ...]):
        tooth, wall = week
        here, moved = tooth.points, tooth.point_data["movement_mm"]
        grid = np.arange(len(here)).reshape(-1, SECTORS)
        before = here - moved
        apex, edge = before[grid[0]].mean(axis=0), before[grid[-1]].mean(axis=0)
        self.origin = before[grid[ROOT_ROWS - 1]].mean(axis=0)
        self.up = (edge - apex) / np.linalg.norm(edge - apex)
        side = before[grid[ROOT_ROWS - 1]]
        self.across = (side[0] - side[SECTORS // 2]) / np.linalg.norm(side[0] - side[SECTORS // 2])
        self.apex, self.edge = (moved[grid[row]].mean(axis=0) @ self.across for row in (0, -1))
        root = grid[:ROOT_ROWS]
        self.root = {s: self.plane(here[root[:, k]]) for s, k in ((1, 0), (-1, SECTORS // 2))}
        ring = np.arange(len(wall.points)).reshape(-1, COARSE.sectors)
        here, before = wall.points, wall.points - wall.point_data["movement_mm"]
        half = COARSE.sectors // 2
        self.wall = {s: self.plane(here[ring[:, k]]) for s, k in ((1, 0), (-1, half))}
        self.socket = {s: self.plane(before[ring[:, k]]) for s, k in ((1, 0), (-1, half))}
        self.traction = wall.point_data["traction_kPa"][ring[0]].mean(axis=0)

    def plane(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """x and z of points, with nine more between neighbours."""
        x, z = (points - self.origin) @ self.across, (points - self.origin) @ self.up
        rows = np.arange(len(x))
        fine = np.linspace(0, rows[-1], 10 * len(x))
        return np.interp(fine, rows, x), np.interp(fine, rows, z)

    def surface(self, sign: int, z: np.ndarray, thickness: tuple[float, ...]) -> np.ndarray:
        """x of the outer surface of the bone over a socket, by the definition of a thickness."""
        sx, sz = self.socket[sign]
        bottom = sz.min()
        beside = np.maximum(z, 0.85 * bottom)
        plate = np.interp(z / bottom, [0, 0.5, 1], thickness)
        return np.interp(beside, sz, sx) + sign * plate

    def inner(self, sign: int, z: np.ndarray, thickness: tuple[float, ...]) -> np.ndarray:
        sx, sz = self.socket[sign]
        wall = np.interp(z, sz, sx)
        thick = sign * (self.surface(sign, z, thickness) - wall)
        return wall + sign * np.maximum(thick - 1.5, 0)

    def clearance(self, sign: int, thickness: tuple[float, ...]) -> float:
        x, z = self.root[sign]
        below = z <= 0
        return float((sign * (self.inner(sign, z, thickness) - x))[below].min())

    def bone_left(self, sign: int, thickness: tuple[float, ...]) -> float:
        x, z = self.wall[sign]
        below = z <= 0
        return float((sign * (self.surface(sign, z, thickness) - x))[below].min())


LABIAL = lookup("plate_thickness.labial.U1").numbers
LINGUAL = tuple(
    lookup(f"plate_thickness.palatal.{at}").number for at in ("crest", "middle", "apex")
)
NAMES = ("labial", "lingual", "over", "bodily", "root")


@pytest.mark.parametrize("case", NAMES)
def test_type_of_movement_agrees_with_the_field_files(case: str, previews, files):
    last = Geometry(files[case][-1])
    found = previews[case].quantity("movement_type")
    # files turn by finite angles about the slot, 3.5 mm beside the axis: second order in the angle
    angle = (last.edge - last.apex) / 23.5
    off = 3.5 * angle**2
    ratio = last.apex / last.edge
    assert abs(found.median - ratio) <= (1 + abs(ratio)) * off / abs(last.edge) + 1e-6
    limits = {
        "uncontrolled tipping": (-1.5, -0.2),
        "controlled tipping": (-0.2, 0.5),
        "translation": (0.5, 2.4),
    }
    name = next((n for n, (low, high) in limits.items() if low <= ratio < high), "root movement")
    assert found.words[1] == name
    assert found.origin.threshold == limits.get(name, (-1.5, 2.4))


def test_every_published_type_is_met(previews):
    assert {previews[case].quantity("movement_type").words[1] for case in NAMES} == {
        "uncontrolled tipping",
        "controlled tipping",
        "translation",
        "root movement",
    }


@pytest.mark.parametrize("case", NAMES)
@pytest.mark.parametrize(
    ("side", "sign", "thickness"), [("labial", 1, LABIAL), ("lingual", -1, LINGUAL)]
)
def test_clearances_agree_with_the_field_files(
    case: str, side: str, sign: int, thickness, previews, files
):
    weekly = [q for q in previews[case].weekly if q.key == f"clearance_{side}"]
    assert [q.week for q in weekly] == [0, 1, 2, 3]
    for quantity, mesh in zip(weekly, files[case], strict=True):
        direct = Geometry(mesh)
        angle = (direct.edge - direct.apex) / 23.5
        # as above, with the slot 7 mm over the crest; and chords between the files' rows
        off = 0.5 * 8.0 * angle**2 + 0.02
        np.testing.assert_allclose(
            quantity.median, direct.clearance(sign, thickness), rtol=0, atol=off
        )
    left = previews[case].quantity(f"bone_left_{side}").median
    least = min(Geometry(mesh).bone_left(sign, thickness) for mesh in files[case])
    # the least of all days is at most that of whole weeks
    assert least - 0.1 < left <= least + off


@pytest.mark.parametrize("case", NAMES)
def test_week_of_contact_lies_between_the_field_files_that_bracket_it(case: str, previews, files):
    for side, sign, thickness in (("labial", 1, LABIAL), ("lingual", -1, LINGUAL)):
        gaps = [Geometry(mesh).clearance(sign, thickness) for mesh in files[case]]
        met = previews[case].quantity(f"clearance_{side}_week").median
        first = next((k for k, gap in enumerate(gaps) if gap <= 0), None)
        if first is None:
            assert met is None or min(gaps) < 0.03
        else:
            assert met is not None
            assert first - 1 <= met <= first


def brute_force_day(forced: RunResult, case: str, quantile: float, sign: int) -> float | None:
    """The first day on which a row across the axis shows root and plate in one place."""
    tooth = forced.teeth[0]
    plate = next(p for p in plates_of(forced.scenario, tooth) if p.sign == sign)
    track = forced.case(case).tracks[quantile]
    outline = root_outline(tooth)
    gaps = []
    for pose in in_plane(11, "labiolingual", track.pose[:, 0]):
        x, z = (values[0] for values in moved_outline(outline, pose[None]))
        rows = np.linspace(z.min() + 1e-9, min(z.max(), 0.0) - 1e-9, 400)
        surface = side_at(np.stack([x, z]), rows, sign)
        gaps.append((sign * (np.interp(rows, plate.height, plate.inner) - surface)).min())
    for k, gap in enumerate(gaps):
        if gap <= 0:
            if k == 0:
                return 0.0
            before = gaps[k - 1]
            return float(np.interp(0.0, [-before, -gap], track.days[k - 1 : k + 1]))
    return None


@pytest.mark.parametrize(
    ("case", "side", "sign"), [("labial", "labial", 1), ("lingual", "lingual", -1)]
)
def test_band_of_the_week_of_contact_comes_from_whole_runs(
    case: str, side: str, sign: int, forced: RunResult, previews
):
    weeks = previews[case].quantity(f"clearance_{side}_week").values
    direct = [brute_force_day(forced, case, q, sign) for q in QUANTILES]
    # rows are 0.03 mm apart, the root goes some 0.02 mm a day
    for found, day in zip(weeks, direct, strict=True):
        assert found is not None
        assert day is not None
        np.testing.assert_allclose(7 * found, day, rtol=0, atol=0.1)
    slow, median, fast = weeks
    assert slow > median > fast > 0


def test_bands_are_those_of_the_histories_at_three_rates(forced: RunResult, previews):
    case = forced.case("heavy")
    runs = [histories(forced, case, quantile=q)[0] for q in QUANTILES]
    found = previews["heavy"]
    assert found.quantity("wall_above_capillary").median > 1
    np.testing.assert_allclose(
        found.quantity("apex_displacement").values,
        [np.linalg.norm(run.apex[-1]) for run in runs],
        rtol=1e-12,
    )
    np.testing.assert_allclose(
        found.quantity("centre_of_rotation").values,
        [run.rotation_centre[-1, 0] for run in runs],
        rtol=1e-12,
    )
    np.testing.assert_allclose(
        found.quantity("wall_above_capillary").values,
        [100 * run.above_line.max() for run in runs],
        rtol=1e-12,
    )
    over = [100 * run.overload_area.max() / forced.teeth[0].wall.area.sum() for run in runs]
    np.testing.assert_allclose(found.quantity("wall_above_own_limit").values, over, rtol=1e-12)


@pytest.mark.parametrize("key", ["centre_of_rotation", "apex_displacement"])
def test_last_week_is_the_end_of_the_run_at_all_three_rates(key: str, previews):
    for name in NAMES:
        last = [q for q in previews[name].weekly if q.key == key][-1]
        assert last.week == 3
        assert last.values == previews[name].quantity(key).values


def test_centre_of_rotation_over_time_is_where_edge_and_apex_put_it(previews, files):
    """Verification: a rigid body's axis point that has not moved, from two points of the files."""
    rows = [q for q in previews["labial"].weekly if q.key == "centre_of_rotation"]
    for quantity, mesh in zip(rows, files["labial"], strict=True):
        last = Geometry(mesh)
        # heights -12 and 11.5 mm; the point between them that stays
        still = -12 + 23.5 * last.apex / (last.apex - last.edge)
        # the slot 3.5 mm beside the axis, by which the files turn, and sine for angle
        # over the 19 mm from slot to apex
        angle = (last.edge - last.apex) / 23.5
        np.testing.assert_allclose(
            quantity.median, -still, rtol=0, atol=3.5 * angle / 2 + 19 * angle**2 / 6
        )


def test_translation_has_no_centre_of_rotation(previews):
    assert previews["bodily"].quantity("centre_of_rotation").values == (None, None, None)
    assert "no centre of rotation" in previews["bodily"].quantity("centre_of_rotation").sentence


def test_mesial_movement_is_told_in_its_plane(previews):
    assert previews["mesial"].plane == "mesial"
    assert "mesial plane" in previews["mesial"].quantity("movement_type").sentence
    # across the plane of the plates the root has not moved
    rest = previews["mesial"].quantity("clearance_labial").values
    np.testing.assert_allclose(rest, rest[1], rtol=1e-9)
    assert previews["mesial"].quantity("clearance_labial_week").values == (None, None, None)


def test_traction_at_the_apex_is_that_of_the_field_files(forced: RunResult, previews, files):
    start = Geometry(files["labial"][0])
    found = previews["labial"]
    across = found.quantity("apex_transverse_traction").median
    np.testing.assert_allclose(np.linalg.norm(start.traction), across, rtol=1e-3)
    # a transverse force pulls nothing along the axis at the apex
    assert abs(found.quantity("apex_axial_traction").median) < 1e-6 * across
    assert across == max(found.quantity("apex_transverse_traction").values)


def test_traction_at_the_apex_is_compression_when_pushed_in(forced: RunResult):
    tooth = forced.teeth[0]
    along, across = apex_traction(tooth, np.array([[0, 0, -1.0, 0, 0, 0], [0, 0, 1.0, 0, 0, 0]]))
    assert along[0] < 0 < along[1]
    np.testing.assert_allclose(along[0], -along[1], rtol=1e-12)
    np.testing.assert_allclose(across, 0, atol=1e-9 * along[1])


def test_thresholds_stand_with_source_and_status(previews):
    found = previews["labial"]
    for key, entry in (
        ("wall_above_schwarz", "pressure_line.schwarz"),
        ("wall_above_capillary", "pressure_line.capillary"),
        ("movement_type", "movement_type.translation"),
        ("clearance_labial", "plate_thickness.labial.U1"),
        ("clearance_lingual", "plate_thickness.palatal.middle"),
    ):
        cited = lookup(entry)
        origin = found.quantity(key).origin
        assert (origin.source, origin.status) == (cited.source, cited.status)
    assert found.quantity("wall_above_schwarz").origin.threshold == (2.25,)
    assert found.quantity("wall_above_own_limit").origin == Origin(
        (pytest.approx(3.0),), "scenario, pressure_limit", GIVEN, threshold_unit="kPa"
    )
    assert found.quantity("clearance_labial").origin.threshold == (0.0,)
    assert found.quantity("apex_displacement").origin.threshold == ()


def test_other_teeth_are_marked_and_say_what_is_not_given():
    pushed = [{"tooth": n, "force": "0.1 N", "direction": "labial"} for n in (12, 13, 14)]
    result = followed(*pushed, numbers=(12, 13, 14), duration="2 days")
    premolar, canine, incisor = root_previews(result, result.cases[0])
    assert [p.number for p in (premolar, canine, incisor)] == [14, 13, 12]
    marks = [p.quantity("movement_type").origin.extrapolated for p in (premolar, canine, incisor)]
    assert marks == [True, True, False]
    assert "made on incisors" in canine.quantity("movement_type").sentence
    assert "made on incisors" not in incisor.quantity("movement_type").sentence
    assert premolar.remarks == ("Tooth 14: plates of this tooth are not given.",)
    assert canine.remarks == ("Tooth 13: the lingual plate is not given.",)
    assert incisor.remarks == ()
    with pytest.raises(KeyError, match="no 'clearance_labial'"):
        premolar.quantity("clearance_labial")


def test_what_does_not_move_is_told_as_such():
    still = followed({"tooth": 11, "force": "0.0001 N", "direction": "labial"}, duration="1 day")
    found = root_previews(still, still.cases[0])[0].quantity("movement_type")
    assert found.words == ("none", "none", "none")
    assert (found.values, found.origin.threshold) == ((None, None, None), ())


def test_no_word_is_advice(previews):
    sentences = [
        text
        for preview in previews.values()
        for text in chain(
            (q.sentence for q in (*preview.quantities, *preview.weekly)), preview.remarks
        )
    ]
    assert len(sentences) > 100
    for text in sentences:
        assert not ADVICE.search(text), text
        assert text.endswith(".")
    assert ADVICE.search("This would be Safe.")


def test_table_holds_every_finding_and_its_cautions(forced: RunResult, previews, tmp_path):
    table = root_table(forced)
    path = tmp_path / "root_preview.csv"
    write_csv(table, path)
    assert path.read_text(encoding="utf-8").startswith(f"# {NOTICE}\n")
    again = pd.read_csv(path, comment="#", na_values="—")
    assert len(again) == len(table)
    for name, preview in previews.items():
        rows = again[again["case"] == name]
        whole = rows[rows["week"].isna() & ~rows["finding"].str.startswith("support_")]
        assert list(whole["finding"]) == [q.key for q in preview.quantities]
        for quantity, (_, row) in zip(preview.quantities, whole.iterrows(), strict=True):
            for column, value in zip(("p10", "p50", "p90"), quantity.values, strict=True):
                if value is None:
                    assert math.isnan(row[column])
                else:
                    np.testing.assert_allclose(row[column], value, rtol=1e-12)
            assert row["sentence"] == quantity.sentence
            assert row["status"] == quantity.origin.status
    held = again[again["finding"] == "support_edge_mm_per_N"]
    assert set(held["unit"]) == {"mm/N"}


def test_quantities_refuse_what_is_not_complete():
    with pytest.raises(ValueError, match="a value of each of the runs"):
        Quantity("a", "a", "mm", (1.0, 2.0), "A.")
    with pytest.raises(ValueError, match="a text is missing"):
        Quantity("a", "a", "mm", (1.0, 2.0, 3.0), "")
    with pytest.raises(ValueError, match="status 'heard' is not known"):
        Origin(status="heard")


@pytest.mark.parametrize(
    ("values", "text"),
    [
        ((0.1, 0.2, 0.4), "0.20 mm (0.10 to 0.40)"),
        ((0.2, 0.2, 0.2), "0.20 mm"),
        ((None, -0.2, 0.001), "−0.20 mm (— to 0.00)"),
        ((0.2, 0.2, 0.3), "0.20 mm (0.20 to 0.30)"),
    ],
)
def test_bands_in_words(values: tuple, text: str):
    assert band_text(values, "mm") == text


def test_shipped_case_of_bone_loss():
    """M/F of translation by the distance to the centre of resistance; the rest by comparison."""
    text = case_text("bone-loss") + '\n[rate]\nmax_speed = "60 um/day"\nhalf_stress = "1 kPa"\n'
    result = run(parse_scenario(text, "test"), resolution=COARSE)
    resorbed, *levels = root_previews(result, result.cases[0])
    assert [p.support.crest_loss_mm for p in levels] == [0, 2, 4, 6, 8]
    assert (resorbed.support.root_lost_mm, resorbed.support.embedded_root_mm) == (4.0, 8.0)
    for found in (resorbed, *levels):
        held = found.support
        np.testing.assert_allclose(
            held.translation_moment_to_force_mm, held.bracket_to_centre_of_resistance_mm, rtol=1e-9
        )
    for values in (
        [p.support.translation_moment_to_force_mm for p in levels],
        [p.support.edge_mm_per_N for p in levels],
        [-p.support.apex_mm_per_N for p in levels],
        [-p.support.single_force_centre_of_rotation_mm for p in levels],
        [p.quantity("apex_transverse_traction").median for p in levels],
        [p.quantity("wall_above_schwarz").median + 1e-9 * k for k, p in enumerate(levels)],
    ):
        assert np.all(np.diff(values) > 0)
    whole, shortened = levels[0].support, resorbed.support
    assert shortened.translation_moment_to_force_mm < whole.translation_moment_to_force_mm
    assert shortened.edge_mm_per_N > whole.edge_mm_per_N


def test_bone_left_is_measured_from_the_socket_wall(forced: RunResult, previews):
    """At the start it is the thickness itself, or less where the socket slopes."""
    tooth = forced.teeth[0]
    plate = plates_of(forced.scenario, tooth)[0]
    start = plate.bone_left(socket_wall(tooth), np.zeros((1, 3)))[0]
    np.testing.assert_allclose(start, LABIAL[0], atol=0.01)
    assert previews["labial"].quantity("bone_left_labial").median < start
