"""The figure of the command tooth, in the formats of all figures. Verification."""

from pathlib import Path

import pytest

from gomphosis.viz import theme, tooth_command


def test_other_formats_are_refused_before_any_work(
    tmp_path: Path, gomphosis, monkeypatch: pytest.MonkeyPatch
):
    def curves(*_: object, **__: object) -> None:
        raise AssertionError("the curves were computed")

    monkeypatch.setattr(tooth_command, "rotation_curves", curves)
    answer = gomphosis("tooth", 11, "--figure", tmp_path / "turning.bmp")
    assert (answer.code, answer.out) == (2, "")
    assert answer.err.count("\n") == 1
    assert "a name that ends in .png, .svg or .pdf" in answer.err
    assert list(tmp_path.iterdir()) == []


def test_name_chooses_the_format(tmp_path: Path, gomphosis, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(tooth_command, "rotation_curves", lambda *_, **__: [])
    monkeypatch.setattr(
        "gomphosis.viz.rotation_figure.rotation_figure",
        lambda scenario, curves: theme.page(scenario, heading="h", width=7.0, body=1.0).figure,
    )
    begins = {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF-"}
    for kind, begin in begins.items():
        path = tmp_path / f"turning{kind}"
        assert gomphosis("tooth", 11, "--figure", path).code == 0
        assert path.read_bytes().startswith(begin)
