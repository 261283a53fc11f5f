"""Runs, pictures and films in a notebook, and the tutorial: executed as a reader would."""

import ast
import importlib
import json
import re
import sys
from base64 import b64decode
from html.parser import HTMLParser
from importlib import resources
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from gomphosis.scenarios.caution import NOTICE, model_limits
from gomphosis.scenarios.end_tables import force_systems, movement_at_end, result_html, table_html
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.movement_table import movement_table
from gomphosis.viz.figures import figures_for
from gomphosis.viz.movement_figure import movement_figure
from gomphosis.viz.notebook import TUTORIAL, cautions, copy_tutorial, figure, film, show, table
from gomphosis.viz.theme import save_figure

PNG = b"\x89PNG\r\n\x1a\n"
NOTEBOOK = Path(__file__).parents[2] / "viz" / "notebooks" / TUTORIAL
SECONDS = 600  # for a cell, on a machine that is busy
LETTERS = 110  # in a line of print: JupyterLab breaks longer ones amid words on a page of 1400 px


class Page(HTMLParser):
    """Collect cells, addresses and words of pictures, texts and open tags of a piece of HTML."""

    def __init__(self, html):
        super().__init__()
        self.rows, self.styles, self.sources, self.open = [], [], [], []
        self.texts, self.words = [], []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.rows.append([])
            self.styles.append([])
        if tag in ("th", "td"):
            self.rows[-1].append("")
            self.styles[-1].append(dict(attrs)["style"])
        if tag in ("img", "video"):
            self.sources.append(dict(attrs)["src"])
        if tag == "img":
            self.words.append(dict(attrs)["alt"])
        if tag not in ("img", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.texts.append(data)
        if self.open and self.open[-1] in ("th", "td"):
            self.rows[-1][-1] += data


def code_cells(document):
    return ["".join(c["source"]) for c in document["cells"] if c["cell_type"] == "code"]


@pytest.fixture(scope="module")
def tutorial():
    return json.loads(NOTEBOOK.read_text(encoding="utf-8"))


def test_a_result_shows_title_mark_tables_and_cautions(wires):
    page = Page(wires._repr_html_())
    assert page.open == []
    text = " ".join(page.texts)
    for words in (wires.scenario.title, "INVENTED DATA", "Weeks 0 to 4; teeth 12, 11, 21", NOTICE):
        assert words in text
    assert page.rows[0][:3] == ["tooth", "movement", "crown moved p10,\N{NO-BREAK SPACE}mm"]
    # a title of three letters of markup stays text
    assert "<b>" not in result_html(wires)


def test_numbers_shown_are_those_of_the_histories(wires):
    rows = Page(result_html(wires)).rows
    slow, median, fast = (histories(wires, wires.cases[0], quantile=q) for q in (0.1, 0.5, 0.9))
    for k, history in enumerate(median):
        row = rows[1 + k]
        assert row[0] == str(history.number)
        assert row[1] == f"{history.movement[-1]} ({history.plane[-1]} plane)"
        crown = [np.linalg.norm(each[k].crown[-1]) for each in (slow, median, fast)]
        apex = np.linalg.norm(history.apex[-1])
        assert [float(cell) for cell in row[2:6]] == pytest.approx([*crown, apex], abs=0.005)
        assert float(row[6]) == pytest.approx(1e3 * history.peak_pressure.max(), abs=0.05)
    systems = rows[2 + len(median) :]
    for k, history in enumerate(median):
        for row, record in zip(systems[2 * k : 2 * k + 2], (0, -1), strict=True):
            shown = [float(cell.replace("−", "-")) for cell in row[2:]]
            assert shown[:3] == pytest.approx(history.at_bracket[record, :3], abs=0.005)
            assert shown[3:] == pytest.approx(history.at_bracket[record, 3:], abs=0.05)


def test_tables_carry_the_cautions_and_name_their_units(forces):
    for frame in (movement_at_end(forces), force_systems(forces), movement_table(forces)):
        assert frame.attrs["notice"] == NOTICE
    systems = force_systems(forces)
    assert list(systems["at"]) == ["throughout"] * 6
    assert systems["labial_N"].to_numpy() == pytest.approx([-0.25, -0.5, -1.0] * 2)
    assert set(movement_at_end(forces)["case"]) == {case.name for case in forces.cases}


def test_long_texts_are_not_cut(forces):
    """As the library's own view of a table in a notebook does after 50 letters."""
    frame = movement_at_end(forces)
    frame["movement"] = "x" * 80
    assert "x" * 80 in table_html(frame, "title")


def test_texts_stand_left_and_numbers_right_in_whole_lines():
    """A notebook puts all cells right, and breaks the name of a case before its unit."""
    values = {"case": ["tipping, 25 cN", "y" * 25], "force_N": [1.0, 2.0], "turns": [1, 2]}
    head, *rows = Page(table_html(pd.DataFrame(values), "title")).styles
    sides = ["text-align: left", "text-align: right", "text-align: right"]
    assert head == sides
    assert rows[0] == [f"{side}; white-space: nowrap" for side in sides]
    assert rows[1][0] == sides[0]


def test_numbers_are_rounded_by_their_unit_or_to_four_figures():
    frame = pd.DataFrame(
        {
            "crown_moved_mm": [1.005, -0.001, np.nan],
            "torque_moment_Nmm": [-1.25, 10.04, 1e-9],
            "tip_deg": [-0.96, 3.14, 0.0],
            "ours": [0.41957, 43.5628, -40.0],
            "day": [0.0, 7.0, 1234.56],
            "mm": [1, 2, 3],
            "said": pd.Series(["a", None, "-b"], dtype=object),
        }
    )
    head, *rows = Page(table_html(frame, "title")).rows
    # a unit never begins a line
    parts = [name.split(",\N{NO-BREAK SPACE}") for name in head[:3]]
    assert parts == [["crown moved", "mm"], ["torque moment", "N·mm"], ["tip", "°"]]
    assert head[3:] == ["ours", "day", "mm", "said"]
    assert rows[0] == ["1.00", "−1.2", "−1.0", "0.4196", "0", "1", "a"]
    assert rows[1] == ["0.00", "10.0", "3.1", "43.56", "7", "2", "—"]
    assert rows[2] == ["—", "0.0", "0.0", "−40", "1235", "3", "-b"]


def test_a_table_shows_texts_and_no_markup_of_theirs():
    page = Page(table(pd.DataFrame({"<i>": ["<b>&"]}), "<u>")._repr_html_())
    assert page.rows == [["<i>"], ["<b>&"]]
    assert "<u>" in page.texts
    assert page.open == []


def test_cautions_are_a_list_and_the_notice(wires):
    html = cautions(wires)._repr_html_()
    page = Page(html)
    limits = model_limits(wires.scenario)
    assert html.count("<li>") == len(limits) > 5
    assert [text for text in page.texts if text.strip()] == [*limits, NOTICE]
    # the same list is folded up in the view of the result
    assert all(limit in Page(wires._repr_html_()).texts for limit in limits)


def test_a_result_prints_in_one_line(wires):
    assert (
        repr(wires) == f"RunResult({wires.scenario.title!r}, teeth=[12, 11, 21], cases=['wires'])"
    )


def test_a_figure_shows_itself_as_the_file_of_the_run(lingual_pair, tmp_path):
    save_figure(movement_figure(lingual_pair), tmp_path / "movement.png")
    shown = figure(lingual_pair, "movement")
    assert shown._repr_png_() == (tmp_path / "movement.png").read_bytes()
    with pytest.raises(KeyError, match=re.escape(str(list(figures_for(lingual_pair))))):
        figure(lingual_pair, "slice")


def test_another_figure_is_the_one_that_is_asked_for(lingual_pair, tmp_path):
    save_figure(figures_for(lingual_pair)["force"](lingual_pair), tmp_path / "force.png")
    assert figure(lingual_pair, "force").png == (tmp_path / "force.png").read_bytes()


def test_what_is_said_beside_a_picture_may_hold_any_letters(tmp_path):
    path = tmp_path / 'a "b" & c.gif'
    path.write_bytes(b"frames")
    page = Page(film(path)._repr_html_())
    assert page.words == [f'Film a "b" & c.gif. {NOTICE}']


def test_what_stays_at_rest_moves_in_no_plane(aligned):
    (history, _) = histories(aligned, aligned.cases[0])
    assert history.plane[-1] == "none"
    assert list(movement_at_end(aligned)["movement"]) == [history.movement[-1]] * 2


def test_a_run_is_shown_with_figures(lingual_pair):
    page = Page(show(lingual_pair)._repr_html_())
    (picture,) = (b64decode(s.removeprefix("data:image/png;base64,")) for s in page.sources)
    assert picture == figure(lingual_pair, "movement").png
    assert NOTICE in " ".join(page.texts)
    named = show(lingual_pair, ["force", "movement"]).pictures
    words = [p.text.partition(":")[0] for p in named]
    assert words == ["Figure force", "Figure movement"]


@pytest.mark.parametrize(
    ("name", "kind"), [("a.gif", "image/gif"), ("a.mp4", "video/mp4"), ("a.png", "image/png")]
)
def test_a_film_goes_into_the_notebook_whole(tmp_path, name, kind):
    path = tmp_path / name
    path.write_bytes(b"frames")
    html = film(path)._repr_html_()
    (source,) = Page(html).sources
    head, content = source.split(",")
    assert head == f"data:{kind};base64"
    assert b64decode(content) == b"frames"
    assert NOTICE in html


def test_what_is_no_film_is_refused(tmp_path):
    (tmp_path / "a.txt").write_text("a")
    with pytest.raises(ValueError, match=r"a\.txt is no film: expected one of \.gif, \.png, \.mp4"):
        film(tmp_path / "a.txt")
    with pytest.raises(FileNotFoundError, match="no film"):
        film(tmp_path / "b.gif")


def test_the_tutorial_is_shipped_and_copied_once(tmp_path):
    copied = copy_tutorial(tmp_path)
    assert copied.read_bytes() == NOTEBOOK.read_bytes()
    assert resources.files("gomphosis.viz").joinpath("notebooks", TUTORIAL).is_file()
    with pytest.raises(FileExistsError):
        copy_tutorial(tmp_path)


def test_the_tutorial_is_stripped_and_its_cells_parse(tutorial):
    cells = [cell for cell in tutorial["cells"] if cell["cell_type"] == "code"]
    assert 8 <= len(cells) <= 12
    for cell in cells:
        assert cell["outputs"] == []
        assert cell["execution_count"] is None
        assert cell["metadata"] == {}
        ast.parse("".join(cell["source"]))
    assert "not a medical device" in "".join(tutorial["cells"][0]["source"])


def test_what_the_tutorial_imports_is_there(tutorial):
    found = []
    for source in code_cells(tutorial):
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("gomphosis"):
                module = importlib.import_module(node.module)
                found += [alias.name for alias in node.names if hasattr(module, alias.name)]
                assert all(hasattr(module, alias.name) for alias in node.names)
    assert {"run", "parse_scenario", "figure", "movement_table", "table", "cautions"} <= set(found)


def executed(place):
    """The tutorial run by a kernel of this environment, with a last cell that tells which."""
    nbformat = pytest.importorskip("nbformat", reason="needs nbformat (extra dev)")
    nbclient = pytest.importorskip("nbclient", reason="needs nbclient (extra dev)")
    pytest.importorskip("ipykernel", reason="needs ipykernel (extra dev)")
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    nbformat.validate(notebook)
    for last in (
        "import json; print(json.dumps(movement_at_end(forces).to_dict('list')))",
        "print(json.dumps(steps.loc[chosen, columns].to_dict('list')))",
        "import sys; print(sys.prefix)",
    ):
        notebook.cells.append(nbformat.v4.new_code_cell(last))
    with pytest.MonkeyPatch.context() as patch:
        # history and connection files beside those of the test, not in the home of the user
        patch.setenv("IPYTHONDIR", str(place / "ipython"))
        patch.setenv("JUPYTER_RUNTIME_DIR", str(place / "runtime"))
        client = nbclient.NotebookClient(notebook, timeout=SECONDS, kernel_name="python3")
        client.execute(cwd=str(place))
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


@pytest.mark.slow
def test_the_tutorial_runs_shows_and_says_what_is_so(tmp_path):
    cells = executed(tmp_path)
    outputs = [out for cell in cells for out in cell.outputs]
    # an error would have been raised; warnings of the program would go to standard error
    assert [out.text for out in outputs if out.get("name") == "stderr"] == []
    *printed, forces, steps, prefix = [out.text for out in outputs if out.get("name") == "stdout"]
    assert prefix.strip() == sys.prefix
    assert max(len(line) for text in printed for line in text.splitlines()) <= LETTERS
    shown = [out.data for out in outputs if "data" in out]
    pages = [data["text/html"] for data in shown if "text/html" in data]
    pictures = [b64decode(data["image/png"]) for data in shown if "image/png" in data]
    # each table is one of ours, with a title: the library's own is cut at the edge of the page
    assert [page.count("<table") for page in pages] == [2, 1, 1, 1, 1, 0]
    assert [page.count("<caption") for page in pages] == [2, 1, 1, 1, 1, 0]
    assert len(pictures) == 2
    assert all(picture.startswith(PNG) for picture in pictures)
    for page in (pages[0], pages[-1]):
        assert NOTICE in " ".join(Page(page).texts)
    assert sum(row[5] == "known disagreement" for row in Page(pages[4]).rows) == 2
    check_what_is_said_of_forces(json.loads(forces), Page(pages[2]).rows)
    check_what_is_said_of_steps(json.loads(steps), Page(pages[1]).rows)


def check_what_is_said_of_forces(table, rows):
    """Pressure doubles with the force, movement does not."""
    names = [*dict.fromkeys(name.partition(",")[0] for name in table["case"])]
    assert names == ["tipping", "translation"]
    for kind, movement in zip(table["case"], table["movement"], strict=True):
        assert kind.partition(",")[0] in movement
    pressure = np.reshape(table["peak_pressure_kPa"], (2, 4))
    moved = np.reshape(table["crown_moved_p50_mm"], (2, 4))
    np.testing.assert_allclose(pressure[:, 1:] / pressure[:, :-1], 2.0, rtol=1e-6)
    assert (moved[:, 1:] / moved[:, :-1] < 1.3).all()
    assert (moved[:, 1:] > moved[:, :-1]).all()
    assert [row[3] for row in rows[1:]] == [f"{value:.2f}" for value in moved.ravel()]
    assert [row[6] for row in rows[1:]] == [f"{value:.1f}" for value in pressure.ravel()]


def check_what_is_said_of_steps(table, rows):
    """The force fades as the tooth gives way, and something has moved at once."""
    force, moved = np.array(table["extrusion_bracket_N"]), np.array(table["crown_movement_p50_mm"])
    assert [row[0] for row in rows[1:]] == ["0", "2", "4", "6", "8", "10", "12", "14"]
    assert (np.diff(force) < 0).all()
    assert 0 < force[-1] < 0.05 * force[0]
    assert moved[0] > 0.05
    assert (np.diff(moved) > 0).all()
