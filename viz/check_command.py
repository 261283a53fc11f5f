"""``gomphosis check``: every external check, recomputed here."""

import math
from typing import Any

from gomphosis.scenarios.caution import NOTICE
from gomphosis.scenarios.checks import AGREES, KINDS, SHOWN, Check, Report, all_checks
from gomphosis.viz.console import DASH, console, print_json, print_notice, progress, table

VERDICTS = {True: "passed", False: "FAILED"}
COLUMNS = ("quantity", "ours", "theirs", "error", "tolerance", "verdict", "source")


def check_command(*, quick: bool, as_json: bool) -> int:
    """Run the checks and print what they found; return 1 if one failed, else 0."""
    chosen = [check for check in all_checks() if not (quick and check.slow)]
    reports = _run(chosen)
    failed = sum(report.passed is False for report in reports)
    document = {
        "notice": NOTICE,
        "checks": [report_document(report) for report in reports],
        "passed": sum(report.passed is True for report in reports),
        "failed": failed,
        "not_judged": sum(report.passed is None for report in reports),
        "left_out": len(all_checks()) - len(chosen),
    }
    if as_json:
        print_json(document)
    else:
        _print(reports, document)
    return 1 if failed else 0


def report_document(report: Report) -> dict[str, Any]:
    """Return one report as plain data; None where there is no number."""
    check = report.check
    return {
        "name": check.name,
        "quantity": check.quantity,
        "unit": check.unit,
        "ours": _finite(report.ours),
        "theirs": _finite(report.theirs),
        "error": _finite(report.error),
        "tolerance": _finite(check.tolerance),
        "measure": check.measure,
        "kind": check.kind,
        "expected": check.expected,
        "passed": report.passed,
        "source": check.source,
        "status": check.status,
        "note": check.note,
        "seconds": round(report.seconds, 3),
    }


def _run(chosen: list[Check]) -> list[Report]:
    reports = []
    with progress("checks") as tell:
        for index, check in enumerate(chosen):
            tell(index / len(chosen), check.quantity)
            reports.append(check.run())
    return reports


def _print(reports: list[Report], document: dict[str, Any]) -> None:
    screen = console()
    sources = list(dict.fromkeys(_source(report.check) for report in reports))
    for kind in KINDS:
        rows = [
            _row(report, sources.index(_source(report.check)) + 1)
            for report in reports
            if report.check.kind == kind
        ]
        if rows:
            screen.print(table(f"{kind.capitalize()} ({len(rows)})", COLUMNS, rows))
    screen.print("Sources", style="bold")
    for index, source in enumerate(sources, start=1):
        screen.print(f"[{index}] {source}", markup=False)
    screen.print("Not judged, and why", style="bold")
    notes = {r.check.note: r.check for r in reports if r.passed is None and r.check.note}
    for note, check in notes.items():
        screen.print(f"· {check.expected}: {check.quantity}: {note}", markup=False)
    screen.print(
        f"{document['passed']} passed, {document['failed']} failed, "
        f"{document['not_judged']} shown without a verdict, {document['left_out']} left out",
        style="bold",
    )
    print_notice(screen)


def _source(check: Check) -> str:
    return f"{check.source} ({check.status})"


def _row(report: Report, source: int) -> list[str]:
    check = report.check
    unit = "" if check.unit == "1" else f" {check.unit}"
    verdict = VERDICTS[report.passed] if report.passed is not None else check.expected
    return [
        check.quantity,
        f"{report.ours:.5g}{unit}",
        f"{report.theirs:.5g}{unit}",
        _difference(report.error, check.measure),
        _difference(check.tolerance, check.measure) if check.expected == AGREES else DASH,
        "shown only" if verdict == SHOWN else verdict,
        f"[{source}]",
    ]


def _difference(value: float, measure: str) -> str:
    if not math.isfinite(value):
        return DASH
    return f"{100 * value:.2g} %" if measure == "relative" else f"{value:.2g}"


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
