"""Titles and names of the user are printed as they stand, whatever signs they hold."""

from pathlib import Path

import pandas as pd
import pytest

STRANGE = "[bold]x[/bold] [/y] $x$ $\\frac{$ :smile: {0} %s"


@pytest.fixture(scope="module")
def strange(scenario: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("strange") / "strange.toml"
    escaped = STRANGE.replace("\\", "\\\\")
    text = scenario.read_text().replace("Tipped for a week (invented)", escaped)
    head, force = text.split("[[force]]")
    forces = [f'[[force]]\ncase = "{escaped} {n}"{force}' for n in (1, 2)]
    path.write_text(head + "".join(forces))
    return path


def test_signs_of_markup_are_printed_as_they_stand(strange: Path, gomphosis):
    answer = gomphosis("wire", strange)
    assert answer.code == 0, answer.err
    assert answer.out.splitlines()[0] == STRANGE
    assert f"{STRANGE} 1" in answer.words


def test_signs_of_markup_reach_figures_and_film(strange: Path, tmp_path: Path, gomphosis):
    """An open $ would be half a formula to the figures."""
    answer = gomphosis("run", strange, "--out", tmp_path)
    assert answer.code == 0, answer.err
    assert answer.out.startswith(f"{STRANGE}: weeks 0 to 1")
    assert f"11, {STRANGE} 2" in answer.words
    table = pd.read_csv(tmp_path / "movement.csv", comment="#", na_values="—")
    assert set(table["case"]) == {f"{STRANGE} 1", f"{STRANGE} 2"}
