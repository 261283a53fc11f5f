"""What plays on the page, and what does not. Needs Debian's chromium. Verification."""

import pytest

from gomphosis.viz.report_page import PAGE

pytestmark = [pytest.mark.slow, pytest.mark.browser]


def led_by_hand(page):
    """Let time stand still on a page but for `page.clock.run_for`: a busy machine is no matter."""
    page.clock.install(time=0)
    page.clock.pause_at(3600)


def now(page):
    return page.locator("#now").inner_text()


def said(page):
    return page.locator("#caption-0").inner_text()


def test_play_runs_to_the_end_and_pauses(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    led_by_hand(page)
    page.locator("#play").click()
    assert page.locator("#play").inner_text() == "Pause"
    while page.locator("#day").input_value() < "2":
        page.clock.run_for(50)
    page.locator("#play").click()
    assert page.locator("#play").inner_text() == "Play"
    page.clock.run_for(10_000)
    assert now(page) == "Week 0.3 (day 2)"
    page.locator("#play").click()
    page.clock.run_for(10_000)
    assert page.locator("#play").inner_text() == "Play"
    assert now(page) == "Week 1.1 (day 8)"


def test_captions_are_played_no_faster_than_they_can_be_read(opened, cases_folder):
    """Two captions two days apart last three seconds each, whatever the length of the run."""
    page = opened(cases_folder / PAGE)
    led_by_hand(page)
    page.locator("#play").click()
    page.clock.run_for(2900)
    assert said(page) == "Both are pushed."
    page.clock.run_for(200)
    assert said(page) != "Both are pushed."


def test_reduced_motion_plays_nothing_and_shows_chosen_weeks(opened, slices_folder):
    page = opened(slices_folder / PAGE, reduced_motion="reduce")
    assert page.locator("#play").is_disabled()
    led_by_hand(page)
    page.locator("#day").focus()
    page.keyboard.press(" ")
    page.clock.run_for(10_000)
    assert now(page) == "Week 0 (day 0)"
    assert "asks for little motion" in page.locator("#still").inner_text()
    assert page.locator("#sheet canvas.slice").count() >= 3
    page.keyboard.press("ArrowRight")
    assert now(page) == "Week 0.1 (day 1)"
