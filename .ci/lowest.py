"""Print the lowest version of every run-time dependency that pyproject.toml declares."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text())["project"]
for requirement in project["dependencies"]:
    name, lowest = re.fullmatch(r"([\w-]+)>=([\d.]+)(?:,<[\d.]+)?", requirement).groups()
    print(f"{name}=={lowest}")
