"""Command line of gomphosis; heavy imports wait until a command needs them."""

import sys
from pathlib import Path
from typing import Any

import click

from gomphosis.viz.plain_text import speak_plainly
from gomphosis.viz.report_strings import LANGUAGES

JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON and nothing else.")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="gomphosis")
def cli() -> None:
    """Simulate how brackets and arch wires move teeth, for research and teaching.

    Not a medical device. Treatment is decided by a licensed practitioner.
    """


@cli.command()
@click.argument("scenario")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Directory for tables, figures, fields and the animation.",
)
@click.option(
    "--afresh", is_flag=True, help="Begin anew where an unfinished run into DIR would be gone on."
)
@click.option(
    "--also",
    type=click.Choice(["svg", "pdf"]),
    multiple=True,
    help="Write every figure in this format as well, beside the PNG; may be given twice.",
)
@click.option("--no-films", is_flag=True, help="Leave the films out, which is quicker.")
@JSON
def run(
    scenario: str,
    out: Path | None,
    afresh: bool,
    also: tuple[str, ...],
    no_films: bool,
    as_json: bool,
) -> None:
    """Follow the teeth of SCENARIO (a file, or the name of a shipped case) over its weeks.

    A run that was killed or interrupted goes on from its last step when it is called again.
    """
    from gomphosis.viz.run_command import run_command
    from gomphosis.viz.wanted_files import Wanted

    if out is None and not as_json:
        raise click.UsageError("give --out DIR for the files, or --json for the summary alone")
    if out is None and afresh:
        raise click.UsageError("--afresh is about the files of an unfinished run: give --out")
    if out is None and also:
        raise click.UsageError("--also is about the files of figures: give --out")
    if out is None and no_films:
        raise click.UsageError("--no-films is about files: give --out")
    wanted = Wanted(also, films=not no_films)
    run_command(scenario, out, as_json=as_json, afresh=afresh, wanted=wanted)


@cli.command()
@click.argument("folders", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The HTML file to write; default: report.html in the folder, for one run.",
)
@click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default=LANGUAGES[0],
    show_default=True,
    help="In which the page opens; it holds both.",
)
def report(folders: tuple[Path, ...], out: Path | None, language: str) -> None:
    """Write the page of one finished run, or of two side by side, from their FOLDERS."""
    from gomphosis.viz.report_command import report_command

    if len(folders) > 2:
        raise click.UsageError("a report shows one run or two: give one or two folders")
    if len(folders) == 2 and out is None:
        raise click.UsageError("give --out FILE.html for two runs side by side")
    report_command(folders, out, language=language)


@cli.command()
@click.argument("folders", nargs=2, type=click.Path(path_type=Path))
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, file_okay=False),
    help="Directory for the figure and the films.",
)
@click.option(
    "--case",
    "cases",
    multiple=True,
    metavar="NAME",
    help="Which case, where runs have several: once for both, or twice for A and B. "
    "Default: the first of each.",
)
@JSON
def compare(folders: tuple[Path, Path], out: Path, cases: tuple[str, ...], as_json: bool) -> None:
    """Compare two finished runs, A and B, from their FOLDERS: figure, film and table.

    Where both have slices, a second film sets those side by side.
    """
    from gomphosis.viz.compare_command import compare_command

    if len(cases) > 2:
        raise click.UsageError("two runs are compared: give --case once or twice")
    compare_command(folders, out, cases=cases, as_json=as_json)


@cli.command()
@click.argument("number", type=int)
@click.option("--crest-loss", help='Bone lost at the crest, such as "2 mm".')
@click.option("--young", help='Young\'s modulus of the ligament, such as "0.05 MPa".')
@click.option("--poisson", type=float, help="Poisson's ratio of the ligament.")
@click.option(
    "--figure",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also draw the centre of rotation against the force, to this PNG, SVG or PDF file.",
)
@JSON
def tooth(
    number: int,
    crest_loss: str | None,
    young: str | None,
    poisson: float | None,
    figure: Path | None,
    as_json: bool,
) -> None:
    """Show the support of tooth NUMBER (ISO 3950): stiffness, centre of resistance, M/F."""
    from gomphosis.viz.tooth_command import draw_rotation, tooth_command

    if figure is not None:
        draw_rotation(
            number, crest_loss, ligament={"young": young, "poisson": poisson}, path=figure
        )
    tooth_command(
        number, crest_loss, ligament={"young": young, "poisson": poisson}, as_json=as_json
    )


@cli.command()
@click.argument("scenario")
@click.option(
    "--sweep",
    metavar="KEY=FROM:TO:N",
    help="Vary one input of the file over N values, each with the wire tied in new, such as "
    '"tooth[11].inclination=0 deg:20 deg:11" (teeth by ISO 3950 number).',
)
@click.option(
    "--figure",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also draw the sweep, to this PNG, SVG or PDF file.",
)
@click.option(
    "--csv",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also write the sweep for all teeth as a table, to this CSV file.",
)
@JSON
def wire(
    scenario: str, sweep: str | None, figure: Path | None, csv: Path | None, as_json: bool
) -> None:
    """Show the force system on every bracket of SCENARIO before anything moves."""
    if sweep is None:
        if figure is not None or csv is not None:
            raise click.UsageError("--figure and --csv show a sweep: give --sweep as well")
        from gomphosis.viz.wire_command import wire_command

        wire_command(scenario, as_json=as_json)
        return
    from gomphosis.viz.sweep_command import sweep_command

    sweep_command(scenario, sweep, figure=figure, csv=csv, as_json=as_json)


@cli.command()
@click.option("--size", help='Wire, such as "0.016 in" (the default) or "0.016 x 0.022 in".')
@click.option("--alloy", help="steel, beta-titanium or nickel-titanium (the default).")
@click.option("--scenario", help="Take a wire of this file or shipped case instead.")
@click.option("--wire", "which", type=int, help="Which wire of the scenario, from 1.")
@click.option("--temperature", help='Of the wire, such as "37 degC" (the default).')
@click.option(
    "--kind",
    type=click.Choice(["three-point", "bending", "torsion"]),
    default="three-point",
    show_default=True,
    help="Bend over two supports, pure bending, or pure torsion.",
)
@click.option(
    "--order",
    type=click.Choice(["second", "first"]),
    default="second",
    show_default=True,
    help="Bend up and down in the slot (second order), or in and out (first).",
)
@click.option("--span", help='Three-point: between the supports, such as "10 mm" (the default).')
@click.option("--deflection", help='Three-point: largest one, such as "3.1 mm" (the default).')
@click.option("--friction", type=float, help="Three-point: coefficient at the supports.")
@click.option(
    "--sets",
    "beside",
    is_flag=True,
    default=None,
    help="Three-point: also bend the superelastic sets of the library, for comparison.",
)
@click.option("--curvature", help='Bending: largest one, such as "0.3 mm^-1" (the default).')
@click.option("--twist", help='Torsion: largest one, such as "20 deg/mm" (the default).')
@click.option(
    "--figure",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also draw the curve, to this PNG, SVG or PDF file.",
)
@click.option(
    "--csv",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also write the curve as a table, to this CSV file.",
)
@JSON
def bend(
    kind: str,
    order: str,
    scenario: str | None,
    which: int | None,
    figure: Path | None,
    csv: Path | None,
    as_json: bool,
    **options: Any,  # noqa: ANN401 - texts, and one number
) -> None:
    """Bend or twist one wire by itself, there and back: forces, set and work."""
    from gomphosis.viz.bend_command import Wanted, bend_command

    names = ("size", "alloy", "temperature")
    wire = {name: options.pop(name) for name in names} | {"order": order}
    if scenario is not None and (wire["size"] or wire["alloy"]):
        raise click.UsageError("--scenario brings its own wire: leave out --size and --alloy")
    if scenario is None and which is not None:
        raise click.UsageError("--wire chooses a wire of a file: give --scenario as well")
    wanted = Wanted(wire, scenario, 1 if which is None else which, kind, options)
    bend_command(wanted, figure=figure, csv=csv, as_json=as_json)


@cli.command("fit-wire")
@click.argument("curve", type=click.Path(path_type=Path))
@click.option("--size", help='Wire, such as "0.016 in" (the default) or "0.016 x 0.022 in".')
@click.option("--temperature", help='Of the test, such as "37 degC" (the default).')
@click.option("--span", help='Between the supports, such as "10 mm" (the default).')
@click.option("--friction", type=float, help="Coefficient at the supports.")
@click.option(
    "--order",
    type=click.Choice(["second", "first"]),
    default="second",
    show_default=True,
    help="Bent up and down in the slot (second order), or in and out (first).",
)
@click.option(
    "--figure",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also draw the measured and the fitted curve, to this PNG, SVG or PDF file.",
)
@JSON
def fit_wire(
    curve: Path,
    span: str | None,
    friction: float | None,
    figure: Path | None,
    as_json: bool,
    **wire: str | None,
) -> None:
    """Fit a nickel-titanium wire's constants to CURVE, its measured three-point bend.

    CURVE is a CSV file with columns deflection_mm and force_N, loading and then unloading; or
    a table of the command bend, whose contact with the wire's surface is taken.
    """
    from gomphosis.viz.fit_command import fit_command

    test = {"span": span, "friction": friction}
    fit_command(curve, wire, test, figure=figure, as_json=as_json)


@cli.command()
@click.option("--young", help='Young\'s modulus of the ligament, such as "0.05 MPa".')
@click.option("--poisson", type=float, help="Poisson's ratio of the ligament.")
@JSON
def rates(young: str | None, poisson: float | None, as_json: bool) -> None:
    """Fit the rate law to published speeds and show how well it fits."""
    from gomphosis.viz.rates_command import rates_command

    rates_command({"young": young, "poisson": poisson}, as_json=as_json)


@cli.command("rate-study")
@click.option(
    "--csv",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also write every finding under every law as a table, to this CSV file.",
)
@JSON
def rate_study(csv: Path | None, as_json: bool) -> None:
    """Put every published finding on speed beside every rate law: inside its spread or not."""
    from gomphosis.viz.rate_study_command import rate_study_command

    rate_study_command(csv=csv, as_json=as_json)


@cli.command()
@click.option("--quick", is_flag=True, help="Leave out the checks that take minutes.")
@JSON
def check(quick: bool, as_json: bool) -> None:
    """Recompute every check of the program against something outside it."""
    from gomphosis.viz.check_command import check_command

    sys.exit(check_command(quick=quick, as_json=as_json))


@cli.command()
@JSON
def cases(as_json: bool) -> None:
    """List the shipped cases, which run by name."""
    from gomphosis.viz.cases_command import cases_command

    cases_command(as_json=as_json)


@cli.command()
def schema() -> None:
    """Print the JSON schema of a scenario file, for editors."""
    from gomphosis.viz.cases_command import schema_command

    schema_command()


def main() -> None:
    """Run the command line; every foreseen failure is one line and a non-zero exit."""
    for stream in (sys.stdout, sys.stderr):
        speak_plainly(stream)
    try:
        status = cli(standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        _fail("interrupted; no partial file was left", 130)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        _fail(f"{where}{(error.strerror or str(error)).lower()}; expected a writable place", 1)
    except (ValueError, ArithmeticError) as error:
        if type(error).__module__.partition(".")[0] != "gomphosis":
            raise
        _fail(str(error), 2)
    sys.exit(status or 0)


def _fail(message: str, status: int) -> None:
    click.echo(f"gomphosis: {message}", err=True)
    sys.exit(status)
