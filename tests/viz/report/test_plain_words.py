"""How far-off centres, bands and remarks are said, and where words and arcs are drawn."""

import json

import numpy as np
import pytest

from gomphosis.scenarios.flags import Flag
from gomphosis.scenarios.summary import summary, summary_text
from gomphosis.viz import palette
from gomphosis.viz.report_page import PAGE, data_block, write_report
from gomphosis.viz.report_record import colours, report_record
from gomphosis.viz.report_store import SUMMARY, write_record
from gomphosis.viz.report_strings import report_file

pytestmark = [pytest.mark.slow, pytest.mark.browser]

OVERLAP = "crowns of neighbours would overlap: contact between teeth is not modelled"


@pytest.fixture
def page_of(opened, wires, tmp_path):
    """Open the page of a run of two teeth whose summary has been changed."""

    def open_changed(change):
        document = json.loads(summary_text(summary(wires)))
        change(document["teeth"])
        (tmp_path / SUMMARY).write_text(json.dumps(document), encoding="utf-8")
        write_record(report_record(wires, document), tmp_path, [])
        write_report([tmp_path], tmp_path / PAGE)
        return opened(tmp_path / PAGE)

    return open_changed


def centres(tooth):
    rows = tooth["root_preview"]["quantities"].values()
    return [row for row in rows if row["name"].startswith("centre of rotation")]


def test_centres_far_off_have_no_range_and_ranges_rise(page_of):
    def change(teeth):
        for row in centres(teeth["11"]):
            row |= {"p10": 16.73, "p50": 84.26, "p90": -29.72}
        for row in centres(teeth["21"]):
            row |= {"p10": 34.86, "p50": 27.16, "p90": 19.65}
        teeth["11"]["centre_of_rotation_mm"] = -182.5
        teeth["21"] |= {"centre_of_rotation_mm": None, "movement_type": "translation"}

    page = page_of(change)
    head = "Centre of rotation since the start"
    groups = page.locator("#root tbody").filter(has_text=head)
    cells = groups.first.locator("tr:not(.group) > *").all_inner_texts()
    assert cells == ["11", "far (nearly bodily)", "—", "21", "27.16 mm", "19.65 to 34.86"]
    ends = page.locator("#summary table tbody tr")
    assert [row.locator("td").nth(3).inner_text() for row in ends.all()] == [
        "far (nearly bodily)",
        "far (nearly bodily)",
    ]


def test_a_band_of_no_width_is_said(page_of):
    def change(teeth):
        teeth["11"]["crown_movement_band_mm"] = {"p10": 0.441, "p50": 0.44, "p90": 0.439}
        teeth["21"]["crown_movement_band_mm"] = {"p10": 0.45, "p50": 0.44, "p90": 0.43}

    rows = page_of(change).locator("#summary table tbody tr")
    assert [row.locator("td").first.inner_text() for row in rows.all()] == [
        "0.44 (all the same)",
        "0.44 (0.43 to 0.45)",
    ]


def test_remarks_are_plain_on_the_first_screen_and_exact_below(page_of):
    def change(teeth):
        for tooth in teeth.values():
            flag = Flag(OVERLAP, 0.4, 0.1, "mm", "crown widths", "engineering choice")
            tooth["flags"] = [flag.document()]

    page = page_of(change)
    assert page.locator("#summary .lead p").nth(3).inner_text() == (
        "The model lets teeth 11 and 21 overlap: it does not know contact between teeth."
    )
    assert OVERLAP[1:] in page.locator("#detail").inner_text()


@pytest.fixture
def sheet(browser):
    """A page with nothing but the drawing part of the script, and a canvas of 200 x 200 px."""
    page = browser.new_page()
    page.set_content(
        f'<script type="application/json" id="colours">{data_block(colours())}</script>'
        '<canvas data-width="200" data-height="200"></canvas>'
    )

    def run(code):
        setting = (
            "const canvas = document.querySelector('canvas'); canvas.style.width = '200px';"
            "canvas.style.height = '200px';"
            "const sheet = new Sheet(canvas, [-10, -10], [10, 10], -1); sheet.clear('#ffffff');"
        )
        return page.evaluate(f"() => {{ {report_file('draw.js')} {setting} {code} }}")

    yield run
    page.close()


PIXELS = "return Array.from(sheet.context.getImageData(0, 0, canvas.width, canvas.height).data);"


def test_words_go_where_they_hide_nothing(sheet):
    """A wire across the first place, other words on the second: the third is taken."""
    places = "[[100, 100], [100, 130], [100, 160]]"
    wire = "sheet.keepClear([[0, 100], [200, 100]]);"
    assert sheet(f"return sheet.clearest({places}, 20);") == [100, 100]
    assert sheet(f"{wire} return sheet.clearest({places}, 20);") == [100, 130]
    assert sheet(
        f"{wire} sheet.taken.push({{ x: 90, y: 130, half: 5 }}); "
        f"return sheet.clearest({places}, 20);"
    ) == [100, 160]
    # where nothing is free something is hidden, but never other words, and nothing is cut off
    assert sheet(f"{wire} return sheet.clearest([[100, 105], [195, 50]], 20);") == [100, 105]
    assert sheet("return sheet.clearest([[195, 50]], 20);") is None


@pytest.mark.parametrize("share", [0.4, -0.4])
def test_the_head_of_an_arc_shows_its_sense(sheet, share):
    """About the right-hand side clockwise goes down the screen."""
    plain = sheet(f"sheet.arc([100, 100], 0, {share}); {PIXELS}")
    picture = np.array(plain, dtype=float).reshape(200, 200, 4)[:, :, :3]
    force = (np.abs(picture - palette.rgb(palette.SERIES[5])).max(axis=2) < 3).sum(axis=1)
    upper, lower = force[:100].sum(), force[100:].sum()
    assert min(upper, lower) > 0
    assert (lower > 1.2 * upper) == (share > 0) and (upper > 1.2 * lower) == (share < 0)


def test_a_moment_too_small_for_an_arc_and_a_centre_outside_are_not_drawn(sheet):
    for code in ("sheet.arc([100, 100], 0, 0.02);", "sheet.centre([3, 100]);"):
        assert set(sheet(f"{code} {PIXELS}")) == {255}
    assert len(set(sheet(f"sheet.centre([100, 100]); {PIXELS}"))) > 2
