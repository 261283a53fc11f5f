"""The installed package is this source tree, file by file.

A strict editable installation links every file that existed when it was made: a module added
later is missing until the installation is made again.
"""

import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LAYERS = ("fem", "bone", "scenarios", "viz")
SUFFIXES = {".py", ".toml", ".typed", ".ipynb"}
FILES = sorted(
    path
    for layer in LAYERS
    for path in (ROOT / layer).rglob("*")
    if path.suffix in SUFFIXES or path.name == "py.typed"
)
AGAIN = "run `pip install -e .` again"


def installed_folder(layer):
    """Return where an installed layer lives, without importing it."""
    spec = importlib.util.find_spec(f"gomphosis.{layer}")
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError(f"gomphosis.{layer} is not installed: {AGAIN}")
    return Path(spec.origin).parent


def difference(source, installed):
    """Return what is wrong with the installed copy or link of a source file, or None."""
    if not installed.exists():
        return f"{source.name} is missing from the installation: {AGAIN}"
    if installed.resolve() == source.resolve():
        return None
    if installed.read_bytes() != source.read_bytes():
        return f"{source.name} differs from the installed file: {AGAIN}"
    return None


@pytest.mark.parametrize("path", FILES, ids=[str(path.relative_to(ROOT)) for path in FILES])
def test_installed_file_is_the_source(path):
    layer, *rest = path.relative_to(ROOT).parts
    assert difference(path, installed_folder(layer).joinpath(*rest)) is None


def test_files_were_found():
    assert {path.relative_to(ROOT).parts[0] for path in FILES} == set(LAYERS)
    assert {"py.typed", "tissue.toml", "rod.py"} <= {path.name for path in FILES}


def test_a_missing_and_an_outdated_file_are_named(tmp_path):
    source, installed = tmp_path / "new.py", tmp_path / "old" / "new.py"
    source.write_text("x = 1\n")
    assert difference(source, installed) == f"new.py is missing from the installation: {AGAIN}"
    installed.parent.mkdir()
    installed.write_text("x = 2\n")
    assert difference(source, installed) == f"new.py differs from the installed file: {AGAIN}"
    installed.write_text("x = 1\n")
    assert difference(source, installed) is None
    installed.unlink()
    installed.symlink_to(source)
    assert difference(source, installed) is None
