"""Versions of all that has a say in the last bit of a result, and what a scenario is made of."""

import hashlib
import json
import platform
from functools import cache
from importlib import metadata, resources

from gomphosis.bone.support import Resolution
from gomphosis.scenarios.schema import Scenario

PARTS = ("gomphosis", "numpy", "scipy", "scikit-fem", "kvxopt", "cvxopt")
SOURCES = ("gomphosis.fem", "gomphosis.bone", "gomphosis.bone.library", "gomphosis.scenarios")
ENDINGS = (".py", ".toml")


@cache
def program_versions() -> dict[str, str]:
    """Return the versions of the program, its parts and what it runs on; `none` if not there.

    The source itself counts as well: between two releases its version stays the same.
    """
    found = {name: _version(name) for name in PARTS}
    python = {"python": platform.python_version(), "machine": platform.machine()}
    return {**found, **python, "source": _source_digest()}


def scenario_digest(scenario: Scenario, resolution: Resolution | None = None) -> str:
    """Return the SHA-256 of a scenario with every default written out, and of the mesh."""
    text = json.dumps([scenario.document(), repr(resolution)], sort_keys=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "none"


def _source_digest() -> str:
    digest = hashlib.sha256()
    for package in SOURCES:
        files = (entry for entry in resources.files(package).iterdir() if entry.is_file())
        for entry in sorted(files, key=lambda entry: entry.name):
            if entry.name.endswith(ENDINGS):
                content = entry.read_bytes()
                digest.update(f"{package} {entry.name} {len(content)}\n".encode())
                digest.update(content)
    return digest.hexdigest()[:16]
