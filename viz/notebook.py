"""Runs, figures and films in a notebook: objects that show themselves as the last line of a cell.

Figures of this program have no window and no plotting state, so a notebook would print their
names; `Picture` shows them, with no magic command before.
"""

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from html import escape
from importlib import resources
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.end_tables import cautions_html, result_html, table_html
from gomphosis.scenarios.result import RunResult
from gomphosis.viz.figures import figures_for, save_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from pandas import DataFrame

TUTORIAL = "tutorial.ipynb"
FILMS = {".gif": "image/gif", ".png": "image/png", ".mp4": "video/mp4"}
"""Kinds of film files and sheets by suffix."""
WIDTH = "max-width:100%"


@dataclass(frozen=True)
class Picture:
    """A figure that a notebook shows.

    Attributes
    ----------
    figure
        Of any function of this package that returns one.
    text
        What it shows, for those who do not see it.
    """

    figure: "Figure" = field(repr=False)
    text: str = "figure"

    @cached_property
    def png(self) -> bytes:
        """The file that a run would write."""
        with TemporaryDirectory() as folder:
            path = Path(folder) / "figure.png"
            save_figure(self.figure, path)
            return path.read_bytes()

    def _repr_png_(self) -> bytes:
        return self.png


@dataclass(frozen=True)
class Shown:
    """A run with figures of it, shown by a notebook as tables, pictures and cautions."""

    result: RunResult
    pictures: tuple[Picture, ...]

    def _repr_html_(self) -> str:
        images = [_image(p.png, "image/png", p.text) for p in self.pictures]
        return "\n".join([result_html(self.result), *images])


@dataclass(frozen=True)
class Words:
    """A piece of HTML that a notebook shows."""

    html: str

    def _repr_html_(self) -> str:
        return self.html


@dataclass(frozen=True)
class Film:
    """A film file that a notebook shows; its bytes go into the notebook.

    Parameters
    ----------
    path
        GIF, MP4, or a sheet of stills as PNG.

    Raises
    ------
    ValueError
        If the file is of another kind.
    """

    path: Path

    def __post_init__(self) -> None:
        if self.path.suffix not in FILMS:
            raise ValueError(f"{self.path} is no film: expected one of {', '.join(FILMS)}")

    def _repr_html_(self) -> str:
        kind, text = FILMS[self.path.suffix], f"Film {self.path.name}. {NOTICE}"
        content = self.path.read_bytes()
        if not kind.startswith("video"):
            return _image(content, kind, text)
        address = _address(content, kind)
        return f'<video controls style="{WIDTH}" title="{escape(text)}" src="{address}"></video>'


def show(result: RunResult, names: Sequence[str] = ("movement",)) -> Shown:
    """Return a run as a notebook shows it: tables, figures by name, cautions.

    Parameters
    ----------
    names
        Of the figures, as their files are called: movement, force, zones...

    Raises
    ------
    KeyError
        If the run has no figure of a name.
    """
    return Shown(result, tuple(figure(result, name) for name in names))


def figure(result: RunResult, name: str) -> Picture:
    """Return one figure of a run, by the name its file has.

    Raises
    ------
    KeyError
        If the run has no figure of this name.
    """
    known = figures_for(result)
    if name not in known:
        raise KeyError(f"no figure {name!r} of this run; there are {list(known)}")
    return Picture(known[name](result), f"Figure {name}: {result.scenario.title}")


def table(frame: "DataFrame", caption: str) -> Words:
    """Return a table as a notebook shows it: rounded for reading, units apart from the names.

    Parameters
    ----------
    frame
        Any table of this program, or one like it: names of columns that end in a unit.
    """
    return Words(table_html(frame, caption))


def cautions(result: RunResult) -> Words:
    """Return what the model of a run leaves out, as a list, and the caution."""
    return Words(cautions_html(result.scenario))


def film(path: str | Path) -> Film:
    """Return a film that a run has written.

    Raises
    ------
    FileNotFoundError
        If there is none.
    ValueError
        If the file is no film.
    """
    found = Path(path)
    if not found.is_file():
        raise FileNotFoundError(f"no film {found}")
    return Film(found)


def copy_tutorial(folder: str | Path) -> Path:
    """Copy the tutorial notebook into a folder and return its path.

    Raises
    ------
    FileExistsError
        If the folder has one already.
    OSError
        If it cannot be written.
    """
    target = Path(folder) / TUTORIAL
    source = resources.files("gomphosis.viz").joinpath("notebooks", TUTORIAL)
    with target.open("xb") as file:
        file.write(source.read_bytes())
    return target


def _image(content: bytes, kind: str, text: str) -> str:
    address = _address(content, kind)
    return f'<img style="{WIDTH}" alt="{escape(text)}" src="{address}">'


def _address(content: bytes, kind: str) -> str:
    return f"data:{kind};base64,{b64encode(content).decode('ascii')}"
