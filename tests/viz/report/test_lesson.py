"""Captions, lessons and the first screen in a browser. Needs Debian's chromium."""

import base64
import io
import json

import numpy as np
import pytest
from PIL import Image

from gomphosis.viz import palette
from gomphosis.viz.captions import Captions
from gomphosis.viz.report_page import PAGE, write_report
from gomphosis.viz.report_strings import LANGUAGES

SIZES = ((1280, 800), (768, 1024), (390, 844))
pytestmark = [pytest.mark.slow, pytest.mark.browser]


def said(page):
    return page.locator("#caption-0").inner_text()


def test_the_caption_under_the_pictures_changes_with_the_slider(opened, lesson, lesson_folder):
    page = opened(lesson_folder / PAGE)
    captions = Captions(lesson)
    days = [0, 2, 3, 4, 6, 7, 8]  # steps, a caption, a whole week
    assert page.locator("#day").get_attribute("max") == str(len(days) - 1)
    for step, day in enumerate(days):
        page.locator("#day").fill(str(step))
        assert said(page) == captions.at(day)
    assert page.locator("#caption-0").get_attribute("aria-live") == "polite"


def test_a_caption_that_stays_is_not_set_again(opened, lesson_folder):
    """Whoever listens to the page would hear it again."""
    page = opened(lesson_folder / PAGE)
    page.evaluate(
        """() => { window.told = 0; new MutationObserver((all) => { window.told += all.length; })
          .observe(document.getElementById('caption-0'), { childList: true }); }"""
    )
    page.locator("#day").fill("1")
    assert page.evaluate("window.told") == 0
    page.locator("#day").fill("2")
    assert page.evaluate("window.told") >= 1


def test_automatic_captions_tell_what_happens_in_both_languages(opened, wires, wires_folder):
    page = opened(wires_folder / PAGE)
    entries = Captions(wires).entries
    assert said(page) == (
        "Wire 1 is tied in: 0.014 in nickel-titanium. "
        + entries[0][1].partition(" is tied in. ")[2]
    )
    page.locator("#day").fill("7")
    assert said(page) == "Wire 2 is tied in: 0.016 in nickel-titanium."
    page.select_option("#language", "de")
    assert said(page) == "Draht 2 wird eingebunden: 0.016 in Nickel-Titan."
    page.locator("#day").fill("0")
    assert said(page).endswith("Seite gedrückt und auf der anderen gedehnt.")
    days = [day for day, _ in entries]
    changes, last = [], None
    for day in range(15):
        page.locator("#day").fill(str(day))
        if said(page) != last:
            last = said(page)
            changes.append(float(day))
    assert changes == days


def test_lesson_tells_aim_and_question_and_its_buttons_set_the_week(opened, lesson_folder):
    page = opened(lesson_folder / PAGE)
    lesson = page.locator("#lesson")
    assert "Say where the root <b>presses</b>." in lesson.inner_text()
    assert "Which side is stretched?" in lesson.inner_text()
    buttons = lesson.locator("button")
    # the list answers the question, and unfolds after it
    assert lesson.locator("details").get_attribute("open") is None
    assert lesson.inner_text().index("Which side") < lesson.inner_text().index("What to see, and")
    lesson.locator("summary").click()
    assert buttons.all_inner_texts() == [
        "Week 0 At first nothing has moved.",
        "Week 0.4 The crown goes <i>labially</i>.",
        "Week 1.1 The socket has followed.",
    ]
    assert lesson.locator("[aria-current=step]").inner_text() == buttons.nth(0).inner_text()
    buttons.nth(1).click()
    assert page.locator("#now").inner_text() == "Week 0.4 (day 3)"
    assert said(page) == "The crown goes <i>labially</i>."
    assert lesson.locator("[aria-current=step]").inner_text() == buttons.nth(1).inner_text()
    # the pictures are in sight, and the next key turns the days
    box = page.locator("#front-0").bounding_box()
    assert 0 <= box["y"] < SIZES[0][1] - 200
    page.keyboard.press("ArrowRight")
    assert page.locator("#now").inner_text() == "Week 0.6 (day 4)"


def test_a_caption_of_a_case_shows_it_or_names_it(opened, cases_folder):
    page = opened(cases_folder / PAGE)
    assert said(page) == "Both are pushed."
    page.locator("#day").fill("2")
    assert said(page) == "About heavy: This one goes farther."
    page.select_option("#language", "de")
    assert said(page) == "Zu heavy: This one goes farther."
    page.locator("#lesson summary").click()
    page.locator("#lesson button").nth(1).click()
    assert page.locator("#case-0").input_value() == "1"
    assert page.locator("#now").inner_text() == "Woche 0,3 (Tag 2)"
    assert said(page) == "This one goes farther."
    # what was unfolded stays so; a caption of no case changes none
    assert page.locator("#lesson details").get_attribute("open") is not None
    page.locator("#lesson button").nth(0).click()
    assert page.locator("#case-0").input_value() == "1" and said(page) == "Both are pushed."


def test_cases_beside_each_other_are_told_by_what_differs(opened, cases_folder):
    page = opened(cases_folder / PAGE)
    planned, expected = page.locator("#summary .lead p").all_inner_texts()[:2]
    assert planned == (
        "Tooth 11, followed over 4 days. 2 cases beside each other, each with a constant force at "
        "the bracket and no wire: 0.20 and 0.40 N (20 and 41 gf), labial. M/F (moment over force "
        "at the bracket): 0.0 and 6.0 mm."
    )
    assert (
        expected.startswith("The crown moves ") and "depending on the case. Largest: " in expected
    )


def test_all_cases_have_one_scale_and_day_0_says_what_gives_way(opened, upright_folder):
    page = opened(upright_folder / PAGE)
    assert page.locator("#at-once-0").inner_text().startswith("At once, before bone changes")
    assert page.locator(".tag span").all_inner_texts() == ["Simulation", "invented data"]
    columns = bar(page, "front-0")
    assert columns > 30 and bar(page, "above-0") == columns
    page.select_option("#case-0", "1")
    assert bar(page, "front-0") == columns
    page.locator("#day").fill("1")
    assert page.locator("#at-once-0").inner_text() == ""


def bar(page, name):
    """Return how many px long the bar of 5 mm at the foot of a picture is."""
    picture = picture_of(page, name)
    low = picture[-16:-8, :200]
    return int((np.abs(low - palette.rgb(palette.INK)).max(axis=2) < 3).any(axis=0).sum())


def test_elastics_are_told_and_drawn_while_they_pull(opened, pulls_folder):
    page = opened(pulls_folder / PAGE)
    assert "Elastic 11\u201321 is put on. Teeth that are pulled together" in said(page)
    assert page.get_by_role("button", name="Week 0.3 elastic 11\u201321 is taken off").count() == 1
    assert "drawn from slot to slot" in page.locator("#legend").inner_text()
    assert band(page) > 50
    page.locator("#day").fill("2")
    assert said(page) == "Elastic 11\u201321 is taken off."
    assert band(page) == 0
    page.select_option("#language", "de")
    assert said(page) == "Gummiring 11\u201321 wird abgenommen."


def band(page):
    """Return how many px of the picture from the front have the colour of elastics."""
    found = np.abs(picture_of(page, "front-0") - palette.rgb(palette.SERIES[1])).max(axis=2) < 3
    return int(found.sum())


def test_a_run_that_is_no_lesson_has_no_such_section(opened, wires_folder):
    assert opened(wires_folder / PAGE).locator("#lesson").count() == 0


def test_figures_have_titles_and_their_order_and_one_stands_in_the_lesson(opened, lesson_folder):
    page = opened(lesson_folder / PAGE)
    assert page.locator("#figures figcaption").all_inner_texts() == [
        "Force system on the arch, front and from the biting side",
        "Movement of each crown over the weeks, with its band",
        "Zones on the unrolled socket walls",
        "Figure: new thing",
    ]
    figure = page.locator("#lesson figcaption")
    assert figure.all_inner_texts() == ["The tooth drawn free of its socket"]
    page.select_option("#language", "de")
    assert page.locator("#figures figcaption").last.inner_text() == "Abbildung: new thing"


def test_a_lesson_is_told_in_german_but_its_own_texts_stay(opened, lesson_folder, tmp_path):
    write_report([lesson_folder], tmp_path / "de.html", language="de")
    page = opened(tmp_path / "de.html")
    page.locator("#lesson summary").click()
    told = page.locator("#lesson").inner_text()
    assert "Frage an die Klasse" in told and "Which side is stretched?" in told
    assert page.locator("#lesson button").nth(1).inner_text().startswith("Woche 0,4 The crown")


def test_a_lesson_is_printed_with_its_weeks(opened, lesson_folder):
    page = opened(lesson_folder / PAGE)
    page.emulate_media(media="print")
    assert page.locator("#lesson").is_visible() and not page.locator("#weeks").is_visible()
    weeks = page.locator("#sheet figcaption").all_inner_texts()
    assert weeks == ["Week 0", "Week 0.4", "Week 1.1"]
    assert page.locator("#printed table").count() == 3


@pytest.mark.parametrize("size", SIZES)
def test_the_first_screen_tells_four_things(opened, lesson_folder, size):
    page = opened(lesson_folder / PAGE, size=size)
    heads = page.locator("#summary .lead h3").all_inner_texts()
    assert heads == [
        "What was planned (scenario)",
        "What the model expects",
        "How sure that is",
        "What to look at closely",
    ]
    document = json.loads((lesson_folder / "summary.json").read_text(encoding="utf-8"))
    moved = document["teeth"]["11"]["crown_movement_band_mm"]["p50"]
    texts = page.locator("#summary .lead p").all_inner_texts()
    assert texts[0] == (
        "Tooth 11, followed over 8 days. Constant force at the bracket: 0.30 N (31 gf), labial. "
        "No wire."
    )
    assert texts[1].startswith(f"Tooth 11: the crown moves {moved:.2f} mm (")
    assert "extrapolated" in texts[2]
    for lead in page.locator("#summary .lead").all():
        box = lead.bounding_box()
        assert box["y"] + box["height"] <= size[1] + 1
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_two_runs_are_drawn_on_the_same_scales(opened, slices_folder, lesson_folder, tmp_path):
    """Beside a run of twice the force the arrow is half as long; the legend has the larger."""
    lengths = []
    for beside, largest in ((lesson_folder, "0.30"), (slices_folder, "0.60")):
        write_report([lesson_folder, beside], tmp_path / "two.html")
        page = opened(tmp_path / "two.html")
        assert f"(the largest of all days: {largest} N)" in page.locator("#legend").inner_text()
        lengths.append(arrow_length(page, "above-0"))
    # the last few px of the tip are paler than the rest of the arrow and not counted
    assert lengths[1] / lengths[0] == pytest.approx(0.5, abs=0.08)


def picture_of(page, name):
    """Return the pixels of a picture of the page, 0 to 255, shape (height, width, 3)."""
    plain = page.evaluate("name => document.getElementById(name).toDataURL()", name)
    return np.asarray(
        Image.open(io.BytesIO(base64.b64decode(plain.partition(",")[2]))).convert("RGB"), float
    )


def arrow_length(page, name):
    """Return how tall the arrow in the middle of a picture is, in crowns."""
    picture = picture_of(page, name)
    middle = picture[:, picture.shape[1] // 2 - 3 : picture.shape[1] // 2 + 4]

    def rows(colour):
        return np.flatnonzero((np.abs(middle - palette.rgb(colour)).max(axis=2) < 3).any(axis=1))

    force = rows(palette.SERIES[5])
    # the number past the tip has the same colour
    arrow = np.split(force, np.flatnonzero(np.diff(force) > 1) + 1)[-1]
    return len(arrow) / np.ptp(rows(palette.TOOTH))


def test_the_page_works_without_webgl(opened, lesson_folder):
    page = opened(lesson_folder / PAGE)
    for name in ("webgl", "webgl2"):
        assert page.evaluate(
            "name => document.createElement('canvas').getContext(name) === null", name
        )
    drawn = page.evaluate(
        """() => [...document.querySelectorAll('canvas')].map((canvas) => {
          const data = canvas.getContext('2d')
            .getImageData(0, 0, canvas.width, canvas.height).data;
          return new Set(new Uint32Array(data.buffer)).size;
        })"""
    )
    assert len(drawn) >= 5 and min(drawn) > 20


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", LANGUAGES)
def test_no_serious_barrier_is_found(
    opened, lesson_folder, slices_folder, tmp_path, size, language
):
    """What the rules of axe can see of WCAG 2 A and AA; verification by a program of others."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe is not installed"
    )
    for name, folders in (
        ("lesson", [lesson_folder]),
        ("slices", [slices_folder]),
        ("two", [lesson_folder, slices_folder]),
    ):
        write_report(folders, tmp_path / f"{name}.html", language=language)
        page = opened(tmp_path / f"{name}.html", size=size, bypass_csp=True)
        found = axe.Axe().run(page).response["violations"]
        serious = [
            (name, rule["id"], [node["target"] for node in rule["nodes"]])
            for rule in found
            if rule["impact"] in ("serious", "critical")
        ]
        assert serious == []
