"""The page in a browser: opened from the disk, without a network. Needs Debian's chromium."""

import base64
import io
import json
import re
import struct
import xml.etree.ElementTree as ElementTree
import zlib

import meshio
import numpy as np
import pytest
from PIL import Image

from gomphosis.scenarios.caution import NOTICE
from gomphosis.viz import palette
from gomphosis.viz.report_page import PAGE, write_report
from gomphosis.viz.report_strings import report_strings

pytestmark = [pytest.mark.slow, pytest.mark.browser]

NUMBER = r"([−-]?\d+\.\d+)"


def wait_until(page, holds):
    """Wait up to ten seconds; the page's policy forbids the browser's own waiting by script."""
    for _ in range(200):
        if holds():
            return
        page.wait_for_timeout(50)
    raise AssertionError("waited in vain")


def now(page):
    return page.locator("#now").inner_text()


def pixels(page, name):
    """Return the pixels of a picture of the page, as text."""
    return page.evaluate("name => document.getElementById(name).toDataURL()", name)


def point_at(page, name, share):
    """Move the mouse to shares of the width and height of a picture; return what is read."""
    canvas = page.locator(f"#{name}")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    page.mouse.move(box["x"] + share[0] * box["width"], box["y"] + share[1] * box["height"])
    return page.locator(f"#{name}-read").inner_text()


def under(page, name):
    """Return which cell or node the probe reads."""
    text = page.locator(f"#{name}").get_attribute("data-under")
    return [int(part) for part in text.split(",")]


def image_cells(path, name):
    """Return cell values of an image file, shape (along x, along z)."""
    root = ElementTree.parse(path).getroot()
    extent = [int(v) for v in root.find("ImageData").get("WholeExtent").split()]
    (array,) = [a for a in root.iter("DataArray") if a.get("Name") == name]
    raw = base64.b64decode(array.text[24:])
    assert struct.unpack("<4I", base64.b64decode(array.text[:24])[:16])[0] == 1
    return np.frombuffer(zlib.decompress(raw), "<f8").reshape(extent[5], extent[1]).T


def read_number(text, pattern):
    found = re.search(pattern, text)
    assert found, text
    return found[1].replace("−", "-")


def test_slider_turns_the_pictures_and_the_table(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    assert now(page) == "Week 0 (day 0)"
    start, table = pixels(page, "slice-view-0"), page.locator("#week-table-0").inner_text()
    page.locator("#day").fill("7")
    assert now(page) == "Week 1 (day 7)"
    assert page.locator("#day").get_attribute("aria-valuetext") == "Week 1 (day 7)"
    assert pixels(page, "slice-view-0") != start
    assert page.locator("#week-table-0").inner_text() != table
    assert "Numbers of week 1 (day 7)" in page.locator("#week-table-0").inner_text()


def test_every_day_of_a_moving_tooth_looks_different(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    seen = set()
    for day in range(9):
        page.locator("#day").fill(str(day))
        seen.add(pixels(page, "slice-view-0"))
    assert len(seen) == 9


def test_field_choice_changes_picture_and_legend(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    page.locator("#day").fill("7")
    seen = {}
    for field, word in (
        ("density", "full cortical bone"),
        ("zone", "neutral"),
        ("traction", "normal traction"),
        ("displacement", "under load in the slice"),
    ):
        page.select_option("#field", field)
        seen[field] = pixels(page, "slice-view-0")
        assert word in page.locator("#legend").inner_text()
    assert len(set(seen.values())) == 4


def test_density_is_no_choice_without_slices(opened, wires_folder):
    page = opened(wires_folder / PAGE)
    last = page.locator("#field option").last
    assert last.is_disabled() and last.get_attribute("value") == "density"
    assert last.inner_text() == "density of bone (needs a slice)"
    assert page.locator("canvas.slice").count() == 0


def test_probed_density_is_that_of_the_image_file(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    page.locator("#day").fill("7")
    page.select_option("#field", "density")
    (path,) = slices_folder.glob("fields/1-*/slice-11/week_001_bone.vti")
    density = image_cells(path, "density")
    seen = set()
    for x in np.linspace(0.1, 0.9, 17):
        for y in (0.1, 0.2, 0.3):
            text = point_at(page, "slice-view-0", (x, y))
            if "ensity" in text:
                expected = f"{density[tuple(under(page, 'slice-view-0'))]:.2f}"
                assert read_number(text, rf"ensity {NUMBER}") == expected
                seen.add(expected)
    assert {"0.00", "0.29", "1.00"} <= seen


@pytest.mark.parametrize(
    ("field", "file", "array", "digits"),
    [
        ("traction", "wall", "normal_traction_kPa", 2),
        ("zone", "wall", "normal_traction_kPa", 2),
        ("displacement", "mesh", "displacement_mm", 4),
    ],
)
def test_probed_values_are_those_of_the_field_files(
    opened, slices_folder, field, file, array, digits
):
    page = opened(slices_folder / PAGE)
    page.locator("#day").fill("7")
    page.select_option("#field", field)
    (path,) = slices_folder.glob(f"fields/1-*/slice-11/week_001_{file}.vtu")
    values = meshio.read(path).point_data[array]
    seen = set()
    for place in ((0.46, 0.3), (0.55, 0.25), (0.62, 0.42), (0.4, 0.45)):
        text = point_at(page, "slice-view-0", place)
        if not page.locator("#slice-view-0").get_attribute("data-under"):
            continue
        (node,) = under(page, "slice-view-0")
        expected = np.linalg.norm(values[node]) if values.ndim > 1 else values[node]
        unit = "mm" if field == "displacement" else "kPa"
        assert float(read_number(text, rf"{NUMBER} {unit}")) == float(f"{expected:.{digits}f}")
        seen.add(node)
    assert len(seen) >= 2


def test_probe_reads_the_cell_that_is_drawn_under_it(opened, slices_folder):
    """Within full cortical bone the picture has its colour, and the words name the cell's place."""
    page = opened(slices_folder / PAGE)
    page.select_option("#field", "density")
    (path,) = slices_folder.glob("fields/1-*/slice-11/week_000_bone.vti")
    density = image_cells(path, "density")
    head = ElementTree.parse(path).getroot().find("ImageData")
    low, spacing = (float(head.get(k).split()[2]) for k in ("Origin", "Spacing"))
    plain = base64.b64decode(pixels(page, "slice-view-0").partition(",")[2])
    picture = np.asarray(Image.open(io.BytesIO(plain)).convert("RGB"))
    full = np.array(palette.rgb(palette.BONE_FULL))
    seen = 0
    for x in np.linspace(0.05, 0.95, 71):
        text = point_at(page, "slice-view-0", (x, 0.21))
        if "ensity" not in text:
            continue
        column, row = under(page, "slice-view-0")
        centre = low + (row + 0.5) * spacing
        depth = float(read_number(text, rf"{NUMBER} mm from the bone crest towards the root's tip"))
        assert abs(-centre - depth) <= 0.5 * spacing + 0.05 + 1e-6
        around = density[column - 2 : column + 3, row - 2 : row + 3]
        if around.size and np.all(around == 1.0):
            pixel = picture[int(0.21 * len(picture)), int(x * len(picture[0]))]
            np.testing.assert_allclose(pixel, full, rtol=0, atol=2)
            seen += 1
    assert seen >= 3


@pytest.mark.parametrize("field", ["displacement", "traction"])
def test_probed_values_of_whole_teeth_are_those_of_the_field_files(opened, wires_folder, field):
    page = opened(wires_folder / PAGE)
    page.locator("#day").fill("7")
    page.select_option("#field", field)
    shown = {"displacement": ("teeth", "movement_mm"), "traction": ("walls", "normal_traction_kPa")}
    part, key = shown[field]
    mesh = meshio.read(wires_folder / "fields" / f"week_001_{part}.vtu")
    values = mesh.point_data[key]
    values = np.linalg.norm(values, axis=1) if values.ndim > 1 else values
    digits = 3 if field == "displacement" else 2
    printed = {round(float(abs(v)), digits) for v in values if np.isfinite(v)}
    found = set()
    for x in np.linspace(0.3, 0.7, 17):
        for y in (0.3, 0.5, 0.8):
            text = point_at(page, "front-0", (x, y))
            if page.locator("#front-0").get_attribute("data-under"):
                unit = "mm" if field == "displacement" else "kPa"
                found.add(abs(float(read_number(text, rf"{NUMBER} {unit}"))))
    assert len(found) >= 3
    assert found <= printed


def test_key_times_are_marked_and_jump(opened, wires_folder):
    page = opened(wires_folder / PAGE)
    button = page.get_by_role("button", name="Week 1 wire 2 is tied in: 0.016 in nickel-titanium")
    button.click()
    assert now(page) == "Week 1 (day 7)"
    assert page.locator(".tick").count() >= 2
    # what a mark stands for is told to the mouse, and to whoever turns the slider by keys
    told = "wire 2 is tied in: 0.016 in nickel-titanium"
    assert page.locator(f'.tick[title="Week 1: {told}"]').count() == 1
    assert page.locator("#day").get_attribute("aria-valuetext") == f"Week 1 (day 7); {told}"


def test_opening_of_a_plate_is_a_key_time(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    assert page.get_by_role("button", name=re.compile("the labial plate opens")).count() == 1


def test_keyboard_alone_reaches_and_turns_everything(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    order = []
    for _ in range(12):
        page.keyboard.press("Tab")
        name, line = page.evaluate(
            "() => { const e = document.activeElement; "
            "return [e.id || e.className || e.tagName, getComputedStyle(e).outlineStyle]; }"
        )
        assert line == "solid", name
        order.append(name)
    assert page.get_by_role("application", name=re.compile("Slice of tooth 11")).count() == 1
    assert page.locator("canvas:not([aria-label])").count() == 0
    wanted = ["skip", "language", "play", "day", "field", "key", "case-0", "slice-view-0"]
    places = [order.index(name) for name in wanted]
    assert places == sorted(places)
    page.locator("#day").focus()
    page.keyboard.press("ArrowRight")
    assert now(page) == "Week 0.1 (day 1)"
    page.keyboard.press("End")
    assert now(page) == "Week 1.1 (day 8)"
    page.keyboard.press(" ")
    assert page.locator("#play").inner_text() == "Pause"
    page.keyboard.press(" ")
    assert page.locator("#play").inner_text() == "Play"


def test_probe_moves_by_keys_and_is_spoken(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    page.select_option("#field", "displacement")
    page.locator("#slice-view-0").focus()
    page.keyboard.press("ArrowUp")
    first = page.locator("#live").inner_text()
    assert first.startswith("Displacement under load")
    for _ in range(8):
        page.keyboard.press("ArrowUp")
    assert page.locator("#live").inner_text() not in ("", first)
    page.keyboard.press("Escape")
    assert page.locator("#live").inner_text() == "Point at the picture to read a value."


def test_a_turn_of_the_slider_is_spoken(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    page.locator("#day").fill("7")
    live = page.locator("#live")
    wait_until(page, lambda: live.inner_text().startswith("Week 1. Tooth 11 moved"))
    assert page.locator("#live").get_attribute("aria-live") == "polite"


def test_script_in_texts_of_the_user_is_shown_and_never_runs(opened, slices_folder, wires_folder):
    for folder in (slices_folder, wires_folder):
        page = opened(folder / PAGE)
        assert "<script>window.hacked=1</script>" in page.locator("h1").inner_text()
        assert page.evaluate("window.hacked") is None
        assert page.locator("main script").count() == 0
        assert page.locator("img").count() == page.locator("#figures img").count() == 1
    assert (
        "</script><script>window.hacked=1</script> & more" in page.locator("#detail").inner_text()
    )
    page = opened(slices_folder / PAGE)
    assert "<script>window.hacked" in page.locator("#case-0 option").first.inner_text()


def test_the_policy_stops_what_is_not_in_the_file(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    assert opened.said == []
    assert page.evaluate(
        """() => {
          const script = document.createElement('script');
          script.textContent = 'window.hacked = 2';
          document.body.append(script);
          const box = document.createElement('div');
          box.setAttribute('style', 'color: rgb(1, 2, 3)');
          document.body.append(box);
          return [window.hacked ?? null, getComputedStyle(box).color === 'rgb(1, 2, 3)'];
        }"""
    ) == [None, False]
    assert ["Content Security Policy" in text for text in opened.said] == [True, True]
    opened.said.clear()


def test_print_shows_a_static_version_with_cautions_and_open_tables(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    page.emulate_media(media="print")
    printed = page.pdf(format="A4")
    assert printed.startswith(b"%PDF") and len(re.findall(rb"/Type\s*/Page\b", printed)) >= 2
    assert not page.locator("#weeks").is_visible()
    assert page.locator("#sheet canvas").first.is_visible()
    assert page.locator("#inputs table").is_visible()
    assert page.locator("#printed table").count() == page.locator("#sheet figure").count() >= 3
    assert page.get_by_text(NOTICE).count() == 2
    drawn = page.evaluate(
        """() => [...document.querySelectorAll('#sheet canvas')].map((canvas) => {
          const data = canvas.getContext('2d')
            .getImageData(0, 0, canvas.width, canvas.height).data;
          return new Set(new Uint32Array(data.buffer)).size;
        })"""
    )
    assert min(drawn) > 20


def test_language_switches_in_the_page(opened, slices_folder, tmp_path):
    page = opened(slices_folder / PAGE)
    page.select_option("#language", "de")
    assert page.locator("html").get_attribute("lang") == "de"
    assert page.locator("#summary h2").inner_text() == "In Kürze"
    assert page.locator(".caution").first.inner_text().startswith("Dies ist eine Simulation")
    assert page.evaluate("document.activeElement.id") == "language"
    page.locator("#day").fill("7")
    assert now(page) == "Woche 1 (Tag 7)"
    assert re.search(r"\d,\d\d", page.locator("#week-table-0").inner_text())
    assert not re.search(r"\d\.\d", page.locator("#week-table-0").inner_text())
    write_report([slices_folder], tmp_path / "de.html", language="de")
    assert opened(tmp_path / "de.html").locator("#summary h2").inner_text() == "In Kürze"


def test_two_runs_stand_side_by_side_on_one_slider(opened, slices_folder, wires_folder, tmp_path):
    write_report([wires_folder, slices_folder], tmp_path / "two.html")
    page = opened(tmp_path / "two.html")
    assert page.locator("#front-0").count() == page.locator("#front-1").count() == 1
    before = pixels(page, "front-0"), pixels(page, "slice-view-1")
    page.locator("#day").fill("7")
    after = pixels(page, "front-0"), pixels(page, "slice-view-1")
    assert before[0] != after[0] and before[1] != after[1]
    # the shorter run stands still at its end
    page.keyboard.press("Escape")
    page.locator("#day").fill("14")
    assert "Numbers of week 1.1 (day 8)" in page.locator("#week-table-1").inner_text()


def test_remarks_of_every_case_are_told(opened, slices_folder):
    """Flags of the summary, of all cases, whichever is shown."""
    page = opened(slices_folder / PAGE)
    page.select_option("#case-0", "1")
    document = json.loads((slices_folder / "summary.json").read_text(encoding="utf-8"))
    told = page.locator(".answer").nth(3).inner_text()
    flags = [
        (name, flag)
        for name, case in document["cases"].items()
        for flag in case["teeth"]["11"]["flags"]
    ]
    # the case that is shown has none
    assert flags and "lighter" not in {name for name, _ in flags}
    for name, flag in flags:
        assert f"({name}) {flag['value']:.1f} {flag['unit']}" in told
        assert flag["source"] in told
    slices = [case["teeth"]["11"]["slice"] for case in document["cases"].values()]
    openings = [opening for one in slices for opening in one["openings"]]
    assert openings and told.count("plate lies open") == len(openings)


def test_another_case_is_shown_when_chosen(opened, slices_folder):
    page = opened(slices_folder / PAGE)
    page.locator("#day").fill("7")
    before = page.locator("#week-table-0").inner_text()
    page.select_option("#case-0", "1")
    assert page.locator("#week-table-0").inner_text() != before
    assert now(page) == "Week 1 (day 7)"
    assert page.evaluate("document.activeElement.id") == "case-0"


def test_root_preview_of_the_summary_is_shown(browser, opened, wires, tmp_path):
    """Findings stand under cases and teeth; texts in them stay texts."""
    from gomphosis.scenarios.summary import summary, summary_text
    from gomphosis.viz.report_record import report_record
    from gomphosis.viz.report_store import SUMMARY, write_record

    document = json.loads(summary_text(summary(wires)))
    number = next(iter(document["teeth"]))
    found = document["teeth"][number]["root_preview"]["quantities"]
    found["movement_type"]["name"] = "<b>apex</b> over edge"
    (tmp_path / SUMMARY).write_text(json.dumps(document), encoding="utf-8")
    write_record(report_record(wires, document), tmp_path, [])
    write_report([tmp_path], tmp_path / PAGE)
    page = opened(tmp_path / PAGE)
    groups = page.locator("#root tbody")
    # the renamed quantity is a group of its own beside that of the other tooth
    names = {
        (q["name"], str(q["threshold"]), q["source"], q["status"])
        for tooth in document["teeth"].values()
        for q in tooth["root_preview"]["quantities"].values()
    }
    assert groups.count() == len(names)
    head = groups.first.locator("tr.group").inner_text()
    assert "<b>apex</b> over edge" in head
    assert f"{found['movement_type']['source']} (verified)" in head
    cells = groups.first.locator("tr:not(.group)").locator("th, td").all_inner_texts()
    assert cells[0] == number and len(cells) == 3
    assert found["movement_type"]["words"]["p50"] in cells[1]


def test_every_finding_of_a_root_is_shown_once(opened, wires, wires_folder):
    """Teeth that show the same share a row; no tooth is lost."""
    page = opened(wires_folder / PAGE)
    document = json.loads((wires_folder / "summary.json").read_text(encoding="utf-8"))
    told = []
    for group in page.locator("#root tbody").all():
        head = group.locator("tr.group span").first.inner_text()
        for row in group.locator("tr:not(.group) th").all_inner_texts():
            numbers = document["teeth"] if row == "all" else row.split("; ")
            told += [(number, head) for number in numbers]
    words = report_strings("en")["roots"]
    names = [
        (number, words.get(q["name"], q["name"]))
        for number, tooth in document["teeth"].items()
        for q in tooth["root_preview"]["quantities"].values()
    ]
    expected = [(number, name[0].upper() + name[1:]) for number, name in names]
    assert sorted(told) == sorted(expected)
