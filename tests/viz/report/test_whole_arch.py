"""Pictures of fourteen teeth on the page. Needs Debian's chromium. Verification."""

import pytest

from gomphosis.viz import palette
from gomphosis.viz.report_page import PAGE

pytestmark = [pytest.mark.slow, pytest.mark.browser]

BAR = """
([name, ink]) => {
  const canvas = document.getElementById(name);
  const { data } = canvas.getContext('2d').getImageData(0, canvas.height - 12, canvas.width, 1);
  return Array.from({ length: canvas.width }, (_, x) => x).filter(
    (x) => [0, 1, 2].every((k) => Math.abs(data[4 * x + k] - ink[k]) < 3));
}
"""


def bar(page, name):
    """Return the columns of px of the bar of 5 mm at the foot of a picture."""
    return page.evaluate(BAR, [name, list(palette.rgb(palette.INK))])


def widths(page):
    return [page.locator(f"#{name}-0").bounding_box()["width"] for name in ("front", "above")]


def test_front_view_has_the_room_and_both_have_one_scale(opened, whole_folder):
    page = opened(whole_folder / PAGE)
    front, above = widths(page)
    assert front == pytest.approx(2 * above, rel=0.05)
    first, second = bar(page, "front-0"), bar(page, "above-0")
    assert len(first) > 20
    assert abs(len(first) - len(second)) <= 1
    # fourteen crowns, 130 mm of them, fill the picture
    assert 130 / 5 * len(first) > 0.75 * front
    # under the open side of the arch, not on a molar
    assert 0.4 * above < second[0] < second[-1] < 0.6 * above


def test_on_a_narrow_screen_the_front_view_is_moved_sideways_and_the_page_is_not(
    opened, whole_folder
):
    page = opened(whole_folder / PAGE, (390, 844))
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    # the view from above, which is less tall, decides the scale of both
    assert abs(len(bar(page, "front-0")) - len(bar(page, "above-0"))) <= 1
    front, above = widths(page)
    assert front > 700 > 390 > above
    moved = "document.querySelector('.front-view').scrollLeft = 200"
    assert page.evaluate(f"{moved}; document.querySelector('.front-view').scrollLeft") == 200


def test_chosen_weeks_are_large_enough_for_many_teeth(opened, whole_folder):
    page = opened(whole_folder / PAGE)
    stills = page.locator("#sheet canvas.front")
    assert all(still.bounding_box()["width"] > 500 for still in stills.all())
