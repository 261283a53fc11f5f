"""The report of one run or of two: one HTML file that asks for nothing outside itself.

Texts of the user never become markup: they travel in blocks of data and are set as text by the
page's script; the title is escaped. Scripts and styles are allowed by their checksum only.
"""

import base64
import hashlib
import html
import json
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from gomphosis.viz.report_record import colours
from gomphosis.viz.report_store import ReportError, read_record
from gomphosis.viz.report_strings import LANGUAGES, report_file, report_strings

PAGE = "report.html"
SCRIPTS = (
    "data.js",
    "draw.js",
    "slice.js",
    "arch.js",
    "words.js",
    "tables.js",
    "roots.js",
    "lead.js",
    "lesson.js",
    "figures.js",
    "weeks.js",
    "app.js",
)
MOST_RUNS = 2
_PLACE = re.compile(r"\{\{([a-z]+)\}\}")


def report_page(folders: Sequence[Path], *, language: str = LANGUAGES[0]) -> str:
    """Return the page of one finished run, or of two side by side.

    Parameters
    ----------
    folders
        Of finished runs, one or two.
    language
        In which the page opens; it holds all.

    Raises
    ------
    ReportError
        If a folder does not hold what a report needs, or there are more than two.
    ValueError
        If the language is not shipped.
    """
    if not 1 <= len(folders) <= MOST_RUNS:
        raise ReportError(f"a report shows one run or two, not {len(folders)}")
    words = report_strings(language)
    runs = [_run(folder) for folder in folders]
    titles = [run["title"] for run in runs]
    script = "(function () {\n'use strict';\n" + "".join(map(report_file, SCRIPTS)) + "}());\n"
    style = report_file("style.css") + "".join(_printed(name) for name in LANGUAGES)
    values = {
        "lang": language,
        "policy": _policy(script, style),
        "title": html.escape(f"{' | '.join(titles)} - {words['page_title']}"),
        "heading": html.escape(" | ".join(titles)),
        "caution": html.escape(words["caution"]),
        "need": html.escape(words["needs_script"]),
        "style": style,
        "strings": data_block({name: report_strings(name) for name in LANGUAGES}),
        "colours": data_block(colours()),
        "runs": "\n".join(_blocks(k, run) for k, run in enumerate(runs)),
        "script": script,
    }
    return _PLACE.sub(lambda found: values[found[1]], report_file("template.html"))


def write_report(folders: Sequence[Path], path: Path, *, language: str = LANGUAGES[0]) -> None:
    """Write the page of one or two finished runs to a file.

    Raises
    ------
    ReportError
        If a folder does not hold what a report needs.
    OSError
        If the file cannot be written.
    """
    path.write_text(report_page(folders, language=language), encoding="utf-8", newline="\n")


def _run(folder: Path) -> dict[str, Any]:
    record, packed = read_record(folder)
    pictures = {
        name: base64.b64encode((folder / name).read_bytes()).decode("ascii")
        for name in record.head["files"]
        if name.endswith(".png")
    }
    title = str(record.head["summary"]["scenario"]["title"])
    return {"title": title, "data": packed, "pictures": pictures}


def _blocks(index: int, run: dict[str, Any]) -> str:
    data = base64.b64encode(run["data"]).decode("ascii")
    pictures = data_block(run["pictures"])
    return (
        f'<script type="text/plain" id="run-{index}" class="run">{data}</script>\n'
        f'<script type="application/json" id="pictures-{index}">{pictures}</script>'
    )


def _printed(language: str) -> str:
    """Return the rule that puts the caution at the foot of every printed page of a language."""
    text = report_strings(language)["print_line"].replace("\\", "").replace('"', "")
    foot = f'@bottom-center {{ content: "{text}"; font-size: 9pt; }}'
    return (
        f"@page {language} {{ margin: 13mm 14mm 20mm; {foot} }}\n"
        f"@media print {{ html[lang={language}] body {{ page: {language}; }} }}\n"
    )


def _policy(script: str, style: str) -> str:
    return (
        f"default-src 'none'; script-src {_hash(script)}; style-src {_hash(style)}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def data_block(document: object) -> str:
    """Return plain data as JSON that cannot end the element it stands in."""
    text = json.dumps(document, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
