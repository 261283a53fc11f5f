"""Verification of the probe: a renderer that dies is an answer, and the run goes on without it."""

import os
import subprocess
import sys

import pytest

from gomphosis.viz import scene_probe
from gomphosis.viz.film_files import film_names
from gomphosis.viz.scene_probe import DRAWN, NO_OPENGL, NOT_INSTALLED, draws_in_child, trouble

# the renderer is told to use a display, and there is none
NO_DISPLAY = {"VTK_DEFAULT_OPENGL_WINDOW": "vtkXOpenGLRenderWindow", "DISPLAY": ""}


@pytest.fixture
def asked_anew():
    trouble.cache_clear()
    yield
    trouble.cache_clear()


def test_a_missing_library_is_said(asked_anew, monkeypatch):
    monkeypatch.setattr(scene_probe, "find_spec", lambda name: None)
    assert trouble() == NOT_INSTALLED == "pyvista is not installed"


@pytest.mark.parametrize(
    ("code", "good"),
    [
        (f"print('{DRAWN}')", True),
        ("print('other')", False),
        (f"import os; print('{DRAWN}', flush=True); os.abort()", False),
        ("import no_such_library", False),
        (f"import time; time.sleep(60); print('{DRAWN}')", False),
    ],
    ids=["drawn", "wrong pixels", "killed", "not importable", "hangs"],
)
def test_a_child_that_dies_or_hangs_is_an_answer(code, good):
    assert draws_in_child(code, longest=0.7 if "sleep" in code else 60.0) is good


def test_answer_is_kept(asked_anew, monkeypatch):
    calls = []
    monkeypatch.setattr(scene_probe, "find_spec", lambda name: name)
    monkeypatch.setattr(scene_probe, "draws_in_child", lambda: bool(calls.append(1)))
    assert [trouble(), trouble()] == [NO_OPENGL, NO_OPENGL]
    assert calls == [1]


RUN = "from gomphosis.viz.cli import main; main()"
SCENARIO = """
schema = 1
duration = "2 days"
rate = { max_speed = "60 um/day", half_stress = "1 kPa" }
[[tooth]]
number = 11
[[force]]
tooth = 11
force = "0.3 N"
direction = "lingual"
"""


def hide_library():
    """Return code that lets an interpreter not find the rendering library."""
    return (
        "import importlib.util as u; found = u.find_spec; "
        "u.find_spec = lambda n, p=None: None if n == 'pyvista' else found(n, p); "
    )


@pytest.mark.slow
@pytest.mark.parametrize("why", [NOT_INSTALLED, NO_OPENGL])
def test_a_run_ends_well_where_nothing_can_be_rendered(why, tmp_path):
    """The real library ends the child with a signal here: it looks for a display in vain."""
    if why == NO_OPENGL:
        pytest.importorskip("pyvista")
    (tmp_path / "tipped.toml").write_text(SCENARIO)
    code = (hide_library() if why == NOT_INSTALLED else "") + RUN
    words = ["run", str(tmp_path / "tipped.toml"), "--out", str(tmp_path / "out")]
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        env={**os.environ, **NO_DISPLAY},
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, f"gomphosis: arch film drawn flat: {why}\n")
    for name in film_names("arch"):
        assert (tmp_path / "out" / name).stat().st_size > 1000


@pytest.mark.slow
def test_probe_finds_opengl_where_it_works_and_not_where_it_is_hidden(monkeypatch):
    pytest.importorskip("pyvista")
    if trouble():
        pytest.skip(f"{trouble()}: nothing to hide")
    assert draws_in_child()
    for name, value in NO_DISPLAY.items():
        monkeypatch.setenv(name, value)
    assert not draws_in_child()
