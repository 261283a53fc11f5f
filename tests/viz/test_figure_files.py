"""Files of figures in all three formats: the same bytes, with the cautions. Verification.

The files are read by readers of their own formats: Pillow, an XML parser, and the words of a PDF.
"""

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import pytest
from PIL import Image

from gomphosis.scenarios.caution import NOTICE
from gomphosis.viz.figures import FIGURES, figures_for
from gomphosis.viz.outputs import MAY_LACK, staged
from gomphosis.viz.theme import KINDS, save_figure

SVG = "{http://www.w3.org/2000/svg}"
ALONE = """
import sys
from pathlib import Path
from gomphosis.scenarios.files import find_scenario
from gomphosis.viz.theme import page, save_figure, styled
with styled():
    figure = page(find_scenario("three-incisors"), heading="é × ·", width=7.0, body=2.0).figure
    figure.add_axes((0.2, 0.4, 0.6, 0.3)).fill_between([0, 1, 2], [1, 2, 1], hatch="//")
for name in sys.argv[1:]:
    save_figure(figure, Path(name))
"""


@pytest.mark.parametrize("name", list(FIGURES))
def test_same_run_gives_the_same_bytes(name, lower_slice, tmp_path):
    for kind in KINDS:
        files = [tmp_path / f"{which}{kind}" for which in ("one", "two")]
        for file in files:
            save_figure(FIGURES[name](lower_slice), file)
        assert files[0].read_bytes() == files[1].read_bytes(), kind


@pytest.mark.slow
def test_other_processes_write_the_same_bytes(tmp_path):
    """Hashes of texts differ from process to process; nothing in a file may hang on them."""
    files = [[tmp_path / f"{seed}{kind}" for kind in KINDS] for seed in (1, 2)]
    for seed, names in zip(("1", "2"), files, strict=True):
        words = [sys.executable, "-c", ALONE, *map(str, names)]
        subprocess.run(words, check=True, env={**os.environ, "PYTHONHASHSEED": seed})
    for one, two in zip(*files, strict=True):
        assert one.read_bytes() == two.read_bytes(), one.name


def test_cautions_are_in_the_metadata_and_no_time_is(wires, tmp_path):
    png, svg, pdf = (tmp_path / f"arch{kind}" for kind in KINDS)
    for path in (png, svg, pdf):
        save_figure(FIGURES["arch"](wires), path)
    with Image.open(png) as picture:
        assert picture.info["Description"] == NOTICE
    root = ET.parse(svg).getroot()
    assert root.tag == f"{SVG}svg"
    words = " ".join(root.itertext())
    assert NOTICE in words
    assert not re.search(r"\d{4}-\d\d-\d\d", words)
    data = pdf.read_bytes()
    assert data.startswith(b"%PDF-")
    said = re.search(rb"/Subject \((.*?)\)\s*/|/Subject \((.*?)\)\s*>>", data, re.DOTALL)
    assert said
    found = (said.group(1) or said.group(2)).decode("latin-1").replace("\\\n", "")
    assert found == NOTICE
    assert b"CreationDate" not in data


def test_letters_are_outlines_in_an_svg_and_an_embedded_font_in_a_pdf(wires, tmp_path):
    svg, pdf = tmp_path / "decay.svg", tmp_path / "decay.pdf"
    for path in (svg, pdf):
        save_figure(FIGURES["decay"](wires), path)
    # no reader of the picture needs the font
    assert list(ET.parse(svg).getroot().iter(f"{SVG}text")) == []
    data = pdf.read_bytes()
    assert b"/FontFile2" in data
    assert b"/Type3" not in data


def test_every_format_of_every_figure_is_known_to_the_clearing(wires, slices):
    names = {*figures_for(wires), *figures_for(slices)}
    assert {f"{name}{kind}" for name in names for kind in (".svg", ".pdf")} < MAY_LACK


def test_formats_that_a_later_run_does_not_write_go(tmp_path):
    with staged(tmp_path) as stage:
        for name in ("movement.png", "movement.svg", "slice.pdf"):
            (stage / name).write_text("old")
    (tmp_path / "mine.svg").write_text("mine")
    with staged(tmp_path) as stage:
        (stage / "movement.png").write_text("new")
    assert {path.name for path in tmp_path.iterdir()} == {"movement.png", "mine.svg"}
