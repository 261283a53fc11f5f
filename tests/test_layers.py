"""The arrow of the layers, and what each may import, read from the sources."""

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LAYERS = ("fem", "bone", "scenarios", "viz")
NUMBERS = {"numpy", "scipy"}
TABLES = {"pydantic", "pint", "pandas", "pyarrow"}
PICTURES = {"matplotlib", "PIL", "click", "rich", "imageio_ffmpeg", "pyvista", "vtkmodules"}
ALLOWED = {
    "fem": NUMBERS | {"skfem", "meshio"},
    "bone": NUMBERS,
    "scenarios": NUMBERS | TABLES | {"meshio"},
    "viz": NUMBERS | TABLES | PICTURES | {"meshio"},
}
SOURCES = [(layer, path) for layer in LAYERS for path in sorted((ROOT / layer).rglob("*.py"))]


def imported(source):
    """Return module and depth (0 = absolute) of every import in a source text, wherever it is."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [(alias.name, 0) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            found.append((node.module or "", node.level))
            if node.module == "gomphosis":
                found += [(f"gomphosis.{alias.name}", node.level) for alias in node.names]
    return found


def violations(layer, source):
    """Return what a source of a layer imports and may not."""
    left = LAYERS[: LAYERS.index(layer) + 1]
    wrong = []
    for module, level in imported(source):
        first, *rest = module.split(".")
        if level:
            wrong.append(f"relative import of {module or '.'}")
        elif first == "gomphosis":
            if rest and rest[0] not in left:
                wrong.append(f"{layer} imports {module}")
        elif first in LAYERS:
            wrong.append(f"bare import of {module}")
        elif first not in sys.stdlib_module_names and first not in ALLOWED[layer]:
            wrong.append(f"{layer} imports {module}")
    return wrong


def test_sources_were_found():
    assert {layer for layer, _ in SOURCES} == set(LAYERS)
    assert len(SOURCES) > 40


@pytest.mark.parametrize(
    ("layer", "path"), SOURCES, ids=[str(path.relative_to(ROOT)) for _, path in SOURCES]
)
def test_imports_follow_the_layers(layer, path):
    assert violations(layer, path.read_text(encoding="utf-8")) == []


def test_no_source_lies_outside_the_four_folders():
    stray = [
        path.name
        for path in ROOT.iterdir()
        if path.suffix == ".py" or (path.is_dir() and (path / "__init__.py").exists())
        if path.name not in LAYERS
    ]
    assert stray == []


@pytest.mark.parametrize(
    ("layer", "source", "wrong"),
    [
        ("fem", "from gomphosis.bone.teeth import tooth", ["fem imports gomphosis.bone.teeth"]),
        ("bone", "def f():\n    import gomphosis.viz.cli", ["bone imports gomphosis.viz.cli"]),
        ("bone", "from gomphosis import viz", ["bone imports gomphosis.viz"]),
        ("bone", "import skfem.helpers", ["bone imports skfem.helpers"]),
        ("scenarios", "from . import wire", ["relative import of ."]),
        ("scenarios", "from .wire import WireSection", ["relative import of wire"]),
        ("viz", "import fem.rod", ["bare import of fem.rod"]),
        ("viz", "from bone import teeth", ["bare import of bone"]),
        ("viz", "import plotly", ["viz imports plotly"]),
        ("viz", "import json\nfrom gomphosis.fem.rod import Rod\nimport rich.table", []),
    ],
)
def test_what_is_forbidden_is_found(layer, source, wrong):
    assert violations(layer, source) == wrong
