"""The page by itself, read as text: it asks for nothing and lets no text of a user be markup."""

import base64
import hashlib
import html.parser
import json
import re

import pytest

from gomphosis.scenarios.caution import NOTICE
from gomphosis.viz.report_page import PAGE, data_block, report_page
from gomphosis.viz.report_store import ReportError


class Elements(html.parser.HTMLParser):
    """Gather elements, their attributes and the text of scripts and styles."""

    def __init__(self, text):
        super().__init__()
        self.found, self.texts, self.within = [], [], None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        self.within = (tag, dict(attrs)) if tag in ("script", "style", "title", "h1") else None
        if self.within:
            self.texts.append((*self.within, ""))

    def handle_endtag(self, tag):
        self.within = None

    def handle_data(self, data):
        if self.within:
            tag, attributes, text = self.texts[-1]
            self.texts[-1] = (tag, attributes, text + data)


@pytest.fixture(scope="module")
def text(slices_folder):
    return (slices_folder / PAGE).read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(text):
    return Elements(text)


def test_policy_allows_only_the_script_and_style_in_the_page(page):
    (policy,) = [
        attributes["content"]
        for tag, attributes in page.found
        if tag == "meta" and attributes.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = {rule.split()[0]: rule.split()[1:] for rule in policy.split("; ")}
    assert rules["default-src"] == ["'none'"]
    assert rules["img-src"] == ["data:"]
    assert set(rules) == {
        "default-src",
        "script-src",
        "style-src",
        "img-src",
        "base-uri",
        "form-action",
    }
    for tag, source in (("script", "script-src"), ("style", "style-src")):
        (code,) = [t for name, a, t in page.texts if name == tag and "type" not in a]
        digest = base64.b64encode(hashlib.sha256(code.encode()).digest()).decode()
        assert rules[source] == [f"'sha256-{digest}'"]


def test_nothing_is_loaded_and_nothing_runs_from_attributes(page):
    for tag, attributes in page.found:
        assert not set(attributes) & {"src", "href", "style", "srcset", "action"}, tag
        assert not [name for name in attributes if name.startswith("on")]
        assert tag not in ("link", "iframe", "object", "embed", "form", "base")
    code = "".join(
        t for name, a, t in page.texts if name in ("script", "style") and "type" not in a
    )
    assert not re.findall(r"https?://|url\(|@import|innerHTML|insertAdjacent|eval\(", code)


def test_texts_of_the_user_are_never_markup(page, text):
    titles = [t for name, _, t in page.texts if name in ("title", "h1")]
    assert all("<script>window.hacked=1</script>" in title for title in titles)
    assert len(titles) == 2
    assert "<img src=x" not in text and text.count("<script>") == 1
    assert [tag for tag, _ in page.found].count("img") == 0


def test_blocks_of_data_cannot_end_early(page):
    for name, attributes, content in page.texts:
        if name == "script" and attributes.get("type") == "application/json":
            assert "<" not in content and "&" not in content
            json.loads(content)


def test_data_of_any_kind_stay_data():
    evil = {"</script><script>": "<!-- & -->"}
    block = data_block(evil)
    assert json.loads(block) == evil
    assert not set("<>&") & set(block)


def test_cautions_stand_at_top_and_bottom_without_any_script(text):
    body = text[text.index("<body>") : text.index('<script type="application/json"')]
    assert body.count(NOTICE) == 2
    assert body.index(NOTICE) < body.index("<main") < body.rindex(NOTICE)


def test_the_foot_of_printed_pages_carries_the_caution(text):
    assert re.search(r"@page en \{.*content: \"Simulation for research and teaching", text)
    assert re.search(r"@page de \{.*content: \"Simulation für Forschung und Lehre", text)


def test_page_opens_in_the_language_asked_for(slices_folder):
    assert '<html lang="de">' in report_page([slices_folder], language="de")
    with pytest.raises(ValueError, match="'fr' is not shipped; expected en, de"):
        report_page([slices_folder], language="fr")


def test_two_runs_share_a_page_and_three_do_not(slices_folder, wires_folder):
    text = report_page([wires_folder, slices_folder])
    assert text.count('class="run"') == 2 and 'id="run-1"' in text
    with pytest.raises(ReportError, match="one run or two, not 3"):
        report_page([wires_folder] * 3)


def test_page_is_the_same_for_the_same_run_and_small(slices_folder, text):
    assert report_page([slices_folder]) == text
    assert len(text.encode()) < 10e6
