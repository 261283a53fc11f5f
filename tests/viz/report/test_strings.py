"""Both languages say the same things, and what the program says of a run has words in both."""

import json
import re
from importlib import resources

import pytest

from gomphosis.bone.library import STATUSES
from gomphosis.scenarios.caution import NOTICE, model_limits
from gomphosis.scenarios.elastic_tables import KINDS
from gomphosis.scenarios.files import find_scenario
from gomphosis.viz.captions import LINE_UP, PULLED, PUSHED
from gomphosis.viz.figures import FIGURES, SLICE_FIGURES
from gomphosis.viz.report_page import SCRIPTS
from gomphosis.viz.report_store import SUMMARY
from gomphosis.viz.report_strings import LANGUAGES, report_file, report_strings

ENGLISH = report_strings("en")
NAMES = sorted(
    path.name.removesuffix(".toml")
    for path in resources.files("gomphosis.scenarios.cases").iterdir()
    if path.name.endswith(".toml")
)
WITH_NUMBERS = (r"^Soft tissue of a slice", r"^Thickness of bone", r"^Speeds of teeth")
"""Sentences with numbers of the run, or rarely met: shown in English, marked so."""


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_languages_have_the_same_keys_values_and_columns(language):
    other = report_strings(language)
    assert set(other) == set(ENGLISH)
    for key, text in ENGLISH.items():
        if isinstance(text, str):
            assert set(re.findall(r"\{\w+\}", other[key])) == set(re.findall(r"\{\w+\}", text)), key
            assert other[key].count("|") == text.count("|"), key


def test_every_key_is_used_and_every_key_used_is_there():
    code = "".join(map(report_file, SCRIPTS))
    asked = set(re.findall(r"\bt\('(\w+)'", code)) | set(
        re.findall(r"'((?:probe|legend)_\w+)'", code)
    )
    stems = ("field_", "figure_")
    assert asked <= set(ENGLISH)
    known = {"name", "needs_script", "print_line", "words", "flags", "plain_flags", "limits"}
    known |= {f"key_{done}" for done in ("put_on", "taken_off", "lost")}
    unused = {
        key for key in set(ENGLISH) - known if f"'{key}'" not in code and not key.startswith(stems)
    }
    assert unused == set()


def test_what_pushes_the_teeth_is_said_as_in_the_films():
    assert ENGLISH["caption_wire"] == LINE_UP
    assert ENGLISH["caption_force"] == PUSHED
    assert ENGLISH["caption_pull"] == PULLED


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_figure_of_a_run_has_a_title(language):
    words = report_strings(language)
    assert {f"figure_{name}" for name in (*FIGURES, *SLICE_FIGURES)} <= set(words)
    ordered = re.search(r"FIGURE_ORDER = \[(.*?)\]", report_file("figures.js"))[1]
    names = [name.strip("' ") for name in ordered.split(",")]
    assert {f"figure_{name}" for name in (*names, "free_body", "other")} <= set(words)
    assert {*FIGURES, *SLICE_FIGURES} - {"free_body"} <= set(names)


def test_the_caution_is_that_of_the_program():
    assert ENGLISH["caution"] == NOTICE


@pytest.mark.parametrize("name", NAMES)
def test_limits_of_shipped_cases_have_german_words(name):
    known = report_strings("de")["limits"]
    missing = [
        limit
        for limit in model_limits(find_scenario(name))
        if limit not in known and not any(re.match(p, limit) for p in WITH_NUMBERS)
    ]
    assert missing == []


def test_no_german_sentence_is_left_over():
    """A sentence that the program no longer says would silently fall back to English."""
    source = resources.files("gomphosis.scenarios").joinpath("caution.py").read_text()
    said = re.sub(r'"\s*\n\s*f?"', "", source)
    for limit in report_strings("de")["limits"]:
        plain = limit.replace("37 degC", "{temperature:.4g} degC")
        assert plain in said, limit


def test_findings_about_roots_have_german_words(wires_folder, slices_folder):
    """Those of runs with and without slices; words that nothing says are left over."""
    named = set()
    for folder in (wires_folder, slices_folder):
        document = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
        cases = document.get("cases", {"": document}).values()
        for tooth in (tooth for case in cases for tooth in case["teeth"].values()):
            named |= {q["name"] for q in tooth["root_preview"]["quantities"].values()}
    german = set(report_strings("de")["roots"])
    assert len(named) >= 15 and named - german == set()
    assert german - named <= {name for name in german if "mesial plane" in name}


def test_english_words_of_the_page_replace_what_the_program_says():
    """What the program no longer says would silently stay as it is."""
    said = resources.files("gomphosis.scenarios").joinpath("caution.py").read_text()
    said = re.sub(r'"\s*\n\s*f?"', "", said)
    assert ENGLISH["limits"] and all(limit in said for limit in ENGLISH["limits"])
    assert set(ENGLISH["roots"]) <= set(report_strings("de")["roots"])
    assert set(ENGLISH["words"]) <= set(KINDS)


def test_flags_and_statuses_have_german_words():
    german = report_strings("de")
    said = resources.files("gomphosis.scenarios").joinpath("flags.py").read_text()
    said += resources.files("gomphosis.bone.library").joinpath("tissue.toml").read_text()
    for what in {*german["flags"], *german["plain_flags"], *ENGLISH["plain_flags"]}:
        assert what.removesuffix(": the linear law would close the gap") in said
    assert set(german["plain_flags"]) == set(ENGLISH["plain_flags"]) <= set(german["flags"])
    for text in (*german["plain_flags"].values(), *ENGLISH["plain_flags"].values()):
        assert re.findall(r"\{\w+\}", text) == ["{teeth}"]
    assert set(STATUSES) <= set(german["words"])
