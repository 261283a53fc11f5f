"""``bend`` and ``fit-wire``: what is printed is what was computed; refusals leave nothing.

Verification.
"""

import errno
import json
import os
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from gomphosis.scenarios import bend_trial
from gomphosis.scenarios.alloys import library_alloy
from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.files import parse_scenario
from gomphosis.scenarios.fit_wire import read_curve
from gomphosis.viz import bend_command, fit_command, theme

SHORT = ["bend", "--deflection", "1.1 mm"]
WIRED = """
schema = 1
title = "Two wires (invented)"
invented = true
temperature = "30 degC"
[[tooth]]
number = 11
[[tooth]]
number = 21
[[wire]]
size = "0.014 in"
[[wire]]
tied_in = "2 weeks"
size = "0.016 x 0.022 in"
alloy = "steel"
"""


@pytest.fixture(scope="module")
def wired(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("wired") / "wired.toml"
    path.write_text(WIRED)
    return path


@pytest.fixture
def never_bent(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a bend fail: what is refused must be refused before the work."""

    def bend(*_: object, **__: object) -> None:
        raise AssertionError("the wire was bent")

    monkeypatch.setattr(bend_trial, "three_point", bend)
    monkeypatch.setattr(bend_trial, "follow", bend)


def check_refused(answer, part: str) -> None:
    assert (answer.code, answer.out) == (2, "")
    (line,) = answer.err.splitlines()
    assert line.startswith("gomphosis: ")
    assert part in line
    assert "accepted: " in line


def test_both_contacts_stand_side_by_side(gomphosis):
    document = json.loads(gomphosis(*SHORT, "--json").out)
    assert document["notice"] == NOTICE
    assert any("from memory" in limit for limit in document["limits"])
    surface, reference = (document["contact"][mode] for mode in ("surface", "reference"))
    assert surface["peak_N"] > reference["peak_N"] > 1.0
    assert list(surface["unloading_N"]) == ["1 mm", "0.5 mm"]
    assert surface["element_error_percent"] < 0.3
    assert 0.0 < document["section_error_percent"] < 1.0
    assert surface["elements"] >= 24
    text = gomphosis(*SHORT).words
    for mode in (surface, reference):
        assert f"{mode['unloading_N']['0.5 mm']:.3f} N" in text
        assert f"{mode['elements']} elements" in text
    assert NOTICE in text
    assert all(limit in text for limit in document["limits"])


def test_what_lies_outside_the_published_band_is_said(gomphosis):
    """Validation, shown only: mean unloading forces of wires whose sizes are not stated."""
    words = [*SHORT, "--sets"]
    document = json.loads(gomphosis(*words, "--json").out)
    low, high = document["published_unloading_band_N"]
    places = document["against_published_band"]
    assert list(places) == ["this wire", "set A"]
    own = document["contact"]["surface"]["unloading_N"]
    for name, row in places.items():
        for place, facts in row.items():
            force = facts["unloading_N"]
            assert facts["lies"] == (
                "under" if force < low else "above" if force > high else "inside"
            )
            if name == "this wire":
                assert force == own[place]
    said = " ".join(gomphosis(*words).out.split())
    assert "this wire, unloading, beside the published mean forces of 0.96 to 1.48 N" in said
    steel = json.loads(gomphosis(*words, "--alloy", "steel", "--json").out)
    assert "against_published_band" not in steel


def test_options_reach_the_test(gomphosis):
    words = ["--friction", "0.2", "--span", "12 mm", "--order", "first", "--size", "0.016x0.022in"]
    document = json.loads(gomphosis(*SHORT, *words, "--temperature", "30 degC", "--json").out)
    assert document["setup"] == {
        "span_mm": 12.0,
        "edge_radius_mm": 0.1,
        "wire_thickness_mm": pytest.approx(0.5588),
        "deflection_mm": 1.1,
        "friction": 0.2,
    }
    assert document["temperature_degC"] == 30.0
    assert document["order_of_bending"] == "first"
    assert document["contact"]["surface"]["friction_Nmm"] != 0.0


def test_wire_of_a_scenario_is_taken_with_its_temperature(wired: Path, gomphosis):
    words = ["bend", "--kind", "bending", "--scenario", wired]
    first = json.loads(gomphosis(*words, "--json").out)
    assert (first["wire"], first["temperature_degC"]) == ("0.014 in nickel-titanium", 30.0)
    second = json.loads(gomphosis(*words, "--wire", 2, "--temperature", "20 degC", "--json").out)
    assert (second["wire"], second["temperature_degC"]) == ("0.016 x 0.022 in steel", 20.0)
    assert first["left_per_mm"] == pytest.approx(0.0, abs=1e-9)
    assert second["left_per_mm"] > 0.1


@pytest.mark.parametrize(
    ("words", "moment"),
    [
        (["--kind", "bending", "--curvature", "0.1 mm^-1"], "moment_Nmm"),
        (["--kind", "torsion", "--twist", "6 deg/mm"], "torque_Nmm"),
    ],
    ids=str,
)
def test_section_tests_print_their_moments(words: list[str], moment: str, gomphosis):
    document = json.loads(gomphosis("bend", *words, "--alloy", "steel", "--json").out)
    last = document["moments"][-1]["loading_Nmm"]
    assert last == pytest.approx(max(document["curve"][moment]))
    text = gomphosis("bend", *words, "--alloy", "steel").words
    assert f"{last:.3f}" in text
    assert NOTICE in text
    assert "left without moment: 0.0" in text


def test_type_one_wires_show_their_rate(gomphosis):
    answer = gomphosis("bend", "--alloy", "steel", "--deflection", "0.6 mm")
    assert "bending rate, N/mm" in answer.words
    assert "force at 0.1 mm offset" in answer.words
    assert "bending rate" not in gomphosis(*SHORT).words


def test_files_hold_the_curve_with_the_caution(tmp_path: Path, gomphosis):
    figure, table = tmp_path / "new" / "a.svg", tmp_path / "other" / "a.csv"
    answer = gomphosis(*SHORT, "--figure", figure, "--csv", table, "--json")
    assert (answer.code, answer.err) == (0, "")
    assert figure.read_bytes().startswith(b"<?xml")
    lines = table.read_text().splitlines()
    assert lines[0] == f"# {NOTICE.splitlines()[0]}"
    frame = pd.read_csv(table, comment="#")
    modes = json.loads(answer.out)["contact"]
    for mode, facts in modes.items():
        rows = frame[frame["contact"] == mode]
        np.testing.assert_allclose(rows["force_N"], facts["curve"]["force_N"], rtol=1e-12)
        assert rows["deflection_mm"].max() == 1.1
    assert {p.name for p in tmp_path.rglob("*")} == {"new", "other", "a.svg", "a.csv"}


def test_figure_beside_a_run_takes_nothing_away(tmp_path: Path, gomphosis):
    """Files of other commands in the folder stay."""
    (tmp_path / "slice.gif").write_bytes(b"mine")
    words = ["bend", "--kind", "torsion", "--figure", tmp_path / "a.png"]
    assert gomphosis(*words).code == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.png", "slice.gif"]


def test_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gomphosis):
    def full(_: object, path: Path) -> None:
        path.write_bytes(b"half")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    old = tmp_path / "old.csv"
    old.write_text("mine")
    monkeypatch.setattr(theme, "save_figure", full)
    words = ["bend", "--kind", "torsion", "--figure", tmp_path / "a" / "b" / "c.png", "--csv", old]
    answer = gomphosis(*words)
    assert (answer.code, answer.out) == (1, "")
    assert "no space left on device" in answer.err
    assert [p.name for p in tmp_path.iterdir()] == ["old.csv"]
    assert old.read_text() == "mine"


@pytest.mark.usefixtures("never_bent")
def test_place_in_which_nobody_may_write(gomphosis):
    answer = gomphosis("bend", "--csv", "/proc/gomphosis/a.csv")
    assert (answer.code, answer.out) == (1, "")
    assert answer.err.rstrip().endswith("expected a writable place")


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["--span", "3"], "--span"),
        (["--span", "1 mm"], "at least 2 mm"),
        (["--span", "5 mm"], "at most 0.4 of the span, 2 mm"),
        (["--friction", "2"], "--friction 2.0"),
        (["--friction", "nan"], "0 to 1"),
        (["--twist", "5 deg/mm"], "belongs to --kind torsion"),
        (["--kind", "bending", "--friction", "0.1"], "belongs to --kind three-point"),
        (["--kind", "bending", "--curvature", "0.1"], "a curvature in mm^-1"),
        (["--size", "5 mm"], "a round wire"),
        (["--alloy", "gold"], "nickel-titanium"),
        (["--temperature", "300 degC"], "at most 70 degC"),
        (["--figure", "a.gif"], ".png, .svg or .pdf"),
        (["--figure", "a.png", "--csv", "a.png"], "another name"),
        (["--scenario", "no-such-case"], "neither a file nor a shipped case"),
        (["--scenario", "light-and-heavy"], "tables [[wire]]"),
        (["--scenario", "three-incisors", "--wire", "9"], "1 to 2"),
        (["--scenario", "three-incisors", "--wire", "0"], "1 to 2"),
    ],
    ids=str,
)
@pytest.mark.usefixtures("never_bent")
def test_bad_options_are_one_line(words: list[str], part: str, tmp_path, monkeypatch, gomphosis):
    monkeypatch.chdir(tmp_path)
    check_refused(gomphosis("bend", *words), part)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "words",
    [
        ["bend", "--scenario", "x", "--size", "0.016 in"],
        ["bend", "--wire", "2"],
        ["bend", "--kind", "knot"],
        ["fit-wire"],
    ],
    ids=str,
)
def test_wrong_use_is_told_with_the_usage(words: list[str], gomphosis):
    answer = gomphosis(*words)
    assert (answer.code, answer.out) == (2, "")
    assert answer.err.startswith("Usage: ")


# fit-wire


@dataclass(frozen=True)
class Bent:
    deflection: np.ndarray
    force: np.ndarray


def plateaus(section_law, *, deflections, setup) -> Bent:
    """Return forces in proportion to the stresses of a law: no beam, but quick."""
    low, turn, high, full = section_law.law.thresholds
    share = deflections / deflections.max()
    there = (high + (full - high) * share) / 200
    back = (low + (turn - low) * share) / 200
    plateau = np.where(np.arange(deflections.size) <= np.argmax(deflections), there, back)
    elastic = section_law.law.young * deflections / 2e4
    return Bent(deflections, plateau * elastic / (plateau + elastic))


@pytest.fixture
def quick_fit(monkeypatch: pytest.MonkeyPatch) -> None:
    real = fit_command.fit_wire
    monkeypatch.setattr(fit_command, "fit_wire", lambda *a, **k: real(*a, model=plateaus, **k))


@pytest.fixture
def measured(tmp_path: Path) -> Path:
    alloy = library_alloy("nickel-titanium")
    wire = bend_trial.Specimen(
        "made", bend_trial.WireSection(0.4064, 0.4064, round=True), alloy, 37.0
    )
    path = np.array([*np.linspace(0.0, 3.0, 31), *np.linspace(2.9, 0.0, 30)])
    force = plateaus(wire.law(), deflections=path, setup=None).force
    file = tmp_path / "measured.csv"
    rows = "".join(f"{d:.6f},{f:.9f}\n" for d, f in zip(path, force, strict=True))
    file.write_text("# invented\ndeflection_mm,force_N\n" + rows)
    return file


@pytest.mark.usefixtures("quick_fit")
def test_fit_finds_the_set_and_prints_it_for_a_scenario(measured: Path, gomphosis):
    report = json.loads(gomphosis("fit-wire", measured, "--json").out)
    assert report["notice"] == NOTICE
    known = library_alloy("nickel-titanium")
    for name, value in report["constants_MPa"].items():
        assert value == pytest.approx(getattr(known, name), rel=0.02)
    assert report["residual_N"] < 0.01
    wire = WIRED.split("[[wire]]\ntied_in")[0] + report["toml"]
    alloy = parse_scenario(wire, "pasted").wires[0].alloy_constants
    assert tomllib.loads(report["toml"])["wire"]["material"]["poisson"] == known.poisson
    assert alloy.forward_start == pytest.approx(report["constants_MPa"]["forward_start"], rel=1e-5)
    text = gomphosis("fit-wire", measured).out
    assert report["toml"] in text
    assert NOTICE in " ".join(text.split())
    assert "calibration, not validation" in " ".join(text.split())


@pytest.mark.usefixtures("quick_fit")
def test_fit_draws_measured_and_fitted(measured: Path, gomphosis):
    figure = measured.parent / "fit" / "a.pdf"
    answer = gomphosis("fit-wire", measured, "--figure", figure)
    assert (answer.code, answer.err) == (0, "")
    assert figure.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ([], "cannot be read"),
        (["--span", "3"], "--span"),
        (["--span", "5 mm"], "at most 0.4 of the span"),
        (["--size", "x"], "a round wire"),
        (["--figure", "a.bmp"], ".png, .svg or .pdf"),
    ],
    ids=str,
)
def test_bad_fits_are_one_line(words: list[str], part: str, measured: Path, gomphosis):
    source = measured if words else measured.with_name("none.csv")
    check_refused(gomphosis("fit-wire", source, *words), part)


def test_columns_of_another_table_are_refused(tmp_path: Path, gomphosis):
    table = tmp_path / "bend.csv"
    assert gomphosis("bend", "--kind", "torsion", "--csv", table).code == 0
    check_refused(gomphosis("fit-wire", table), "deflection_mm,force_N")


def test_table_of_a_bend_reads_back_as_its_curve_on_the_surface(tmp_path: Path, gomphosis):
    table = tmp_path / "bend.csv"
    document = json.loads(gomphosis(*SHORT, "--csv", table, "--json").out)
    written = document["contact"]["surface"]["curve"]
    curve = read_curve(table)
    np.testing.assert_allclose(curve.deflection, written["deflection_mm"], rtol=1e-12)
    np.testing.assert_allclose(curve.force, written["force_N"], rtol=1e-12)
    assert (curve.peak, curve.unloads) == (1.1, True)
    assert curve.force.max() == document["contact"]["surface"]["peak_N"]


def test_kinds_of_test_have_their_options():
    """Every option of a test belongs to one kind; every quantity but friction has a usual value."""
    names = [name for names in bend_command.KINDS.values() for name in names]
    assert len(set(names)) == len(names)
    assert (
        set(names) - {"friction", "beside"}
        == set(bend_command.USUAL)
        == set(bend_command.QUANTITIES)
    )
