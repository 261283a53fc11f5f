"""Folders of small finished runs, as `gomphosis run` leaves them but for films and figures."""

import json
import shutil
from pathlib import Path

import pytest
from PIL import Image

from gomphosis.bone.support import Resolution
from gomphosis.scenarios.files import parse_scenario
from gomphosis.scenarios.run import run
from gomphosis.scenarios.slice_vtu import write_slice_fields
from gomphosis.scenarios.summary import summary, summary_text
from gomphosis.scenarios.vtu import write_fields
from gomphosis.viz.report_page import PAGE, write_report
from gomphosis.viz.report_record import report_record
from gomphosis.viz.report_store import SUMMARY, write_record

COARSE = Resolution(along=8, root=2, ligament=2, bone=1, sectors=16)
RATE = '[rate]\nmax_speed = "60 um/day"\nhalf_stress = "8 kPa"\n'
NO_WEBGL = ("--disable-webgl", "--disable-webgl2", "--disable-3d-apis")
EVIL = "<script>window.hacked=1</script><img src=x onerror=hacked=1>"

WIRES = f"""
schema = 1
title = "Two wires {EVIL}"
note = "Note </script><script>window.hacked=1</script> & more"
invented = true
duration = "2 weeks"
step = "1 day"
[[tooth]]
number = 11
vertical = "-0.8 mm"
[[tooth]]
number = 21
[[wire]]
size = "0.014 in"
[[wire]]
tied_in = "1 week"
size = "0.016 in"
{RATE}
"""

SLICES = f"""
schema = 1
title = "A slice {EVIL}"
invented = true
duration = "8 days"
step = "1 day"
[[tooth]]
number = 11
[[force]]
case = "{EVIL[:60]}"
tooth = 11
force = "60 cN"
direction = "labial"
moment_to_force = "8 mm"
[[force]]
case = "lighter"
tooth = 11
force = "30 cN"
direction = "labial"
moment_to_force = "8 mm"
[slice]
teeth = [11]
spacing = "0.15 mm"
front = {{ crest = "0.3 mm", middle = "0.5 mm" }}
{RATE}
"""

LESSON = f"""
schema = 1
title = "A lesson (invented)"
invented = true
duration = "8 days"
step = "2 days"
[[tooth]]
number = 11
[[force]]
tooth = 11
force = "30 cN"
direction = "labial"
[lesson]
aim = "Say where the root <b>presses</b>."
question = "Which side is stretched?"
[[lesson.caption]]
at = "0 days"
text = "At first nothing has moved."
[[lesson.caption]]
at = "3 days"
text = "The crown goes <i>labially</i>."
[[lesson.caption]]
at = "8 days"
text = "The socket has followed."
{RATE}
"""

CASES = f"""
schema = 1
title = "Two cases (invented)"
invented = true
duration = "4 days"
step = "1 day"
[[tooth]]
number = 11
[[force]]
case = "light"
tooth = 11
force = "20 cN"
direction = "labial"
[[force]]
case = "heavy"
tooth = 11
force = "40 cN"
direction = "labial"
moment_to_force = "6 mm"
[lesson]
aim = "Tell two cases apart."
question = "Which goes farther?"
[[lesson.caption]]
at = "0 days"
text = "Both are pushed."
[[lesson.caption]]
at = "2 days"
case = "heavy"
text = "This one goes farther."
{RATE}
"""

PULLS = f"""
schema = 1
title = "A rubber ring (invented)"
invented = true
duration = "4 days"
step = "1 day"
[[tooth]]
number = 11
[[tooth]]
number = 21
[[wire]]
size = "0.018 in"
[[elastic]]
kind = "elastic"
teeth = [11, 21]
force = "50 gf"
stiffness = "0 N/mm"
taken_off = "2 days"
{RATE}
"""


def result_of(text):
    return run(parse_scenario(text, "test"), resolution=COARSE)


def write_run(result, folder: Path, pictures=("movement.png",)) -> Path:
    """Write what a report is made from, the fields, and the page."""
    folder.mkdir()
    (folder / SUMMARY).write_text(summary_text(summary(result)), encoding="utf-8")
    for name in pictures:
        Image.new("RGB", (32, 20), "white").save(folder / name)
    (folder / "fields").mkdir()
    write_fields(result, folder / "fields")
    write_slice_fields(result, folder / "fields")
    document = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
    write_record(report_record(result, document), folder, pictures)
    write_report([folder], folder / PAGE)
    return folder


@pytest.fixture(scope="package")
def wires():
    return result_of(WIRES)


@pytest.fixture(scope="package")
def slices():
    """An upper incisor pushed through a thin labial plate, by two forces."""
    return result_of(SLICES)


@pytest.fixture(scope="package")
def wires_folder(wires, tmp_path_factory):
    return write_run(wires, tmp_path_factory.mktemp("report") / "wires")


@pytest.fixture(scope="package")
def whole_folder(whole_arch, tmp_path_factory):
    """Fourteen teeth."""
    return write_run(whole_arch, tmp_path_factory.mktemp("report") / "whole")


@pytest.fixture(scope="package")
def slices_folder(slices, tmp_path_factory):
    return write_run(slices, tmp_path_factory.mktemp("report") / "slices")


@pytest.fixture(scope="package")
def lesson():
    """Captions on days of which one is between two steps of the run."""
    return result_of(LESSON)


@pytest.fixture(scope="package")
def lesson_folder(lesson, tmp_path_factory):
    """The lesson's run with pictures in no order, one of them new to the page."""
    names = ("free_body.png", "new_thing.png", "zones.png", "movement.png", "arch.png")
    return write_run(lesson, tmp_path_factory.mktemp("report") / "lesson", names)


@pytest.fixture(scope="package")
def cases_folder(tmp_path_factory):
    """A lesson of two cases, with a caption about one of them."""
    return write_run(result_of(CASES), tmp_path_factory.mktemp("report") / "cases")


@pytest.fixture(scope="package")
def upright_folder(tmp_path_factory):
    """The same, but one force goes along the tooth, where its arrow reaches beyond the crown."""
    text = CASES.replace('"labial"\nmoment_to_force = "6 mm"', '"extrusion"')
    return write_run(result_of(text), tmp_path_factory.mktemp("report") / "upright")


@pytest.fixture(scope="package")
def pulls():
    """Two teeth on a wire with a ring between them for two of four days."""
    return result_of(PULLS)


@pytest.fixture(scope="package")
def pulls_folder(pulls, tmp_path_factory):
    return write_run(pulls, tmp_path_factory.mktemp("report") / "pulls")


@pytest.fixture(scope="package")
def browser():
    """Debian's chromium without any graphics hardware: the page needs none."""
    sync = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("chromium is not installed: apt-get install chromium")
    with sync.sync_playwright() as play:
        opened = play.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-gpu", *NO_WEBGL]
        )
        yield opened
        opened.close()


@pytest.fixture
def opened(browser):
    """Open a page; whatever it asks of a network or says in the console is a failure."""
    contexts, asked, said = [], [], []

    def open_page(path, size=(1280, 800), **options):
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, offline=True, **options
        )
        contexts.append(context)
        page = context.new_page()
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(Path(path).as_uri())
        page.wait_for_selector("html[data-ready]", timeout=120_000)
        return page

    open_page.said = said
    yield open_page
    for context in contexts:
        context.close()
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert sum(url.startswith("file:") for url in asked) == len(contexts)
    assert said == []
